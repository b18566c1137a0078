"""A worked recipe, a torso dress in eight panels, in every size from bust 76 to 122: one set of names, sound, all seams
fit, and a vent that laps.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Pattern
from flatcut.pattern.walking import drawn_length
from flatcut.recipe import read_recipe, replay
from flatcut.tables import read_table

SAMPLES = Path(__file__).parents[1] / "samples"
BODIES = {n: b for n, b in read_table((SAMPLES / "panels" / "sizes.toml").read_text()).items() if isinstance(b, dict)}
NAMES = {
    "front-centre": {"shoulder", "neck", "centre", "hip", "panel"},
    "front-side": {"shoulder", "panel", "hip", "side", "armhole"},
    "back-centre": {"neck", "shoulder", "panel", "hip", "vent", "vent-top", "centre"},
    "back-side": {"shoulder", "armhole", "side", "hip", "panel"},
}


@pytest.mark.parametrize("size", BODIES)
def test_the_dress_goes_together_in_every_size(size: str) -> None:
    pattern = replay(read_recipe((SAMPLES / "eight-panel-dress.recipe").read_text()), Pattern(body=BODIES[size]))
    assert {p.name: {e.name for e in p.edges} for p in pattern.pieces} == NAMES
    assert run_checks(pattern) == []
    for seam in pattern.seams:
        # a plain seam walked, 0.5 mm aimed at (common practice, no source)
        assert run_sewn(pattern, seam.a) + seam.ease == pytest.approx(run_sewn(pattern, seam.b), abs=0.5)
    back = pattern.piece("back-centre")
    assert drawn_length(back.edge("vent")) == pytest.approx(180 - 40, abs=0.5)

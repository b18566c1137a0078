"""A worked recipe, a torso dress in eight panels, in three sizes: same names, seams that fit, a vent that laps."""

from __future__ import annotations

from pathlib import Path

import pytest

from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Pattern
from flatcut.pattern.walking import drawn_length
from flatcut.recipe import read_recipe, replay

RECIPE = Path(__file__).parents[1] / "samples" / "eight-panel-dress.recipe"
NAMES = {
    "front-centre": {"shoulder", "neck", "centre", "hip", "panel"},
    "front-side": {"shoulder", "panel", "hip", "side", "armhole"},
    "back-centre": {"neck", "shoulder", "panel", "hip", "vent", "vent-top", "centre"},
    "back-side": {"shoulder", "armhole", "side", "hip", "panel"},
}


@pytest.mark.parametrize("bust", [78, 94, 118])
def test_the_dress_goes_together_in_every_size(bust: int) -> None:
    text = RECIPE.read_text().replace("block torso", f"block torso --size=bust-{bust}")
    pattern = replay(read_recipe(text), Pattern())
    assert {p.name: {e.name for e in p.edges} for p in pattern.pieces} == NAMES
    for seam in pattern.seams:
        # pass of a seam walked, 1 mm (common practice, no source)
        assert run_sewn(pattern, seam.a) + seam.ease == pytest.approx(run_sewn(pattern, seam.b), abs=1.0)
    back = pattern.piece("back-centre")
    assert drawn_length(back.edge("vent")) == pytest.approx(180 - 40, abs=0.5)

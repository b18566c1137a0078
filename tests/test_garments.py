"""Worked garments: from block to cut pieces in one recipe, sound in every size."""

from __future__ import annotations

from pathlib import Path
from types import MappingProxyType

import pytest

from flatcut.blocks.body import sizes_or_errors
from flatcut.checks.check import run_checks
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Pattern
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.recipe import read_recipe, replay

ROOT = Path(__file__).parents[1] / "samples"
BODIES = sizes_or_errors((ROOT / "panels" / "sizes.toml").read_text())
"""Bodies from bust 76 to 122."""
BLOUSE = (ROOT / "garments" / "hazel-blouse.recipe").read_text()


def cut_for(size: str, text: str = BLOUSE) -> Pattern:
    """The garment for a body."""
    body = BODIES[size]
    assert isinstance(body, dict)
    return replay(read_recipe(text.replace("style ", f"style --size={size} ")), Pattern(body=MappingProxyType(body)))


@pytest.mark.parametrize(
    "size", ["bust-90", *(pytest.param(size, marks=pytest.mark.long) for size in BODIES if size != "bust-90")]
)
def test_the_blouse_goes_together(size: str) -> None:
    """Stand = neckline + two stands; cuff = wrist, ease and overlap; buttons even; nothing that a cutter would not
    want (common practice, no source)."""
    pattern = cut_for(size)
    body = BODIES[size]
    assert isinstance(body, dict)
    assert [f.text for f in run_checks(pattern)] == []
    # the front's neck holds its stand of 15 already: half the neckline and one stand
    necks = sum(sewn_length(pattern.piece(name).edge("neck")) for name in ("back", "front"))
    assert drawn_length(pattern.piece("stand").edge("neck")) == pytest.approx(necks, abs=1.0)
    assert drawn_length(pattern.piece("cuff").edge("seam")) == pytest.approx(body["wrist"] + 75, abs=1.0)
    assert len([b for b in pattern.piece("front").buttons if b.kind == "buttonhole"]) == 6
    for seam in pattern.seams:
        assert run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a) == pytest.approx(seam.ease, abs=0.5)


def test_a_lower_neck_needs_no_other_word() -> None:
    """The front neck lowered by 2 cm: the collar fits again, and nothing else is said."""
    lowered = "move front.neck/centre --by=-2cm\nplacket front.centre"
    plain, deep = cut_for("bust-90"), cut_for("bust-90", BLOUSE.replace("placket front.centre", lowered))
    necks = [sum(sewn_length(p.piece(n).edge("neck")) for n in ("back", "front")) for p in (plain, deep)]
    stands = [drawn_length(p.piece("stand").edge("neck")) for p in (plain, deep)]
    assert necks[1] - necks[0] > 8
    assert stands == pytest.approx(necks, abs=1e-6)

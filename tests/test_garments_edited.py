"""A recipe edited in one figure, its neck lowered: collar, facings and lining fit again without another word."""

from __future__ import annotations

import pytest

from flatcut.checks.check import run_checks
from tests.garments import ROW_A, drafted, drawn, garment, sewn, text_of

EDITS = {
    # garment: what stands in its recipe, what stands there instead, an edge of the garment and the one that follows it
    "lupin-top": ("back.centre/neck@2cm", "back.centre/neck@4cm", "back.neckline", "back-neck-facing.neckline"),
    "sorrel-shift": ("front.centre/neck@1cm", "front.centre/neck@3cm", "yoke.boat", "yoke-facing.boat"),
}
"""The blouse's stand, the jacket's collar, facing and lining and the lined shift's are held in files of their own."""


@pytest.mark.parametrize("name", EDITS)
def test_a_neck_lowered_by_2_cm_needs_no_other_word(name: str) -> None:
    """The same pieces, sound as before, and what is sewn to the neck has changed as the neck has."""
    old, new, neck, follows = EDITS[name]
    text = text_of(name)
    assert text.count(old) == 1
    before, after = garment(name), drafted(text.replace(old, new), ROW_A)
    assert [p.name for p in after.pieces] == [p.name for p in before.pieces]
    assert [f.text for f in run_checks(after)] == []
    grown = sewn(after, neck) - sewn(before, neck)
    assert abs(grown) > 3
    assert drawn(after, follows) - drawn(before, follows) == pytest.approx(grown, abs=0.5)

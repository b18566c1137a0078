"""A recipe edited in one figure, its neck lowered: collar, facings and lining fit again without another word."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.values import Pattern
from tests.garments import NAMES, ROW_A, drafted, drawn, garment, inside, sewn, text_of


class Edit(NamedTuple):
    """What stands in a recipe, and what stands there instead; edges at the neck as sewn, and those that follow them."""

    old: str
    new: str
    necks: tuple[str, ...]
    follows: tuple[str, ...]
    square: tuple[str, ...] = ()


LOWER = "move front.neck/centre --by=-2cm"
EDITS = {
    # a flat collar
    "bramble-frock": Edit(
        "# no cords", f"{LOWER}\n# no cords", ("back.neck", "front.neck"), ("collar.neck",), ("front.neck/centre",)
    ),
    # a collar with a stand, behind a button stand
    "hazel-blouse": Edit(
        "placket front.centre", f"{LOWER}\nplacket front.centre", ("back.neck", "front.neck"), ("stand.neck",)
    ),
    "yoked-shirt": Edit(
        "placket front.centre", f"{LOWER}\nplacket front.centre", ("yoke.neck", "front.neck"), ("stand.neck",)
    ),
    # facing and lining
    "lined-shift": Edit(
        "front.centre/neck@2cm",
        "front.centre/neck@4cm",
        ("front.neckline",),
        ("front-facing.neckline",),
        ("front.neckline/centre", "front-facing.neckline/centre"),
    ),
    # a collar turned over, facing, lining
    "rowan-jacket": Edit(
        "by=-5mm", "by=-25mm", ("back.neck", "front.neck"), ("fall.neck", "front-facing.neck"), ("front.neck/centre",)
    ),
    "lupin-top": Edit(
        "back.centre/neck@2cm",
        "back.centre/neck@4cm",
        ("back.neckline",),
        ("back-neck-facing.neckline",),
    ),
    "sorrel-shift": Edit(
        "front.centre/neck@1cm",
        "front.centre/neck@3cm",
        ("yoke.boat",),
        ("yoke-facing.boat",),
    ),
    # a neckband, drafted to the neck as the block has it
    "peplum-top": Edit(
        "# the neckband goes",
        f"{LOWER}\n# the neckband goes",
        ("@front-neckline", "@back-neckline"),
        ("neckband.neck",),
    ),
    # bound edges: a strip as long as the edge
    "tansy-camisole": Edit("front.hem/side-2@4cm", "front.hem/side-2@6cm", ("front.wrap",), ("wrap-binding.seam",)),
}


def test_every_garment_with_a_neck_is_edited() -> None:
    """The others are skirts and trousers, and a dress whose top nothing else is drafted from."""
    assert set(NAMES) - set(EDITS) == {
        "campion-skirt",
        "mallow-dress",
        "narrow-skirt",
        "teasel-trousers",
        "yarrow-skirt",
    }


def _sum(pattern: Pattern, names: tuple[str, ...]) -> float:
    return sum(pattern.measures[n[1:]] if n.startswith("@") else sewn(pattern, n) for n in names)


@pytest.mark.parametrize("name", EDITS)
def test_a_neck_lowered_by_2_cm_needs_no_other_word(name: str) -> None:
    """The same pieces, sound as before, and what is sewn to the neck has changed as the neck has."""
    edit = EDITS[name]
    text = text_of(name)
    assert text.count(edit.old) == 1
    before, after = garment(name), drafted(text.replace(edit.old, edit.new), ROW_A)
    assert [p.name for p in after.pieces] == [p.name for p in before.pieces]
    assert [f.text for f in run_checks(after)] == []
    grown = _sum(after, edit.necks) - _sum(before, edit.necks)
    assert abs(grown) > 3
    for one in edit.follows:
        assert drawn(after, one) - drawn(before, one) == pytest.approx(grown, abs=0.5)
    for corner in edit.square:
        assert inside(after, corner) == pytest.approx(90, abs=0.5)

"""Pockets: they lie where they are placed, and are as large as what they are sewn to."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.length import length
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made

START = "block skirt --size=bust-90\n"
DONE = (
    "\nedge skirt-front.waist skirt-back.waist --use=finished\nallowance all --width=1cm\nlabel all --material=shell"
    "\nallowance skirt-front.hem skirt-back.hem --width=3cm"
)


def test_a_patch_lies_about_its_place_and_is_as_large_as_its_line() -> None:
    """Drill holes 3 mm inside the corners (Joseph-Armstrong, Patternmaking for Fashion Design, from memory)."""
    pattern = made(START + "pocket skirt-back.hip-line@45% --width=130 --depth=140 --point=20")
    garment, pocket = pattern.piece("skirt-back"), pattern.piece("pocket")
    line = next(one for one in garment.lines if one.name == "pocket").curve
    hip = next(one for one in garment.lines if one.name == "hip-line").curve
    at = hip.start + 0.45 * (hip.end - hip.start)
    assert (line.start + line.end) / 2 == pytest.approx(at, abs=1e-6)
    # two sides of 140 and the point's: two of hypot(65, 20)
    wanted = 2 * 140 + 2 * np.hypot(65, 20)
    assert length(line) == pytest.approx(wanted)
    assert drawn_length(pocket.edge("edge")) == pytest.approx(wanted)
    assert drawn_length(pocket.edge("opening")) == pytest.approx(130)
    corners = np.array([line.start, line.end])
    for hole in garment.holes:
        assert hole.at is not None
        assert np.abs(corners - hole.at).min(axis=0) == pytest.approx([3, 3])
    assert (pocket.cut_as, pocket.quantity) == ("pair", 2)
    assert [f.text for f in run_checks(made(DONE, pattern))] == []


def test_a_flap_and_its_lining() -> None:
    pattern = made(START + "pocket skirt-front.hip-line@1/2 --kind=flap --width=140 --depth=60 --point=0 --under=1.5")
    top, under = pattern.piece("flap"), pattern.piece("under-flap")
    assert drawn_length(top.edge("seam")) == drawn_length(under.edge("seam")) == pytest.approx(140)
    # both sides are shorter by what the lining lacks
    assert drawn_length(top.edge("edge")) - drawn_length(under.edge("edge")) == pytest.approx(3.0)
    assert [f.text for f in run_checks(made(DONE, pattern))] == []


def test_a_bag_is_sewn_to_both_sides_of_the_seam() -> None:
    pattern = made(START + "pocket skirt-front.side/waist@4cm..20cm --kind=in-seam --material=pocketing")
    bags = [pattern.piece(n) for n in ("pocket-bag", "under-bag")]
    assert [drawn_length(p.edge("opening")) for p in bags] == pytest.approx([160, 160])
    for seam in pattern.seams[-3:]:
        assert run_sewn(pattern, seam.a) == pytest.approx(run_sewn(pattern, seam.b), abs=1e-6)
    for name in ("skirt-front", "skirt-back"):
        piece = pattern.piece(name)
        side = piece.edge("side")
        places = sorted(n.at.along(sewn_length(side)) for n in piece.notches if n.edge == side.uid)
        total = sewn_length(side)
        from_waist = sorted(p if name == "skirt-back" else total - p for p in places)
        assert from_waist[:2] == pytest.approx([40, 200], abs=0.01) or 40 in np.round(from_waist, 2)
    text = DONE + "\nlabel pocket-bag under-bag --material=pocketing"
    assert [f.text for f in run_checks(made(text, pattern))] == []


def test_drawn_again_it_takes_the_place_of_the_old_one() -> None:
    once = made(START + "pocket skirt-back.hip-line@45% --width=130")
    twice = made("pocket skirt-back.hip-line@45% --width=110", once)
    names = [p.name for p in twice.pieces]
    assert names.count("pocket") == 1
    assert len(twice.piece("skirt-back").holes) == 2
    assert len([one for one in twice.piece("skirt-back").lines if one.name == "pocket"]) == 1
    assert drawn_length(twice.piece("pocket").edge("opening")) == pytest.approx(110)


BAD = {
    "pocket": "name",
    "pocket skirt-back.hip-line@2%": "lie beyond",
    "pocket skirt-back.side@4cm..20cm": "wants the place",
    "pocket skirt-back.side@1/2 --kind=in-seam": "wants the stretch",
    "pocket skirt-back.side@4cm..8cm --kind=in-seam": "no hand in",
    "pocket skirt-back.waist@1cm..12cm --kind=in-seam": "not sewn to one edge",
    "pocket skirt-back.hip-line@1/2 --names=skirt-back": "already",
    "pocket skirt-back.hip-line@1/2 --names=a,b": "for 1 pieces",
    "pocket skirt-back.side@4cm..20cm --kind=in-seam --depth=12cm": "no deeper",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, made(START))

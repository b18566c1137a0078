"""What derived pieces are held against: each kind with faults that are found and clean ones that are left alone.

Collar to neckline, cuff to sleeve and waistband to waist stand in test_derived_faults.py, facings to their edges and
linings to their width in test_lining.py, pairs in test_check_pieces.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from flatcut.checks.cap_ease import CapEase
from flatcut.checks.check import load, run_checks
from flatcut.findings import Finding
from flatcut.pattern.values import Pattern
from tests.seeding import corner_moved, made, with_piece
from tests.test_derived_faults import blouse, button_shifted
from tests.test_lining import BRIEF, shift

SET_IN = """
block bodice --size={}
block sleeve --cap-ease={}
edge front.neck back.neck front.waist back.waist --use=finished
allowance all --width=1cm
label all --material=shell
"""


@lru_cache
def set_in(ease: float = 30.0, size: str = "bust-90") -> Pattern:
    return made(SET_IN.format(size, ease))


def found(pattern: Pattern, check: str, **fields: object) -> list[Finding]:
    return run_checks(pattern, [load(check)(**fields)])


# Cap to armhole -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-118"])
@pytest.mark.parametrize("ease", [0.0, 30.0, 44.0])
def test_a_cap_with_as_much_ease_as_is_usual_is_left_alone(size: str, ease: float) -> None:
    assert found(set_in(ease, size), "cap-ease") == []


@pytest.mark.parametrize("ease", [48.0, 60.0])
def test_more_than_can_be_eased_in_is_told(ease: float) -> None:
    told = found(set_in(ease), "cap-ease")
    assert len(told) == 1
    assert told[0].where == ("sleeve.cap",)
    assert told[0].figure == pytest.approx(ease, abs=0.01)
    assert found(set_in(ease), "cap-ease", most=65.0) == []


def test_a_cap_shorter_than_its_armholes_is_told() -> None:
    told = found(set_in(-8.0), "cap-ease")
    assert "8 mm shorter" in told[0].text
    assert found(set_in(-8.0), "cap-ease", short=10.0) == []


def under_the_arm(by: float) -> Pattern:
    """The ease of the front between its underarm and its notch."""
    pattern = set_in(30.0)
    cap = pattern.piece("sleeve").edge("cap")
    moved, seams = False, []
    for seam in pattern.seams:
        part = seam.b[0]
        if part.of == cap.uid and seam.ease == 0.0 and not moved:
            moved = True
            start, end = part.start, part.end
            assert start is not None
            assert end is not None
            longer = replace(start, value=start.value + (by if start.mode == "end" else 0.0))
            seam = replace(seam, b=(replace(part, start=longer),), ease=by)
        seams.append(seam)
    assert moved
    return replace(pattern, seams=tuple(seams))


def test_ease_under_the_arm_is_told() -> None:
    told = [f for f in found(under_the_arm(6.0), "cap-ease") if "under the arm" in f.text]
    assert len(told) == 1
    assert told[0].figure == pytest.approx(6.0)
    assert not [f for f in found(under_the_arm(6.0), "cap-ease", under=7.0) if "under the arm" in f.text]
    assert not [f for f in found(under_the_arm(1.5), "cap-ease") if "under the arm" in f.text]
    assert CapEase.__doc__


@pytest.mark.parametrize("kind", ["short", "cap", "puff"])
def test_the_other_sleeves_are_left_alone(kind: str) -> None:
    lines = SET_IN.format("bust-90", 30).replace("block sleeve --cap-ease=30", f"sleeve --kind={kind}")
    assert found(made(lines), "cap-ease") == []


# Lining to shell ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("by", [26.0, 40.0])
def test_a_lining_that_shows_below_the_hem_is_named(by: float) -> None:
    """It is made 25 mm shorter; moved down by more it hangs out by what is over."""
    longer = made(f"move front-lining.hem --by={by}mm", shift())
    told = [f for f in found(longer, "derived") if "below the hem" in f.text]
    assert len(told) == 1
    assert told[0].where == ("front-lining", "front")
    assert told[0].figure == pytest.approx(by - 25.0, abs=0.3)
    assert not [f for f in found(longer, "derived", hangs=by) if "below the hem" in f.text]


@pytest.mark.parametrize("size", BRIEF)
def test_one_that_ends_above_the_hem_is_left_alone(size: str) -> None:
    assert found(shift(size), "derived") == []
    assert found(made("move front-lining.hem back-lining.hem --by=20mm", shift(size)), "derived") == []


# Buttons to holes -----------------------------------------------------------------------------------------------------


@lru_cache
def opened() -> Pattern:
    """A front in two halves: buttons on the right one, holes on the left one, which laps over."""
    pattern = made(
        "block bodice --size=bust-90\nedge front.waist back.waist --use=hem\n"
        "placket front.centre --stand=15 --facing=45 --buttons=5 --first=2cm --last=6cm\nhalves front --drawn=left"
    )
    for name, kind in (("front-left", "button"), ("front-right", "buttonhole")):
        piece = pattern.piece(name)
        pattern = with_piece(pattern, replace(piece, buttons=tuple(b for b in piece.buttons if b.kind != kind)))
    return pattern


def test_buttons_of_one_half_meet_the_holes_of_the_other() -> None:
    assert found(opened(), "buttons") == []


@pytest.mark.parametrize("by", [3.0, -5.0])
def test_one_that_misses_the_hole_of_the_other_half_is_named(by: float) -> None:
    # the last of the row, so that their spaces are told as well
    pattern = button_shifted(opened(), "front-right", "button", (0.0, by))
    told = [f for f in found(pattern, "buttons") if "misses" in f.text]
    assert len(told) == 1
    assert told[0].where == ("front-right.centre", "front-left.centre")
    assert told[0].figure == pytest.approx(abs(by), abs=0.05)
    assert not [f for f in found(pattern, "buttons", missed=6.0) if "misses" in f.text]


def test_another_number_of_them_is_named() -> None:
    piece = opened().piece("front-right")
    pattern = with_piece(opened(), replace(piece, buttons=piece.buttons[1:]))
    assert any("4 buttons" in f.text and "5 buttonholes" in f.text for f in found(pattern, "buttons"))


@pytest.mark.parametrize(("by", "told"), [(0.0, 0), (0.8, 0), (3.0, 1), (-4.0, 1)])
def test_a_cuff_is_buttoned_where_it_laps(by: float, told: int) -> None:
    """Its start laid on the line of the overlap, the button lies in the hole."""
    cuff = blouse().piece("cuff")
    grain = cuff.grain
    assert grain is not None
    way = (grain.end - grain.start) / float(np.hypot(*(grain.end - grain.start)))
    pattern = button_shifted(blouse(), "cuff", "button", (float(by * way[0]), float(by * way[1])))
    assert len([f for f in found(pattern, "buttons") if f.where == ("cuff.seam",)]) == told


# A pair's halves ------------------------------------------------------------------------------------------------------


def clean(pattern: Pattern) -> Pattern:
    return pattern


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (clean, ""),
        (lambda p: corner_moved(p, ("front-left", "shoulder", "armhole"), 2.0), "apart"),
        (
            lambda p: replace(
                p, pieces=tuple(replace(q, notches=()) if q.name == "front-left" else q for q in p.pieces)
            ),
            "notches",
        ),
    ],
)
def test_halves_that_were_one_stay_alike(change: Callable[[Pattern], Pattern], said: str) -> None:
    told = found(change(opened()), "pairs")
    assert bool(told) == bool(said)
    assert all(said in f.text for f in told[:1])

"""Worked garments: from block to cut pieces in one recipe, sound in every size.

What a garment has to hold is common practice of the trade, no source, where none is named.
"""

from __future__ import annotations

import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.values import Pattern
from tests.garments import ALL, NAMES, ROW_A, body, drafted, drawn, garment, sewn, text_of


def names(pattern: Pattern) -> list[tuple[str, str, list[str]]]:
    return [(p.name, p.cut_as, sorted(edge.name for edge in p.edges)) for p in pattern.pieces]


@pytest.mark.parametrize("size", ALL)
@pytest.mark.parametrize("name", NAMES)
def test_a_garment_is_sound_in_every_size(name: str, size: str) -> None:
    """The same pieces and edges in all sizes, and nothing that a cutter would not want."""
    pattern = garment(name, size)
    assert names(pattern) == names(garment(name))
    assert [f.text for f in run_checks(pattern)] == []


@pytest.mark.parametrize("size", ALL)
def test_the_blouse_goes_together(size: str) -> None:
    """Stand = neckline + two stands; cuff = wrist, ease and overlap; buttons even."""
    pattern = garment("hazel-blouse", size)
    # the front's neck holds its stand of 15 already: half the neckline and one stand
    assert drawn(pattern, "stand.neck") == pytest.approx(sewn(pattern, "back.neck", "front.neck"), abs=1.0)
    assert drawn(pattern, "cuff.seam") == pytest.approx(body(size, "wrist") + 75, abs=1.0)
    assert len([b for b in pattern.piece("front").buttons if b.kind == "buttonhole"]) == 6


def test_a_lower_neck_needs_no_other_word() -> None:
    """The front neck lowered by 2 cm: the collar fits again, and nothing else is said."""
    lowered = "move front.neck/centre --by=-2cm\nplacket front.centre"
    plain = garment("hazel-blouse")
    deep = drafted(text_of("hazel-blouse").replace("placket front.centre", lowered), ROW_A)
    necks = [sewn(p, "back.neck", "front.neck") for p in (plain, deep)]
    stands = [drawn(p, "stand.neck") for p in (plain, deep)]
    assert necks[1] - necks[0] > 8
    assert stands == pytest.approx(necks, abs=1e-3)

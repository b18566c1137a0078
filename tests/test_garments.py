"""Worked garments: from block to cut pieces in one recipe, sound in every size.

What a garment has to hold is common practice of the trade, no source, where none is named.
"""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import chain, flatten
from flatcut.listing.cut_list import rows
from flatcut.marking.derived import derive
from flatcut.pattern.comparing import differences
from flatcut.pattern.sewing_order import with_sewing_order
from flatcut.pattern.values import Pattern, outline
from tests.garments import ALL, NAMES, body, drawn, garment, sewn


def names(pattern: Pattern) -> list[tuple[str, str, list[str]]]:
    return [(p.name, p.cut_as, sorted(edge.name for edge in p.edges)) for p in pattern.pieces]


@pytest.mark.parametrize("size", ALL)
@pytest.mark.parametrize("name", NAMES)
def test_a_garment_is_sound_in_every_size(name: str, size: str) -> None:
    """The same pieces and edges in all sizes, and nothing that a cutter would not want."""
    pattern = garment(name, size)
    assert names(pattern) == names(garment(name))
    assert [f.text for f in run_checks(pattern)] == []


@pytest.mark.parametrize("name", NAMES)
def test_a_garment_is_read_as_it_was_written(name: str) -> None:
    """Through a file all pieces come back with all that stands on them, and nothing is said of a change by hand."""
    pattern = with_sewing_order(garment(name))
    _, again, told = read(write(new_drawing()[0], pattern))
    assert [finding.text for finding in told] == []
    assert not differences(pattern, again, tolerance=2e-9)  # numbers are written with nine decimals


@pytest.mark.parametrize("name", NAMES)
def test_the_cut_list_is_what_is_cut(name: str) -> None:
    """Each piece as often as it is cut, of its material, opened from its fold; its area by the surveyor's formula."""
    pattern = garment(name)
    listed = rows(pattern)
    assert [(row.piece, row.count, row.cut_as, row.material) for row in listed] == [
        (piece.name, piece.quantity, piece.cut_as, piece.material) for piece in pattern.pieces
    ]
    for row, piece in zip(listed, pattern.pieces, strict=True):
        cut = derive(piece).cut
        x, y = flatten(chain(outline(piece), within=1e-3) if cut is None else cut.curve, tolerance=0.005).T
        halves = 2 if piece.cut_as == "fold" else 1
        assert row.area == pytest.approx(halves * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2, rel=1e-3)
        assert row.area <= row.along * row.across + 1
        assert row.cut_as != "pair" or row.count % 2 == 0


@pytest.mark.parametrize("size", ALL)
def test_the_blouse_goes_together(size: str) -> None:
    """Stand = neckline + two stands; cuff = wrist, ease and overlap; buttons even."""
    pattern = garment("hazel-blouse", size)
    # the front's neck holds its stand of 15 already: half the neckline and one stand
    assert drawn(pattern, "stand.neck") == pytest.approx(sewn(pattern, "back.neck", "front.neck"), abs=1.0)
    assert drawn(pattern, "cuff.seam") == pytest.approx(body(size, "wrist") + 75, abs=1.0)
    assert len([b for b in pattern.piece("front").buttons if b.kind == "buttonhole"]) == 6

"""Control squares on paper, to lie beside a paper piece that is photographed: four, each with marks of its own."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import BLACK, WHITE, Role
from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, polyline
from flatcut.photograph.marks import CELLS, SHARE, SQUARES, cells, corners
from flatcut.printing.page import AT_FULL_SIZE, Page, Part
from flatcut.printing.paper import Paper
from flatcut.units import plain

SIDE = 100.0
"""mm: the side of a control square."""
AROUND = 13.0
"""mm of white paper about it: two cells of its marks and more, by which they are found."""
BELOW = 3.0
"""mm more below, for the words."""
TEXT = 2.8
MARK = Role(name="mark", width=0.0, fill=BLACK)
BLANK = Role(name="blank", width=0.0, colour=WHITE, fill=WHITE)
CUT_APART = Role(name="cut-apart", width=0.15, dashes=(2.0, 2.0))


def control_square_pages(sheet: Paper, margin: float) -> Iterator[Page]:
    """Pages with the four squares, as many on each as it holds. Errors: UsageError where it holds none."""
    wide, high = SIDE + 2 * AROUND, SIDE + 2 * AROUND + BELOW
    columns = int((sheet.width - 2 * margin) // wide)
    rows = 1 if sheet.height is None else int((sheet.height - 2 * margin) // high)
    if not columns or not rows:
        raise UsageError(
            f"a control square takes {plain(wide)} by {plain(high)} mm between the margins; take larger paper"
        )
    on_each = min(columns * rows, SQUARES)
    for first in range(0, SQUARES, on_each):
        some = range(first, min(first + on_each, SQUARES))
        parts = tuple(
            Part(ink=control_square(k), shift=(margin + i % columns * wide, margin + i // columns * high))
            for i, k in enumerate(some)
        )
        last = 2 * margin + (1 + (len(some) - 1) // columns) * high
        names = " and ".join(str(k + 1) for k in some)
        yield Page(width=sheet.width, height=sheet.height or last, parts=parts, name=f"control square {names}")


def control_square(number: int) -> Ink:
    """One square with its marks and words, cut apart along its frame; number: from 0."""
    wide, high = SIDE + 2 * AROUND, SIDE + 2 * AROUND + BELOW
    items: list[Stroke | Words] = [Stroke(role=CUT_APART, curves=(_box((0, 0), (wide, high)),), closed=True)]
    for mark in range(4 * number, 4 * number + 4):
        at = corners(mark, SIDE)[0] + AROUND
        cell = SHARE * SIDE / CELLS
        items.append(Stroke(role=MARK, curves=(_box(at, at + CELLS * cell),), closed=True))
        white = [at + cell * np.array([column, row]) for row, column in np.argwhere(~cells(mark))]
        items.append(Stroke(role=BLANK, curves=tuple(_box(p, p + cell) for p in white), closed=True))
    middle = AROUND + SIDE / 2
    told = (
        f"control square {number + 1}",
        "from black to black must",
        f"measure {plain(SIDE / 10)} cm, across",
        "and down: say what it",
        "does measure as --square",
    )
    items.append(Words(lines=told, at=np.array([middle, middle]), height=TEXT))
    how = ("Lay it flat on a plain table beside the paper, as high as the paper lies; all squares in one picture.",)
    for text, y in ((how, high - 5.0), ((AT_FULL_SIZE,), 5.0)):
        items.append(Words(lines=text, at=np.array([middle, y]), height=1.9))
    return Ink(items=tuple(items))


def _box(one: Array | tuple[float, float], two: Array | tuple[float, float]) -> Curve:
    (x0, y0), (x1, y1) = one, two
    return polyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)])

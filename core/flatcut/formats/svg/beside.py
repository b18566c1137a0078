"""Where words stand beside the pieces that they are about, and how high their letters are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, chain
from flatcut.pattern.values import Pattern, Piece, outline

SMALL = 1 / 52
"""Height of a letter as a part of the page's: about 13 px where a page fits a window of 700 px."""
LEAST = 2.5
"""mm: the least height of a letter."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in mm."""


def fitted(
    pattern: Pattern,
    about: Sequence[str],
    page: tuple[float, float],
    size: tuple[float, float],
    taken: Sequence[Box] = (),
) -> tuple[float, float, float] | None:
    """Height of the letters, left and top of words of that size in letters: smaller ones where that finds a place.

    None where there is no place. taken: where other words stand.
    """
    whole = letter_height(page)
    for share in (1.0, 0.85, 0.7, 0.6):
        height = share * whole
        place = free_place(pattern, about, page, (size[0] * height, size[1] * height), height, taken)
        if place is not None:
            return height, *place
    return None


def below(pattern: Pattern, page: tuple[float, float]) -> tuple[float, float]:
    """Left and top of what stands below all pieces, mm."""
    low = _around([_box(piece) for piece in pattern.pieces])
    return low[0], low[3] + letter_height(page)


def letter_height(page: tuple[float, float]) -> float:
    """mm of a letter that can be read at the zoom at which the page (mm) fits the window.

    >>> round(letter_height((210.0, 297.0)), 2)
    5.71
    """
    return max(SMALL * max(page[1], 0.6 * page[0]), LEAST)


def free_place(
    pattern: Pattern,
    about: Sequence[str],
    page: tuple[float, float],
    size: tuple[float, float],
    gap: float,
    taken: Sequence[Box] = (),
) -> tuple[float, float] | None:
    """Left and top of a box of that size beside the pieces that it is about, mm: where it lies on the page and on no
    piece nor on what is taken, None where there is no such place; without pieces in the page's upper left corner.

    >>> free_place(Pattern(), (), (210.0, 297.0), (80.0, 20.0), 5.0)
    (5.0, 5.0)
    """
    boxes = {piece.name: _box(piece) for piece in pattern.pieces}
    if not boxes:
        return gap, gap
    x0, y0, x1, y1 = _around([boxes[name] for name in about if name in boxes] or list(boxes.values()))
    wide, high = size
    beside = [(x1 + gap, y0), (x0 - gap - wide, y0), (x0, y1 + gap), (x0, y0 - gap - high), (x1 + gap, y1 - high)]
    for left, top in beside:
        inside = left >= 0 and top >= 0 and left + wide <= page[0] and top + high <= page[1]
        apart = all(
            left + wide < a or c < left or top + high < b or d < top for a, b, c, d in (*boxes.values(), *taken)
        )
        if inside and apart:
            return left, top
    return None


def _box(piece: Piece) -> Box:
    """The box round a piece, with room for a cut line about it."""
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-6))
    widths = [edge.allowance.width for edge in piece.edges if edge.allowance is not None]
    room = 1.5 * max(widths, default=0.0)
    return x0 - room, y0 - room, x1 + room, y1 + room


def _around(boxes: Sequence[Box]) -> Box:
    corners: Array = np.array(boxes)
    x0, y0 = corners[:, :2].min(axis=0)
    x1, y1 = corners[:, 2:].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)

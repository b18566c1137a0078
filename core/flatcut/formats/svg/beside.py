"""Where words stand beside the pieces that they are about, and how high their letters are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, chain, flatten
from flatcut.geometry.region import contains
from flatcut.marking.lettering import LEADING
from flatcut.pattern.values import Pattern, Piece, outline

SMALL = 1 / 52
"""Height of a letter as a part of the page's: about 13 px where a page fits a window of 700 px."""
LEAST = 2.5
"""mm: the least height of a letter."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in mm."""


WIDTHS = (46, 34, 26)
"""Letters in a line: narrower where that finds a place."""
SHARES = (1.0, 0.85, 0.7, 0.6)
"""Of the letters' height, likewise."""
WIDTH = 0.6
"""Of its height: about the width of a letter."""
STEP = 8.0
"""mm between two places that are tried."""
CLOSE = ((0.7, 34), (0.7, 26), (0.6, 34), (0.6, 26))
"""Shares of the height and letters in a line, where words stand between the shapes of pieces and not their boxes."""
APART = 4.0
"""mm between two points by which the shape of a piece is known, and that words keep from it."""


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Rows of words with the height of their letters, and the box they take, mm."""

    rows: tuple[tuple[str, ...], ...]
    height: float
    box: Box


def fitted(
    pattern: Pattern,
    about: Sequence[str],
    page: tuple[float, float],
    wrapped: Callable[[int], tuple[tuple[str, ...], ...]],
    taken: Sequence[Box] = (),
) -> Placed | None:
    """Words beside the pieces that they are about: smaller letters, then narrower lines, where that finds a place.

    None where there is no place. wrapped: groups of rows for that many letters in a line; taken: where others stand.
    """
    whole = letter_height(page)
    for share in SHARES:
        for wide in WIDTHS:
            rows = wrapped(wide)
            height = share * whole
            size = extent(rows, height)
            place = free_place(pattern, about, page, size, height, taken)
            if place is not None:
                left, top = place
                return Placed(rows=rows, height=height, box=(left, top, left + size[0], top + size[1]))
    return None


def fitted_closely(
    pattern: Pattern,
    about: Sequence[str],
    page: tuple[float, float],
    wrapped: Callable[[int], tuple[tuple[str, ...], ...]],
    taken: Sequence[Box] = (),
) -> Placed | None:
    """The same in the gaps between pieces as they are shaped, which takes longer to find; in small letters."""
    boxes = {piece.name: _box(piece) for piece in pattern.pieces}
    if not boxes:
        return None
    around = _around([boxes[name] for name in about if name in boxes] or list(boxes.values()))
    rings = [(flatten(chain(outline(piece), within=1e-6), tolerance=1.0), _room(piece)) for piece in pattern.pieces]
    for share, wide in CLOSE:
        height, rows = share * letter_height(page), wrapped(wide)
        size = extent(rows, height)
        place = _anywhere(around, page, size, taken, height, rings)
        if place is not None:
            left, top = place
            return Placed(rows=rows, height=height, box=(left, top, left + size[0], top + size[1]))
    return None


def extent(rows: Sequence[Sequence[str]], height: float) -> tuple[float, float]:
    """Width and height in mm that groups of rows take."""
    every = [row for group in rows for row in group]
    return WIDTH * height * max(map(len, every)), LEADING * height * len(every)


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
    return _anywhere((x0, y0, x1, y1), page, size, [*boxes.values(), *taken], gap)


def _anywhere(
    about: Box,
    page: tuple[float, float],
    size: tuple[float, float],
    taken: Sequence[Box],
    gap: float,
    rings: Sequence[tuple[Array, float]] = (),
) -> tuple[float, float] | None:
    """The place on the page nearest to a box where nothing is, None for none.

    rings: outlines (n, 2), each with the room that is kept from it, mm.
    """
    (x0, y0, x1, y1), (wide, high) = about, size
    across, down = page[0] - wide - gap, page[1] - high - gap
    if across < gap or down < gap:
        return None
    left, top = np.meshgrid(
        np.append(np.arange(gap, across, STEP), across), np.append(np.arange(gap, down, STEP), down)
    )
    free = np.ones(left.shape, dtype=np.bool_)
    for a, b, c, d in taken:
        free &= (left + wide < a) | (left > c) | (top + high < b) | (top > d)
    for ring, room in rings:
        centres = np.column_stack([left.ravel() + wide / 2, top.ravel() + high / 2])
        free &= ~contains(ring, centres).reshape(free.shape)
        for x, y in _dense(ring):
            free &= (x < left - room) | (x > left + wide + room) | (y < top - room) | (y > top + high + room)
    if not free.any():
        return None
    off_x = np.maximum(np.maximum(x0 - left - wide, left - x1), 0.0)
    off_y = np.maximum(np.maximum(y0 - top - high, top - y1), 0.0)
    best = int(np.argmin(np.where(free, np.hypot(off_x, off_y), np.inf)))
    return float(left.flat[best]), float(top.flat[best])


def _dense(ring: Array) -> Array:
    """Points on a closed outline, hardly farther apart than APART."""
    ends = np.roll(ring, -1, axis=0)
    count = np.maximum(np.ceil(np.hypot(*(ends - ring).T) / APART).astype(int), 1)
    along = np.concatenate([np.arange(n) / n for n in count])[:, None]
    return np.asarray(np.repeat(ring, count, axis=0) * (1 - along) + np.repeat(ends, count, axis=0) * along)


def _room(piece: Piece) -> float:
    """mm beside the outline that a cut line takes."""
    return 1.5 * max((edge.allowance.width for edge in piece.edges if edge.allowance is not None), default=0.0) + APART


def _box(piece: Piece) -> Box:
    """The box round a piece, with room for a cut line about it."""
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-6))
    room = _room(piece) - APART
    return x0 - room, y0 - room, x1 + room, y1 + room


def _around(boxes: Sequence[Box]) -> Box:
    corners: Array = np.array(boxes)
    x0, y0 = corners[:, :2].min(axis=0)
    x1, y1 = corners[:, 2:].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)

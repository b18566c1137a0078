"""Where words stand beside the pieces that they are about, and how high their letters are."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.curves import boxes, chain, flatten
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


class Placed(NamedTuple):
    """Rows of words with the height of their letters, and the box they take, mm."""

    rows: tuple[tuple[str, ...], ...]
    height: float
    box: Box


class Shapes:
    """The pieces that words stand beside, each measured once however many places are tried."""

    def __init__(self, pattern: Pattern) -> None:
        self._pieces = pattern.pieces
        self._names = {piece.name: k for k, piece in enumerate(pattern.pieces)}

    @cached_property
    def boxes(self) -> Array:
        """The boxes round them, each with room for a cut line about it, (n, 4) mm."""
        room = np.array([_room(piece) - APART for piece in self._pieces])
        return boxes([outline(piece) for piece in self._pieces]) + room[:, None] * (-1, -1, 1, 1)

    @cached_property
    def lined(self) -> Array:
        """Boxes round points on their outlines, hardly farther apart than APART, each as large as the room that is kept
        there, (m, 4) mm.
        """
        groups = [outline(piece) for piece in self._pieces]
        p = np.concatenate([curve.controls for group in groups for curve in group])
        # along a span a point moves at most three times as fast as the longest side of its control polygon is long
        long = 3 * np.linalg.norm(np.diff(p, axis=1), axis=-1).max(axis=1)
        count = np.maximum(np.ceil(long / APART).astype(int), 1)
        span = np.repeat(np.arange(len(p)), count)
        t = ((np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count)) / count[span])[:, None]
        s, q = 1 - t, p[span]
        at = s**3 * q[:, 0] + 3 * s * s * t * q[:, 1] + 3 * s * t * t * q[:, 2] + t**3 * q[:, 3]
        spans = [sum(map(len, group)) for group in groups]
        room = np.repeat([_room(piece) for piece in self._pieces], spans)[span][:, None]
        return np.concatenate([at - room, at + room], axis=1)

    @cached_property
    def rings(self) -> list[Array]:
        """Their outlines, (n, 2) each."""
        return [flatten(chain(outline(one), within=1e-6), tolerance=1.0) for one in self._pieces]

    def around(self, about: Sequence[str] = ()) -> Box:
        """The box round those of these names, round all where there is none of them."""
        chosen = self.boxes[[self._names[name] for name in about if name in self._names] or slice(None)]
        (x0, y0), (x1, y1) = chosen[:, :2].min(axis=0).tolist(), chosen[:, 2:].max(axis=0).tolist()
        return x0, y0, x1, y1

    def __bool__(self) -> bool:
        return bool(self._pieces)


def fitted(
    shapes: Shapes,
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
            place = free_place(shapes, about, page, size, height, taken)
            if place is not None:
                left, top = place
                return Placed(rows=rows, height=height, box=(left, top, left + size[0], top + size[1]))
    return None


def fitted_closely(
    shapes: Shapes,
    about: Sequence[str],
    page: tuple[float, float],
    wrapped: Callable[[int], tuple[tuple[str, ...], ...]],
    taken: Sequence[Box] = (),
) -> Placed | None:
    """The same in the gaps between pieces as they are shaped, which takes longer to find; in small letters."""
    if not shapes:
        return None
    around = shapes.around(about)
    for share, wide in CLOSE:
        height, rows = share * letter_height(page), wrapped(wide)
        size = extent(rows, height)
        place = _anywhere(around, page, size, np.concatenate([_boxes(taken), shapes.lined]), height, shapes)
        if place is not None:
            left, top = place
            return Placed(rows=rows, height=height, box=(left, top, left + size[0], top + size[1]))
    return None


def extent(rows: Sequence[Sequence[str]], height: float) -> tuple[float, float]:
    """Width and height in mm that groups of rows take."""
    every = [row for group in rows for row in group]
    return WIDTH * height * max(map(len, every)), LEADING * height * len(every)


def below(shapes: Shapes, page: tuple[float, float]) -> tuple[float, float]:
    """Left and top of what stands below all pieces, mm."""
    low = shapes.around()
    return low[0], low[3] + letter_height(page)


def letter_height(page: tuple[float, float]) -> float:
    """mm of a letter that can be read at the zoom at which the page (mm) fits the window.

    >>> round(letter_height((210.0, 297.0)), 2)
    5.71
    """
    return max(SMALL * max(page[1], 0.6 * page[0]), LEAST)


def free_place(
    shapes: Shapes,
    about: Sequence[str],
    page: tuple[float, float],
    size: tuple[float, float],
    gap: float,
    taken: Sequence[Box] = (),
) -> tuple[float, float] | None:
    """Left and top of a box of that size beside the pieces that it is about, mm: where it lies on the page and on no
    piece nor on what is taken, None where there is no such place; without pieces in the page's upper left corner.

    >>> free_place(Shapes(Pattern()), (), (210.0, 297.0), (80.0, 20.0), 5.0)
    (5.0, 5.0)
    """
    if not shapes:
        return gap, gap
    x0, y0, x1, y1 = shapes.around(about)
    wide, high = size
    full = np.concatenate([shapes.boxes, _boxes(taken)])
    beside = [(x1 + gap, y0), (x0 - gap - wide, y0), (x0, y1 + gap), (x0, y0 - gap - high), (x1 + gap, y1 - high)]
    for left, top in beside:
        inside = left >= 0 and top >= 0 and left + wide <= page[0] and top + high <= page[1]
        if inside:
            a, b, c, d = full.T
            if ((left + wide < a) | (c < left) | (top + high < b) | (d < top)).all():
                return left, top
    return _anywhere((x0, y0, x1, y1), page, size, full, gap)


def _anywhere(
    about: Box,
    page: tuple[float, float],
    size: tuple[float, float],
    taken: Array,
    gap: float,
    shapes: Shapes | None = None,
) -> tuple[float, float] | None:
    """The place on the page nearest to a box where nothing is, None for none.

    taken: boxes (n, 4); shapes: whose insides are kept clear of too, where their outlines are among what is taken.
    """
    (x0, y0, x1, y1), (wide, high) = about, size
    across, down = page[0] - wide - gap, page[1] - high - gap
    if across < gap or down < gap:
        return None
    left = np.append(np.arange(gap, across, STEP), across)
    top = np.append(np.arange(gap, down, STEP), down)
    free = _clear(left, top, size, taken)
    for ring in shapes.rings if shapes is not None and free.any() else ():
        # what no side of it comes near lies inside it whole or not at all
        row, column = np.nonzero(free)
        free[row, column] = ~contains(ring, np.column_stack([left[column] + wide / 2, top[row] + high / 2]))
    if not free.any():
        return None
    off_x = np.maximum(np.maximum(x0 - left - wide, left - x1), 0.0)
    off_y = np.maximum(np.maximum(y0 - top - high, top - y1), 0.0)
    best = int(np.argmin(np.where(free, np.hypot(off_x, off_y[:, None]), np.inf)))
    return float(left[best % len(left)]), float(top[best // len(left)])


def _clear(left: Array, top: Array, size: tuple[float, float], full: Array) -> BoolArray:
    """Where a box of a size whose left and top are of these (m,), (n,) meets none of the boxes (k, 4): (n, m)."""
    first = np.searchsorted(left, full[:, 0] - size[0]), np.searchsorted(top, full[:, 1] - size[1])
    last = np.searchsorted(left, full[:, 2], side="right"), np.searchsorted(top, full[:, 3], side="right")
    # each box bars a block of places; the blocks are counted at their corners and summed up
    barred = np.zeros((len(top) + 1, len(left) + 1), dtype=np.intp)
    for x, y, sign in (
        (first[0], first[1], 1),
        (last[0], first[1], -1),
        (first[0], last[1], -1),
        (last[0], last[1], 1),
    ):
        np.add.at(barred, (y, x), sign)
    return np.asarray(barred.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] == 0)


def _room(piece: Piece) -> float:
    """mm beside the outline that a cut line takes."""
    return 1.5 * max((edge.allowance.width for edge in piece.edges if edge.allowance is not None), default=0.0) + APART


def _boxes(taken: Sequence[Box]) -> Array:
    return np.array(taken, dtype=float).reshape(-1, 4)

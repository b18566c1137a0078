"""Which sheets a layout is cut up into: the arithmetic of overlapping windows, and which of them hold anything."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.region import contains
from flatcut.units import plain

MOST = 4000
"""Sheets: no set of pieces takes more, and a drawing in the wrong unit would."""
HAIR = 1e-6
"""mm: a layout that is longer than its sheets by less than this takes no further sheet for it."""

Box = tuple[float, float, float, float]
"""Smallest x, y and largest x, y, mm."""


def count(size: float, window: float, overlap: float) -> int:
    """How many windows that overlap cover a length: ceil((size - overlap) / (window - overlap)), at least one.

    600 by 1000 mm on A4 with margins and overlap of 10 mm (windows of 190 by 277):

    >>> count(600, 190, 10), count(1000, 277, 10)
    (4, 4)
    """
    return max(1, math.ceil((size - overlap - HAIR) / (window - overlap)))


def column_name(column: int) -> str:
    """Letters for a column, counted from 0.

    >>> column_name(0), column_name(25), column_name(26), column_name(27)
    ('A', 'Z', 'AA', 'AB')
    """
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def sheet_name(column: int, row: int) -> str:
    """The column's letters and the row's number, rows counted from 0.

    >>> sheet_name(1, 2)
    'B3'
    """
    return f"{column_name(column)}{row + 1}"


@dataclass(frozen=True, kw_only=True)
class Tiling:
    """Windows in columns and rows over a layout, each overlapping its neighbours.

    left, top: where the first window begins; width, height: of one window, between the margins of the paper; kept: the
    (column, row) of every window that is printed, row by row.
    """

    left: float
    top: float
    width: float
    height: float
    overlap: float
    columns: int
    rows: int
    kept: tuple[tuple[int, int], ...] = ()

    def window(self, column: int, row: int) -> Box:
        """What a sheet shows.

        >>> t = Tiling(left=0, top=0, width=190, height=277, overlap=10, columns=4, rows=4)
        >>> t.window(1, 0)
        (180, 0, 370, 277)
        """
        x = self.left + column * (self.width - self.overlap)
        y = self.top + row * (self.height - self.overlap)
        return x, y, x + self.width, y + self.height

    def cell(self, column: int, row: int) -> Box:
        """What a sheet alone is kept for: its window up to the middle of each overlap; the cells fill the grid."""
        x0, y0, x1, y1 = self.window(column, row)
        half = self.overlap / 2
        return (
            x0 + (half if column else 0),
            y0 + (half if row else 0),
            x1 - (half if column < self.columns - 1 else 0),
            y1 - (half if row < self.rows - 1 else 0),
        )

    @property
    def box(self) -> Box:
        """What all windows together cover."""
        x, y, _, _ = self.window(0, 0)
        _, _, x1, y1 = self.window(self.columns - 1, self.rows - 1)
        return x, y, x1, y1

    @cached_property
    def _kept(self) -> frozenset[tuple[int, int]]:
        return frozenset(self.kept)

    def beside(self, column: int, row: int) -> Iterator[tuple[str, int, int]]:
        """The sides of a sheet where another printed one joins on, and that one's column and row."""
        for side, dx, dy in (("left", -1, 0), ("top", 0, -1), ("right", 1, 0), ("bottom", 0, 1)):
            if (column + dx, row + dy) in self._kept:
                yield side, column + dx, row + dy


def tiling(extent: Box, window: tuple[float, float], overlap: float, chords: Array, rings: list[Array]) -> Tiling:
    """The sheets that show a layout.

    extent: of the layout; window: width and height between the margins; chords: (n, 2, 2) of all that is drawn; rings:
    closed rings of points, the paper inside which is kept even where nothing is drawn on it.
    Errors: InputError when there would be more than MOST of them.
    """
    x0, y0, x1, y1 = extent
    columns, rows = count(x1 - x0, window[0], overlap), count(y1 - y0, window[1], overlap)
    if columns * rows > MOST:
        raise InputError(
            f"the pieces would take {columns} by {rows} sheets, being {plain((x1 - x0) / 1000)} by "
            f"{plain((y1 - y0) / 1000)} m in all; is the unit of the drawing right? else take larger paper"
        )
    grid = Tiling(left=x0, top=y0, width=window[0], height=window[1], overlap=overlap, columns=columns, rows=rows)
    kept = _touched(grid, chords)
    for ring in rings:
        kept |= _inside(grid, ring)
    ordered = [tuple(place) for place in np.argwhere(kept).tolist()]
    return replace(grid, kept=tuple((column, row) for row, column in ordered))


def _touched(grid: Tiling, chords: Array) -> BoolArray:
    """The cells that a chord touches, (rows, columns); each chord is held against the few cells around it only."""
    found = np.zeros((grid.rows, grid.columns), dtype=np.bool_)
    boxes = [np.array([grid.cell(column, 0)[0::2] for column in range(grid.columns)])]
    boxes.append(np.array([grid.cell(0, row)[1::2] for row in range(grid.rows)]))
    low, high = chords.min(axis=1), chords.max(axis=1)
    first, last = [], []
    for axis, sides in enumerate(boxes):
        first.append(np.searchsorted(sides[:, 1], low[:, axis], side="left"))
        last.append(np.searchsorted(sides[:, 0], high[:, axis], side="right"))
    wide, tall = (np.maximum(end - start, 0) for start, end in zip(first, last, strict=True))
    which = np.repeat(np.arange(len(chords)), wide * tall)
    step = np.arange(len(which)) - np.repeat(np.cumsum(wide * tall) - wide * tall, wide * tall)
    column = first[0][which] + step % np.maximum(wide[which], 1)
    row = first[1][which] + step // np.maximum(wide[which], 1)
    corners = np.stack([boxes[0][column], boxes[1][row]], axis=2)  # pair, low and high, x and y
    met = _met(corners[:, 0], corners[:, 1], chords[which])
    found[row[met], column[met]] = True
    return found


def _inside(grid: Tiling, ring: Array) -> BoolArray:
    """The cells whose middle lies inside a ring, (rows, columns)."""
    x = np.array([np.mean(grid.cell(column, 0)[0::2]) for column in range(grid.columns)])
    y = np.array([np.mean(grid.cell(0, row)[1::2]) for row in range(grid.rows)])
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    near = np.outer((y > y0) & (y < y1), (x > x0) & (x < x1))
    rows, columns = np.nonzero(near)
    found = np.zeros_like(near)
    if len(rows):
        found[rows, columns] = contains(ring, np.stack([x[columns], y[rows]], axis=1))
    return found


def meets(box: Box, chords: Array) -> BoolArray:
    """Which chords (n, 2, 2) touch a box, exactly.

    >>> meets((0, 0, 2, 2), np.array([[[-1.0, 1.0], [9.0, 1.0]], [[-2.0, 1.0], [1.0, 4.0]]]))
    array([ True, False])
    """
    return _met(np.array(box[:2]), np.array(box[2:]), chords)


def _met(low: Array, high: Array, chords: Array) -> BoolArray:
    """The same for boxes given by their corners, (2,), or (n, 2) for a box for each chord."""
    start, way = chords[:, 0], chords[:, 1] - chords[:, 0]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        a, b = (low - start) / way, (high - start) / way
    still = way == 0
    within = (start >= low) & (start <= high)
    enter = np.where(still, np.where(within, -np.inf, np.inf), np.minimum(a, b)).max(axis=1)
    leave = np.where(still, np.where(within, np.inf, -np.inf), np.maximum(a, b)).min(axis=1)
    return np.asarray((enter <= leave) & (leave >= 0) & (enter <= 1))

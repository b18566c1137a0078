"""A free corner of a large sheet, where the words of the first page stand instead of on a sheet of their own."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.region import contains
from flatcut.printing.control import sampled
from flatcut.printing.layout import Layout

CELL = 4.0
"""mm: side of a cell of the raster on which room is looked for; what is drawn has as much air, at least."""


def free_corner(layout: Layout, size: tuple[float, float]) -> tuple[float, float] | None:
    """The upper left corner, mm, of a free rectangle of that size on one sheet of a layout; None where there is none.

    Free: nothing is drawn there, it lies in no piece, and on no strip where sheets join. Of all that are free the one
    nearest to a corner of its sheet.
    """
    tiling = layout.tiling
    chords = sampled(layout.ink.chords())
    for column, row in tiling.kept:
        x0, y0, x1, y1 = tiling.window(column, row)
        beside = {side for side, _, _ in tiling.beside(column, row)}
        x0, y0 = x0 + tiling.overlap * ("left" in beside), y0 + tiling.overlap * ("top" in beside)
        x1, y1 = x1 - tiling.overlap * ("right" in beside), y1 - tiling.overlap * ("bottom" in beside)
        taken = _taken(layout, chords, (x0, y0, x1, y1))
        across, down = (int(np.ceil(side / CELL)) for side in size)
        if taken.shape[0] < down or taken.shape[1] < across:
            continue
        free = np.argwhere(_blocks(taken, down, across) == 0)
        if len(free):
            away = np.minimum(free, np.array(taken.shape) - (down, across) - free).max(axis=1)
            best = free[int(np.argmin(away))]
            return x0 + float(best[1]) * CELL, y0 + float(best[0]) * CELL
    return None


def _taken(layout: Layout, chords: Array, box: tuple[float, float, float, float]) -> BoolArray:
    """Which cells of a box, (rows, columns), are drawn on, lie in a piece, or are next to one that is."""
    x0, y0, x1, y1 = box
    shape = int((y1 - y0) / CELL), int((x1 - x0) / CELL)
    taken = np.zeros(shape, dtype=np.bool_)
    if not taken.size:
        return taken
    places = np.floor((chords - (x0, y0)) / CELL).astype(int)
    inside = ((places >= 0) & (places < (shape[1], shape[0]))).all(axis=1)
    taken[places[inside, 1], places[inside, 0]] = True
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    middles = np.stack([x0 + (columns + 0.5) * CELL, y0 + (rows + 0.5) * CELL], axis=-1).reshape(-1, 2)
    for ring in layout.ink.rings:
        taken |= contains(ring, middles).reshape(shape)
    wide = np.pad(taken, 1)
    around = [wide[i : i + shape[0], j : j + shape[1]] for i in range(3) for j in range(3)]
    return np.asarray(np.any(around, axis=0))


def _blocks(taken: BoolArray, down: int, across: int) -> Array:
    """How many cells are taken in each block of so many, by its upper left cell."""
    sums = np.pad(taken.astype(int).cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    return np.asarray(sums[down:, across:] - sums[:-down, across:] - sums[down:, :-across] + sums[:-down, :-across])

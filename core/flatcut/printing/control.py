"""Control lines: long straight lines across the sheets, measured once they are taped together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import Role
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line
from flatcut.geometry.offset_ring import Ints
from flatcut.geometry.region import contains
from flatcut.printing.tiling import Tiling
from flatcut.units import plain

LENGTH = 500.0
"""mm: after taping 4 by 4 sheets, at most 2 mm of error on the diagonal; a shorter line would hide that."""
STEP = 100.0
"""mm: where the sheets have no room for LENGTH the line is so many times this long."""
BROAD = 12.0
"""mm: the strip that a control line takes, with its end bars and words."""
BAR = 3.0
"""mm: half of an end bar, and of the bars at every 100 mm."""
WORDS = 3.5
"""mm: letter height."""
CELL = 3.0
"""mm: side of a cell of the raster on which room is looked for."""
AROUND = 2 * CELL + 2
"""mm that the sheets must be longer than the line."""
CLOSED = 1_000_000
"""What a cell of a sheet that is not printed counts."""
TRIED = 400
"""Places that are looked at for one outside the pieces."""
CONTROL = Role(name="control")


@dataclass(frozen=True, kw_only=True)
class ControlLine:
    """From start to end, (2,) each; `long` mm."""

    start: Array
    end: Array
    long: float

    @property
    def ink(self) -> Ink:
        """The line with a bar at each end and a shorter one at every 100 mm, and what it must measure."""
        along = (self.end - self.start) / self.long
        across = np.array([-along[1], along[0]])
        bars = [line(self.start - BAR * across, self.start + BAR * across)]
        bars.append(line(self.end - BAR * across, self.end + BAR * across))
        for k in range(1, math.ceil(self.long / STEP)):
            at = self.start + k * STEP * along
            bars.append(line(at - BAR / 2 * across, at + BAR / 2 * across))
        said = f"control line: {plain(self.long)} mm"
        upright = abs(along[1]) > abs(along[0])
        # beside the line, within its first 100 mm and clear of the bars
        place = self.start + STEP / 2 * along - 1.2 * WORDS * np.abs(across)
        words = Words(lines=(said,), at=place, height=WORDS, angle=-90.0 if upright else 0.0)
        strokes = (
            Stroke(role=CONTROL, curves=(line(self.start, self.end),)),
            Stroke(role=CONTROL, curves=tuple(bars)),
        )
        return Ink(items=(*strokes, words))


def control_lines(tiling: Tiling, chords: Array, rings: list[Array]) -> list[ControlLine]:
    """A line across and one down, where the printed sheets have room for LENGTH.

    chords: (n, 2, 2) of all that is drawn; rings: of the pieces, which the lines keep out of where they can. Where both
    would cross something, the one that crosses least; where there is no room for either, one that is shorter.
    """
    x0, y0, x1, y1 = tiling.box
    longest = {False: x1 - x0, True: y1 - y0}
    found: list[ControlLine] = []
    for crossing in (False, True):
        for upright in (False, True):
            long = min(LENGTH, STEP * math.floor((longest[upright] - AROUND) / STEP))
            if long < STEP or (crossing and found) or (long < LENGTH and max(longest.values()) - AROUND >= LENGTH):
                continue
            walls = np.concatenate([chords, *(made.ink.chords() for made in found)])
            made = _line(_Raster(tiling, walls), rings, long, upright=upright, crossing=crossing)
            if made is not None:
                found.append(made)
    return found


class _Raster:
    """Which cells of the printed sheets have anything drawn on them."""

    def __init__(self, tiling: Tiling, chords: Array) -> None:
        x0, y0, x1, y1 = tiling.box
        self.corner = np.array([x0, y0])
        self.shape = (int((y1 - y0) / CELL), int((x1 - x0) / CELL))
        drawn = np.zeros(self.shape, dtype=np.int64)
        columns, rows = self._cells(sampled(chords))
        drawn[rows, columns] = 1
        kept = set(tiling.kept)
        for column in range(tiling.columns):
            for row in range(tiling.rows):
                if (column, row) not in kept:
                    left, top, right, bottom = tiling.cell(column, row)
                    a, b = np.floor((np.array([left, top]) - self.corner) / CELL).astype(int)
                    c, d = np.ceil((np.array([right, bottom]) - self.corner) / CELL).astype(int)
                    drawn[b:d, a:c] = CLOSED
        self._sums = np.zeros((self.shape[0] + 1, self.shape[1] + 1), dtype=np.int64)
        self._sums[1:, 1:] = drawn.cumsum(axis=0).cumsum(axis=1)

    def _cells(self, points: Array) -> tuple[Ints, Ints]:
        at = np.floor((points - self.corner) / CELL).astype(np.intp)
        inside = ((at >= 0) & (at < np.array(self.shape[::-1]))).all(axis=1)
        return at[inside, 0], at[inside, 1]

    def counts(self, wide: int, high: int) -> Array:
        """How many cells are drawn on in each block of so many cells, by its upper left cell: (rows, columns)."""
        if high > self.shape[0] or wide > self.shape[1]:
            return np.zeros((0, 0))
        s = self._sums
        return np.asarray(s[high:, wide:] - s[:-high, wide:] - s[high:, :-wide] + s[:-high, :-wide], dtype=float)


def _line(raster: _Raster, rings: list[Array], long: float, *, upright: bool, crossing: bool) -> ControlLine | None:
    size = np.array([BROAD, long + 2.0] if upright else [long + 2.0, BROAD])
    # one cell more than the strip is long: then it lies inside its block wherever the cells fall
    wide, high = (int(n) for n in np.ceil(size / CELL).astype(int) + 1)
    counts = raster.counts(wide, high)
    if not counts.size or counts.min() > (CLOSED - 1 if crossing else 0):
        return None
    rows, columns = np.nonzero(counts == counts.min())
    middles = raster.corner + (np.stack([columns, rows], axis=1) + np.array([wide, high]) / 2) * CELL
    # near the upper left corner; out of the pieces if one of the first places is
    middles = middles[np.argsort(middles.sum(axis=1), kind="stable")]
    some = middles[:: max(1, len(middles) // TRIED)]
    outside = ~np.any([contains(ring, some) for ring in rings], axis=0) if rings else np.ones(len(some), dtype=np.bool_)
    middle = some[int(np.argmax(outside))]
    way = np.array([0.0, long / 2]) if upright else np.array([long / 2, 0.0])
    return ControlLine(start=middle - way, end=middle + way, long=long)


def sampled(chords: Array) -> Array:
    """Points on chords (n, 2, 2), no two neighbours more than half a cell apart."""
    ways = chords[:, 1] - chords[:, 0]
    counts = np.ceil(np.linalg.norm(ways, axis=1) / (CELL / 2)).astype(int) + 1
    which = np.repeat(np.arange(len(chords)), counts)
    step = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = step / np.maximum(counts[which] - 1, 1)
    return np.asarray(chords[which, 0] + share[:, None] * ways[which])

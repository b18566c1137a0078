"""A stretch of the outline between two cardinal points: how it follows them and keeps its shape.

It is stretched along the two axes of the piece in proportion, so that what is straight stays straight, what is square
to an axis stays square to it, and what is smooth stays smooth. Where it swings out far beyond its two ends in the
direction in which they part, it is leaned instead.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array

STILL = 1e-9
"""mm: two cardinal points that part by less go alike."""
STEEP = 0.4
"""A stretch that grows by more than this part of its own extent along an axis is rather leaned."""
SQUARE = 1.0
"""What leaning costs beside it, for it turns what was square: mm for each mm by which the ends part."""


class Follow(NamedTuple):
    """The displacement at `at` (2,) and how it changes by the mm, (2, 2): rows x and y, columns by x and by y."""

    at: Array
    shift: Array
    rate: Array

    def __call__(self, points: Array) -> Array:
        """The displacements (..., 2) of points (..., 2)."""
        return np.asarray(self.shift + (points - self.at) @ self.rate.T)


def followed_by(points: Array, shifts: Array) -> Follow | None:
    """How a stretch with control points (n, 2), its ends first and last, follows its ends, shifts (2, 2).

    None where it cannot: its ends part, and it turns back on itself along both axes between them.

    >>> lean = followed_by(np.array([[0.0, 0.0], [0.0, 100.0]]), np.array([[0.0, 0.0], [5.0, 0.0]]))
    >>> lean(np.array([[0.0, 50.0]])).tolist()
    [[2.5, 0.0]]
    >>> wide = followed_by(np.array([[0.0, 0.0], [30.0, 2.0], [100.0, 40.0]]), np.array([[0.0, 0.0], [5.0, 0.0]]))
    >>> wide(np.array([[30.0, 2.0]])).tolist()
    [[1.5, 0.0]]
    """
    chord = points[-1] - points[0]
    beyond = np.ptp(points, axis=0) - np.abs(chord)
    parts = shifts[1] - shifts[0]
    rate = np.zeros((2, 2))
    for axis, other in ((0, 1), (1, 0)):
        if abs(parts[axis]) <= STILL:
            continue
        own = _cost(parts[axis], chord[axis], beyond[axis])
        lean = _cost(parts[axis], chord[other], beyond[other]) + SQUARE * abs(parts[axis])
        if not np.isfinite([own, lean]).any():
            return None
        share = 1.0 if not np.isfinite(own) else 0.0 if not np.isfinite(lean) else own**2 / (own**2 + lean**2)
        if share < 1.0:
            rate[axis, axis] = (1.0 - share) * parts[axis] / chord[axis]
        if share > 0.0:
            rate[axis, other] = share * parts[axis] / chord[other]
    return Follow(points[0], shifts[0], rate)


def _cost(parts: float, chord: float, beyond: float) -> float:
    """mm that a stretch would be drawn out beyond its ends, and what it grows too steeply; infinite for no extent."""
    if abs(chord) < 1e-6:
        return float("inf")
    steep = abs(parts / chord)
    return float(steep * beyond + abs(parts) * max(0.0, steep - STEEP))

"""Mean value coordinates: what lies inside a polygon as a mean of its corners."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array

ON = 1e-7
"""Of the polygon's size: nearer to a side than this, a point lies on it."""


def mean_values(polygon: Array, points: Array) -> Array:
    """The weights (m, n) of the corners (n, 2) of a polygon at points (m, 2); each row sums up to 1.

    They give back every linear field exactly, and on a side what lies between its two corners. The polygon need not be
    convex; points may lie outside. After Hormann and Floater, Mean value coordinates for arbitrary planar polygons, ACM
    Transactions on Graphics 25 (2006).

    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> mean_values(square, np.array([[2.0, 2.0], [1.0, 0.0]])).round(6)
    array([[0.25, 0.25, 0.25, 0.25],
           [0.75, 0.25, 0.  , 0.  ]])
    """
    size = float(np.ptp(polygon, axis=0).max())
    spoke = polygon[None] - points[:, None]
    along = np.roll(polygon, -1, axis=0) - polygon
    far = np.hypot(spoke[..., 0], spoke[..., 1])
    after, beyond = np.roll(spoke, -1, axis=1), np.roll(far, -1, axis=1)
    cross = spoke[..., 0] * after[..., 1] - spoke[..., 1] * after[..., 0]
    dot = (spoke * after).sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        half = cross / (far * beyond + dot)  # the tangent of half the angle at which a side is seen
        weights = (np.roll(half, 1, axis=1) + half) / far
        found = weights / weights.sum(axis=1, keepdims=True)
    # where a point lies on a side those are undefined, and it lies between two corners
    square = np.maximum((along * along).sum(axis=-1), 1e-300)
    share = np.clip(-(spoke * along).sum(axis=-1) / square, 0.0, 1.0)
    off = np.hypot(*np.moveaxis(spoke + share[..., None] * along, -1, 0))
    side = off.argmin(axis=1)
    for k in np.flatnonzero(off.min(axis=1) <= ON * size):
        found[k] = 0.0
        found[k, side[k]] = 1.0 - share[k, side[k]]
        found[k, (side[k] + 1) % len(polygon)] += share[k, side[k]]
    return np.asarray(found)

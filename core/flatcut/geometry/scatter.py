"""How much the points of a digitised line scatter about it, told from the points alone."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, cross, unit

FEWEST = 16
"""Points from which scatter is told; of fewer it would be a guess."""
AT_RANDOM = 0.45
"""The part of neighbouring gaps on different sides from which they are scatter: of independent points, seen from their
neighbours, it is about 0.7, while points of a curve far apart leave their neighbours' curve on one side in a row."""
NORMAL = 0.6745
"""The middle of the absolute values of a normal distribution, in standard deviations."""


FAR, SHORN = 2.5, 0.95
"""Gaps of more standard deviations are corners and no scatter, and what is left of a normal distribution without them
has its own smaller by this factor."""


def scatter(points: Array) -> float:
    """mm: the standard deviation of points (m, 2) square to the smooth line they were taken from; 0 where none shows.

    Each point is held against the cubic through its two neighbours on either side. Gaps far above their middle are left
    out, so that a few corners change nothing.

    >>> x = np.arange(0.0, 300.0, 2.0)
    >>> line = np.stack([x, 20 * np.sin(x / 60)], axis=1)
    >>> noise = np.random.default_rng(1).normal(0, 0.05, line.shape)
    >>> scatter(line), bool(abs(scatter(line + noise) - 0.05) < 0.01)
    (0.0, True)
    """
    if len(points) < FEWEST:
        return 0.0
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    middle = np.arange(2, len(points) - 2)
    beside = middle[:, None] + np.array([-2, -1, 1, 2])
    to = along[beside] - along[middle, None]
    # Lagrange's weights of the four neighbours at the point itself
    other = np.array([[1, 2, 3], [0, 2, 3], [0, 1, 3], [0, 1, 2]])
    away = np.maximum(np.abs(to[:, :, None] - to[:, other]), 1e-12) * np.sign(to[:, :, None] - to[:, other])
    weights = (-to[:, other] / away).prod(axis=2)
    gap = points[middle] - (weights[:, :, None] * points[beside]).sum(axis=1)
    off = cross(unit(points[middle + 1] - points[middle - 1]), gap) / np.sqrt(1 + (weights**2).sum(axis=1))
    if (off[1:] * off[:-1] < 0).mean() < AT_RANDOM:
        return 0.0
    near = off[np.abs(off) <= FAR * max(float(np.median(np.abs(off))) / NORMAL, 1e-300)]
    return float(np.sqrt((near**2).mean()) / SHORN)

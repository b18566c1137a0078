"""How much the points of a digitised line scatter about it, told from the points alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.geometry.arrays import Array

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
    return float(scatters([points])[0])


def scatters(lines: Sequence[Array]) -> Array:
    """As `scatter`, of several lines (m, 2)."""
    found = np.zeros(len(lines))
    enough = [k for k, points in enumerate(lines) if len(points) >= FEWEST]
    if not enough:
        return found
    x, y = np.ascontiguousarray(np.concatenate([lines[k] for k in enough]).T)
    # the gap of every row of five points, also of the few that reach into the next line
    chord_x, chord_y = np.diff(x), np.diff(y)
    step = np.sqrt(chord_x * chord_x + chord_y * chord_y)
    p, q, r, s = step[:-3], step[1:-2], step[2:-1], step[3:]
    ends = p + q, q, r, r + s
    # Lagrange's weights of the four neighbours at the point between them
    between = np.maximum(np.stack([p, p + q + r, p + q + r + s, q + r, q + r + s, s]), 1e-12)
    ab, ac, ad, bc, bd, cd = between
    a, b, c, d = ends
    weights = (
        -b * c * d / (ab * ac * ad),
        a * c * d / (ab * bc * bd),
        a * b * d / (ac * bc * cd),
        -a * b * c / (ad * bd * cd),
    )
    other = (slice(0, -4), slice(1, -3), slice(3, -1), slice(4, None))
    gap_x = x[2:-2] - sum(weight * x[rows] for weight, rows in zip(weights, other, strict=True))
    gap_y = y[2:-2] - sum(weight * y[rows] for weight, rows in zip(weights, other, strict=True))
    along_x, along_y = x[3:-1] - x[1:-3], y[3:-1] - y[1:-3]
    size = np.sqrt((along_x * along_x + along_y * along_y) * (1 + sum(weight * weight for weight in weights)))
    off = (along_x * gap_y - along_y * gap_x) / np.maximum(size, 1e-300)
    count = np.array([len(lines[k]) for k in enough])
    first = np.cumsum(count) - count
    own = np.repeat(np.arange(len(enough)), count)[: len(off)]
    size = np.abs(off)
    middles = [
        np.partition(size[a : a + n - 4], n // 2 - 2)[n // 2 - 2]
        for a, n in zip(first.tolist(), count.tolist(), strict=True)
    ]
    # rows that reach into the next line count for nothing
    inside = np.arange(len(off)) - first[own] < count[own] - 4
    near = inside & (size <= (FAR / NORMAL * np.maximum(middles, 1e-300))[own])
    aside = inside[1:] & (own[1:] == own[:-1]) & (off[1:] * off[:-1] < 0)
    square = np.bincount(own, np.where(near, off * off, 0.0)) / np.bincount(own, near)
    at_random = np.bincount(own[1:], aside) >= AT_RANDOM * (count - 5)
    found[enough] = np.where(at_random, np.sqrt(square) / SHORN, 0.0)
    return found

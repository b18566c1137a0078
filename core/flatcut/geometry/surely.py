"""What signs tell of an area beyond all rounding, without the library that answers the rest (`region`).

The sign of a determinant of floats is sure where it is larger than all that its rounding can come to. Source of the
bound: Shewchuk, Adaptive Precision Floating-Point Arithmetic and Fast Robust Geometric Predicates (1997), from memory.
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray

ROUNDING = 3.4e-16
"""Times the sum of the products' sizes: more than a difference of two products of differences can be off."""

MOST = 500_000
"""Pairs of sides, or of places and sides: with more the library is sooner asked than these are looked at."""

FEW = 100
"""Places on a side, or all but on it, that are worked out exactly."""


def surely_simple(ring: Array) -> bool:
    """Whether a ring (n, 2) surely neither crosses nor touches itself; False where that is not so or not sure.

    >>> surely_simple(np.array([[0.0, 0], [4, 0], [4, 3]])), surely_simple(np.array([[0.0, 0], [4, 3], [4, 0], [0, 3]]))
    (True, False)
    """
    a = ring[:-1] if (ring[0] == ring[-1]).all() else ring
    if len(a) < 3 or len(a) ** 2 > MOST:
        return False
    b = np.roll(a, -1, axis=0)
    # neighbours lie upon each other only where the outline turns straight back
    c = np.roll(b, -1, axis=0)
    ahead, wide = (b - a) * (c - b), _turn(a, b, c)
    onward = ahead.sum(axis=1) > ROUNDING * 4 * np.abs(ahead).sum(axis=1)
    if not (onward | (wide != 0)).all():
        return False
    low, high = np.minimum(a, b), np.maximum(a, b)
    near = (low[:, None] <= high[None]).all(axis=2)
    near &= near.T
    one, two = np.nonzero(np.triu(near, 2))
    apart = (one != 0) | (two != len(a) - 1)
    one, two = one[apart], two[apart]
    p, q, r, s = a[one], b[one], a[two], b[two]
    beside = _turn(p, q, r) * _turn(p, q, s) > 0
    beside |= _turn(r, s, p) * _turn(r, s, q) > 0
    return bool(beside.all())


def surely_inside(ring: Array, points: Array) -> BoolArray | None:
    """Whether points (m, 2) lie inside a ring (n, 2), which may cross itself, and not on it; None for too many.

    >>> square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]])
    >>> surely_inside(square, np.array([[1.0, 2], [5, 2], [4, 2]]))
    array([ True, False, False])
    """
    if len(ring) < 3 or len(ring) * len(points) > MOST:
        return None
    a, b, at = ring[None], np.roll(ring, -1, axis=0)[None], points[:, None]
    side = _turn(a, b, at)
    crossed = (a[..., 1] > at[..., 1]) != (b[..., 1] > at[..., 1])
    close = ((np.minimum(a, b) <= at) & (at <= np.maximum(a, b))).all(axis=2)
    which, near = np.nonzero((side == 0) & (crossed | close))
    if len(which) > FEW:
        return None
    for k, n in zip(which.tolist(), near.tolist(), strict=True):
        side[k, n] = _exact_turn(a[0, n], b[0, n], points[k])
    on = (close & (side == 0)).any(axis=1)
    beyond = crossed & ((side > 0) == (b[..., 1] > a[..., 1]))
    return np.asarray((beyond.sum(axis=1) % 2 == 1) & ~on)


def _exact_turn(a: Array, b: Array, c: Array) -> int:
    """1, -1 or 0 as for `_turn`, by fractions, which nothing is lost of."""
    from fractions import Fraction

    (ax, ay), (bx, by), (cx, cy) = (map(Fraction, point.tolist()) for point in (a, b, c))
    sign = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    return (sign > 0) - (sign < 0)


def _turn(a: Array, b: Array, c: Array) -> Array:
    """1 where c lies surely on one side of the line from a to b, -1 on the other, 0 where it is not sure."""
    one, two = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]), (b[..., 1] - a[..., 1]) * (c[..., 0] - a[..., 0])
    sign = one - two
    return np.where(np.abs(sign) > ROUNDING * (np.abs(one) + np.abs(two)), np.sign(sign), 0.0)

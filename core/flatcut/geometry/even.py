"""The cubic between two ends with given directions that turns most evenly: a hem as it is struck through."""

from __future__ import annotations

import math

import numpy as np

from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, cubic, line
from flatcut.geometry.fairness import curvature_rates

GRID, NARROWED = 13, 17
"""Handles tried at once at either end, over the range that is left; and how often that is narrowed to three steps
around the best each: down to 1e-5 of it. Narrowed faster, a poorer place of the long valley is found."""
PLACES = 61
"""Places of a cubic at which its bend is looked at."""
STRAIGHT = 1e-6
"""Radians: ends that turn by no more are joined by a straight line."""
ALIKE = 0.01
"""What handles of different length count beside the bend: of many that serve as well, those that are alike."""
LEAST, MOST = 0.02, 0.98
"""Handles, as parts of the way to where the end lines meet: beyond it the curve would bend both ways."""

_T = np.linspace(0.0, 1.0, PLACES)[:, None]


def most_even(start: Array, leaving: Array, end: Array, arriving: Array) -> Curve | None:
    """One cubic from `start`, leaving along a unit vector, to `end`, arriving along another, whose sharpest bend is the
    least; None where none bends one way only.

    Ends of a quarter circle: that circle, to the cubic's 2 thousandths of bend.

    >>> arc = most_even(np.array([0., 0.]), np.array([1., 0.]), np.array([10., 10.]), np.array([0., 1.]))
    >>> round(unevenness(arc), 2)
    1.01
    >>> most_even(np.array([0., 0.]), np.array([1., 0.]), np.array([10., 0.]), np.array([.8, .6])) is None
    True
    """
    chord = end - start
    turn = math.atan2(float(cross(leaving, arriving)), float(leaving @ arriving))
    if abs(turn) < STRAIGHT:
        return line(start, end) if abs(float(cross(leaving, chord))) < STRAIGHT * float(np.hypot(*chord)) else None
    bend = float(cross(leaving, arriving))
    if abs(bend) < STRAIGHT:
        return None
    reach = np.array([float(cross(chord, arriving)), float(cross(leaving, chord))]) / bend
    if reach.min() <= 0:
        return None
    low, high = LEAST * reach, MOST * reach
    best = np.empty((4, 2))
    for _ in range(NARROWED + 1):
        near, far = np.linspace(low[0], high[0], GRID), np.linspace(low[1], high[1], GRID)
        tried = np.empty((GRID, GRID, 4, 2))
        tried[..., 0, :], tried[..., 3, :] = start, end
        tried[..., 1, :] = (start + near[:, None] * leaving)[:, None]
        tried[..., 2, :] = end - far[:, None] * arriving
        uneven = np.log(near / reach[0])[:, None] - np.log(far / reach[1])
        k = divmod(int(np.argmin(_sharpest(tried, turn) + ALIKE * uneven**2)), GRID)
        best, at = tried[k], np.array([near[k[0]], far[k[1]]])
        step = 3 * (high - low) / (GRID - 1)
        low, high = np.maximum(LEAST * reach, at - step), np.minimum(MOST * reach, at + step)
    return cubic(*best)


def unevenness(curve: Curve) -> float:
    """The sharpest bend of a curve over its mean bend (its turn over its length): 1 for a circle's arc or a line."""
    speed, bend = _bends(curve.controls)
    turns = (speed * bend)[:, :-1] + (speed * bend)[:, 1:]
    turn = float(np.abs(turns.sum(axis=1)).sum()) / 2 / (PLACES - 1)
    return float(np.abs(bend).max() * speed.mean(axis=1).sum()) / turn if turn > STRAIGHT else 1.0


def _sharpest(spans: Array, turn: float) -> Array:
    """The sharpest bend of each of cubics (..., 4, 2) times its length over the turn; infinite where one bends back."""
    speed, bend = _bends(spans)
    signed = bend * math.copysign(1.0, turn)
    return np.where(signed.min(axis=-1) < 0, np.inf, signed.max(axis=-1) * speed.mean(axis=-1) / abs(turn))


def _bends(spans: Array) -> tuple[Array, Array]:
    """Speed and curvature (..., PLACES) of cubics (..., 4, 2)."""
    d = 3 * np.diff(spans, axis=-2)[..., None, :, :]
    first = (1 - _T) ** 2 * d[..., 0, :] + 2 * _T * (1 - _T) * d[..., 1, :] + _T * _T * d[..., 2, :]
    second = 2 * ((1 - _T) * (d[..., 1, :] - d[..., 0, :]) + _T * (d[..., 2, :] - d[..., 1, :]))
    speed, bend, _ = curvature_rates(first, second, np.zeros_like(second))
    return speed, bend

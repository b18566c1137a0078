"""How fair a curve is: kinks, curvature extrema, inflections, and how fast the curvature changes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, tangent
from flatcut.geometry.length import length

SAMPLES = 48
"""Places looked at in each span, enough for every curvature extremum that a hand would see."""
NOISE = 1e-3
"""Curvature times length below which a change is no extremum and a bend no inflection: an arc that leaves its chord by
an eighth of a thousandth of its length."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(SAMPLES)


class Fairness(NamedTuple):
    """The measures that a cutter's eye takes of a line.

    kink: largest turn at an inner joint, degrees; jump: largest change of curvature at an inner joint times the whole
    length; extrema, inflections: number of curvature extrema and of changes of side;
    mvc: length³ times the integral of (dk/ds)² ds, free of scale. It leaves out what happens at joints, so it says
    nothing about a curve that has kinks.
    """

    kink: float
    jump: float
    extrema: int
    inflections: int
    mvc: float


def curvature_rates(d1: Array, d2: Array, d3: Array) -> tuple[Array, Array, Array]:
    """Speed, curvature and its change with arc length dk/ds, from derivatives by the parameter, (..., 2) each.

    Where the curve stands still the curvature is given as nought.

    >>> s, k, kk = curvature_rates(np.array([2., 0.]), np.array([0., 1.]), np.array([0., 0.]))
    >>> float(s), float(k), float(kk)
    (2.0, 0.25, 0.0)
    """
    speed = np.hypot(d1[..., 0], d1[..., 1])
    turn, turning = cross(d1, d2), cross(d1, d3)
    along = (d1 * d2).sum(axis=-1)
    moving = speed > 0
    safe = np.where(moving, speed, 1.0)
    curvature = np.where(moving, turn / safe**3, 0.0)
    rate = np.where(moving, turning / safe**4 - 3 * turn * along / safe**6, 0.0)
    return speed, curvature, rate


def fairness(curve: Curve) -> Fairness:
    """The measures of an open curve.

    >>> from flatcut.geometry.curves import cubic, polyline
    >>> fairness(polyline([(0, 0), (10, 0), (20, 10)])).kink
    45.0
    >>> f = fairness(cubic((0, 0), (60, 80), (40, -80), (100, 0)))
    >>> f.kink, f.extrema, f.inflections
    (0.0, 2, 1)
    """
    size = length(curve)
    t = (1 + _NODES)[:, None, None] / 2
    d = 3 * np.diff(curve.controls, axis=1)
    e = 2 * np.diff(d, axis=1)
    third = np.diff(e, axis=1)[None, :, 0]
    first = (1 - t) ** 2 * d[:, 0] + 2 * t * (1 - t) * d[:, 1] + t * t * d[:, 2]
    second = (1 - t) * e[:, 0] + t * e[:, 1]
    speed, curvature, rate = curvature_rates(first, second, np.broadcast_to(third, first.shape))
    curvature, rate = np.where(curve.straight, 0.0, curvature), np.where(curve.straight, 0.0, rate)
    mvc = size**3 * float((_WEIGHTS[:, None] / 2 * speed * rate * rate).sum())
    kink = jump = 0.0
    if len(curve) > 1:
        joints = np.arange(1.0, len(curve))
        before, after = tangent(curve, joints, before=True), tangent(curve, joints)
        kink = float(np.degrees(np.abs(np.arctan2(cross(before, after), (before * after).sum(axis=1))).max()))
        ends = np.stack([_end_curvature(curve, at_end=False)[1:], _end_curvature(curve, at_end=True)[:-1]])
        jump = size * float(np.abs(ends[0] - ends[1]).max())
    profile = curvature.T.ravel() * size
    turns = _reversals(profile)
    sides = np.sign(profile[np.abs(profile) > NOISE])
    return Fairness(kink, jump, turns, int((np.diff(sides) != 0).sum()), mvc)


def _end_curvature(curve: Curve, *, at_end: bool) -> Array:
    """Curvature of each span at its start or its end; 0 where straight or where the handle has no length."""
    p = curve.controls[:, ::-1] if at_end else curve.controls
    d1, d2 = 3 * (p[:, 1] - p[:, 0]), 6 * (p[:, 0] - 2 * p[:, 1] + p[:, 2])
    curvature = curvature_rates(d1, d2, np.zeros_like(d1))[1]
    return np.where(curve.straight, 0.0, -curvature if at_end else curvature)


def _reversals(profile: Array) -> int:
    """How often a profile turns from rising to falling or back by more than NOISE."""
    count, rising = 0, None
    top = bottom = float(profile[0])
    for value in profile.tolist():
        top, bottom = max(top, value), min(bottom, value)
        if rising is not True and value > bottom + NOISE:
            count += rising is False
            rising, top = True, value
        elif rising is not False and value < top - NOISE:
            count += rising is True
            rising, bottom = False, value
    return count

"""A smooth curve through points, one cubic from each to the next, with stated directions where wanted.

John D. Hobby, Smooth, easy to compute interpolating splines, Discrete & Computational Geometry 1 (1986) (from memory):
at each inner point the mock curvatures of both sides are equal, at an end without a direction the mock curvature is
that of the other end of its cubic.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve

STEEPEST = 150.0
"""Degrees between a chord and the curve at its ends; beyond it a single cubic makes a loop."""


def flowing(points: Sequence[Array], *, leave: Array | None = None, arrive: Array | None = None) -> Curve:
    """The curve through points (2,), two or more. leave, arrive: the directions (2,) at its ends, None for free ones.

    Errors: GeometryError when two points that follow each other are one, or the curve would turn back.

    >>> quarter = flowing([np.array([1.0, 0]), np.array([0.0, 1])], leave=np.array([0.0, 1]))
    >>> quarter.controls[0, 1].round(4), round(float(np.hypot(*quarter.controls[0, 2])), 4)
    (array([1.    , 0.5523]), 1.1424)
    """
    z = np.array(points, dtype=float)
    chords = np.diff(z, axis=0)
    d = np.hypot(*chords.T)
    if d.min() < 1e-6:
        raise GeometryError("two of the places that a line runs through are one; leave one out")
    turns = np.append(_angles(chords[:-1], chords[1:]), 0.0)
    theta = _thetas(d, turns, _turn(chords[0], leave), _turn(chords[-1], arrive))
    phi = -turns - theta[1:]
    steepest = math.degrees(max(np.abs(theta[:-1]).max(), np.abs(phi).max()))
    if steepest > STEEPEST:
        raise GeometryError(f"the line would turn back by {steepest:.0f}° on its way; choose other directions")
    first = np.stack([_turned(c, a) * _reach(a, b) for c, a, b in zip(chords, theta, phi, strict=False)])
    second = np.stack([_turned(c, -b) * _reach(b, a) for c, a, b in zip(chords, theta, phi, strict=False)])
    controls = np.stack([z[:-1], z[:-1] + first, z[1:] - second, z[1:]], axis=1)
    straight = (np.abs(theta[:-1]) < 1e-12) & (np.abs(phi) < 1e-12)
    controls[straight, 1] = (z[:-1] + chords / 3)[straight]
    controls[straight, 2] = (z[1:] - chords / 3)[straight]
    return Curve(controls, straight)


def _thetas(d: Array, turns: Array, leave: float | None, arrive: float | None) -> Array:
    """Radians from each chord to the curve at its start, (n + 1,); the last entry is minus that at the end."""
    n = len(d)
    # turns[k] is that at point k + 1; none at the last
    system, right = np.zeros((n + 1, n + 1)), np.zeros(n + 1)
    for k in range(1, n):
        before, after = 1 / d[k - 1], 1 / d[k]
        system[k, k - 1], system[k, k], system[k, k + 1] = before, 2 * before + 2 * after, after
        right[k] = -2 * before * turns[k - 1] - after * turns[k]
    if leave is None:
        system[0, 0] = system[0, 1] = 1.0
        right[0] = -turns[0]
    else:
        system[0, 0], right[0] = 1.0, leave
    if arrive is None:
        system[n, n - 1] = system[n, n] = 1.0
        if n == 1 and leave is None:
            system[n, n - 1] = 0.0
    else:
        system[n, n], right[n] = 1.0, arrive
    return np.asarray(np.linalg.solve(system, right), dtype=np.float64)


def _angles(a: Array, b: Array) -> Array:
    return np.asarray(np.arctan2(cross(a, b), (a * b).sum(axis=-1)), dtype=np.float64)


def _turn(chord: Array, way: Array | None) -> float | None:
    return None if way is None else float(_angles(chord[None], np.asarray(way, dtype=float)[None])[0])


def _turned(chord: Array, angle: float) -> Array:
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([cos * chord[0] - sin * chord[1], sin * chord[0] + cos * chord[1]])


def _reach(theta: float, phi: float) -> float:
    """The length of a handle as a part of its chord: Hobby's rho / 3."""
    st, ct, sf, cf = math.sin(theta), math.cos(theta), math.sin(phi), math.cos(phi)
    above = 2 + math.sqrt(2) * (st - sf / 16) * (sf - st / 16) * (ct - cf)
    return above / (3 * (1 + (math.sqrt(5) - 1) / 2 * ct + (3 - math.sqrt(5)) / 2 * cf))


def square_to(way: Array) -> Array:
    """The unit direction (2,) a quarter turn clockwise on the screen from another.

    >>> square_to(np.array([2.0, 0.0]))
    array([-0.,  1.])
    """
    along = unit(way)
    return np.array([-along[1], along[0]])

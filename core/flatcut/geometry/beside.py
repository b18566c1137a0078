"""Two curves that run side by side: the feet of places on one on the other, and how far apart the two are."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, ComplexArray, as_complex
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.nearest import nearest

CHECKED = 400
"""Places on either curve at which the distance is measured."""
STEPS = 5
"""Newton steps for a foot, from the place at the same part of the length."""
FARTHEST = 0.2
"""No step of a foot is longer, in parameters of its cubic."""
NEXT = 1e-2
"""A step shorter than this is the last: what is left is about its square, and the distance changes with the square of
that."""


def projected(controls: ComplexArray, samples: ComplexArray, feet: Array, *, steps: int) -> Array:
    """Feet (k,) of samples (k,) on cubics (n, 4), from first guesses of them, by Newton steps on (Q - S)·Q' = 0."""
    # Q = c0 + c1 t + c2 t² + c3 t³
    p0, p1, p2, p3 = controls.T
    c = np.array([p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)])
    last = len(controls) - 1
    t, (c0, c1, c2, c3) = feet, c
    for _ in range(steps):
        if last:
            index = np.minimum(feet.astype(np.intp), last)
            t = feet - index
            c0, c1, c2, c3 = c[:, index]
        else:
            t = feet
        c3t = c3 * t
        gap = (c0 - samples + t * (c1 + t * (c2 + c3t))).conj()
        d1, d2 = c1 + t * (2 * c2 + 3 * c3t), 2 * c2 + 6 * c3t
        speed = d1.real * d1.real + d1.imag * d1.imag
        bent = np.maximum(speed + (gap * d2).real, 0.3 * speed + 1e-300)
        step = (gap * d1).real / bent
        feet = np.minimum(np.maximum(feet - np.minimum(np.maximum(step, -FARTHEST), FARTHEST), 0.0), last + 1.0)
        if np.abs(step).max() < NEXT:
            break
    return feet


class Walked:
    """A curve's controls, places on it and points there, and the parts of its length up to them."""

    def __init__(self, curve: Curve) -> None:
        self.curve = curve
        self.controls = as_complex(curve.controls)
        self.places = _places(curve)
        self.points = as_complex(point(curve, self.places))
        along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(self.points)))])
        self.along = along / max(float(along[-1]), 1e-300)

    def place(self, share: Array) -> Array:
        """Places at parts of the length."""
        return np.asarray(np.interp(share, self.along, self.places))

    def apart(self, curve: Curve, *, within: float) -> float:
        """As `apart` of both where that is more than `within`, else that or a hair more, in less time."""
        other = Walked(curve)
        away = max(beside(one.points, one.along, two)[1].max() for one, two in ((self, other), (other, self)))
        return float(away) if away <= within else apart(self.curve, curve)


def beside(points: ComplexArray, share: Array, other: Walked) -> tuple[Array, Array]:
    """Places on a curve near the feet of points (k,), looked for from parts (k,) of its length on, and distances."""
    feet = projected(other.controls, points, other.place(share), steps=STEPS)
    index = np.minimum(feet.astype(np.intp), len(other.controls) - 1)
    t = feet - index
    s = 1 - t
    p0, p1, p2, p3 = other.controls[index].T
    gaps = np.abs(s * s * s * p0 + 3 * s * t * (s * p1 + t * p2) + t * t * t * p3 - points)
    # beside a kink the nearest place may be the node itself, about which steps go to and fro
    for node in other.controls[1:, 0]:
        gaps = np.minimum(gaps, np.abs(points - node))
    return feet, gaps


def apart(a: Curve, b: Curve) -> float:
    """The largest distance, mm, of places on either curve from the other.

    >>> from flatcut.geometry.curves import line
    >>> round(apart(line((0, 0), (10, 0)), line((0, 3), (10, 3))), 9)
    3.0
    """
    away = 0.0
    for p, q in ((a, b), (b, a)):
        away = max(away, float(nearest(q, point(p, _places(p)))[1].max()))
    return away


def _places(curve: Curve) -> Array:
    return np.union1d(np.linspace(0, len(curve), CHECKED + 1), np.arange(len(curve) + 1))

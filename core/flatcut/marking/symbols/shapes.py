"""Shapes that symbols are made of."""

from __future__ import annotations

import math

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line


def cross(at: Array, arm: float) -> list[Curve]:
    """Two lines that cross at a place, each `arm` mm to both sides."""
    return [line(at - way, at + way) for way in (np.array([arm, 0.0]), np.array([0.0, arm]))]


def circle(at: Array, radius: float) -> Curve:
    """A closed circle, within 0.03 % of its radius.

    >>> circle(np.array([0.0, 0.0]), 2.0).nodes[1].round(9)
    array([0., 2.])
    """
    k = 4 / 3 * math.tan(math.pi / 8)
    corner = np.array([[1, 0], [1, k], [k, 1], [0, 1]], dtype=float)
    quarters = [corner @ np.array([[c, s], [-s, c]]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    return Curve(np.array(quarters) * radius + at, np.zeros(4, dtype=np.bool_))

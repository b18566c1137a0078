"""The curve through the points of a stretch, as a file of points is read: few cubics, and none through a corner."""

from __future__ import annotations

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line
from flatcut.geometry.fit_points import fit_points

NEAR = 0.004
"""mm that a curve may leave the points that it is drawn through."""


def through(points: Array, *, closed: bool = False) -> Curve:
    """A curve through points (n, 2) without a corner between them, a straight line through two.

    >>> import numpy as np
    >>> len(through(np.array([[0.0, 0.0], [9.0, 0.0]])))
    1
    """
    if len(points) == 2 and not closed:
        return line(points[0], points[1])
    return fit_points(points, tolerance=NEAR, corner_angle=180.0, closed=closed)

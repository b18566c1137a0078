"""The curves through the points of stretches, as a file of points is read: few cubics, and none through a corner."""

from __future__ import annotations

from collections.abc import Sequence

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line
from flatcut.geometry.fit_points import Sampled, fit_lines

NEAR = 0.004
"""mm that a curve may leave the points that it is drawn through."""


def through(stretches: Sequence[tuple[Array, bool]]) -> list[Curve]:
    """Curves through points (n, 2) without a corner between them, closed or not, a straight line through two; all of
    them together.

    >>> import numpy as np
    >>> [len(curve) for curve in through([(np.array([[0.0, 0.0], [9.0, 0.0]]), False)])]
    [1]
    """
    fits = iter(
        fit_lines(
            [
                Sampled(points, NEAR, corner_angle=180.0, closed=closed)
                for points, closed in stretches
                if len(points) > 2 or closed
            ]
        )
    )
    return [
        next(fits).curve if len(points) > 2 or closed else line(points[0], points[1]) for points, closed in stretches
    ]

"""Small wrong changes to the code that once passed all tests, each held here by figures from outside it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flatcut.geometry.curves import line
from flatcut.pattern.marks.hole import of_dart
from flatcut.pattern.values import Dart


@pytest.mark.parametrize("by", [5.0, 10.0, 25.0])
def test_a_drill_hole_lies_on_the_bisector_of_legs_of_two_lengths(by: float) -> None:
    """As far from the one leg as from the other, by the formula of a point's distance to a line through two others."""
    point, feet = np.array([50.0, 80.0]), (np.array([0.0, 0.0]), np.array([66.0, 35.0]))
    dart = Dart(uid="d", name="d", host="e", legs=(line(feet[0], point), line(point, feet[1])))
    at = of_dart(dart, "point", by)
    away = [
        abs((foot[0] - point[0]) * (at[1] - point[1]) - (foot[1] - point[1]) * (at[0] - point[0]))
        / math.hypot(*(foot - point))
        for foot in feet
    ]
    assert away[0] == pytest.approx(away[1], abs=1e-9)
    assert math.hypot(*(at - point)) == pytest.approx(by)
    # inside the dart, not on the other side of its point
    assert (at - point) @ (feet[0] - point) > 0
    assert (at - point) @ (feet[1] - point) > 0

"""Shoulders at a stated slope once their darts are closed, and then opened: the tip falls as the dart opens."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from flatcut.blocks.fairing import about
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line

MIDDLE = (0.3, 0.6)
"""Parts of the back shoulder between which its dart stands."""
NARROWEST = 0.5
"""mm of a back shoulder dart below which none is made."""
SLOPES = (5.0, 40.0)
"""Degrees between which a bust dart is sought."""


def back_shoulder(
    neck: Array, length: float, slope: float, *, blade: Array, dart: float
) -> tuple[tuple[Curve, ...], Array]:
    """The parts of the back shoulder from neck to tip, and its dart (foot, point, foot) (3, 2), or (0, 2) for none.

    neck, blade: points (2,), the second being the dart's point. length: mm as sewn; slope: radians below level, dart
    closed; dart: its width in mm.

    >>> parts, feet = back_shoulder(np.zeros(2), 120.0, 0.3, blade=np.array([50.0, 90.0]), dart=15.0)
    >>> float(np.linalg.norm(feet[0] - feet[2])).__round__(6), round(float(np.linalg.norm(parts[1].end - feet[2])), 6)
    (15.0, 48.0)
    """
    way = np.array([math.cos(slope), math.sin(slope)])
    if dart < NARROWEST:
        return (line(neck, neck + length * way),), np.empty((0, 2))
    # the dart stands where its axis from the blade point is square to the shoulder, kept to its middle part
    along = min(max(float((blade - neck) @ way) / length, MIDDLE[0]), MIDDLE[1])
    foot = neck + along * length * way
    opens = about(blade, 2 * math.asin(dart / 2 / float(np.linalg.norm(foot - blade))))
    other, tip = np.asarray(opens.apply(foot)), np.asarray(opens.apply(neck + length * way))
    return (line(neck, foot), line(other, tip)), np.array([foot, blade, other])


def front_shoulder(
    neck: Array, length: float, slope: float, *, bust_point: Array, dart: float
) -> tuple[Array, Array, Array]:
    """Foot and tip of the front shoulder beyond a bust dart of `dart` radians, and its direction to the tip once sewn.

    The dart is true: its far foot lies as far from the bust point as the neck point does. With `dart` 0 the foot is the
    neck point.
    """
    sewn = np.array([-math.cos(slope), math.sin(slope)])
    opens = about(bust_point, -dart)
    return np.asarray(opens.apply(neck)), np.asarray(opens.apply(neck + length * sewn)), sewn


def dart_to_level(
    neck: Array, length: float, slope: float, *, bust_point: Array, level: float, among: tuple[float, float] = SLOPES
) -> float:
    """Radians of the bust dart in the shoulder with which the tip comes to a level.

    The longer the front over the bust, the wider the dart: the armhole keeps its depth. Errors: GeometryError.
    """
    low, high = (math.radians(value) for value in among)

    def fall(dart: float) -> float:
        return float(front_shoulder(neck, length, slope, bust_point=bust_point, dart=dart)[1][1]) - level

    return solved(fall, low, high)


def solved(rises: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function is 0 between two angles. Errors: GeometryError."""
    if rises(low) > 0 or rises(high) < 0:
        said = "narrower than 5°" if rises(low) > 0 else "wider than 40°"
        raise GeometryError(
            f"the front is so {'short' if rises(low) > 0 else 'long'} over the bust that its dart would be {said}"
        )
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if rises(middle) < 0 else (low, middle)
    return (low + high) / 2

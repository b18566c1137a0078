"""Dart caps: the edge across an open dart, shaped so that the folded dart ends on the seam line.

Fold the dart as it will be pressed and cut along the seam: next to the leg it is folded toward, the cap is the mirror
image of that side's seam edge across that leg; the other half is the mirror image of the first about the dart's axis
(which is the same edge turned by the dart's angle). Pressed open, each half mirrors its own side's edge; where the two
edges make different angles with the legs, the halves end at different places of the axis with a step between them.
Of a curved leg it is the direction at the foot that the cloth is folded over there.

In a hem the dart is sewn on as the mirror image of what the hem is turned up onto: its legs turn at the feet and come
nearer to each other, so that the turned hem is as long as the cloth under it. The cap of such a dart is the edge
mirrored across the mirrored leg; moved out by the allowance it ends on that leg, for straight edges exactly.
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, line, reverse, tangent, transform
from flatcut.pattern.mirrored import between, mirrored_half
from flatcut.pattern.values import Dart

BEFORE, AFTER, OPEN = "before", "after", "open"
"""The sides of a dart, seen along the outline: the edge that ends at foot 1, and the one that starts at foot 2."""

STEP = 0.01
"""mm: two halves that end this near to each other end at one place; a step so small would only trouble an offset."""


def cap(dart: Dart, before: Curve, after: Curve, *, toward: str = OPEN, turned: bool = False) -> tuple[Curve, Curve]:
    """The two halves of a cap in outline order, foot 1 to the axis and the axis to foot 2.

    before, after: the edge's parts that end at foot 1 and start at foot 2; toward: BEFORE, AFTER or OPEN; turned: the
    edge is a hem.
    Pressed open they may end at different places of the axis; ends less than STEP apart are brought together.
    Errors: GeometryError when an edge runs so steeply along its leg that its image never meets the axis.

    Legs of 12 with an intake of 3 and an edge square to them give a peak 12.0949 from the point (closed form).

    >>> from flatcut.geometry.curves import line
    >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-15, 0), (0, 119)), line((0, 119), (15, 0))))
    >>> first, second = cap(dart, line((-90, 0), (-15, 0)), line((15, 0), (90, 0)))
    >>> bool(first.end[1] < 0), bool(np.allclose(first.end, second.start))
    (True, True)
    """
    apex, foot_1, foot_2 = dart.points[0], dart.feet[0], dart.feet[1]
    axis = unit(unit(foot_1 - apex) + unit(foot_2 - apex))
    hems = tangent(before, float(len(before)), before=True), tangent(after, 0.0)
    onto = legs_run_on(dart, hems if turned else None)
    ways = (foot_1 - onto[0], foot_1), (foot_2 - onto[1], foot_2)
    about_axis = Affine.reflection(apex, apex + axis)
    if toward == BEFORE:
        first = _half(reverse(before), apex, ways[0], axis, dart.name)
        second = transform(first, about_axis)
    elif toward == AFTER:
        second = _half(after, apex, ways[1], axis, dart.name)
        first = transform(second, about_axis)
    else:
        first = _half(reverse(before), apex, ways[0], axis, dart.name)
        second = _half(after, apex, ways[1], axis, dart.name)
    second = reverse(second)
    peaks = first.end, second.start
    if np.linalg.norm(peaks[1] - peaks[0]) <= STEP:
        peaks = ((peaks[0] + peaks[1]) / 2,) * 2
    return _ending(first, foot_1, peaks[0]), _ending(second, peaks[1], foot_2)


def legs_run_on(dart: Dart, hems: tuple[Array, Array] | None = None) -> tuple[Array, Array]:
    """The unit directions (2,) in which the legs of a dart are sewn on beyond its feet, through the allowance.

    hems: the directions (2,) of a hem beside each foot, where it is one that is turned up there.

    >>> from flatcut.geometry.curves import line
    >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-15, 0), (0, 20)), line((0, 20), (15, 0))))
    >>> level = np.array([1.0, 0.0])
    >>> legs_run_on(dart)[0], legs_run_on(dart, (level, level))[0]
    (array([-0.6, -0.8]), array([ 0.6, -0.8]))
    """
    legs = -tangent(dart.legs[0], 0.0), tangent(dart.legs[1], float(len(dart.legs[1])), before=True)
    if hems is None:
        return legs
    # what is turned up is a mirror image of what it lies on: it goes out as the legs do, but nearer to each other
    first, second = (leg - 2 * (leg @ hem) * hem for leg, hem in zip(legs, hems, strict=True))
    return first, second


def _ending(curve: Curve, start: Array, end: Array) -> Curve:
    """A half with its ends on the foot and the peak; where the legs differ it is drawn so much longer or shorter."""
    apart = max(float(np.hypot(*(curve.start - start))), float(np.hypot(*(curve.end - end))))
    if apart > STEP and np.hypot(*(curve.end - curve.start)) > STEP:
        curve = transform(curve, Affine.similarity((curve.start, curve.end), (start, end)))
    return between(curve, start, end)


def _half(away: Curve, apex: Array, leg: tuple[Array, Array], axis: Array, name: str) -> Curve:
    """The edge that leaves the foot, mirrored across the leg, up to the dart's axis.

    leg: two points of it, the second the foot; of a curved leg that of its direction there.
    """
    reach = 4 * float(np.linalg.norm(leg[1] - apex))
    return mirrored_half(away, leg, line(apex, apex + reach * axis), reach=reach, name=name)

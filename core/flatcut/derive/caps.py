"""Dart caps: the edge across an open dart, shaped so that the folded dart ends on the seam line.

Fold the dart as it will be pressed and cut along the seam: next to the leg it is folded toward, the cap is the mirror
image of that side's seam edge across that leg; the other half is the mirror image of the first about the dart's axis
(which is the same edge turned by the dart's angle). Pressed open, each half mirrors its own side's edge.
"""

from __future__ import annotations

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, line, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.pattern.values import Dart


def cap(dart: Dart, before: Curve, after: Curve, *, toward: str = "open") -> tuple[Curve, Curve]:
    """The two halves of a cap in outline order, foot 1 to the axis and the axis to foot 2.

    before, after: the edge's parts that end at foot 1 and start at foot 2; toward: 'before', 'after' or 'open'.
    Errors: GeometryError when an edge runs so steeply along its leg that its image never meets the axis.

    >>> from flatcut.geometry.curves import line
    >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-15, 0), (0, 119)), line((0, 119), (15, 0))))
    >>> first, second = cap(dart, line((-90, 0), (-15, 0)), line((15, 0), (90, 0)))
    >>> bool(first.end[1] < 0), bool(np.allclose(first.end, second.start))
    (True, True)
    """
    apex, foot_1, foot_2 = dart.points[0], dart.feet[0], dart.feet[1]
    axis = unit((foot_1 + foot_2) / 2 - apex)
    about_axis = Affine.reflection(apex, apex + axis)
    first = _half(reverse(before), apex, foot_1, axis, dart.name)
    second = _half(after, apex, foot_2, axis, dart.name)
    if toward == "before":
        second = transform(first, about_axis)
    elif toward == "after":
        first = transform(second, about_axis)
    second = reverse(second)
    peak = (first.end + second.start) / 2
    return _ending(first, foot_1, peak), _ending(second, peak, foot_2)


def _half(away: Curve, apex: Array, foot: Array, axis: Array, name: str) -> Curve:
    """The edge that leaves the foot, mirrored across the leg, up to the dart's axis."""
    image = transform(away, Affine.reflection(apex, foot))
    reach = 4 * float(np.linalg.norm(foot - apex))
    ray = line(apex, apex + reach * axis)
    met = crossings(image, ray)
    if met:
        return section(image, 0.0, min(c.u for c in met))
    # the edge is shorter than half the mouth: it runs straight on
    onward = chain([image, line(image.end, image.end + reach * tangent(image, float(len(image)), before=True))])
    met = [c for c in crossings(onward, ray) if c.u > 1e-9]
    if not met:
        raise GeometryError(
            f"the edge beside {name} runs along its leg, so the folded dart has no end; redraw the edge"
        )
    return section(onward, 0.0, min(c.u for c in met))


def _ending(curve: Curve, start: Array, end: Array) -> Curve:
    controls = np.array(curve.controls)
    controls[0, 0], controls[-1, 3] = start, end
    return Curve(controls, curve.straight)

"""An edge laid along another: the rigid motion that brings them together, and how far they then lie apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, point, reverse, tangent
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.rigid import brought as brought

LOOKS = 65
"""Places along an edge that are laid on each other, its ends included."""


class Apart(NamedTuple):
    """mm by which an edge stays clear of the one it is laid along, and by which it lies over it; 0 where neither."""

    gap: float
    overlap: float

    @property
    def largest(self) -> float:
        """mm of the larger of the two."""
        return max(self.gap, self.overlap)


def laid_along(still: Sequence[Curve], moving: Sequence[Curve]) -> Affine:
    """The rigid motion, no mirror image, that lays one edge along another, end to start; each in parts, as many of one.

    The places at equal parts of both lengths come as near as they can, by least squares over their distances (the plane
    case of P. Schönemann, A generalized solution of the orthogonal Procrustes problem, 1966).

    >>> from flatcut.geometry.curves import line
    >>> laid_along([line((0, 0), (0, 9))], [line((5, 0), (14, 0))]).apply([[5, 0], [14, 0]]).round(9) + 0.0
    array([[0., 9.],
           [0., 0.]])
    """
    to = np.concatenate([_looks(curve) for curve in still])
    at = np.concatenate([_looks(reverse(curve)) for curve in moving[::-1]])
    return brought(at, to)


def apart(still: Sequence[Curve], laid: Sequence[Curve], *, clockwise: bool) -> Apart:
    """How far one edge lies from another, part by part; clockwise: the still piece lies to the right of its edge.

    >>> from flatcut.geometry.curves import line
    >>> apart([line((0, 0), (9, 0))], [line((9, 0.5), (0, 0))], clockwise=True)
    Apart(gap=0.0, overlap=0.5)
    """
    found = [_apart(one, other, clockwise) for one, other in zip(still, laid[::-1], strict=True)]
    return Apart(max(one.gap for one in found), max(one.overlap for one in found))


def _apart(still: Curve, laid: Curve, clockwise: bool) -> Apart:
    points = _looks(laid)
    places, away = nearest(still, points)
    aside = cross(tangent(still, places), points - point(still, places))
    inside = (aside > 0) == clockwise
    # and the other way round: where the laid edge is the shorter one
    back = float(nearest(laid, _looks(still))[1].max())
    gap, overlap = float(away[~inside].max(initial=0.0)), float(away[inside].max(initial=0.0))
    if back > max(gap, overlap):
        return Apart(max(gap, back), overlap) if gap >= overlap else Apart(gap, max(overlap, back))
    return Apart(gap, overlap)


def _looks(curve: Curve) -> Array:
    return point(curve, places_at(curve, np.linspace(0.0, length(curve), LOOKS)))

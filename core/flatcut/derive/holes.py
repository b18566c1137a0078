"""Where drill holes stand: at their own place, or where their dart is now."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, unit
from flatcut.pattern.values import Dart, Hole, Piece


def hole_place(piece: Piece, hole: Hole) -> Array | None:
    """The middle of a hole, (2,) mm; None when its dart is gone.

    >>> from flatcut.geometry.curves import line
    >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-15, 0), (0, 120)), line((0, 120), (15, 0))))
    >>> front = Piece(uid="p", name="front", edges=(), darts=(dart,))
    >>> hole_place(front, Hole(uid="h", dart="d", of="point", by=13.0))
    array([  0., 107.])
    """
    if hole.at is not None:
        return hole.at
    dart = next((dart for dart in piece.darts if dart.uid == hole.dart), None)
    return None if dart is None else of_dart(dart, hole.of, hole.by)


def of_dart(dart: Dart, of: str, by: float) -> Array:
    """`by` mm short of a dart's point along its axis, or inside a double-pointed dart's widest place."""
    middle = dart.feet.mean(axis=0)
    if of in ("side-1", "side-2"):
        foot = dart.feet[0 if of == "side-1" else 1]
        return np.asarray(foot + by * unit(middle - foot))
    point = dart.points[1 if of == "lower" else 0]
    return np.asarray(point + by * unit(_mouth(dart) - point))


def _mouth(dart: Dart) -> Array:
    """The middle of the mouth, seen along the axis: where the bisector of the legs points."""
    if dart.double:
        return np.asarray(dart.feet.mean(axis=0))
    apex = dart.points[0]
    one, two = dart.feet - apex
    return np.asarray(apex + unit(unit(one) + unit(two)) * float(np.linalg.norm(one)))

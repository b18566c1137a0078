"""Where drill holes stand, at their own place or where their dart is now; and how holes and buttons are drawn."""

from __future__ import annotations

import math

import numpy as np

from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, line
from flatcut.pattern.values import Button, Dart, Hole, Piece


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


def symbols(piece: Piece) -> list[Curve]:
    """All that is drawn for the holes and buttons of a piece."""
    found = [curve for hole in piece.holes for curve in hole_symbol(piece, hole)]
    return found + [curve for button in piece.buttons for curve in button_symbol(button)]


def hole_symbol(piece: Piece, hole: Hole) -> list[Curve]:
    """A drill hole as a circle with a cross; nothing where its dart is gone."""
    at = hole_place(piece, hole)
    return [] if at is None else [circle(at, hole.diameter / 2), *cross_symbol(at, hole.diameter)]


def cross_symbol(at: Array, arm: float) -> list[Curve]:
    """Two lines that cross at a place."""
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


def button_symbol(button: Button) -> list[Curve]:
    """A button as a circle with a cross, a buttonhole as its slit with a bar at each end."""
    if button.slit is None:
        return [circle(button.at, button.size / 2), *cross_symbol(button.at, 1.5)]
    start, end = button.slit
    way = unit(end - start)
    bar = 1.5 * np.array([-way[1], way[0]])
    return [line(start, end), line(start - bar, start + bar), line(end - bar, end + bar)]

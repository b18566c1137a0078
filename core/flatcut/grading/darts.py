"""Darts in another size: each goes as one, and its legs stay equal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, transform
from flatcut.pattern.values import Dart, Edge, Piece
from flatcut.pattern.walking import nearest_drawn, points_at
from flatcut.reshape.ways import Moved

TOGETHER = 0.05
"""mm: points of darts, and named points, that lie so near to each other are one and stay one."""
EQUAL = 0.01
"""mm: legs that differ by no more are equal, and are equal afterwards."""


def held_darts(
    piece: Piece,
    darts: Sequence[Dart],
    feet: Mapping[str, Array],
    points: Mapping[tuple[str, int], Array],
    marks: Mapping[str, Array],
) -> dict[str, tuple[Array, Array]]:
    """The feet (2, 2) and the point (2,) of darts that are cut in, by uid.

    feet: as the outline has them now; points, marks: the shifts of the rules of points. A point without a rule goes
    with its feet, or with the named point or the other darts that it lies on. Legs that were equal are so again: a
    point that is free is put on the middle line of its feet, else the mouth turns about its middle until that line goes
    through the point.
    """
    found: dict[str, tuple[Array, Array]] = {}
    for group in _groups(darts):
        at = group[0].points[0]
        ruled = [points[dart.uid, 0] for dart in group if (dart.uid, 0) in points]
        ruled += [marks[p.uid] for p in piece.points if p.uid in marks and _near(p.at, at)]
        own = [feet[dart.uid].mean(axis=0) - dart.feet.mean(axis=0) for dart in group]
        shift = ruled[0] if ruled else np.mean(own, axis=0)
        for dart in group:
            ends, apex = feet[dart.uid], dart.points[0] + shift
            if _equal(dart):
                middle, across = _middle(ends)
                if ruled or len(group) > 1:
                    ends = _facing(ends, apex)
                else:
                    apex = apex - ((apex - middle) @ across) * across
            found[dart.uid] = ends, apex
    return found


def _facing(feet: Array, apex: Array) -> Array:
    """Two feet turned about their middle until they are as far from a point, one as the other."""
    middle, across = _middle(feet)
    axis = middle - apex
    size = float(np.hypot(*axis))
    if size < 1e-6:
        return feet
    square = np.array([-axis[1], axis[0]]) / size
    square = square if square @ across >= 0 else -square
    half = float(np.hypot(*(feet[1] - feet[0]))) / 2
    return np.array([middle - half * square, middle + half * square])


def _groups(darts: Sequence[Dart]) -> list[list[Dart]]:
    """Darts with one point together."""
    found: list[list[Dart]] = []
    for dart in darts:
        group = next((g for g in found if _near(g[0].points[0], dart.points[0])), None)
        if group is None:
            found.append([dart])
        else:
            group.append(dart)
    return found


def _near(one: Array, other: Array) -> bool:
    return float(np.hypot(*(one - other))) <= TOGETHER


def _middle(feet: Array) -> tuple[Array, Array]:
    """A point of the middle line of two feet, and the unit way across it."""
    across = feet[1] - feet[0]
    size = float(np.hypot(*across))
    return feet.mean(axis=0), across / size if size > 1e-9 else np.zeros(2)


def _equal(dart: Dart) -> bool:
    one, two = np.hypot(*(dart.feet - dart.points[0]).T)
    return bool(abs(one - two) <= EQUAL)


def dart_now(dart: Dart, feet: Array, apex: Array) -> Dart:
    """A cut-in dart with its feet (2, 2) and its point where they are now; its legs keep their shape."""
    one, two = dart.legs
    was = dart.feet
    first = transform(one, Affine.similarity((was[0], dart.points[0]), (feet[0], apex)))
    second = transform(two, Affine.similarity((dart.points[0], was[1]), (apex, feet[1])))
    return replace(dart, legs=(_ended(first, feet[0], apex), _ended(second, apex, feet[1])))


def _ended(curve: Curve, start: Array, end: Array) -> Curve:
    """Its ends exactly where they belong: they differ by rounding."""
    controls = np.array(curve.controls)
    controls[0, 0], controls[-1, 3] = start, end
    return Curve(controls, curve.straight)


def lines_dart_now(
    dart: Dart,
    host: tuple[Edge, Edge] | None,
    way: Moved | None,
    points: Mapping[tuple[str, int], Array],
    shift: Array,
) -> Dart:
    """A dart that is drawn inside. host: its edge before and now, None for one with two points; way: along that.

    shift: of what lies where its mouth is; a point without a rule goes by it, or with the other point's rule. The mouth
    keeps its width.
    """
    known = [points.get((dart.uid, k)) for k in range(len(dart.points))]
    usual = next((own for own in known if own is not None), shift)
    ends = np.array([at + (usual if own is None else own) for at, own in zip(dart.points, known, strict=True)])
    if host is not None and way is not None:
        before = sorted(nearest_drawn(host[0], foot) for foot in dart.feet)
        middle, width = way(sum(before) / 2), before[1] - before[0]
        feet = points_at(host[1], np.array([middle - width / 2, middle + width / 2]))
        if nearest_drawn(host[0], dart.feet[0]) > nearest_drawn(host[0], dart.feet[1]):
            feet = feet[::-1]
        apex = ends[0]
        if _equal(dart):
            centre, across = _middle(feet)
            apex = apex - ((apex - centre) @ across) * across
        return dart_now(dart, feet, apex)
    one, two = dart.legs
    grown = _lengthened(dart.points, ends)
    first, second = transform(one, grown), transform(two, grown)
    return replace(dart, legs=(_ended(first, ends[0], ends[1]), _ended(second, ends[1], ends[0])))


def _lengthened(was: Array, now: Array) -> Affine:
    """The map that takes two points to two others, and across the line through them keeps every width."""
    old, new = was[1] - was[0], now[1] - now[0]
    size, grown = float(np.hypot(*old)), float(np.hypot(*new))
    u, v = old / size, new / grown
    across_u, across_v = np.array([-u[1], u[0]]), np.array([-v[1], v[0]])
    m = np.outer(v, u) * (grown / size) + np.outer(across_v, across_u)
    shift = now[0] - m @ was[0]
    return Affine(m[0, 0], m[1, 0], m[0, 1], m[1, 1], shift[0], shift[1])

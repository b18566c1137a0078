"""Darts drawn as lines inside an outline: an open V from an edge, two lines that meet, a triangle, a diamond."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, point, reverse, section, tangent
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.nearest import nearest, nearest_place
from flatcut.outlines.gathering import ON, OVER
from flatcut.pattern.tracing import DART_ANGLE, DART_LEGS, ring_of, rolled, turns
from flatcut.pattern.values import DrawnPath, Edge
from flatcut.pattern.walking import drawn_of

TIP = 1.0
"""mm: legs that end this near each other meet in the dart's point."""
POINTED = 120.0
"""Degrees: the least turn at the point of a drawn dart; 180 less its angle, with room for curved legs."""
SLENDER = 2.0
"""A double-pointed dart is at least so many times as long as it is wide."""
BLUNT = 60.0
"""Degrees: the largest turn beside the two points of a double-pointed dart."""


@dataclass(frozen=True, kw_only=True)
class DrawnDart:
    """legs: foot 1 to point, point to foot 2, feet exactly on the edge; start, end: the feet in mm of the drawn edge.

    edge: index of the edge it opens on, None when it has two points; origin: ids, with spaces between.
    """

    legs: tuple[Curve, Curve]
    origin: str
    edge: int | None = None
    start: float = 0.0
    end: float = 0.0


@dataclass(frozen=True)
class _Leg:
    """From a foot to a point. feet: for each edge near the foot, the leg cut there and its drawn distance."""

    id: str
    feet: dict[int, tuple[Curve, float]]
    tip: Array


def double_pointed(curve: Curve) -> tuple[Curve, Curve] | None:
    """The two sides of a closed path that has the shape of a double-pointed dart, or None.

    The first runs from the upper point to the lower, or from the left one to the right where it lies level.

    >>> from flatcut.geometry.curves import polyline
    >>> sides = double_pointed(polyline([(0, 0), (15, 150), (0, 270), (-15, 150), (0, 0)]))
    >>> sides[0].start, sides[0].end
    (array([0., 0.]), array([  0., 270.]))
    >>> double_pointed(polyline([(0, 0), (30, 0), (30, 90), (0, 90), (0, 0)])) is None
    True
    """
    ring = ring_of(curve)
    turn = turns(ring)
    sharp = np.flatnonzero(turn >= 180 - DART_ANGLE).tolist()
    others = np.delete(np.abs(turn), sharp)
    if len(sharp) != 2 or (others > BLUNT).any():
        return None
    ring = rolled(ring, sharp[0])
    middle = sharp[1] - sharp[0]
    sides = section(ring, 0, middle), section(ring, middle, len(ring))
    axis = sides[0].end - sides[0].start
    reach = float(np.hypot(*axis))
    across = np.abs((ring.nodes - ring.start) @ np.array([-axis[1], axis[0]])) / reach
    if reach < SLENDER * 2 * across.max() or abs(length(sides[0]) - length(sides[1])) > DART_LEGS:
        return None
    down = axis[1] > 0 if abs(axis[1]) > abs(axis[0]) else axis[0] > 0
    return sides if down else (sides[1], sides[0])


def darts_of_lines(
    edges: tuple[Edge, ...], paths: list[DrawnPath], *, over: float = OVER
) -> tuple[list[DrawnDart], list[str]]:
    """The darts that drawn paths make on edges, in outline order, and what nearly is one, as sentences.

    over: mm that legs may be drawn beyond their edge.
    """
    found: list[DrawnDart] = []
    warnings: list[str] = []
    lines = [
        (path.id, leg) for path in paths for part in zip(path.curves, path.closed, strict=True) for leg in _legs(*part)
    ]
    legs = [_leg(edges, name, leg, over) for name, leg in _from_the_edge(edges, lines, over)]
    legs = [leg for leg in legs if leg.feet]
    for together in _meeting(legs):
        dart, why = _dart(together)
        if dart is not None:
            found.append(dart)
        elif why:
            names = " and ".join(dict.fromkeys(f"'{leg.id}'" for leg in together))
            warnings.append(f"{names} would be a dart, but {why}; it stays as drawn")
    found.sort(key=lambda dart: (dart.edge or 0, dart.start))
    kept: list[DrawnDart] = []
    for dart in found:
        if kept and kept[-1].edge == dart.edge and dart.start < kept[-1].end:
            warnings.append(f"'{dart.origin}' overlaps the dart beside it on its edge; it stays as drawn")
        else:
            kept.append(dart)
    return kept, warnings


def _legs(curve: Curve, closed: bool) -> list[Curve]:
    """A drawn line as legs from foot to point: itself both ways, or the two halves of a V."""
    if closed:
        return _of_triangle(curve)
    joints = np.arange(1, len(curve))
    if len(joints):
        out, into = tangent(curve, joints), tangent(curve, joints, before=True)
        turn = np.degrees(np.arccos(np.clip((out * into).sum(axis=-1), -1, 1)))
        k = int(np.argmax(turn))
        if turn[k] >= POINTED:
            return [section(curve, 0, k + 1), reverse(section(curve, k + 1, len(curve)))]
        if turn[k] > 90:
            return []
    return [curve, reverse(curve)]


def _of_triangle(curve: Curve) -> list[Curve]:
    """The long sides of a closed triangle, from its base to its point."""
    ring = ring_of(curve)
    turn = turns(ring)
    corners = np.flatnonzero(np.abs(turn) > 30).tolist()
    if len(corners) != 3:
        return []
    k = max(corners, key=lambda k: float(turn[k]))
    if turn[k] < POINTED:
        return []
    ring = rolled(ring, k)
    one, two = sorted((c - k) % len(ring) for c in corners if c != k)
    return [reverse(section(ring, 0, one)), section(ring, two, len(ring))]


def _from_the_edge(edges: tuple[Edge, ...], lines: list[tuple[str, Curve]], over: float) -> list[tuple[str, Curve]]:
    """The lines that start near the outline and end away from it; from edge to edge a line is no leg."""
    if not lines:
        return []
    starts, ends = (np.array([getattr(leg, end) for _, leg in lines]) for end in ("start", "end"))
    parts = [part for edge in edges for part in edge.parts]
    near = np.min([nearest(part, starts)[1] for part in parts], axis=0) <= max(over, ON)
    away = np.min([nearest(part, ends)[1] for part in parts], axis=0) > ON
    return [line for line, fit in zip(lines, near & away, strict=True) if fit]


def _leg(edges: tuple[Edge, ...], name: str, leg: Curve, over: float) -> _Leg:
    feet: dict[int, tuple[Curve, float]] = {}
    for k, edge in enumerate(edges):
        footed = _footed(edge, leg, over)
        if footed is not None:
            feet[k] = footed
    return _Leg(name, feet, leg.end)


def _footed(edge: Edge, leg: Curve, over: float) -> tuple[Curve, float] | None:
    """A leg that starts exactly on an edge, and where that is; None when it starts elsewhere."""
    for k, part in enumerate(edge.parts):
        hits = [hit for hit in crossings(leg, part) if length_to(leg, hit.u) <= over and hit.u < len(leg)]
        if hits:
            hit = hits[-1]
            cut = section(leg, hit.u, len(leg)) if hit.u > 0 else leg
            return _from(cut, point(part, hit.v)), drawn_of(edge, k, hit.v)
    away = [(nearest_place(part, leg.start), k) for k, part in enumerate(edge.parts)]
    (u, gap), k = min(away, key=lambda item: item[0][1])
    if gap > ON:
        return None
    # drawn on in its own direction it meets the edge where it was aimed at; failing that, the nearest place
    part = edge.parts[k]
    aim = line(leg.start, leg.start - 3 * ON * tangent(leg, 0.0))
    aimed = crossings(aim, part)
    if aimed:
        u = aimed[0].v
    return _from(leg, point(part, u)), drawn_of(edge, k, u)


def _from(leg: Curve, foot: Array) -> Curve:
    """The leg with its first point moved; its first handle goes with it, so that its direction stays."""
    controls = np.array(leg.controls)
    controls[0, 1] += foot - controls[0, 0]
    controls[0, 0] = foot
    if leg.straight[0]:
        controls[0, 1:3] = foot + np.array([[1 / 3], [2 / 3]]) * (controls[0, 3] - foot)
    return Curve(controls, leg.straight)


def _meeting(legs: list[_Leg]) -> list[list[_Leg]]:
    """Legs whose points meet; of three or more in one point the outer two, the fold lines between are left."""
    groups: list[list[_Leg]] = []
    for leg in legs:
        near = next((g for g in groups if np.hypot(*(g[0].tip - leg.tip)) <= TIP), None)
        if near is None:
            groups.append([leg])
        else:
            near.append(leg)
    found = []
    for group in groups:
        if len(group) == 2:
            found.append(group)
        elif len(group) > 2:
            pairs = [[a, b] for a, b in combinations(group, 2) if set(a.feet) & set(b.feet)]
            if pairs:
                found.append(max(pairs, key=_apart))
    return found


def _apart(pair: list[_Leg]) -> float:
    k = min(set(pair[0].feet) & set(pair[1].feet))
    return abs(pair[0].feet[k][1] - pair[1].feet[k][1])


def _dart(pair: list[_Leg]) -> tuple[DrawnDart | None, str]:
    """The dart of two legs, or why there is none; '' where nobody would take them for one."""
    shared = sorted(set(pair[0].feet) & set(pair[1].feet))
    if not shared:
        return None, "its legs start on different edges"
    k = max(shared, key=lambda k: abs(pair[0].feet[k][1] - pair[1].feet[k][1]))
    first, second = sorted(pair, key=lambda leg: leg.feet[k][1])
    (one, start), (two, end) = first.feet[k], second.feet[k]
    if end - start < 1.0:
        return None, ""
    tip = (one.end + two.end) / 2
    one, two = reverse(_from(reverse(one), tip)), reverse(_from(reverse(two), tip))
    difference = abs(length(one) - length(two))
    u, v = one.start - tip, two.start - tip
    angle = float(np.degrees(np.arccos(np.clip(np.dot(u, v) / (np.hypot(*u) * np.hypot(*v)), -1, 1))))
    if angle > 2 * DART_ANGLE:
        return None, ""
    if difference > DART_LEGS:
        return None, f"its legs differ by {difference:.1f} mm (at most {DART_LEGS:.0f})"
    if angle > DART_ANGLE:
        return None, f"it is {angle:.0f}° wide (at most {DART_ANGLE:.0f})"
    origin = " ".join(dict.fromkeys((first.id, second.id)))
    return DrawnDart(legs=(one, reverse(two)), origin=origin, edge=k, start=start, end=end), ""

"""From a closed drawn path to edges and darts: where are the corners, and which V is a dart?

Notches are out by now (`notching.py`). A corner is a turn above the corner angle; a smaller kink stays inside its edge.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.curves import Curve, chain, flatten, reverse, section, signed_area, split, tangent
from flatcut.geometry.length import length, place_at, span_lengths
from flatcut.geometry.region import crossing_place

CORNER_ANGLE = 15.0
"""Degrees: a turn above this is a corner. Smaller, and every node of a polygon-like curve is one; larger, and shallow
corners such as a hem's with a tapered side are lost."""

DOUBLED = 0.05
"""mm: two nodes closer than this are one drawn twice (common practice, no source)."""

DART_LEGS = 2.0
"""mm that the legs of a dart may differ in length as drawn (common practice, no source)."""
DART_ANGLE = 35.0
"""Degrees: a wider V is outline (common practice, no source)."""
DART_RUN_ON = 20.0
"""Degrees beyond its own angle that the edges on both sides of a dart may turn (common practice, no source)."""
KINK = 0.5
"""Degrees: a kink inside an edge above this is reported."""


class Nearly(NamedTuple):
    """The point (2,) of a V that is not taken for a dart, and why."""

    point: Array
    why: str


class Traced(NamedTuple):
    """A closed outline taken apart. runs: curves between corners, in order, each in parts with a dart between two.

    darts: (run, after part) -> legs (foot 1 to point, point to foot 2). kinks: (run, degrees) above KINK.
    """

    runs: tuple[tuple[Curve, ...], ...]
    darts: dict[tuple[int, int], tuple[Curve, Curve]]
    kinks: tuple[tuple[int, float], ...]
    nearly: tuple[Nearly, ...] = ()


def shut(curve: Curve) -> tuple[Curve, bool]:
    """A curve whose ends lie on each other closed, and whether they do: not every program writes that a path is closed.

    A line drawn there and back encloses nothing and stays open.

    >>> from flatcut.geometry.curves import polyline
    >>> shut(polyline([(0, 0), (9, 0), (9, 9), (0, 0.01)]))[1], shut(polyline([(0, 0), (9, 0), (0, 0)]))[1]
    (True, False)
    """
    if np.abs(curve.end - curve.start).max() > DOUBLED:
        return curve, False
    controls = np.array(curve.controls)
    controls[-1, 3] = controls[0, 0]
    if curve.straight[-1]:
        controls[-1, 1:3] = controls[-1, 0] + np.outer([1 / 3, 2 / 3], controls[-1, 3] - controls[-1, 0])
    ring = Curve(controls, curve.straight)
    encloses = abs(signed_area(ring)) >= DOUBLED * length(ring) / 2
    return (ring, True) if encloses else (curve, False)


def ring_of(curve: Curve) -> Curve:
    """A closed outline made ready: closed bit-exactly, clockwise on the screen, no span shorter than DOUBLED.

    Errors: InputError when the ends are apart, or nothing is enclosed.

    >>> from flatcut.geometry.curves import polyline
    >>> ring = ring_of(polyline([(0, 0), (0, 9), (9, 9), (9, 9), (0, 0)]))
    >>> len(ring), signed_area(ring) > 0
    (3, True)
    """
    gap = float(np.linalg.norm(curve.end - curve.start))
    if gap > DOUBLED:
        raise InputError(f"the outline is open by {gap:.2f} mm; close it")
    controls = np.array(curve.controls)
    controls[-1, 3] = controls[0, 0]
    keep = _kept(controls, span_lengths(Curve(controls, curve.straight)))
    if not keep.any():
        raise InputError("the outline has no length; draw it larger")
    controls, straight = controls[keep], curve.straight[keep]
    # spans dropped leave gaps of DOUBLED at most: the next start moves onto the end before it
    controls[:, 0] = np.roll(controls[:, 3], 1, axis=0)
    thirds = (controls[:, 3] - controls[:, 0]) / 3
    controls[straight, 1] = (controls[:, 0] + thirds)[straight]
    controls[straight, 2] = (controls[:, 3] - thirds)[straight]
    ring = Curve(controls, straight)
    area = signed_area(ring)
    if abs(area) < DOUBLED * length(ring) / 2:
        # the two halves of a figure of eight cancel each other; a line there and back is no figure at all
        broad = np.linalg.svd(ring.nodes - ring.nodes.mean(axis=0), compute_uv=False)[-1] > DOUBLED
        where = crossing_place(flatten(ring, tolerance=0.02)[:-1]) if broad else None
        if where is not None:
            raise InputError(f"the outline crosses itself near x {where[0]:.1f}, y {where[1]:.1f} mm; mend it there")
        raise InputError("the outline encloses nothing; draw a closed shape")
    return ring if area > 0 else reverse(ring)


def _kept(controls: Array, lengths: Array) -> BoolArray:
    """Which spans stay: those not shorter than DOUBLED, and of a row of short ones each that ends that far on."""
    keep = np.array(lengths >= DOUBLED)
    last = controls[0, 0]
    for k in range(len(controls)):
        keep[k] |= float(np.hypot(*(controls[k, 3] - last))) >= DOUBLED
        if keep[k]:
            last = controls[k, 3]
    return keep


def turns(ring: Curve) -> Array:
    """Degrees that a closed ring turns at the start of each span, (n,); positive is clockwise, to the right."""
    out = tangent(ring, np.arange(len(ring)))
    into = tangent(ring, np.arange(1, len(ring) + 1), before=True)
    before = np.roll(into, 1, axis=0)
    return np.asarray(np.degrees(np.arctan2(cross(before, out), np.sum(before * out, axis=-1))))


def rolled(ring: Curve, k: int) -> Curve:
    """The same closed ring started at the start of span k."""
    return Curve(np.roll(ring.controls, -k, axis=0), np.roll(ring.straight, -k))


def halved(ring: Curve, k: int) -> Curve:
    """The same ring with a node in the middle of span k.

    >>> from flatcut.geometry.curves import polyline
    >>> halved(polyline([(0, 0), (8, 0), (0, 6), (0, 0)]), 1).nodes[2]
    array([4., 3.])
    """
    span = section(ring, k, k + 1)
    before = [section(ring, 0, k)] if k else []
    after = [section(ring, k + 1, len(ring))] if k + 1 < len(ring) else []
    return chain([*before, *split(span, place_at(span, length(span) / 2)), *after])


def trace(
    ring: Curve, *, corner_angle: float = CORNER_ANGLE, with_darts: bool = True, smooth: BoolArray | None = None
) -> Traced:
    """Take a ring (from `ring_of`) apart at its corners, starting at the one nearest to its start.

    A ring without corners is one run from its start. smooth: (n,), nodes that are no corner however the ring turns.

    >>> from flatcut.geometry.curves import polyline
    >>> square = ring_of(polyline([(0, 0), (90, 0), (90, 90), (0, 90), (0, 0)]))
    >>> len(trace(square).runs)
    4
    >>> with_dart = polyline([(0, 0), (40, 0), (50, 60), (60, 0), (100, 0), (100, 100), (0, 100), (0, 0)])
    >>> found = trace(ring_of(with_dart))
    >>> len(found.runs), list(found.darts)
    (4, [(0, 0)])
    """
    turn = turns(ring)
    sharp = np.abs(turn) > corner_angle
    corners = [int(k) for k in np.flatnonzero(sharp if smooth is None else sharp & ~smooth)]
    points, nearly = _dart_points(ring, turn, corners) if with_darts else ({}, [])
    feet = {foot for pair in points.values() for foot in pair}
    ends = [k for k in corners if k not in points and k not in feet]
    if ends:
        start = min(ends, key=lambda k: (round(float(np.linalg.norm(ring.controls[k, 0] - ring.start)), 6), k))
    elif points:
        # no corner but darts: the run starts where the drawing does, unless that is inside a dart
        free = [k for k in range(len(ring)) if not _inside(k, points, len(ring))]
        if not free:
            # a round piece has no node but those of its darts: its edge begins in the middle of the longest stretch
            legs = {k for a, b in points.values() for k in _steps(a, b, len(ring))}
            spans = span_lengths(ring)
            longest = max(set(range(len(ring))) - legs, key=lambda k: float(spans[k]))
            return trace(halved(ring, longest), corner_angle=corner_angle)
        start = free[0]
    else:
        start = 0
    n = len(ring)
    turned, order = rolled(ring, start), np.roll(turn, -start)
    marks = sorted((k - start) % n for k in ends if k != start)
    bounds = [0, *marks, n]
    darts_at = sorted(((a - start) % n, (p - start) % n, (b - start) % n) for p, (a, b) in points.items())
    runs: list[tuple[Curve, ...]] = []
    darts: dict[tuple[int, int], tuple[Curve, Curve]] = {}
    kinks: list[tuple[int, float]] = []
    for a, b in pairwise(bounds):
        parts, at, inner = [], a, []
        for foot, point, end in darts_at:
            if a < foot and (end or n) < b + (end == 0):
                inner += [foot, point, end]
                parts.append(section(turned, at, foot))
                darts[len(runs), len(parts) - 1] = (section(turned, foot, point), section(turned, point, end or n))
                at = end
        parts.append(section(turned, at, b))
        kinks += [(len(runs), float(order[k])) for k in range(a + 1, b) if abs(order[k]) > KINK and k not in inner]
        runs.append(tuple(parts))
    return Traced(tuple(runs), darts, tuple(kinks), tuple(nearly))


def _inside(k: int, points: dict[int, tuple[int, int]], n: int) -> bool:
    """Whether node k lies on the legs of a dart, feet included."""
    return any((k - a) % n <= (b - a) % n for a, b in points.values())


def _steps(a: int, b: int, n: int) -> list[int]:
    """The spans from node a to node b of a ring of n."""
    return [(a + k) % n for k in range((b - a) % n)]


def _dart_points(ring: Curve, turn: Array, corners: list[int]) -> tuple[dict[int, tuple[int, int]], list[Nearly]]:
    """Nodes that are dart points, each with its feet, and V's that one condition keeps from being darts."""
    found: dict[int, tuple[int, int]] = {}
    nearly: list[Nearly] = []
    n = len(corners)
    for k in range(n if n >= 3 else 0):
        a, p, b = corners[k - 1], corners[k], corners[(k + 1) % n]
        # the point turns back out of the piece (to the left), the feet turn in
        if turn[p] >= 0 or turn[a] <= 0 or turn[b] <= 0:
            continue
        leg_1, leg_2 = _between(ring, a, p), _between(ring, p, b)
        differ = abs(length(leg_1) - length(leg_2))
        angle = 180 - abs(_angle(leg_1.end - leg_1.start, leg_2.end - leg_2.start))
        before = tangent(ring, a if a else len(ring), before=True)
        run_on = abs(_angle(before, tangent(ring, b)))
        against = [
            *([f"its legs differ by {differ:.1f} mm (at most {DART_LEGS:.0f})"] if differ > DART_LEGS else []),
            *([f"it is {angle:.0f}° wide (at most {DART_ANGLE:.0f})"] if angle > DART_ANGLE else []),
            *([f"the edges beside it turn by {run_on:.0f}°"] if run_on > DART_RUN_ON + angle else []),
        ]
        if not against:
            found[p] = (a, b)
        elif len(against) == 1 and differ < 5 * DART_LEGS and angle < 1.5 * DART_ANGLE:
            nearly.append(Nearly(ring.controls[p, 0], against[0]))
    # a zigzag offers the same node as foot and point: then nothing there is a dart
    feet = {foot for pair in found.values() for foot in pair}
    return {p: pair for p, pair in found.items() if p not in feet and not (set(pair) & set(found))}, nearly


def _between(ring: Curve, a: int, b: int) -> Curve:
    if a < b:
        return section(ring, a, b)
    return section(ring, a, len(ring)) if b == 0 else chain([section(ring, a, len(ring)), section(ring, 0, b)])


def _angle(u: Array, v: Array) -> float:
    """Degrees from u to v, positive clockwise."""
    return float(np.degrees(np.arctan2(cross(u, v), np.dot(u, v))))

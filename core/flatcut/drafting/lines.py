"""Lines constructed on a piece without a drawing: straight ways to the outline, parallels, curves between places."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, bounds, chain, flatten, line, point, section, tangent
from flatcut.geometry.flowing import flowing, square_to
from flatcut.geometry.intersect import crossings, self_crossings
from flatcut.geometry.nearest import nearest
from flatcut.geometry.offset import offset_curve
from flatcut.geometry.region import contains
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.mating import mates
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.spots import Spot
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece, area
from flatcut.pattern.walking import sewn_length

ON = 0.1
"""mm: what lies so near to a line lies on it, the width of a pencil line."""
OUTSIDE = 0.5
"""mm that a line may lie off the cloth, beside the place where it starts or ends on the outline."""
PROBE = 1.0
"""mm to either side of a place on an edge at which it is asked what is sewn there."""
STEP = 5.0
"""mm between places at which it is looked whether a line lies on the cloth."""


def curves_of(thing: Edge | Line) -> tuple[Curve, ...]:
    """What is drawn of an edge or a line."""
    return thing.parts if isinstance(thing, Edge) else (thing.curve,)


def nearest_on(thing: Edge | Line, at: Array) -> tuple[Array, Array, float]:
    """The point of an edge or line nearest to a place, the unit direction there, and how far it is (mm)."""
    best: tuple[Array, Array, float] | None = None
    for curve in curves_of(thing):
        u, away = nearest(curve, at)
        if best is None or float(away) < best[2]:
            best = point(curve, u), tangent(curve, u, before=float(u) >= len(curve)), float(away)
    assert best is not None
    return best


def grain_way(piece: Piece) -> Array:
    """The unit direction of the grain line. Errors: UsageError when the piece has none."""
    if piece.grain is None:
        raise UsageError(f"{piece.name} has no grain line to be square or parallel to; set it with: grain {piece.name}")
    return unit(piece.grain.end - piece.grain.start)


def ring_of(piece: Piece) -> Array:
    """The outline as points, mouths of darts closed by straight lines."""
    return np.concatenate([flatten(part, tolerance=0.02) for edge in piece.edges for part in edge.parts])


def straight_way(piece: Piece, start: Array, way: Array, until: Edge | Line | None, *, both: bool = False) -> Curve:
    """A straight line from a place (2,) in a direction as far as the outline, or `until` something it meets before.

    both: a line from inside the piece runs to both sides. Open darts are run over. Errors: GeometryError.
    """
    ring = ring_of(piece)
    way = unit(way)
    on_outline = min(float(nearest(part, start)[1]) for edge in piece.edges for part in edge.parts) <= ON
    if not on_outline and not contains(ring, start[None])[0]:
        raise GeometryError(f"the line would start outside {piece.name}; choose a place on it")
    if on_outline:
        inward = [bool(contains(ring, (start + sign * OUTSIDE * way)[None])[0]) for sign in (1, -1)]
        if not any(inward):
            raise GeometryError(f"from there the line runs along the outline of {piece.name} or out of it")
        ways = [way if inward[0] else -way]
    else:
        ways = [way, -way] if both or until is not None else [way]
    ends, failed = [], None
    for one in ways:
        try:
            ends.append(_reached(piece, start, one, until))
        except GeometryError as error:
            failed = error
    if until is not None and len(ends) > 1:
        ends = [min(ends, key=lambda end: float(np.hypot(*(end - start))))]
    if not ends or (failed and until is None):
        raise failed or AssertionError("a way has an end")
    return line(ends[1], ends[0]) if len(ends) == 2 else line(start, ends[0])


def _reached(piece: Piece, start: Array, way: Array, until: Edge | Line | None) -> Array:
    x0, y0, x1, y1 = bounds(chain([line(a.start, a.end) for a in _parts(piece)], within=np.inf))
    far = 2 * math.hypot(x1 - x0, y1 - y0) + 100
    ray = line(start + ON * way, start + far * way)
    met = [c for part in _parts(piece) for c in crossings(ray, part)]
    mouths = [c for dart in piece.darts if dart.form == "cut" and dart.host for c in crossings(ray, line(*dart.feet))]
    if not met and not mouths:
        raise GeometryError(f"the line never meets the outline of {piece.name}; choose another direction")
    out = min(met + mouths, key=lambda c: c.u)
    if until is None:
        if out in mouths:
            raise GeometryError("the line would end in the mouth of a dart; close the dart, or say where it ends")
        return out.point
    there = [c for curve in curves_of(until) for c in crossings(ray, curve)]
    first = min(there, key=lambda c: c.u, default=None)
    if first is None or first.u > out.u + 1e-6:
        raise GeometryError(f"the line leaves {piece.name} before it meets {until.name}; choose another place or end")
    return first.point


def _parts(piece: Piece) -> list[Curve]:
    return [part for edge in piece.edges for part in edge.parts]


def square_line(piece: Piece, start: Array, to: Edge | Line, until: Edge | Line | None) -> Curve:
    """From a place square onto an edge or a line; from a place on it square away from it."""
    foot, way, away = nearest_on(to, start)
    if away <= ON:
        return straight_way(piece, start, square_to(way), until, both=isinstance(to, Line))
    if until is not None:
        return straight_way(piece, start, foot - start, until)
    if abs(float(unit(foot - start) @ way)) > 1e-3:
        raise GeometryError(f"no line from there meets {to.name} squarely; it would end beyond it")
    made = line(start, foot)
    refuse_off_cloth(piece, made)
    return made


def parallel_line(piece: Piece, to: Edge | Line, distance: float | None, start: Array | None) -> Curve:
    """Parallel to an edge, inside by a distance, or through a place; to a line on its right side, `-` on its left.

    It runs on straight to the outline. Errors: GeometryError.
    """
    parts = curves_of(to)
    mouths = [[line(a.end, b.start)] for a, b in pairwise(parts)]
    curve = chain([c for part, mouth in zip(parts, [*mouths, []], strict=True) for c in (part, *mouth)], within=1e-6)
    inward = -1.0 if area(piece) > 0 or isinstance(to, Line) else 1.0
    if start is not None:
        foot, way, away = nearest_on(to, start)
        if away <= ON:
            raise GeometryError(f"that place lies on {to.name}; choose one beside it")
        right = float(square_to(way) @ (start - foot)) > 0
        width = -away if right else away
    else:
        assert distance is not None
        width = inward * distance
    made = offset_curve(curve, width, name=to.name)
    return _to_outline(piece, made, to)


def _to_outline(piece: Piece, made: Curve, to: Edge | Line) -> Curve:
    """The curve run straight on, and of it what lies inside the piece about its middle."""
    x0, y0, x1, y1 = bounds(chain([line(a.start, a.end) for a in _parts(piece)], within=np.inf))
    far = 2 * math.hypot(x1 - x0, y1 - y0)
    first, last = tangent(made, 0.0), tangent(made, float(len(made)), before=True)
    whole = chain([line(made.start - far * first, made.start), made, line(made.end, made.end + far * last)])
    met = sorted(c.u for part in _parts(piece) for c in crossings(whole, part))
    ring = ring_of(piece)
    places = np.linspace(1.0, 1.0 + len(made), 65)
    inside = places[contains(ring, point(whole, places))]
    if not len(inside):
        raise GeometryError(f"so far from {to.name} there is no cloth of {piece.name}; choose a smaller distance")
    middle = float(inside[len(inside) // 2])
    low = max((u for u in met if u < middle), default=None)
    high = min((u for u in met if u > middle), default=None)
    if low is None or high is None:
        raise GeometryError(f"the parallel to {to.name} ends in the mouth of a dart; close the dart first")
    found = section(whole, low, high)
    # a curve that is cut in its straight run-on keeps no node where it did not bend
    return line(found.start, found.end) if found.straight.all() and len(made) == 1 and made.straight.all() else found


def axis_line(piece: Piece, dart: Dart, start: Array | None, until: Edge | Line | None) -> Curve:
    """On from a dart's point along its axis, away from its mouth; of one with two points from the lower one."""
    if not dart.double:
        at = dart.points[0]
        return straight_way(piece, at, at - dart.feet.mean(axis=0), until)
    upper, lower = dart.points
    at = lower if start is None else start
    ends = [float(np.hypot(*(at - end))) for end in (upper, lower)]
    if min(ends) > ON:
        raise UsageError(f"the line along {dart.name} starts at its upper or lower point; name one of them")
    return straight_way(piece, at, (upper - lower) if ends[0] < ends[1] else (lower - upper), until)


def axis_on(dart: Dart, spot: Spot) -> Array:
    """The direction in which a line that begins at a dart's point runs on from its axis, away from the cloth between
    its legs. Errors: UsageError when that place is no point of the dart."""
    away = [float(np.hypot(*(spot.point - at))) for at in dart.points]
    nearest = int(np.argmin(away))
    if away[nearest] > ON:
        raise UsageError(f"the point of {dart.name} is not at that place, so no line runs on from it there")
    return unit(dart.points[nearest] - (dart.points[1 - nearest] if dart.double else dart.feet.mean(axis=0)))


def curved_line(piece: Piece | None, places: Sequence[Array], leave: Array | None, arrive: Array | None) -> Curve:
    """A smooth line through places, inside the piece where one is given.

    Errors: GeometryError when it leaves it or crosses itself.
    """
    made = flowing(places, leave=leave, arrive=arrive)
    made = ending_at(starting_at(made, places[0]), places[-1])
    looped = self_crossings(made, closed=False)
    if looped:
        x, y = looped[0].point
        raise GeometryError(f"the line crosses itself near x {x:.1f}, y {y:.1f} mm; choose other places or angles")
    if piece is not None:
        refuse_off_cloth(piece, made)
    return made


def refuse_off_cloth(piece: Piece, made: Curve) -> None:
    """GeometryError with the place when a line leaves the piece."""
    size = float(np.hypot(*np.diff(flatten(made, tolerance=0.05), axis=0).T).sum())
    places = point(made, np.linspace(0.0, len(made), max(17, int(size / STEP))))
    ring = ring_of(piece)
    off = places[~contains(ring, places)]
    parts = _parts(piece)
    for at in off:
        if min(float(nearest(part, at)[1]) for part in parts) > OUTSIDE:
            raise GeometryError(f"the line leaves {piece.name} near x {at[0]:.1f}, y {at[1]:.1f} mm; move its places")


def angled_off(piece: Piece, spot: Spot, degrees: float, toward: Array) -> Array:
    """The direction at so many degrees from the edge as it runs on clockwise, into the piece; 90 is square.

    From a line inside the piece on the side of a point. Errors: UsageError for a place on neither.
    """
    if spot.tangent is None:
        raise UsageError("an angle is told from an edge or a line, and one end lies inside the piece on neither")
    if spot.edge:
        sign = 1.0 if area(piece) > 0 else -1.0
        along = spot.tangent
    else:
        sign = 1.0 if float(square_to(spot.tangent) @ (toward - spot.point)) > 0 else -1.0
        along = spot.tangent
    turn = sign * math.radians(degrees)
    cos, sin = math.cos(turn), math.sin(turn)
    return np.array([cos * along[0] - sin * along[1], sin * along[0] + cos * along[1]])


def smooth_on(pattern: Pattern, piece: Piece, spot: Spot, other: Piece, thing: Edge | Line, toward: Array) -> Array:
    """The direction in which a line that begins at a place runs on from an edge or line, over a seam if need be.

    Errors: UsageError when that does not end there, on this piece or on the other side of a seam.
    """
    if other.uid == piece.uid:
        _, way, away = nearest_on(thing, spot.point)
        if away > ON:
            raise UsageError(f"{piece.name}.{thing.name} does not come to that place, so no line runs on from it there")
        return way if float(way @ (toward - spot.point)) > 0 else -way
    for onward in (True, False) if spot.edge else ():
        for mate in mates(pattern, spot.edge, spot.sewn + (PROBE if onward else -PROBE)):
            ends = [abs(mate.sewn - PROBE), abs(sewn_length(mate.edge) - mate.sewn - PROBE)]
            if mate.piece.uid != other.uid or min(ends) > ON:
                continue
            at_end = ends[1] < ends[0]
            before = next(e for e in mate.piece.edges if mate.piece.after(e).uid == mate.edge.uid)
            if (mate.piece.after(mate.edge) if at_end else before).uid == thing.uid:
                # sewn, both lines make a straight angle on the seam
                inner = inside_angle(mate.piece, mate.edge if at_end else before)
                return angled_off(piece, spot, 180.0 - inner if onward else inner, toward)
    raise UsageError(
        f"{other.name}.{thing.name} does not end where that place is sewn to; state the seam, or name an edge that does"
    )

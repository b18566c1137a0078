"""Lines drawn with darts and seams closed: on the plane on which all that they run over lies flat, and then opened.

The plane is that of the piece on which a line starts. What lies beyond a gate is laid on it as the gates before lie
closed; a line that was drawn there is parted at the gates, and each part is laid back onto its piece.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.drafting.gates import Gate, across, beyond, dart_gate, seam_gates
from flatcut.drafting.lines import ON, OUTSIDE, curves_of, refuse_off_cloth, ring_of
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, tangent, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.nearest import nearest
from flatcut.geometry.offset import offset_curve
from flatcut.geometry.region import contains
from flatcut.geometry.welding import ending_at, joined, starting_at
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece, area
from flatcut.pattern.walking import sewn_length

MOST = 24
"""Gates that one line may go over."""
FAR = 1e4
"""mm: longer than any piece."""
CRUMB = 1e-3
"""mm: where a line is parted this near to a joint of it, it is parted at the joint."""


@dataclass(frozen=True, kw_only=True)
class Closed:
    """What lies closed while a line is drawn. darts: piece, dart and the point it is closed about; seams: gates."""

    darts: tuple[tuple[Piece, Dart, int], ...] = ()
    seams: tuple[Gate, ...] = ()

    def darts_of(self, piece: str) -> list[tuple[Piece, Dart, int]]:
        """Those of one piece, by its uid."""
        return [one for one in self.darts if one[0].uid == piece]


@dataclass(frozen=True, kw_only=True)
class Leaf:
    """A part of a line as its piece lies."""

    piece: str
    curve: Curve


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A line as its pieces lie. gaps: mm by which its two ends miss each other at each gate when that is closed.

    unmet: names of darts that it does not come to.
    """

    leaves: tuple[Leaf, ...]
    gaps: tuple[tuple[str, float], ...] = ()
    unmet: tuple[str, ...] = ()


@dataclass
class Plane:
    """The gates that a line goes over, in order, and where what lies beyond each lies on the plane of its start."""

    home: str
    gates: list[Gate] = field(default_factory=list)

    def laid(self, k: int) -> Affine:
        """What lies beyond the first k gates, onto the plane."""
        matrix = Affine()
        for gate in self.gates[:k]:
            matrix = matrix @ gate.onto
        return matrix

    def piece(self, k: int) -> str:
        """The uid of the piece beyond the first k gates."""
        return self.gates[k - 1].beyond if k else self.home

    def on(self, piece: str, at: Array) -> int:
        """Beyond how many gates a place (2,) of a piece lies. Errors: UsageError where the line does not come there."""
        there = [k for k in range(len(self.gates) + 1) if self.piece(k) == piece]
        if not there:
            raise UsageError("a place lies on a piece to which the line does not come; name the seam that it goes over")
        k = there[0]
        for j in there[1:]:
            if not beyond(self.gates[j - 1], at):
                break
            k = j
        return k


def route(pattern: Pattern, closed: Closed, start: tuple[str, Array], end: tuple[str, Array]) -> Plane:
    """The plane for a line between two places, each with the uid of its piece.

    Over seams that are named, else over those whose pieces lie together. Errors: UsageError where none leads there.
    """
    passed = _seams(pattern, closed, start[0], end[0])
    gates: list[Gate] = []
    here, at = start
    for gate in [*passed, None]:
        leaving = _middle(gate.near) if gate is not None else end[1]
        darts = [dart_gate(piece, dart, half, at) for piece, dart, half in closed.darts_of(here)]
        gates += across(darts, at, leaving)
        if gate is not None:
            gates.append(gate)
            here, at = gate.beyond, _middle(gate.far)
    return Plane(start[0], gates)


def _middle(curves: Sequence[Curve]) -> Array:
    return np.asarray(np.concatenate([curve.nodes for curve in curves]).mean(axis=0))


def _seams(pattern: Pattern, closed: Closed, start: str, end: str) -> list[Gate]:
    if start == end:
        return []
    found = _led(closed.seams, start, end) or _led(list(lying_together(pattern)), start, end)
    if found is None:
        names = [pattern.piece_of(uid).name for uid in (start, end)]
        raise UsageError(
            f"the line starts on {names[0]} and ends on {names[1]}, which do not lie together along a seam; lay them "
            f"together with arrange --against, or name the seam that it goes over with ",
            Option("closed"),
        )
    return found


def lying_together(pattern: Pattern) -> Iterator[Gate]:
    """The seams whose two sides lie together."""
    for piece in pattern.pieces:
        for edge in piece.edges:
            yield from seam_gates(pattern, piece, edge, 0.0, sewn_length(edge), lying=True)


def _led(gates: Sequence[Gate], start: str, end: str) -> list[Gate] | None:
    """The fewest gates from piece to piece."""
    ways: dict[str, list[Gate]] = {start: []}
    front = [start]
    while front and end not in ways:
        here = front.pop(0)
        for gate in gates:
            if gate.before == here and gate.beyond not in ways:
                ways[gate.beyond] = [*ways[here], gate]
                front.append(gate.beyond)
    return ways.get(end)


def drawn_over(pattern: Pattern, plane: Plane, make: Callable[[Plane], Curve]) -> Opened:
    """The line that `make` draws on the plane, as its pieces lie; darts that it does not meet are left out.

    Errors: GeometryError where it does not meet a seam, or leaves a piece.
    """
    unmet: list[str] = []
    while True:
        curve = make(plane)
        cuts, missed = _cuts(plane, curve)
        if missed is None:
            return _opened(pattern, plane, curve, cuts, unmet)
        gate = plane.gates[missed]
        if gate.dart is None:
            raise GeometryError(f"the line does not come to {gate.name}; choose other places for its ends")
        unmet.append(gate.name)
        plane = Plane(plane.home, [other for other in plane.gates if other is not gate])


def _opened(pattern: Pattern, plane: Plane, curve: Curve, cuts: Sequence[float], unmet: Sequence[str]) -> Opened:
    """A line on the plane as its pieces lie, parted at the gates, which it meets at `cuts`."""
    leaves: list[Leaf] = []
    gaps = []
    places = [0.0, *cuts, float(len(curve))]
    begins: Array | None = None
    for k in range(len(places) - 1):
        back = plane.laid(k).inverse()
        part = transform(_stretch(curve, places[k], places[k + 1]), back)
        if begins is not None:
            part = starting_at(part, begins)
        leaves.append(Leaf(piece=plane.piece(k), curve=part))
        if k < len(plane.gates):
            gate = plane.gates[k]
            begins = gate.over(part.end)
            gaps.append((gate.name, float(np.hypot(*(gate.onto.apply(begins) - part.end)))))
    for leaf in leaves:
        refuse_off_cloth(pattern.piece_of(leaf.piece), leaf.curve)
    return Opened(leaves=tuple(leaves), gaps=tuple(gaps), unmet=tuple(unmet))


def _stretch(curve: Curve, u0: float, u1: float) -> Curve:
    """The part of a line between two places, which leaves no crumb between a joint and the place beside it."""
    ends = point(curve, np.array([u0, u1]))
    joints = np.round([u0, u1])
    near = np.hypot(*(point(curve, joints) - ends).T) < CRUMB
    first, last = np.where(near, joints, [u0, u1])
    if first >= last:
        return section(curve, u0, u1)
    return ending_at(starting_at(section(curve, first, last), ends[0]), ends[1])


def _cuts(plane: Plane, curve: Curve) -> tuple[list[float], int | None]:
    """Where a line meets the near sides of the gates, and the number of the first that it does not meet."""
    cuts: list[float] = []
    for k, gate in enumerate(plane.gates):
        laid = plane.laid(k)
        low = cuts[-1] if cuts else 0.0
        met = [c.u for near in gate.near for c in crossings(curve, transform(near, laid)) if c.u > low - 1e-9]
        met = [u for u in met if 1e-6 < u < len(curve) - 1e-6]
        if not met:
            return cuts, k
        cuts.append(min(met))
    return cuts, None


def straight(
    pattern: Pattern,
    closed: Closed,
    piece: Piece,
    start: Array,
    way: Array,
    until: tuple[Piece, Edge | Line] | None,
    *,
    both: bool = False,
) -> Opened:
    """A straight line from a place (2,) of a piece in a direction (2,), over what lies closed.

    until: what it ends on, and the piece that has it; None for the first outline that it does not go over. From an
    edge it runs into the piece; both: from inside it runs to both sides. Errors: GeometryError where it ends before.
    """
    ring, way = ring_of(piece), unit(way)
    on_outline = min(float(nearest(part, start)[1]) for edge in piece.edges for part in edge.parts) <= ON
    if on_outline:
        inward = [bool(contains(ring, (start + sign * OUTSIDE * way)[None])[0]) for sign in (1, -1)]
        if not any(inward):
            raise GeometryError(f"from there the line runs along the outline of {piece.name} or out of it")
        way = way if inward[0] else -way
    plane, made = _straight_over(pattern, closed, piece, start, way, until)
    found = drawn_over(pattern, plane, lambda _: made)
    if on_outline or not both or until is not None:
        return _told(found, closed)
    plane, back = _straight_over(pattern, closed, piece, start, -way, None)
    other = drawn_over(pattern, plane, lambda _: back)
    middle = joined(reverse(other.leaves[0].curve), found.leaves[0].curve)
    before = [Leaf(piece=leaf.piece, curve=reverse(leaf.curve)) for leaf in other.leaves[:0:-1]]
    whole = Opened(
        leaves=(*before, Leaf(piece=piece.uid, curve=middle), *found.leaves[1:]),
        gaps=(*other.gaps[::-1], *found.gaps),
    )
    return _told(whole, closed)


def parallel_over(pattern: Pattern, closed: Closed, piece: Piece, edge: Edge, distance: float) -> Opened:
    """Parallel to an edge, inside by a distance, with darts that open on it closed, run on straight to its neighbours.

    Errors: GeometryError where it does not come to them, UsageError for a dart on the edge that is not closed.
    """
    named = {dart.uid: (dart, half) for _, dart, half in closed.darts_of(piece.uid)}
    plane = Plane(piece.uid)
    laid = [edge.parts[0]]
    for k, part in enumerate(edge.parts[1:]):
        dart = piece.cut_in(edge, k)
        if dart is None or dart.uid not in named:
            name = edge.name if dart is None else dart.name
            raise UsageError(f"{piece.name}.{name} opens on {edge.name}; name it with ", Option("closed"), " too")
        plane.gates.append(dart_gate(piece, dart, named[dart.uid][1], edge.parts[k].end))
        laid.append(transform(part, plane.laid(len(plane.gates))))
        laid[-1] = starting_at(laid[-1], laid[-2].end)
    made = offset_curve(chain(laid, within=1e-6), -distance if area(piece) > 0 else distance, name=edge.name)
    before = next(other for other in piece.edges if piece.after(other).uid == edge.uid)
    ends = before.parts[-1], transform(piece.after(edge).parts[0], plane.laid(len(plane.gates)))
    long = line(made.start - FAR * tangent(made, 0.0), made.start)
    on = line(made.end, made.end + FAR * tangent(made, float(len(made)), before=True))
    whole = chain([long, made, on], within=1e-6)
    low = [c.u for c in crossings(whole, ends[0])]
    high = [c.u for c in crossings(whole, ends[1])]
    if not low or not high:
        raise GeometryError(f"the parallel to {edge.name} does not come to the edges beside it; choose it nearer")
    return _told(drawn_over(pattern, plane, lambda _: section(whole, max(low), min(high))), closed)


def _told(found: Opened, closed: Closed) -> Opened:
    """With the names of the darts that a straight line did not come to."""
    met = {name for name, _ in found.gaps}
    names = [f"{piece.name}.{dart.name}" for piece, dart, _ in closed.darts]
    return replace(found, unmet=tuple(name for name in names if name not in met))


def _straight_over(
    pattern: Pattern, closed: Closed, piece: Piece, start: Array, way: Array, until: tuple[Piece, Edge | Line] | None
) -> tuple[Plane, Curve]:
    """The straight line on the plane, and the plane."""
    plane = Plane(piece.uid)
    direction = unit(way)
    here, origin, ahead = piece, np.asarray(start), direction
    goal = piece.uid if until is None else until[0].uid
    seams = [*closed.seams, *([] if goal == piece.uid else lying_together(pattern))]
    for _ in range(MOST):
        at, gate = _next(here, closed, plane, seams, origin, ahead, until)
        if gate is None:
            return plane, line(start, plane.laid(len(plane.gates)).apply(at))
        plane.gates.append(gate)
        here = pattern.piece_of(gate.beyond)
        back = plane.laid(len(plane.gates)).inverse()
        origin = gate.over(at)
        ahead = back.apply(direction) - back.apply(np.zeros(2))
    raise GeometryError("the line goes over too many darts and seams; say where it ends")


def _next(
    piece: Piece,
    closed: Closed,
    plane: Plane,
    seams: Sequence[Gate],
    origin: Array,
    way: Array,
    until: tuple[Piece, Edge | Line] | None,
) -> tuple[Array, Gate | None]:
    """What a ray meets next on a piece: the place, and the gate there, or None where it ends."""
    ray = line(origin + ON * way, origin + FAR * way)
    used = {gate.dart.uid for gate in plane.gates if gate.dart is not None}
    met: list[tuple[float, Array, Gate | None]] = []
    for _, dart, half in closed.darts_of(piece.uid):
        if dart.uid not in used:
            gate = dart_gate(piece, dart, half, origin)
            met += [(c.u, c.point, gate) for near in gate.near for c in crossings(ray, near)]
    if until is not None and until[0].uid == piece.uid:
        met += [(c.u, c.point, None) for curve in curves_of(until[1]) for c in crossings(ray, curve)]
    walls = [(c, edge) for edge in piece.edges for part in edge.parts for c in crossings(ray, part)]
    ends: list[tuple[float, Array]] = []
    for c, edge in walls:
        over = [gate for gate in seams if gate.before == piece.uid and gate.near is edge.parts]
        if over and (until is None or until[0].uid != piece.uid):
            met.append((c.u, c.point, over[0]))
        elif until is None:
            met.append((c.u, c.point, None))
        else:
            ends.append((c.u, c.point))
    first = min(met, key=lambda one: one[0], default=None)
    out = min(ends, key=lambda one: one[0], default=None)
    if first is None or (out is not None and first[0] > out[0] + 1e-6):
        what = until[1].name if until is not None else "an edge"
        raise GeometryError(f"the line leaves {piece.name} before it meets {what}; choose another place or end")
    return first[1], first[2]


def refuse_over_darts(piece: Piece, curve: Curve, named: Sequence[str]) -> None:
    """UsageError where a line goes over a dart of the piece that is not named (by uid)."""
    for dart in piece.darts:
        if dart.uid in named:
            continue
        for leg in dart.legs:
            for c in crossings(curve, leg):
                ends = [curve.start, curve.end, *dart.points, *dart.feet]
                if min(float(np.hypot(*(c.point - end))) for end in ends) > OUTSIDE:
                    x, y = c.point
                    raise UsageError(
                        f"the line goes over dart {piece.name}.{dart.name} near x {x:.1f}, y {y:.1f} mm; say that it is"
                        " closed with ",
                        Option("closed", f"{piece.name}.{dart.name}"),
                        ", or that it stays open with ",
                        Option("open"),
                    )

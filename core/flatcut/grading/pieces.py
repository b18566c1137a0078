"""A piece in another size: its outline, darts, lines and marks as the rules of its points say."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.errors import InputError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, point
from flatcut.geometry.length import length_to
from flatcut.geometry.mean_value import mean_values
from flatcut.geometry.nearest import nearest
from flatcut.grading.darts import dart_now, held_darts, lines_dart_now
from flatcut.grading.rules import Go
from flatcut.grading.stretches import NODE, Ring, along, miscounted, moved, ring_of
from flatcut.pattern.moving import moved as moved_piece
from flatcut.pattern.places import Place
from flatcut.pattern.runs import as_edge
from flatcut.pattern.spots import find, spot, spots
from flatcut.pattern.values import Dart, Edge, Grain, Line, Mark, NamedPoint, Pattern, Piece, Position, TakeUp
from flatcut.pattern.walking import drawn_length, part_at, sewn_length, to_drawn, to_sewn
from flatcut.reshape.ways import Moved, Ways

ON_EDGE = 0.05
"""mm: what lies so near to an edge lies on it, and stays there."""
EACH = 12
"""Places of a curved span between which it counts as straight for what lies inside the piece."""
ROUNDS, DONE = 40, 1e-11
PASSES, COUNTED = 12, 1e-7
"""Times that places which are counted along an edge are looked for, and how many mm they may be off in the end."""


@dataclass
class _OnPart:
    """A place that has a rule, `at` mm along a part of an edge (uid). counted: how it is told, along the drawn edge."""

    edge: str
    part: int
    at: float
    shift: Array
    counted: Position | None = None


@dataclass(kw_only=True)
class _Asked:
    """The rules of a piece by what they are of. Shifts in mm, (2,), in the turned piece, y down."""

    all: Array = field(default_factory=lambda: np.zeros(2))
    places: list[_OnPart] = field(default_factory=list)
    feet: dict[tuple[str, int], Array] = field(default_factory=dict)
    points: dict[tuple[str, int], Array] = field(default_factory=dict)
    """By uid of a dart and which of its points."""
    marks: dict[str, Array] = field(default_factory=dict)
    ends: dict[tuple[str, int], Array] = field(default_factory=dict)
    """By uid of a line and which end."""

    def cuts(self) -> dict[tuple[str, int], list[float]]:
        """Where parts are cut, mm along them, by edge (uid) and part."""
        found: dict[tuple[str, int], list[float]] = {}
        for one in self.places:
            found.setdefault((one.edge, one.part), []).append(one.at)
        return found


@dataclass(frozen=True, kw_only=True)
class GradedPiece:
    """piece: as it is now; ways: by uid of an edge or line, along the sewn line; along: names of corners and feet
    without a rule, which went with their neighbours."""

    piece: Piece
    ways: dict[str, Ways]
    along: tuple[str, ...]


def turned_upright(pattern: Pattern, piece: Piece, goes: Sequence[Go]) -> Affine:
    """The turn that sets a piece upright for its rules."""
    own = next((go.up for go in goes if not go.place.name and go.up is not None), None)
    if own is not None:
        return upright(pattern, own)
    return Affine() if piece.grain is None else piece.grain.upright


def upright(pattern: Pattern, up: tuple[Place, Place]) -> Affine:
    """The turn that sets a direction upright. Errors: InputError for two places that are one."""
    way = spot(pattern, up[1]).point - spot(pattern, up[0]).point
    if float(np.hypot(*way)) < 1e-3:
        raise InputError(f"{up[0]} and {up[1]} are one place and show no direction; name another")
    return Affine.rotation(-math.pi / 2 - math.atan2(way[1], way[0]))


def shift_of(pattern: Pattern, go: Go, turn: Affine) -> Array:
    """How far a point goes in the drawing, mm (2,), y down. turn: that sets its piece upright."""
    own = turn if go.up is None else upright(pattern, go.up)
    return np.asarray(own.inverse().apply(go.by * [1.0, -1.0]) - own.inverse().apply([0.0, 0.0]))


def graded_piece(pattern: Pattern, piece: Piece, goes: Sequence[Go]) -> GradedPiece:
    """A piece whose points go as their rules say. Errors: FlatcutError."""
    turn = turned_upright(pattern, piece, goes)
    asked = _asked(pattern, piece, goes, turn)
    work = piece if turn == Affine() else moved_piece(piece, turn)
    cut = [dart for dart in work.darts if dart.form == "cut" and not dart.double]
    for _ in range(PASSES):
        ring = ring_of(work, asked.cuts())
        given = _given(ring, asked)
        outline = moved(ring, given)
        feet = {
            dart.uid: np.array([dart.feet[k] + outline.shifts[ring.stations.foot(dart.uid, k)] for k in (0, 1)])
            for dart in cut
        }
        held = held_darts(work, cut, feet, asked.points, asked.marks)
        now = {
            ring.stations.foot(dart.uid, k): held[dart.uid][0][k] - dart.feet[k]
            for dart in cut
            if np.abs(held[dart.uid][0] - feet[dart.uid]).max() > 1e-9
            for k in (0, 1)
        }
        if now:
            outline = replace(moved(ring, {**given, **now}), taken_along=outline.taken_along)
        if not _counted_anew(ring, outline.curves, asked):
            break
    edges, ways = _edges(work, ring, outline.curves)
    darts = {dart.uid: dart_now(dart, *held[dart.uid]) for dart in cut}
    cage = _Cage.of(work, ring, outline.curves, darts)
    for dart in work.darts:
        if dart.uid not in darts:
            host = None if dart.double else (work.edge_of(dart.host), next(e for e in edges if e.uid == dart.host))
            way = None if host is None else _moved_along(work, ring, outline.curves, host[0].uid)
            shift = cage.shift(dart.feet.mean(axis=0)[None])[0]
            darts[dart.uid] = lines_dart_now(dart, host, way, asked.points, shift)
    made = replace(work, edges=edges, darts=tuple(darts[dart.uid] for dart in work.darts))
    made = made.with_marks(lambda mark: _mark(mark, cage, asked, work, made))
    ways |= _line_ways(work, made)
    if turn != Affine():
        made = moved_piece(made, turn.inverse())
    return GradedPiece(piece=made, ways=ways, along=outline.taken_along)


def _asked(pattern: Pattern, piece: Piece, goes: Sequence[Go], turn: Affine) -> _Asked:
    asked = _Asked()

    def turned(go: Go) -> Array:
        return np.asarray(turn.apply(shift_of(pattern, go, turn)) - turn.apply([0.0, 0.0]))

    for go in goes:
        if not go.place.name:
            asked.all = asked.all + turned(go)
    for go in goes:
        if not go.place.name:
            continue
        shift, place = turned(go) + asked.all, go.place
        _, thing = find(pattern, place)
        if isinstance(thing, NamedPoint):
            asked.marks[thing.uid] = shift
        elif isinstance(thing, Dart):
            _of_dart(asked, thing, place, shift)
        elif isinstance(thing, Line):
            _of_line(asked, thing, place, shift)
        else:
            _of_edge(asked, pattern, piece, place, shift)
    return asked


def _of_dart(asked: _Asked, dart: Dart, place: Place, shift: Array) -> None:
    parts = {"point": [0], "upper": [0], "lower": [1] if dart.double else [0], "": [0, 1] if dart.double else [0]}
    feet = {"mouth": [0, 1], "": [0, 1], "foot-1": [0], "foot-2": [1]}
    if place.at is not None or place.other or place.part not in {**parts, **feet}:
        raise InputError(f"'{place}' is no point of a dart; write {dart.name}, .point, .mouth, .foot-1 or .foot-2")
    if not dart.double:
        asked.feet |= {(dart.uid, k): shift for k in feet.get(place.part, [])}
    asked.points |= {(dart.uid, k): shift for k in parts.get(place.part, [])}


def _of_line(asked: _Asked, line: Line, place: Place, shift: Array) -> None:
    ends = {0.0: [0], 1.0: [1]}
    whole = place.at is None and not place.other
    known = place.at is not None and place.at.mode == "fraction" and place.at.value in ends
    if place.at is not None and place.at.value == 0.0:
        asked.ends |= {(line.uid, 0 if place.at.mode != "end" else 1): shift}
    elif whole or known:
        asked.ends |= {(line.uid, k): shift for k in ([0, 1] if place.at is None else ends[place.at.value])}
    else:
        raise InputError(f"'{place}' lies on a line; rules move its ends, {line.name}@0 and {line.name}@100%")


def _of_edge(asked: _Asked, pattern: Pattern, piece: Piece, place: Place, shift: Array) -> None:
    if place.at is None and not place.other:
        raise InputError(f"'{place}' is a whole edge; write one of its corners, or a place on it, such as {place}@1/2")
    for found in spots(pattern, place):
        edge = piece.edge_of(found.edge)
        drawn = to_drawn(edge, found.sewn)
        part, u = part_at(edge, drawn)
        counted = None
        if place.at is not None and not place.other:
            total = drawn_length(edge)
            told = {"fraction": drawn / total, "start": drawn, "end": total - drawn}
            counted = Position(mode=place.at.mode, value=told[place.at.mode])
        asked.places.append(_OnPart(edge.uid, part, length_to(edge.parts[part], u), shift, counted))


def _given(ring: Ring, asked: _Asked) -> dict[int, Array]:
    """Shifts by station; both feet of a dart have one, or neither. Without a rule on the outline all of it stays."""
    stations = ring.stations
    given: dict[int, Array] = {}
    for one in asked.places:
        station = _station(ring, one)
        if station in given and np.abs(given[station] - one.shift).max() > 1e-6:
            raise InputError(f"{stations.names[station]} has two rules that differ; leave one out")
        given[station] = one.shift
    for (dart, which), shift in asked.feet.items():
        if any(own == (dart, which) for own in stations.dart.values()):
            given[stations.foot(dart, which)] = shift
    for dart in {dart for dart, _ in stations.dart.values()}:
        pair = [stations.foot(dart, k) for k in (0, 1)]
        known = [given[k] for k in pair if k in given]
        if len(known) == 1:  # a dart goes as one
            given |= dict.fromkeys(pair, known[0])
    return given or dict.fromkeys(range(len(stations.names)), asked.all)


def _station(ring: Ring, one: _OnPart) -> int:
    return min(ring.stations.at[one.edge, one.part], key=lambda mark: abs(mark[0] - one.at))[1]


def _counted_anew(ring: Ring, curves: Sequence[Curve], asked: _Asked) -> bool:
    """Put places that are counted along an edge where they count in the mean of before and now; whether any was off."""
    off = False
    for one in asked.places:
        station = _station(ring, one)
        marks = ring.stations.at[one.edge, one.part]
        if one.counted is None or station in (marks[0][1], marks[-1][1]):
            continue
        by = miscounted(ring, curves, station, one.counted.mode, one.counted.value)
        whole = marks[-1][0]
        here = next(at for at, own in marks if own == station)
        if abs(one.at - here) > 1e-9 and abs(by) <= NODE:
            continue  # it is a node of the line, and as near to where it counts as that can be
        one.at = min(max(one.at - by, 0.01 * whole), 0.99 * whole)
        off = off or abs(by) > COUNTED
    return off


def _edges(piece: Piece, ring: Ring, curves: Sequence[Curve]) -> tuple[tuple[Edge, ...], dict[str, Ways]]:
    found: list[Edge] = []
    ways: dict[str, Ways] = {}
    for edge in piece.edges:
        mine = [k for k, stretch in enumerate(ring.stretches) if stretch.edge == edge.uid]
        parts = tuple(
            chain([curves[k] for k in mine if ring.stretches[k].part == part], within=1e-6)
            for part in range(len(edge.parts))
        )
        moves = _moved_along(piece, ring, curves, edge.uid)
        takeups = tuple(_takeup(t, moves) for t in edge.takeups)
        now = replace(edge, parts=parts, takeups=takeups)
        sewn = Moved(
            np.array([to_sewn(edge, float(at)) for at in moves.old]),
            np.array([to_sewn(now, float(at)) for at in moves.new]),
        )
        found.append(now)
        ways[edge.uid] = sewn.ways(edge.uid)
    return tuple(found), ways


def _takeup(takeup: TakeUp, moves: Moved) -> TakeUp:
    """Fullness keeps its amount; the mouth of a dart its width."""
    if takeup.kind == "dart":
        middle, half = moves((takeup.start + takeup.end) / 2), (takeup.end - takeup.start) / 2
        return replace(takeup, start=middle - half, end=middle + half)
    return replace(takeup, start=moves(takeup.start, after=True), end=moves(takeup.end))


def _moved_along(piece: Piece, ring: Ring, curves: Sequence[Curve], edge: str) -> Moved:
    """From mm of the drawn edge as it was to mm of it as it is now."""
    old, new = [0.0], [0.0]
    for k, stretch in enumerate(ring.stretches):
        if stretch.edge == edge:
            before, now = along(stretch.curve, curves[k])
            start, at = old[-1], new[-1]
            old += (start + before[1:]).tolist()
            new += (at + now[1:]).tolist()
    return Moved(np.array(old), np.array(new))


@dataclass(frozen=True, kw_only=True)
class _Cage:
    """The outline before and after, by which what lies inside goes. pairs: its curves; ring, now: as points (n, 2)."""

    pairs: tuple[tuple[Curve, Curve], ...]
    ring: Array
    now: Array

    @staticmethod
    def of(piece: Piece, ring: Ring, curves: Sequence[Curve], darts: dict[str, Dart]) -> _Cage:
        pairs: list[tuple[Curve, Curve]] = []
        by_uid = {dart.uid: dart for dart in piece.darts}
        for stretch, drawn in zip(ring.stretches, curves, strict=True):
            pairs.append((stretch.curve, drawn))
            foot = ring.stations.dart.get(stretch.end)
            if foot is not None and foot[1] == 0:
                pairs += zip(by_uid[foot[0]].legs, darts[foot[0]].legs, strict=True)
        was: list[Array] = []
        now: list[Array] = []
        for before, after in pairs:
            places = np.concatenate(
                [k + np.arange(1 if before.straight[k] else EACH) / EACH for k in range(len(before))]
            )
            was.append(point(before, places))
            now.append(point(after, places))
        return _Cage(pairs=tuple(pairs), ring=np.concatenate(was), now=np.concatenate(now))

    def shift(self, points: Array, kept: Callable[[Array], Array] = np.asarray) -> Array:
        """How far points (n, 2) inside go: by mean value coordinates, half in the outline of before, half of now.

        kept: what is made of that, such as that they stay on a line.
        """
        half, by = (self.ring + self.now) / 2, self.now - self.ring
        found = np.zeros_like(points)
        for _ in range(ROUNDS):
            next_ = kept(mean_values(half, points + found / 2) @ by)
            change = float(np.abs(next_ - found).max())
            found = next_
            if change < DONE:
                break
        return found

    def on_edge(self, at: Array) -> Array | None:
        """How far a point that lies on the outline goes; None for one that does not."""
        for before, now in self.pairs:
            u, away = nearest(before, at)
            if away <= ON_EDGE:
                return np.asarray(point(now, float(u)) - point(before, float(u)))
        return None

    def place(self, at: Array) -> Array:
        """How far one point goes."""
        held = self.on_edge(at)
        return self.shift(at[None])[0] if held is None else held


def _mark(mark: Mark, cage: _Cage, asked: _Asked, was: Piece, now: Piece) -> Mark:
    if isinstance(mark, Line):
        return _line(mark, cage, asked)
    if isinstance(mark, Grain):
        return _grain(mark, cage)
    at = mark.standing()
    if at is None:
        return mark
    shift = asked.marks.get(mark.uid)
    if shift is None:
        shift = _with_dart(at, was, now)
    if shift is None:
        shift = cage.place(at)
    return mark.moved(Affine.translation(*shift))


def _with_dart(at: Array, was: Piece, now: Piece) -> Array | None:
    """How far the point of a dart went at which a place lies."""
    for before, after in zip(was.darts, now.darts, strict=True):
        for old, new in zip(before.points, after.points, strict=True):
            if float(np.hypot(*(old - at))) <= ON_EDGE:
                return np.asarray(new - old)
    return None


def _grain(grain: Grain, cage: _Cage) -> Grain:
    """It keeps its direction: it goes with the cloth, and is longer or shorter as that is."""
    way = (grain.end - grain.start) / np.hypot(*(grain.end - grain.start))

    def kept(shifts: Array) -> Array:
        along = shifts @ way
        middle = shifts.mean(axis=0)
        return np.asarray(middle - (middle @ way) * way + along[:, None] * way)

    one, two = cage.shift(np.array([grain.start, grain.end]), kept)
    return replace(grain, start=grain.start + one, end=grain.end + two)


def _line(line: Line, cage: _Cage, asked: _Asked) -> Line:
    curve = line.curve
    ends = [asked.ends.get((line.uid, k)) for k in (0, 1)]
    shifts = [
        own if own is not None else cage.place(at) for own, at in zip(ends, (curve.start, curve.end), strict=True)
    ]
    closed = float(np.hypot(*(curve.end - curve.start))) < 1e-6
    if bool(curve.straight.all()) and not closed and _is_straight(curve):
        share = ((curve.nodes - curve.start) @ (curve.end - curve.start)) / float(
            (curve.end - curve.start) @ (curve.end - curve.start)
        )
        nodes = curve.nodes + shifts[0] + share[:, None] * (shifts[1] - shifts[0])
        return replace(line, curve=_through(nodes, curve))
    share = np.linspace(0.0, 1.0, 3 * len(curve) + 1)
    share = np.stack([share[3 * k : 3 * k + 4] for k in range(len(curve))])[..., None]

    def kept(found: Array) -> Array:
        """What the ends are asked beside that is spread along the line."""
        inside = found.reshape(curve.controls.shape)
        rest = (1.0 - share) * (shifts[0] - inside[0, 0]) + share * (shifts[1] - inside[-1, 3])
        return np.asarray((inside + (0.0 if closed else rest)).reshape(-1, 2))

    controls = curve.controls + cage.shift(curve.controls.reshape(-1, 2), kept).reshape(curve.controls.shape)
    straight = curve.straight
    third = (controls[:, 3] - controls[:, 0]) / 3
    controls[straight, 1] = (controls[:, 0] + third)[straight]
    controls[straight, 2] = (controls[:, 3] - third)[straight]
    return replace(line, curve=Curve(controls, straight))


def _is_straight(curve: Curve) -> bool:
    chord = curve.end - curve.start
    off = (curve.nodes - curve.start) @ np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    return bool(np.abs(off).max() <= 1e-4)


def _through(nodes: Array, curve: Curve) -> Curve:
    step = np.diff(nodes, axis=0) / 3
    return Curve(np.stack([nodes[:-1], nodes[:-1] + step, nodes[1:] - step, nodes[1:]], axis=1), curve.straight)


def _line_ways(was: Piece, now: Piece) -> dict[str, Ways]:
    """Lines that are longer or shorter now, for seams that run along them."""
    found: dict[str, Ways] = {}
    for one, two in zip(was.lines, now.lines, strict=True):
        old, new = sewn_length(as_edge(was, one)), sewn_length(as_edge(now, two))
        if abs(old - new) > 1e-9:
            found[one.uid] = Moved(np.array([0.0, old]), np.array([0.0, new])).ways(one.uid)
    return found

"""A piece filled with triangles: vertices along its outline where its seams want them, a regular net inside."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.curves import Curve, point, reverse
from flatcut.geometry.length import length, places_at
from flatcut.geometry.region import Ints, contains, distance_to, is_simple_ring, ring_area
from flatcut.pattern.values import Dart, Edge, Line, Piece
from flatcut.pattern.walking import drawn_length, nearest_drawn

SAME = 1e-4
"""mm of an edge that are one place."""
AWAY = 0.55
"""Of the net's width: nearer to the outline no point of the net is set."""
BESIDE = 0.7
"""Of the net's width: nearer to a point on a line inside no point of the net is set."""
SCATTER = 0.3
"""Of the net's width: how far from a regular net its points lie."""
SEED = 1
CENTRE = "centre"
"""The name of the line that lies on the centre of the body."""
ASSUMED = "assumed"
"""The kind of a centre line that only says where its piece lies: no vertices stand along it."""
ROLL = "roll-line"
"""The name of the line along which a collar is turned over."""
OUTSIDE = re.compile("pleat|tuck|ease-pleat|roll-line|fold|seam-line|top-line")
"""How the names of folds begin of which both sides are seen."""
ON_RIM = 1.0
"""mm from the outline within which a line inside ends on it."""
SHARE = 1e-3
"""Of a piece's area that its triangles may differ from it: outlines are chords here."""


class OnEdge(NamedTuple):
    """A vertex on an edge: `drawn` mm from its start."""

    drawn: float
    vertex: int


@dataclass(frozen=True, kw_only=True)
class Cells:
    """A filled piece. points (n, 2) mm as drawn; triangles (m, 3), turning as the y axis points down.

    edges: uid -> vertices along it in order; at a dart's mouth two of them lie at the same drawn mm.
    closed: pairs of vertices that a closed dart brings together. legs: per dart the vertices of both legs.
    inner: name of a line inside -> vertices along it. dropped: vertices beyond a fold, which lie inside the garment and
    belong to no triangle; each with a vertex of the fold that is near.
    """

    piece: Piece
    points: Array
    triangles: Ints
    edges: Mapping[str, Sequence[OnEdge]]
    closed: Sequence[tuple[int, int]]
    legs: Mapping[str, tuple[Sequence[int], Sequence[int]]]
    inner: Mapping[str, Sequence[int]] = field(default_factory=dict)
    dropped: Mapping[int, int] = field(default_factory=dict)

    def at(self, uid: str, drawn: float) -> list[int]:
        """The vertices at a place of an edge: one, or both feet of a dart. Errors: KeyError where there is none."""
        found = [on.vertex for on in self.edges[uid] if abs(on.drawn - drawn) <= SAME]
        if not found:
            raise KeyError(f"{self.piece.name} has no vertex {drawn} mm along {uid}")
        return found


class _Rim:
    """The outline as it grows: vertices, and which of them stand on edges and legs."""

    def __init__(self) -> None:
        self.points: list[Array] = []
        self.edges: dict[str, list[OnEdge]] = {}
        self.closed: list[tuple[int, int]] = []
        self.darts: dict[str, tuple[list[int], list[int]]] = {}

    def add(self, at: Array) -> int:
        """The vertex at a point: the last one where it lies there already."""
        if self.points and np.linalg.norm(self.points[-1] - at) < SAME:
            return len(self.points) - 1
        self.points.append(at)
        return len(self.points) - 1

    def pair(self, name: str, one: Sequence[int], two: Sequence[int]) -> None:
        self.closed += [(a, b) for a, b in zip(one, two, strict=True) if a != b]
        self.darts[name] = list(one), list(two)


def filled(piece: Piece, wanted: Mapping[str, Sequence[float]], wide: float) -> Cells:
    """A piece as triangles about `wide` mm wide.

    wanted: uid of an edge -> drawn mm at which a vertex must stand. Errors: GeometryError where the outline cannot be
    filled.
    """
    rim = _Rim()
    kept = lines_kept(piece)
    for edge in piece.edges:
        ends = [nearest_drawn(edge, at) for line in kept for at in (line.curve.start, line.curve.end)]
        far = [at for at in ends if SAME < at < drawn_length(edge) - SAME]
        near = [at for at in far if any(np.linalg.norm(_spot(edge, at) - e) < ON_RIM for e in _ends(kept))]
        _edge(rim, piece, edge, [*wanted.get(edge.uid, ()), *near], wide)
    points = rim.points
    if np.linalg.norm(points[0] - points[-1]) < SAME:
        last = len(points) - 1
        points = points[:-1]
        rim.edges = {uid: [OnEdge(on.drawn, on.vertex % last) for on in found] for uid, found in rim.edges.items()}
        rim.closed = [(a % last, b % last) for a, b in rim.closed]
        rim.darts = {name: ([v % last for v in one], [v % last for v in two]) for name, (one, two) in rim.darts.items()}
    count = len(points)
    holes = []
    for dart in piece.darts:
        if dart.double:
            one = _along(dart.legs[0], wide)
            two = _along(dart.legs[1], wide, len(one) - 1)[::-1]
            first = len(points)
            points = [*points, *one, *two[1:-1]]
            right = list(range(first, first + len(one)))
            left = [right[0], *range(first + len(one), len(points)), right[-1]]
            rim.pair(dart.name, right, left)
            holes.append(right + left[-2:0:-1])
    inner: dict[str, list[int]] = {}
    for line in kept:
        along = _along(line.curve, wide)
        inner[line.name] = list(range(len(points), len(points) + len(along) - 2))
        points = [*points, *along[1:-1]]
        for end, at in ((0, along[0]), (len(inner[line.name]) + 1, along[-1])):
            away = np.linalg.norm(np.array(points[:count]) - at, axis=1)
            if away.min() < ON_RIM:
                inner[line.name].insert(end, int(away.argmin()))
    every = np.array(points)
    room = _Room(every[:count], tuple(every[hole] for hole in holes))
    if not room.sound():
        raise GeometryError(f"{piece.name} cannot be worn: its outline crosses itself, or a dart leaves it")
    found, triangles = _net(every, every[count + sum(map(len, holes)) :], room, wide)
    if abs(np.abs(_areas(found, triangles)).sum() - room.area) > SHARE * room.area:
        raise GeometryError(
            f"{piece.name} cannot be filled with triangles: a dart or corner is too narrow for {wide:g} mm; "
            "take a finer --mesh"
        )
    folds = [inner[line.name] for line in kept if line.kind == "fold" and line.name != ROLL]
    triangles, dropped = _without_folded(found, triangles, folds)
    return Cells(
        piece=piece,
        points=found,
        triangles=triangles,
        edges=rim.edges,
        closed=rim.closed,
        legs=rim.darts,
        inner=inner,
        dropped=dropped,
    )


def lines_kept(piece: Piece) -> list[Line]:
    """Lines inside a piece along which vertices stand: its centre, where that is none of its edges, and folds beyond
    which it lies inside, and where a collar is turned over; not those of pleats and lapels."""
    collar = piece.source is not None and piece.source.kind == "collar"
    return [
        line
        for line in piece.lines
        if (line.name == CENTRE and line.kind != ASSUMED)
        or (line.kind == "fold" and not OUTSIDE.match(line.name))
        or (collar and line.name == ROLL)
    ]


def _ends(lines: Sequence[Line]) -> list[Array]:
    return [at for line in lines for at in (line.curve.start, line.curve.end)]


def _spot(edge: Edge, at: float) -> Array:
    for part in edge.parts:
        if at <= (total := length(part)):
            return np.asarray(point(part, places_at(part, np.array([at])))[0])
        at -= total
    return edge.end


def _without_folded(points: Array, triangles: Ints, folds: Sequence[Sequence[int]]) -> tuple[Ints, dict[int, int]]:
    """The triangles on the larger side of each fold, and the vertices of the others with the nearest one of a fold."""
    if not folds:
        return triangles, {}
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    barrier = {tuple(sorted(pair)) for fold in folds for pair in pairwise(fold)}
    owner: dict[tuple[int, ...], int] = {}
    near: list[tuple[int, int]] = []
    for t, corners in enumerate(triangles.tolist()):
        for k in range(3):
            side = tuple(sorted((corners[k], corners[(k + 1) % 3])))
            if side in barrier:
                continue
            if side in owner:
                near.append((owner[side], t))
            owner[side] = t
    one, two = np.array(near).reshape(-1, 2).T
    count = len(triangles)
    _, part = connected_components(coo_array((np.ones(len(one)), (one, two)), shape=(count, count)), directed=False)
    largest = np.bincount(part, np.abs(_areas(points, triangles))).argmax()
    kept = triangles[part == largest]
    lost = np.setdiff1d(np.arange(len(points)), kept)
    on = np.unique(np.concatenate([np.asarray(fold, dtype=int) for fold in folds]))
    on = np.intersect1d(on, kept)
    nearest = {int(v): int(on[np.linalg.norm(points[on] - points[v], axis=1).argmin()]) for v in lost}
    return kept, nearest


def _edge(rim: _Rim, piece: Piece, edge: Edge, wanted: Sequence[float], wide: float) -> None:
    inside = list(_drawn_darts(piece, edge))
    total = drawn_length(edge)
    ends = [0.0, total, *wanted, *(at for a, b, _ in inside for at in (a, b))]
    before = 0.0
    for part in edge.parts:
        before += length(part)
        ends.append(before)
    knots = _apart(sorted(at for at in ends if -SAME <= at <= total + SAME))
    places = _divided(knots, wide)
    skipped = [(a, b) for a, b, _ in inside]
    places = [at for at in places if not any(a + SAME < at < b - SAME for a, b in skipped)]
    mine = rim.edges.setdefault(edge.uid, [])
    start = 0.0
    for k, part in enumerate(edge.parts):
        end = start + length(part)
        here = [at for at in places if start - SAME <= at <= end + SAME]
        spots = point(part, places_at(part, np.clip(np.array(here) - start, 0.0, end - start)))
        for at, spot in zip(here, spots, strict=True):
            mine.append(OnEdge(at, rim.add(spot)))
            drawn = next((dart for a, _, dart in inside if abs(a - at) <= SAME), None)
            if drawn is not None:
                _legs(rim, drawn, wide)
        dart = piece.cut_in(edge, k)
        if dart is not None:
            _legs(rim, dart, wide)
        start = end


def _drawn_darts(piece: Piece, edge: Edge) -> Iterator[tuple[float, float, Dart]]:
    """Darts drawn over an edge and not cut into it: where its feet stand, in order."""
    for dart in piece.darts:
        if dart.form == "lines" and dart.host == edge.uid:
            a, b = (nearest_drawn(edge, foot) for foot in dart.feet)
            if a > b:
                a, b = b, a
                one, two = dart.legs
                yield a, b, _turned(dart, one, two)
            else:
                yield a, b, dart


def _turned(dart: Dart, one: Curve, two: Curve) -> Dart:
    return replace(dart, legs=(reverse(two), reverse(one)))


def _legs(rim: _Rim, dart: Dart, wide: float) -> None:
    """Both legs of a dart with one point, from foot to point and back, divided alike."""
    one = _along(dart.legs[0], wide)
    two = _along(dart.legs[1], wide, len(one) - 1)
    first = [rim.add(at) for at in one]
    second = [rim.add(at) for at in two]
    rim.pair(dart.name, first, second[::-1])


def _along(curve: Curve, wide: float, parts: int = 0) -> Array:
    total = length(curve)
    parts = parts or max(1, int(np.ceil(total / wide)))
    return point(curve, places_at(curve, np.linspace(0.0, total, parts + 1)))


def _apart(sorted_: Sequence[float]) -> list[float]:
    kept: list[float] = []
    for at in sorted_:
        if not kept or at - kept[-1] > SAME:
            kept.append(at)
    return kept


def _divided(knots: Sequence[float], wide: float) -> list[float]:
    found = [knots[0]]
    for a, b in pairwise(knots):
        parts = max(1, int(np.ceil((b - a) / wide - 1e-9)))
        found += [a + (b - a) * k / parts for k in range(1, parts + 1)]
    return found


class _Room(NamedTuple):
    """What is filled: inside an outline and outside of its holes."""

    outline: Array
    holes: tuple[Array, ...]

    @property
    def area(self) -> float:
        """mm²."""
        return abs(ring_area(self.outline)) - sum(abs(ring_area(hole)) for hole in self.holes)

    def sound(self) -> bool:
        """Whether no line crosses another."""
        return all(map(is_simple_ring, (self.outline, *self.holes))) and all(
            bool(contains(self.outline, hole).all()) for hole in self.holes
        )

    def holds(self, points: Array) -> BoolArray:
        """Which points (n, 2) lie in it."""
        inside = contains(self.outline, points)
        for hole in self.holes:
            inside &= ~contains(hole, points)
        return inside

    def away(self, points: Array) -> Array:
        """mm of points (n, 2) from the nearest line."""
        return np.asarray(np.min([distance_to(ring, points) for ring in (self.outline, *self.holes)], axis=0))


def _net(rim: Array, inner: Array, room: _Room, wide: float) -> tuple[Array, Ints]:
    """All points and the triangles between them that lie inside; inner: those of the rim that stand on lines inside."""
    from scipy.spatial import Delaunay, cKDTree

    (x0, y0), (x1, y1) = room.outline.min(axis=0), room.outline.max(axis=0)
    rows = np.arange(y0, y1, wide * np.sqrt(0.75)) + 0.4 * wide
    columns = [np.arange(x0 + (0.25 + 0.5 * (k % 2)) * wide, x1, wide) for k in range(len(rows))]
    net = np.column_stack([np.concatenate(columns), np.repeat(rows, [len(x) for x in columns])])
    # a regular net folds along its own lines: points a little off it have no such lines
    net += np.random.default_rng(SEED).uniform(-SCATTER * wide, SCATTER * wide, net.shape)
    net = net[room.holds(net)]
    net = net[room.away(net) >= AWAY * wide] if len(net) else net
    if len(inner) and len(net):
        net = net[cKDTree(inner).query(net)[0] >= BESIDE * wide]
    points = np.vstack([rim, net])
    triangles = _inside(points, Delaunay(points).simplices.astype(np.intp), room, wide)
    points = _smoothed(points, triangles, len(rim))
    return points, _inside(points, Delaunay(points).simplices.astype(np.intp), room, wide)


def _inside(points: Array, triangles: Ints, room: _Room, wide: float) -> Ints:
    kept = triangles[np.abs(_areas(points, triangles)) > 1e-7 * wide**2]
    kept = kept[room.holds(points[kept].mean(axis=1))]
    turned = _areas(points, kept) < 0
    kept[turned] = kept[turned][:, ::-1]
    return kept


def _areas(points: Array, triangles: Ints) -> Array:
    """mm² of each triangle, negative where it runs the other way."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.asarray(0.5 * cross(b - a, c - a))


def _smoothed(points: Array, triangles: Ints, fixed: int) -> Array:
    """Points inside drawn to the middle of their neighbours, twice."""
    from scipy.sparse import coo_array

    pairs = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    pairs = np.vstack([pairs, pairs[:, ::-1]])
    n = len(points)
    near = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n)).tocsr()
    near.data[:] = 1.0
    count: Array = np.asarray(near.sum(axis=1)).ravel()
    found: Array = points.copy()
    for _ in range(2):
        middle = (near @ found) / np.maximum(count, 1.0)[:, None]
        found[fixed:] = middle[fixed:]
    return found

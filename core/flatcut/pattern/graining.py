"""Where a grain line is drawn: its direction, and where on the piece it is as long as it should be."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, cross, unit
from flatcut.geometry.curves import Curve, chain, flatten
from flatcut.geometry.region import contains
from flatcut.pattern.values import Edge, Grain, Line, Piece, area, outline

SHARE = 2 / 3
"""Length of a grain line as a part of the piece along it (common practice, no source)."""
MARGIN = 5.0
"""mm that a grain line keeps away from the outline at its ends."""
BESIDE = 4.0
"""mm that it keeps away from the outline beside it, where there is so much room."""
OFFSETS = 61
"""Places across the piece that are tried; an odd number, so that the middle is one of them."""
OFF_CENTRE = 0.35
"""How much length, as a part of what is wanted, a line may lose before it leaves the middle for the side of a piece."""
CLEAR = 8.0
"""mm that a grain line stays away from a named point and from the points of darts, where there is room."""
AGAINST = 0.3
"""Length, as a part of what is wanted, that a grain line on a fold or another line loses to one CLEAR beside it."""
PARALLEL = 0.1
"""Radians by which a line inside may lean from the grain and run along it."""
BRACKET, DEEP = 0.5, 12.0
"""The mark of a fold: its length as a part of the edge, in its middle, and mm that it stands off the edge, at most a
sixth of the edge (common practice, no source). No grain line crosses it."""
STRAIGHT = 1.0
"""mm that an edge may bow and still give a direction, the error of grain that passes (common practice, no source)."""
TURNS = {"straight": 0.0, "cross": 90.0, "bias": 45.0}
"""Degrees between the reference and the grain."""


def chord_way(thing: Edge | Line) -> tuple[Array, float]:
    """Unit direction (2,) from the start of an edge or line to its end, and how far it bows off that, mm."""
    curves = thing.parts if isinstance(thing, Edge) else (thing.curve,)
    start, end = curves[0].start, curves[-1].end
    way = unit(end - start)
    points = np.concatenate([flatten(curve, tolerance=0.05) for curve in curves])
    return way, float(np.abs(cross(points - start, np.broadcast_to(way, points.shape))).max())


def reference_edge(piece: Piece) -> Edge | None:
    """The edge that the grain follows where nothing is said: the longest on the fold, else the longest centre edge.

    Without either the longest straight edge that is sewn on the centre line, else the longest straight opening, which
    most often is the middle of a front or back.
    """
    for use in ("fold", "centre", "", "opening"):
        found = [edge for edge in piece.edges if (edge.use == use if use else edge.middle)]
        if use in ("", "opening"):
            found = [edge for edge in found if chord_way(edge)[1] <= STRAIGHT]
        if found:
            return max(found, key=lambda edge: float(np.linalg.norm(edge.end - edge.start)))
    return None


def downward(piece: Piece, way: Array) -> Array:
    """`way` or its opposite: toward the hem where the piece has one, else down the drawing, else to the right."""
    hems = [edge for edge in piece.edges if edge.use == "hem"]
    if hems:
        middle = np.concatenate([part.nodes for edge in hems for part in edge.parts]).mean(axis=0)
        every = np.concatenate([part.nodes for edge in piece.edges for part in edge.parts]).mean(axis=0)
        toward = float((middle - every) @ way)
        if abs(toward) > 1.0:
            return way if toward > 0 else -way
    if abs(way[1]) > 1e-9:
        return way if way[1] > 0 else -way
    return way if way[0] > 0 else -way


def at_angle(piece: Piece, way: Array, degrees: float) -> Array:
    """A direction turned clockwise on a clockwise piece, the other way on its mirror image."""
    angle = math.radians(degrees if area(piece) > 0 else -degrees)
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([cos * way[0] - sin * way[1], sin * way[0] + cos * way[1]])


def laid(
    piece: Piece, way: Array, *, through: Array | None = None, wanted: float | None = None
) -> tuple[Array, Array, float]:
    """Start and end of a grain line in a direction, and the length of the piece along it, mm.

    It is as long as `wanted` (by default SHARE of the piece), centred between the edges it would run to, and as near to
    the middle of the piece as that length allows; or on the line through a place. It keeps off named points, the points
    of darts, folds and other lines along it, and the marks of edges on the fold, where there is room.

    >>> from flatcut.geometry.curves import line
    >>> nodes = [(0, 0), (40, 0), (40, 90), (0, 90)]
    >>> sides = [line(nodes[k], nodes[(k + 1) % 4]) for k in range(4)]
    >>> edges = tuple(Edge(uid=str(k), name=f"e{k}", parts=(side,)) for k, side in enumerate(sides))
    >>> laid(Piece(uid="p", name="p", edges=edges), np.array([0.0, 1.0]))
    (array([20., 15.]), array([20., 75.]), 90.0)
    """
    ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.2)
    side = np.array([-way[1], way[0]])
    u, v = ring @ way, ring @ side
    reach = float(u.max() - u.min())
    wanted = SHARE * reach if wanted is None else wanted
    middle = float((v.min() + v.max()) / 2)
    if through is None:
        span = float(v.max() - v.min()) / 2
        offsets = middle + np.linspace(-0.98, 0.98, OFFSETS) * span
    else:
        span, offsets = 1.0, np.array([through @ side])
    best, most = (float(u.min()), float(u.max()), float(offsets[0])), -np.inf
    marked = [*(p.at for p in piece.points), *(tip for dart in piece.darts for tip in dart.points)]
    points = [(float(at @ way), float(at @ side)) for at in marked]
    legs = [leg for dart in piece.darts if dart.form == "lines" for leg in dart.legs]
    beside = _lines_along(piece, way)
    brackets = [] if through is not None else [corners for _, corners in fold_brackets(piece)]
    for offset in sorted(offsets.tolist(), key=lambda o: abs(o - middle)):
        away = OFF_CENTRE * wanted * abs(offset - middle) / span
        if wanted - away <= most:
            break  # the longest line here, and farther from the middle, is no better
        for low, high in _off_brackets(_strip(u, v, offset), brackets, way, side, offset):
            length = min(high - low - 2 * MARGIN, wanted)
            if length <= 0:
                continue
            centre = (low + high) / 2
            near = [p for p in points if abs(p[1] - offset) < CLEAR and abs(p[0] - centre) < length / 2 + CLEAR]
            crossed = _crosses(legs, way, side, offset, centre, length)
            score = length - away - 0.02 * wanted * len(near) - 0.1 * wanted * crossed
            score -= AGAINST * wanted * (1 - min(_gap(beside, offset, centre, length), CLEAR) / CLEAR)
            if score > most + 1e-9:
                best, most = (centre - length / 2, centre + length / 2, offset), score
    start, end, offset = best
    return start * way + offset * side, end * way + offset * side, reach


def fold_brackets(piece: Piece) -> list[tuple[Edge, Array]]:
    """The straight edges on the fold, each with the corners (4, 2) of its mark, from the edge into the piece and back.

    >>> from flatcut.geometry.curves import line
    >>> nodes = [(0, 0), (40, 0), (40, 90), (0, 90)]
    >>> sides = [line(nodes[k], nodes[(k + 1) % 4]) for k in range(4)]
    >>> uses = ("seam", "seam", "seam", "fold")
    >>> edges = tuple(Edge(uid=u, name=u, parts=(side,), use=u) for u, side in zip(uses, sides))
    >>> fold_brackets(Piece(uid="p", name="p", edges=edges))[0][1].tolist()
    [[0.0, 67.5], [12.0, 67.5], [12.0, 22.5], [0.0, 22.5]]
    """
    found = []
    for edge in piece.edges:
        way, bow = chord_way(edge)
        if edge.use == "fold" and bow <= STRAIGHT:
            long = float(np.linalg.norm(edge.end - edge.start))
            into = np.array([-way[1], way[0]]) * (1.0 if area(piece) > 0 else -1.0)
            first, last = (edge.start + share * long * way for share in (0.5 - BRACKET / 2, 0.5 + BRACKET / 2))
            deep = min(DEEP, long / 6) * into
            found.append((edge, np.array([first, first + deep, last + deep, last])))
    return found


def grain_off_lines(piece: Piece) -> Piece:
    """The piece with its grain line drawn anew, parallel to itself, where a line that is no crease lies along it."""
    grain = piece.grain
    if grain is None:
        return piece
    way = unit(grain.end - grain.start)
    offset, centre = float(grain.start @ np.array([-way[1], way[0]])), float((grain.start + grain.end) @ way / 2)
    long = float(np.linalg.norm(grain.end - grain.start))
    if _gap(_lines_along(piece, way), offset, centre, long) >= CLEAR / 2:
        return piece
    start, end, _ = laid(piece, way)
    return replace(piece, grain=replace(grain, start=start, end=end))


def with_grain_inside(piece: Piece) -> Piece:
    """The piece with its grain line drawn anew where that runs off it now, parallel to itself."""
    grain = piece.grain
    if grain is None or _lies_inside(piece, grain):
        return piece
    start, end, _ = laid(piece, unit(grain.end - grain.start))
    return replace(piece, grain=replace(grain, start=start, end=end))


def grain_followed(before: Piece, piece: Piece) -> Piece:
    """The piece, whose outline was drawn anew, with a grain line that lies on it if it did before."""
    if before.grain is None or not _lies_inside(before, before.grain):
        return piece
    return with_grain_inside(piece)


def _lies_inside(piece: Piece, grain: Grain) -> bool:
    ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.02)
    return bool(contains(ring, np.linspace(grain.start, grain.end, 33)).all())


_Along = tuple[float, float, float, float]
"""A line along the grain: where it begins and ends along that, and the least and the most that it lies aside."""


def _lines_along(piece: Piece, way: Array) -> list[_Along]:
    """The lines of a piece that run along a direction; not balance lines, of which a crease is drawn on the grain."""
    side, found = np.array([-way[1], way[0]]), []
    for inner in piece.lines:
        points = flatten(inner.curve, tolerance=0.5)
        u, v = points @ way, points @ side
        if inner.kind != "balance" and np.ptp(v) <= PARALLEL * np.ptp(u):
            found.append((float(u.min()), float(u.max()), float(v.min()), float(v.max())))
    return found


def _gap(lines: list[_Along], offset: float, centre: float, length: float) -> float:
    """mm from a grain line to the nearest of the lines beside it; infinity where none is."""
    reached = [line for line in lines if line[0] < centre + length / 2 and line[1] > centre - length / 2]
    return min((max(line[2] - offset, offset - line[3], 0.0) for line in reached), default=math.inf)


def _off_brackets(
    free: list[tuple[float, float]], brackets: list[Array], way: Array, side: Array, offset: float
) -> list[tuple[float, float]]:
    """Stretches of a line without what lies in the marks of folds; all of them where nothing would be left."""
    found = free
    for corners in brackets:
        ring = np.concatenate([corners, corners[:1]])
        for low, high in _inside(ring @ way, ring @ side, offset):
            cut = [((a, min(b, low - BESIDE)), (max(a, high + BESIDE), b)) for a, b in found]
            found = [part for both in cut for part in both if part[0] < part[1]]
    return found or free


def _strip(u: Array, v: Array, offset: float) -> list[tuple[float, float]]:
    """The stretches of a line that lie inside a ring together with BESIDE mm on both its sides."""
    found = _inside(u, v, offset)
    for aside in (offset - BESIDE, offset + BESIDE):
        others = _inside(u, v, aside)
        found = [(max(a, c), min(b, d)) for a, b in found for c, d in others if max(a, c) < min(b, d)]
    return found or _inside(u, v, offset)


def _inside(u: Array, v: Array, offset: float) -> list[tuple[float, float]]:
    """The stretches of a line across a ring that lie inside it."""
    below: BoolArray = v < offset
    k = np.flatnonzero(below[:-1] != below[1:])
    met = np.sort(u[k] + (offset - v[k]) / (v[k + 1] - v[k]) * (u[k + 1] - u[k]))
    return list(zip(met[::2].tolist(), met[1::2].tolist(), strict=False))


def _crosses(legs: list[Curve], way: Array, side: Array, offset: float, centre: float, length: float) -> int:
    """How many legs of drawn darts a grain line would cross."""
    count = 0
    for leg in legs:
        points = flatten(leg, tolerance=0.5)
        found = _inside_open(points @ way, points @ side, offset)
        count += any(abs(at - centre) <= length / 2 for at in found)
    return count


def _inside_open(u: Array, v: Array, offset: float) -> list[float]:
    below: BoolArray = v < offset
    k = np.flatnonzero(below[:-1] != below[1:])
    return [float(x) for x in u[k] + (offset - v[k]) / (v[k + 1] - v[k]) * (u[k + 1] - u[k])]

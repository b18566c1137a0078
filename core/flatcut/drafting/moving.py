"""A corner, a place of an edge, or an edge moved outward or inward."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flatcut.drafting.blending import blended
from flatcut.drafting.ends import across, carried, end_part, neighbour, outward, refuse_dart, turned, with_end
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, derivative, point, tangent, transform
from flatcut.geometry.length import length, length_to, lengths_to, place_at
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.values import Edge, Piece
from flatcut.pattern.walking import drawn_length, part_at, point_at
from flatcut.reshape.cycle import with_edge

PIECES = 2
"""Cubics by which each span beside a moved place is replaced: with one the move would stray by a pencil's width."""


def corner_moved(
    piece: Piece, edge: Edge, by: float, along: float, stretch: float, *, at_end: bool, reach: float
) -> Piece:
    """The piece with a corner moved: outward along the edge beside it, and `along` the edge itself beyond its end.

    The last `stretch` mm of the edge turn with the corner; the edge beside it is run straight on or cut back, and where
    the corner also moves along, turned after it from its other end. Errors: UsageError, GeometryError.
    """
    refuse_dart(piece, edge, at_end=at_end)
    other = neighbour(piece, edge, at_end=at_end)
    if other.uid == edge.uid:
        raise UsageError(f"{piece.name}.{edge.name} goes all round; split it at the corner first")
    away = outward(edge, at_end=at_end)
    beside = carried(end_part(other, at_end=not at_end), by, f"{piece.name}.{other.name}")
    to = beside.end + along * away
    if along:
        beside, _ = turned(beside, length(beside), to)
    part = end_part(edge, at_end=at_end)
    if stretch > length(part) + 1e-6:
        raise UsageError(
            f"a dart stands on {piece.name}.{edge.name} between the place and the corner; start nearer to it"
        )
    part, at = turned(part, stretch, to)
    new = with_end(edge, part, at_end=at_end)
    made = with_edge(with_edge(piece, new), with_end(other, beside, at_end=not at_end))
    if at > 0 and reach > 0:
        drawn = at + drawn_length(new) - length(part) if at_end else drawn_length(new) - at
        fair = blended(made, new, drawn, min(reach, at, length(part) - at), bends=99)
        made = made if fair is None else fair.piece
    return made


def place_moved(piece: Piece, edge: Edge, at: float, by: float, ends: tuple[float, float]) -> Piece:
    """The piece with an edge moved outward by `by` at a place, less and less to nothing at two ends (mm drawn).

    The edge keeps its direction at the ends and, but for its turn, at the place: the move is that of a smooth step.
    """
    k, u = part_at(edge, at)
    low, high = ends
    first, a = part_at(edge, low)
    last, b = part_at(edge, high)
    if low < at and first != k and length_to(edge.parts[first], a) >= length(edge.parts[first]) - 1e-6:
        first, a = k, 0.0
    if first != k or last != k:
        raise UsageError(f"a dart stands on {piece.name}.{edge.name} between the place and an end; name nearer ends")
    if not low + 1.0 <= at <= high - 1.0:
        raise UsageError(f"the place on {piece.name}.{edge.name} does not lie between the two ends; name others")
    part = edge.parts[k]
    _, way = point_at(edge, at)
    move = by * across(piece, way)
    middle, start, end = (length_to(part, v) for v in (u, a, b))

    def share(s: Array) -> tuple[Array, Array]:
        """How much of the move a place has, and how that changes by the mm."""
        rise = np.where(s <= middle, (s - start) / max(middle - start, 1e-9), (end - s) / max(end - middle, 1e-9))
        slope = np.where(s <= middle, 1 / max(middle - start, 1e-9), -1 / max(end - middle, 1e-9))
        t = np.clip(rise, 0.0, 1.0)
        inside = (rise > 0) & (rise <= 1)
        return t * t * (3 - 2 * t), np.where(inside, 6 * t * (1 - t) * slope, 0.0)

    cuts = {0.0, float(len(part)), a, u, b, *map(float, range(len(part) + 1))}
    for left, right in ((a, u), (u, b)):
        inner = [left, *(v for v in range(len(part) + 1) if left < v < right), right]
        for one, two in pairwise(inner):
            cuts |= {one + (two - one) * j / PIECES for j in range(1, PIECES)}
    places = _apart(sorted(cuts))
    s = lengths_to(part, np.array(places))
    shares, slopes = share(s)
    points = point(part, np.array(places)) + shares[:, None] * move
    controls, straight = [], []
    for j in range(len(places) - 1):
        span = places[j + 1] - places[j]
        moved = bool(shares[j] > 0 or shares[j + 1] > 0)
        inner_u = np.array([places[j], places[j + 1]])
        d = derivative(part, np.array([inner_u[0] + 1e-12, inner_u[1] - 1e-12]))
        d = d + (slopes[[j, j + 1]] * np.hypot(*d.T))[:, None] * move
        p, q = points[j], points[j + 1]
        line_span = bool(part.straight[min(int(places[j] + 1e-9), len(part) - 1)]) and not moved
        controls.append(
            [p, p + (q - p) / 3, q - (q - p) / 3, q] if line_span else [p, p + d[0] * span / 3, q - d[1] * span / 3, q]
        )
        straight.append(line_span)
    new = Curve(np.array(controls), np.array(straight))
    new = ending_at(starting_at(new, part.start), part.end)
    parts = (*edge.parts[:k], new, *edge.parts[k + 1 :])
    return with_edge(piece, replace(edge, parts=parts))


def _apart(places: list[float]) -> list[float]:
    """Ascending places without those that are nearly another."""
    found = [places[0]]
    for place in places[1:]:
        if place - found[-1] > 1e-6:
            found.append(place)
    found[-1] = places[-1]
    return found


def edge_moved(piece: Piece, edge: Edge, by: float) -> Piece:
    """The piece with a whole edge moved outward by `by`, square to the line between its ends; its neighbours follow.

    They are run straight on or cut back. Errors: GeometryError where a neighbour runs along the edge.
    """
    if len(edge.parts) > 1:
        raise UsageError(f"a dart opens on {piece.name}.{edge.name}; pivot it away before")
    out = across(piece, unit(edge.end - edge.start))
    made, corners = piece, []
    for at_end in (False, True):
        refuse_dart(piece, edge, at_end=at_end)
        other = neighbour(made, edge, at_end=at_end)
        part = end_part(other, at_end=not at_end)
        rate = float(tangent(part, float(len(part)), before=True) @ out)
        if abs(rate) < math.sin(math.radians(5.0)):
            raise GeometryError(f"{piece.name}.{other.name} runs along {edge.name}, so the corner has nowhere to go")
        part = _carried_until(part, out, by, rate, f"{piece.name}.{other.name}")
        made = with_edge(made, with_end(other, part, at_end=not at_end))
        corners.append(part.end)
    own = edge.parts[0]
    new = transform(own, Affine.similarity((own.start, own.end), (corners[0], corners[1])))
    return with_edge(made, replace(edge, parts=(ending_at(starting_at(new, corners[0]), corners[1]),)))


def _carried_until(part: Curve, out: Array, by: float, rate: float, name: str) -> Curve:
    """A neighbour run on, or cut back, until its end lies `by` farther out."""
    if by / rate >= 0:
        return carried(part, by / rate, name)
    start = float(part.end @ out)
    low, high = 0.0, length(part) - 1.0
    reached = [float(point(part, place_at(part, length(part) - back)) @ out) - start for back in (low, high)]
    if abs(reached[1]) < abs(by):
        raise GeometryError(f"{name} ends before the edge has moved so far; move it less")
    for _ in range(60):
        middle = (low + high) / 2
        now = float(point(part, place_at(part, length(part) - middle)) @ out) - start
        low, high = (middle, high) if abs(now) < abs(by) else (low, middle)
    return carried(part, -low, name)

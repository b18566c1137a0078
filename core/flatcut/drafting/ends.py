"""Ends of edges put elsewhere: an edge carried on or cut back along itself, a stretch of it turned.

`at_end` says which end of an edge is meant: that toward the edge that follows it, or its start.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, tangent, transform
from flatcut.geometry.flowing import flowing, square_to
from flatcut.geometry.length import length, place_at
from flatcut.geometry.welding import ending_at, joined
from flatcut.pattern.mating import mates
from flatcut.pattern.values import Edge, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.units import plain

LEAST = 1.0
"""mm that must be left of an edge that is cut back."""
BESIDE = 1.0
"""mm from a corner at which it is asked what an edge is sewn to there."""
NODE = 1e-6
"""A place so near to a node is that node."""


def neighbour(piece: Piece, edge: Edge, *, at_end: bool) -> Edge:
    """The edge that an edge meets at one of its ends."""
    if at_end:
        return piece.after(edge)
    return next(other for other in piece.edges if piece.after(other).uid == edge.uid)


def refuse_dart(piece: Piece, edge: Edge, *, at_end: bool) -> None:
    """UsageError when a dart stands in the corner at an end of an edge."""
    before = edge if at_end else neighbour(piece, edge, at_end=False)
    dart = piece.cut_in(before, len(before.parts) - 1)
    if dart is not None:
        raise UsageError(
            f"{piece.name}.{dart.name} stands in the corner at the end of {before.name}; pivot it away first"
        )


def outward(edge: Edge, *, at_end: bool) -> Array:
    """The unit direction (2,) in which an edge would run on beyond one of its ends."""
    part = edge.parts[-1 if at_end else 0]
    return tangent(part, float(len(part)), before=True) if at_end else -tangent(part, 0.0)


def end_part(edge: Edge, *, at_end: bool) -> Curve:
    """The part of an edge at one of its ends, walked toward that end."""
    return edge.parts[-1] if at_end else reverse(edge.parts[0])


def with_end(edge: Edge, part: Curve, *, at_end: bool) -> Edge:
    """The edge with another part at one of its ends, given walked toward it."""
    parts = (*edge.parts[:-1], part) if at_end else (reverse(part), *edge.parts[1:])
    return replace(edge, parts=parts)


def carried(part: Curve, by: float, name: str) -> Curve:
    """A part run straight on at its end by so many mm, or cut back by them. Errors: GeometryError when none is left.

    >>> carried(line((0, 0), (9, 0)), 3.0, "side").end, carried(line((0, 0), (9, 0)), -4.0, "side").end
    (array([12.,  0.]), array([5., 0.]))
    """
    if abs(by) < NODE:
        return part
    if by > 0:
        end = part.end + by * tangent(part, float(len(part)), before=True)
        return joined(part, line(part.end, end))
    size = length(part)
    if size + by < LEAST:
        raise GeometryError(f"{name} is {plain(size)} mm long there, and {plain(-by)} mm are to go; take less")
    return section(part, 0.0, place_at(part, size + by))


def turned(part: Curve, stretch: float, to: Array) -> tuple[Curve, float]:
    """A part whose last `stretch` mm are turned, and drawn longer or shorter, so that they end at `to` (2,).

    Returned with the mm from its start to where it is turned.

    >>> bent, at = turned(line((0, 0), (90, 0)), 60.0, np.array([90.0, 6.0]))
    >>> bent.nodes[1], at
    (array([30.,  0.]), 30.0)
    """
    size = length(part)
    u = place_at(part, max(0.0, size - stretch))
    u = float(round(u)) if abs(u - round(u)) < NODE else u
    fixed = point(part, u)
    if np.hypot(*(part.end - fixed)) < LEAST or np.hypot(*(to - fixed)) < LEAST:
        raise GeometryError("nothing is left between the place where it starts and the corner; name another")
    tail = transform(section(part, u, float(len(part))), Affine.similarity((fixed, part.end), (fixed, to)))
    if u <= 0:
        return ending_at(tail, to), 0.0
    return ending_at(chain([section(part, 0.0, u), tail], within=1e-6), to), max(0.0, size - stretch)


def across(piece: Piece, way: Array) -> Array:
    """The unit direction (2,) out of a piece, square to the way its outline runs."""
    return -square_to(way) if area(piece) > 0 else square_to(way)


def squared(piece: Piece, before: Edge, after: Edge) -> Curve:
    """A smooth line from the end of one edge to the start of another, in the place of the edge between them.

    It leaves and arrives square to both. Errors: GeometryError when it would turn back.
    """
    start, end = before.end, after.start
    sign = 1.0 if area(piece) > 0 else -1.0
    leave = sign * square_to(outward(before, at_end=True))
    arrive = sign * square_to(outward(after, at_end=False))
    return ending_at(flowing([start, end], leave=leave, arrive=arrive), end)


def mate_ends(pattern: Pattern, edge: Edge, *, at_end: bool) -> list[tuple[Piece, Edge, bool]]:
    """The edges that are sewn to an edge at one of its ends, and which of their ends comes to lie there."""
    total = sewn_length(edge)
    found = []
    for mate in mates(pattern, edge.uid, total - BESIDE if at_end else BESIDE):
        ends = mate.sewn, sewn_length(mate.edge) - mate.sewn
        if abs(min(ends) - BESIDE) < 0.1 * BESIDE and mate.edge.uid != edge.uid:
            found.append((mate.piece, mate.edge, ends[1] < ends[0]))
    return found


def drawn_from_end(edge: Edge, drawn: float, *, at_end: bool) -> float:
    """mm from one end of an edge to a place on it."""
    return drawn_length(edge) - drawn if at_end else drawn

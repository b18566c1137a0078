"""A corner, a place of an edge, or an edge moved outward or inward."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flatcut.drafting.at_the_centre import is_square, kept_square
from flatcut.drafting.blending import blended
from flatcut.drafting.ends import across, carried, end_part, neighbour, outward, refuse_dart, turned, with_end
from flatcut.drafting.shifting import shifted
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, signed_angle, unit
from flatcut.geometry.curves import Curve, chain, point, section, tangent, transform
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.values import Edge, Piece
from flatcut.pattern.walking import drawn_length, part_at
from flatcut.reshape.cycle import with_edge

NODE = 0.01
"""mm: a place so near to a node is that node."""


def corner_moved(
    piece: Piece, edge: Edge, by: float, along: float, stretch: float, *, at_end: bool, reach: float, only_turned: bool
) -> Piece:
    """The piece with a corner moved: outward along the edge beside it, and `along` the edge itself beyond its end.

    The last `stretch` mm of the edge turn with the corner; the edge beside it is run straight on or cut back, and where
    the corner also moves along, turned after it from its other end. Where the edge stands square on a fold or a centre
    line it is drawn anew so that it does again, unless it is to be only turned, or cannot be. Errors: UsageError,
    GeometryError.
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
    was, (part, at) = part, turned(part, stretch, to)
    other_now = with_end(other, beside, at_end=not at_end)
    if is_square(edge, other, at_end=at_end) and not only_turned:
        turn = signed_angle(outward(other, at_end=not at_end), outward(other_now, at_end=not at_end))
        upright = kept_square(was, stretch, part, at, turn)
        part, reach = (part, reach) if upright is None else (upright, 0.0)
    new = with_end(edge, part, at_end=at_end)
    made = with_edge(with_edge(piece, new), other_now)
    if at > 0 and reach > 0:
        drawn = at + drawn_length(new) - length(part) if at_end else drawn_length(new) - at
        fair = blended(made, new, drawn, min(reach, at, length(part) - at), bends=99)
        made = made if fair is None else fair.piece
    return made


def place_moved(
    piece: Piece,
    edge: Edge,
    at: float,
    by: float,
    ends: tuple[float, float],
    *,
    along: float = 0.0,
    straight: bool = False,
) -> Piece:
    """The piece with an edge moved outward by `by` at a place, less and less to nothing at two ends (mm drawn).

    along: mm that the place also goes along the edge, in its direction; straight: whether stretches between the place
    and an end that are straight stay so. The edge keeps its direction at the ends and, but for its turn, at the place:
    the move is that of a smooth step, just as when a node and its handles are moved in a drawing.
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
    a, u, b = (_onto_node(part, v) for v in (a, u, b))
    move = _move(piece, part, u, by, along)
    stretches = [
        section(part, 0.0, a) if a > 0 else None,
        shifted(section(part, a, u), move, rising=True, straight=straight),
        shifted(section(part, u, b), move, rising=False, straight=straight),
        section(part, b, float(len(part))) if b < len(part) else None,
    ]
    new = chain([stretch for stretch in stretches if stretch is not None], within=1e-6)
    new = ending_at(starting_at(new, part.start), part.end)
    parts = (*edge.parts[:k], new, *edge.parts[k + 1 :])
    return with_edge(piece, replace(edge, parts=parts))


def end_moved(piece: Piece, edge: Edge, by: float, along: float, ends: tuple[float, float], *, at_end: bool) -> Piece:
    """The piece with the corner at an end of an edge moved outward, square to the edge there, and along the edge.

    Both edges that meet there go with it, less and less to nothing `ends` mm drawn from it, that of the edge first;
    what is straight stays straight. Errors: UsageError.
    """
    refuse_dart(piece, edge, at_end=at_end)
    other = neighbour(piece, edge, at_end=at_end)
    if other.uid == edge.uid:
        raise UsageError(f"{piece.name}.{edge.name} goes all round; split it at the corner first")
    own = edge.parts[-1 if at_end else 0]
    move = _move(piece, own, float(len(own)) if at_end else 0.0, by, along)
    made = piece
    for one, reach, end in ((edge, ends[0], at_end), (other, ends[1], not at_end)):
        part = end_part(one, at_end=end)
        size = length(part)
        if reach > size + 1e-6:
            raise UsageError(
                f"a dart stands on {piece.name}.{one.name} between the corner and the place; name a nearer one"
            )
        if reach < 1.0:
            raise UsageError(f"the place on {piece.name}.{one.name} lies in the corner itself; name one farther away")
        u = _onto_node(part, place_at(part, max(size - reach, 0.0)))
        tail = shifted(section(part, u, float(len(part))), move, rising=True, straight=True)
        new = chain([section(part, 0.0, u), tail], within=1e-6) if u > 0 else tail
        made = with_edge(made, with_end(one, ending_at(new, part.end + move), at_end=end))
    return made


def _move(piece: Piece, part: Curve, u: float, by: float, along: float) -> Array:
    """The move of a place on a part of an edge, (2,) mm."""
    way = tangent(part, u, before=u >= len(part))
    return np.asarray(by * across(piece, way) + along * way)


def _onto_node(part: Curve, u: float) -> float:
    """The place, or the node that it all but is."""
    node = round(u)
    near = abs(length_to(part, u) - length_to(part, node)) <= NODE
    return float(node) if near else u


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
    near, far = float(len(part)), place_at(part, 1.0)
    if abs(float(point(part, far) @ out) - start) < abs(by):
        raise GeometryError(f"{name} ends before the edge has moved so far; move it less")
    for _ in range(60):
        middle = (near + far) / 2
        now = float(point(part, middle) @ out) - start
        near, far = (middle, far) if abs(now) < abs(by) else (near, middle)
    return carried(part, length_to(part, near) - length(part), name)

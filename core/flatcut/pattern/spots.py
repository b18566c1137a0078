"""Where a written place lies on a pattern."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.errors import UsageError, unknown
from flatcut.geometry.arrays import Array
from flatcut.geometry.intersect import crossings
from flatcut.pattern.places import DART_PARTS, Place, parse_place
from flatcut.pattern.values import Dart, Edge, Line, NamedPoint, Pattern, Piece, Position, area
from flatcut.pattern.walking import drawn_length, drawn_of, point_at, sewn_at, sewn_length, to_drawn, to_sewn
from flatcut.pattern.walking import nearest_drawn as nearest_drawn
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A point of the drawing; on an edge also its uid, the sewn distance from its start (mm), and the unit tangent."""

    piece: str
    point: Array
    edge: str = ""
    sewn: float = 0.0
    tangent: Array | None = None


def find(pattern: Pattern, place: Place) -> tuple[Piece, Edge | Dart | Line | NamedPoint]:
    """The piece of a place and the edge, dart, line or point it names. Errors: UnknownNameError."""
    if place.chord or not place.name:
        raise UsageError(f"'{place}' does not name an edge, a dart, a line or a point; write PIECE.NAME")
    piece = pattern.piece(place.piece)
    for thing in piece.things():
        if thing.name == place.name:
            return piece, thing
    raise unknown(f"edge, dart, line or point of {piece.name}", place.name, piece.names())


def edge_of(pattern: Pattern, place: Place) -> tuple[Piece, Edge]:
    """The piece and the edge of a place. Errors: UsageError when it names something else."""
    piece, thing = find(pattern, place)
    if not isinstance(thing, Edge):
        raise unknown(f"edge of {piece.name}", place.name, [edge.name for edge in piece.edges])
    return piece, thing


def named_edge(piece: Piece, place: Place) -> Edge:
    """The edge of a piece that is written with or without the piece's name. Errors: UsageError, UnknownNameError."""
    if place.piece not in ("", piece.name) or not place.name or place.at is not None or place.other:
        raise UsageError(f"'{place}' is no edge of {piece.name}; write one, such as {piece.name}.{piece.edges[0].name}")
    return piece.edge(place.name)


def on_edge(piece: Piece, edge: Edge, sewn: float) -> Spot:
    """The spot at a sewn distance."""
    at, direction = point_at(edge, to_drawn(edge, sewn))
    return Spot(piece=piece.uid, point=at, edge=edge.uid, sewn=sewn, tangent=direction)


def spots(pattern: Pattern, place: Place | str) -> list[Spot]:
    """All spots of a place: one, or both feet of a cut-in dart. Errors: UsageError, UnknownNameError."""
    place = parse_place(place) if isinstance(place, str) else place
    if place.chord:
        return [_off_chord(pattern, place)]
    if place.to is not None:
        raise UsageError(f"'{place}' is a stretch; write one place")
    piece, thing = find(pattern, place)
    if isinstance(thing, NamedPoint):
        return [Spot(piece=piece.uid, point=thing.at)]
    if isinstance(thing, Dart):
        return [_of_dart(piece, thing, place.part, k) for k in _parts_of(thing, place)]
    if isinstance(thing, Line):
        raise UsageError(f"'{place}' is a line; write where on an edge it lies, such as {piece.name}.EDGE/{thing.name}")
    if place.other:
        return _at_corner(piece, thing, place)
    if place.at is None:
        raise UsageError(f"'{place}' is a whole edge; write where on it, such as {place}@1/2")
    return [on_edge(piece, thing, sewn_at(thing, place.at))]


def spot(pattern: Pattern, place: Place | str) -> Spot:
    """The one spot of a place; a dart's mouth counts as the middle of its feet."""
    found = spots(pattern, place)
    if len(found) == 1:
        return found[0]
    return Spot(piece=found[0].piece, point=np.mean([s.point for s in found], axis=0))


def chord_frame(p: Array, q: Array, *, mirrored: bool = False) -> tuple[Array, Array]:
    """The two axes of a chord: along it, and across it to the right of the walker, both as long as the chord.

    On a mirrored piece across is to the left, so that the same figures mean the same place on it.

    >>> chord_frame(np.array([0., 0.]), np.array([2., 0.]))[1]
    array([-0.,  2.])
    """
    along = q - p
    across = np.array([-along[1], along[0]])
    return along, -across if mirrored else across


def is_mirrored(piece: Piece) -> bool:
    """Whether a piece is the mirror image of how it was first drawn: its edges then run anticlockwise on the screen."""
    return area(piece) < 0


def _off_chord(pattern: Pattern, place: Place) -> Spot:
    p, q = (spot(pattern, end) for end in place.chord)
    along, across = chord_frame(p.point, q.point, mirrored=is_mirrored(pattern.piece_of(p.piece)))
    return Spot(piece=p.piece, point=p.point + place.u * along + place.v * across)


def _parts_of(dart: Dart, place: Place) -> list[int]:
    if place.part and place.part not in DART_PARTS:
        raise unknown(f"part of dart {dart.name}", place.part, DART_PARTS)
    valid = ("upper", "lower") if dart.double else ("point", "mouth", "foot-1", "foot-2")
    if dart.double and not place.part:
        raise UsageError(f"'{place}' has two points; write {place}.upper or {place}.lower")
    if place.part and place.part not in valid:
        raise UsageError(f"'{place}' is no place of this dart; it has {', '.join(valid)}")
    return {"point": [0], "upper": [0], "lower": [1], "foot-1": [0], "foot-2": [1]}.get(place.part, [0, 1])


def _of_dart(piece: Piece, dart: Dart, part: str, k: int) -> Spot:
    if part in ("point", "upper", "lower"):
        return Spot(piece=piece.uid, point=dart.points[k])
    if not dart.host:
        return Spot(piece=piece.uid, point=dart.feet[k])
    host = piece.edge_of(dart.host)
    if dart.form == "lines":
        return on_edge(piece, host, to_sewn(host, nearest_drawn(host, dart.feet[k])))
    corner = dart.after == len(host.parts) - 1
    if k == 1 and corner:
        return on_edge(piece, piece.after(host), 0.0)
    here = to_sewn(
        host, sum(drawn_of(host, i, len(host.parts[i])) - drawn_of(host, i, 0) for i in range(dart.after + 1))
    )
    found = on_edge(piece, host, here)
    return Spot(piece=found.piece, point=dart.feet[k], edge=found.edge, sewn=here, tangent=found.tangent)


def _at_corner(piece: Piece, edge: Edge, place: Place) -> list[Spot]:
    line = next((line for line in piece.lines if line.name == place.other), None)
    if line is not None:
        return [_on_line(piece, edge, line, place)]
    other = piece.edge(place.other)
    at_end = piece.after(edge).uid == other.uid
    if not at_end and piece.after(other).uid != edge.uid:
        near = [piece.after(edge).name, next(e.name for e in piece.edges if piece.after(e).uid == edge.uid)]
        raise UsageError(f"'{place}': {edge.name} and {other.name} do not meet; {edge.name} meets {' and '.join(near)}")
    total = sewn_length(edge)
    if place.at is not None:
        position = place.at
        away = position.value * total if position.mode == "fraction" else position.along(total)
        at = Position(mode="start", value=away)
        sewn = sewn_at(edge, at)
        return [on_edge(piece, edge, total - sewn if at_end else sewn)]
    first, second = (edge, other) if at_end else (other, edge)
    before = on_edge(piece, first, sewn_length(first))
    if piece.cut_in(first, len(first.parts) - 1) is None:
        return [before if at_end else on_edge(piece, second, 0.0)]
    return [before, on_edge(piece, second, 0.0)]


def _on_line(piece: Piece, edge: Edge, line: Line, place: Place) -> Spot:
    found = []
    for k, part in enumerate(edge.parts):
        found += [drawn_of(edge, k, c.u) for c in crossings(part, line.curve)]
    if not found:
        # a line that was drawn up to the edge may stop a hair short of it
        ends = [(nearest_drawn(edge, end), end) for end in (line.curve.start, line.curve.end)]
        found = [d for d, end in ends if np.hypot(*(point_at(edge, d)[0] - end)) < 0.1]
    if not found:
        raise UsageError(f"'{place}': line {line.name} does not reach {edge.name}; draw it to the edge")
    if len(found) > 1 and max(found) - min(found) > 0.1:
        where = ", ".join(plain(d) for d in sorted(found))
        raise UsageError(
            f"'{place}': line {line.name} crosses {edge.name} at {where} mm; write {piece.name}.{edge.name}@.."
        )
    total = drawn_length(edge)
    return on_edge(piece, edge, to_sewn(edge, min(max(found[0], 0.0), total)))

"""Where a written place lies on a pattern."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.errors import UsageError, unknown
from flatcut.geometry.arrays import Array
from flatcut.pattern.finding import as_edge, axis_meets, corner_distance, meets_at_end, parts_of, plain_place, reached
from flatcut.pattern.finding import edge_of as edge_of
from flatcut.pattern.finding import find as find
from flatcut.pattern.finding import named_edge as named_edge
from flatcut.pattern.mating import mates
from flatcut.pattern.places import DART_PARTS, Place, parse_place
from flatcut.pattern.values import Dart, Edge, Line, NamedPoint, Pattern, Piece, area
from flatcut.pattern.walking import SLACK, drawn_of, point_at, sewn_at, sewn_length, to_drawn, to_sewn
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


def on_edge(piece: Piece, edge: Edge, sewn: float) -> Spot:
    """The spot at a sewn distance."""
    at, direction = point_at(edge, to_drawn(edge, sewn))
    return Spot(piece=piece.uid, point=at, edge=edge.uid, sewn=sewn, tangent=direction)


def spots(pattern: Pattern, place: Place | str) -> list[Spot]:
    """All spots of a place: one, or both feet of a cut-in dart. Errors: UsageError, UnknownNameError."""
    place = parse_place(place) if isinstance(place, str) else place
    if len(place.chord) == 1:
        return _mates(pattern, place.chord[0])
    if place.chord:
        return [_off_chord(pattern, place)]
    if place.to is not None:
        raise UsageError(f"'{place}' is a stretch; write one place")
    place = plain_place(pattern, place)
    piece, thing = find(pattern, place)
    if place.part == "axis" and isinstance(thing, Dart):
        return [_on_axis(piece, thing, place)]
    if isinstance(thing, (NamedPoint, Dart)) and place.other:
        raise UsageError(f"'{place}': {thing.name} is no edge and no line, so it meets nothing; name an edge")
    if place.part and not isinstance(thing, Dart):
        raise UsageError(f"'{place}': {thing.name} is no dart, and only darts have a {place.part}; leave it out")
    if isinstance(thing, NamedPoint):
        return [Spot(piece=piece.uid, point=thing.at)]
    if isinstance(thing, Dart):
        return [_of_dart(piece, thing, place.part, k) for k in _parts_of(thing, place)]
    if isinstance(thing, Line):
        return [_inside_on(piece, thing, place)]
    if place.other:
        return _at_corner(piece, thing, place)
    if place.at is None:
        raise UsageError(f"'{place}' is a whole edge; write where on it, such as {place}@1/2")
    return [on_edge(piece, thing, sewn_at(thing, place.at))]


def _inside_on(piece: Piece, line: Line, place: Place) -> Spot:
    """A place on a line inside a piece, darts that it crosses closed."""
    host = as_edge(piece, *parts_of(piece, line))
    if place.other and place.at is None:
        at = reached(piece, host, place.other, place)
    elif place.at is None:
        raise UsageError(
            f"'{place}' is a line; write where on it, such as {place}@1/2, or which edge it meets, such as "
            f"{piece.name}.{piece.edges[0].name}/{line.name}"
        )
    else:
        at = sewn_at(host, place.at)
    where, direction = point_at(host, to_drawn(host, at))
    return Spot(piece=piece.uid, point=where, tangent=direction)


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
    if place.part and place.part == dart.half:
        return [0]
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
    """Where an edge meets another or a line, and places counted from its corner."""
    if place.at is not None:
        return [on_edge(piece, edge, corner_distance(piece, edge, place, place.at))]
    other = next((other for other in piece.edges if other.name == place.other), None)
    if other is None:
        return [on_edge(piece, edge, reached(piece, edge, place.other, place))]
    at_end = meets_at_end(piece, edge, other, place)
    first, second = (edge, other) if at_end else (other, edge)
    before = on_edge(piece, first, sewn_length(first))
    if piece.cut_in(first, len(first.parts) - 1) is None:
        return [before if at_end else on_edge(piece, second, 0.0)]
    return [before, on_edge(piece, second, 0.0)]


def _mates(pattern: Pattern, place: Place) -> list[Spot]:
    found = []
    for here in spots(pattern, place):
        if not here.edge:
            raise UsageError(f"mate({place}) wants a place on an edge; '{place}' lies inside the piece")
        found += [on_edge(mate.piece, mate.edge, mate.sewn) for mate in mates(pattern, here.edge, here.sewn)]
    if not found:
        raise UsageError(f"'{place}' is sewn to nothing, so it has no mate; state the seam first")
    return found


def _on_axis(piece: Piece, dart: Dart, place: Place) -> Spot:
    """A place on the axis of a dart: from its point to the middle of its mouth, from the upper to the lower one.

    Of what the axis meets it is that nearest to the point, where the axis runs on both ways too.
    """
    start = dart.points[0]
    along = (dart.points[1] if dart.double else dart.feet.mean(axis=0)) - start
    size = float(np.hypot(*along))
    if place.other and place.at is not None:
        raise UsageError(f"'{place}' is told in two ways; write how far from the point, or what the axis meets")
    if place.other:
        return Spot(piece=piece.uid, point=axis_meets(piece, start, along / size, place))
    if place.at is None:
        raise UsageError(
            f"'{place}' is a whole axis; write how far from the point, such as {place}@5cm, or what it meets, such as "
            f"{place}/LINE"
        )
    at = place.at.along(size)
    if not -SLACK <= at <= size + SLACK:
        raise UsageError(f"'{place}' lies beyond the axis of {piece.name}.{dart.name}, which is {plain(size)} mm long")
    return Spot(piece=piece.uid, point=start + at / size * along)

"""What a written place names on a pattern, and how far along an edge or a line it lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.errors import UsageError, unknown
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line as straight
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length_to
from flatcut.geometry.nearest import nearest
from flatcut.pattern.places import Place, Reckoned
from flatcut.pattern.values import Dart, Edge, Line, NamedPoint, Pattern, Piece, Position, TakeUp
from flatcut.pattern.walking import (
    SLACK,
    drawn_length,
    drawn_of,
    nearest_drawn,
    point_at,
    sewn_at,
    sewn_length,
    to_sewn,
)
from flatcut.units import plain

FAR = 1e4
"""mm: longer than any piece."""
HAIR = 0.1
"""mm: a line that was drawn up to an edge may stop so far short of it, and a point so near to it lies on it."""


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


def parts_of(piece: Piece, line: Line) -> tuple[Line, ...]:
    """All parts of an internal line, in order: where a dart or a slash lies open over it, it is in several."""
    return tuple(other for other in piece.lines if other.name == line.name)


def unbroken(piece: Piece, line: Line) -> Line:
    """The line where it is in one part. Errors: UsageError where it is not."""
    count = len(parts_of(piece, line))
    if count > 1:
        raise UsageError(
            f"{piece.name}.{line.name} is in {count} parts, as the piece lies open over it, and a line in one part is "
            "wanted; close what lies open there, or draw another line"
        )
    return line


def as_edge(piece: Piece, *parts: Line) -> Edge:
    """An internal line, or the parts of one, with the manners of an edge, for walking; darts that it crosses are
    closed, and so is what lies open between its parts."""
    takeups = []
    for dart in piece.darts:
        before = 0.0
        places: list[float] = []
        for part in parts:
            met = [c for leg in dart.legs for c in crossings(part.curve, leg)]
            places += [before + length_to(part.curve, c.u) for c in met]
            before += length_to(part.curve, float(len(part.curve)))
        if len(places) > 1 and max(places) - min(places) > SLACK:
            start, end = min(places), max(places)
            takeups.append(TakeUp(uid=dart.uid, kind="dart", start=start, end=end, amount=end - start))
    first = parts[0]
    return Edge(uid=first.uid, name=first.name, parts=tuple(part.curve for part in parts), takeups=tuple(takeups))


def plain_place(pattern: Pattern, place: Place) -> Place:
    """The same place with every length in mm: a stretch from a corner, or a way toward an end, as mm from the start.

    Errors: UsageError, UnknownNameError.
    """
    if place.chord or not place.name:
        return place
    at, to = (p.on(pattern) if isinstance(p, Reckoned) else p for p in (place.at, place.to))
    if at is not place.at or to is not place.to:
        place = replace(place, at=at, to=to)
    if at is None:
        return place
    piece, thing = find(pattern, place)
    if isinstance(thing, NamedPoint) or (isinstance(thing, Dart) and place.part != "axis"):
        raise UsageError(f"'{place}' counts from nothing that has a length; name an edge or a line, or leave the @ out")
    if not place.other or isinstance(thing, Dart):
        return place
    edges = {edge.name for edge in piece.edges}
    if isinstance(thing, Edge) and place.other in edges and to is None and not place.toward:
        return place
    host = as_edge(piece, *parts_of(piece, thing)) if isinstance(thing, Line) else thing
    ends = [corner_distance(piece, host, place, position) for position in (at, to) if position is not None]
    first, *second = (Position(mode="start", value=end) for end in sorted(ends))
    return replace(place, other="", toward="", at=first, to=second[0] if second else None)


def corner_distance(piece: Piece, host: Edge, place: Place, position: Position) -> float:
    """Sewn mm from the start of an edge, or of a line as one, of a position that is counted from what it meets.

    Errors: UsageError when it is not told toward which end, or the place lies beyond that.
    """
    total = sewn_length(host)
    start = reached(piece, host, place.other, place)
    ends_there = [start <= HAIR, total - start <= HAIR]
    if place.toward:
        end = reached(piece, host, place.toward, place)
        if abs(end - start) <= HAIR:
            raise UsageError(f"'{place}': {place.other} and {place.toward} meet {host.name} at one place; name another")
    elif any(ends_there):
        end = total if ends_there[0] else 0.0
    else:
        known = [edge.name for edge in piece.edges if edge.uid != host.uid and _beside(piece, host, edge)]
        told = f":{known[0]}" if known else ":EDGE"
        raise UsageError(
            f"'{place}' does not say which way from {place.other}; write toward which end, such as "
            f"{piece.name}.{host.name}/{place.other}@{_shown(place)}{told}"
        )
    if position.mode == "end":
        raise UsageError(f"'{place}' counts back from {place.other}; write a length without a minus, and the other end")
    away = position.value * abs(end - start) if position.mode == "fraction" else position.value
    return sewn_at(host, Position(mode="start", value=start + np.sign(end - start) * away))


def _shown(place: Place) -> str:
    return str(replace(place, toward="", to=None)).rpartition("@")[2]


def _beside(piece: Piece, host: Edge, edge: Edge) -> bool:
    return any(edge.uid == host.uid for edge in piece.edges) and (
        piece.after(host).uid == edge.uid or piece.after(edge).uid == host.uid
    )


def meets_at_end(piece: Piece, edge: Edge, other: Edge, place: Place) -> bool:
    """Whether an edge meets another at its end, and not at its start. Errors: UsageError when they do not meet."""
    at_end = piece.after(edge).uid == other.uid
    if not at_end and piece.after(other).uid != edge.uid:
        near = [piece.after(edge).name, next(e.name for e in piece.edges if piece.after(e).uid == edge.uid)]
        raise UsageError(f"'{place}': {edge.name} and {other.name} do not meet; {edge.name} meets {' and '.join(near)}")
    return at_end


def reached(piece: Piece, host: Edge, name: str, place: Place) -> float:
    """Sewn mm from the start of an edge, or of a line as one, to where something of that name meets it.

    Errors: UsageError when it does not, or does so more than once; UnknownNameError.
    """
    thing = next((thing for thing in piece.things() if thing.name == name), None)
    inside = all(edge.uid != host.uid for edge in piece.edges)
    if isinstance(thing, Edge) and not inside:
        return sewn_length(host) if meets_at_end(piece, host, thing, place) else 0.0
    if isinstance(thing, (Line, Edge)):
        return to_sewn(host, _crossing(piece, host, thing, place, inside=inside))
    if isinstance(thing, NamedPoint):
        drawn = nearest_drawn(host, thing.at)
        away = float(np.hypot(*(point_at(host, drawn)[0] - thing.at)))
        if away > HAIR:
            raise UsageError(f"'{place}': {name} lies {plain(away)} mm off {host.name}; name a point that lies on it")
        return to_sewn(host, drawn)
    if isinstance(thing, Dart) and thing.host == host.uid:
        return float(np.mean([to_sewn(host, nearest_drawn(host, foot)) for foot in thing.feet]))
    if thing is not None:
        raise UsageError(f"'{place}': {name} does not lie on {host.name}; name what meets it")
    raise unknown(f"edge, line or point of {piece.name}", name, piece.names())


def _crossing(piece: Piece, host: Edge, other: Line | Edge, place: Place, *, inside: bool) -> float:
    """Drawn mm along a host where a line or an edge crosses it; one that stops a hair short reaches it."""
    curves = [part.curve for part in parts_of(piece, other)] if isinstance(other, Line) else list(other.parts)
    found = []
    for k, part in enumerate(host.parts):
        found += [drawn_of(host, k, c.u) for curve in curves for c in crossings(part, curve)]
    if not found:
        ends = [(nearest_drawn(host, end), end) for curve in curves for end in (curve.start, curve.end)]
        found = [d for d, end in ends if np.hypot(*(point_at(host, d)[0] - end)) < HAIR]
    if not found and inside:
        ends_of = [(0.0, host.start), (drawn_length(host), host.end)]
        found = [d for d, end in ends_of if min(float(nearest(curve, end)[1]) for curve in curves) < HAIR]
    line, edge = (host.name, other.name) if inside else (other.name, host.name)
    if not found:
        raise UsageError(f"'{place}': line {line} does not reach {edge}; draw it to the edge")
    if max(found) - min(found) > HAIR:
        where = ", ".join(plain(d) for d in sorted(found))
        raise UsageError(f"'{place}': line {line} crosses {edge} at {where} mm; write {piece.name}.{host.name}@..")
    return min(max(found[0], 0.0), drawn_length(host))


def axis_meets(piece: Piece, start: Array, way: Array, place: Place) -> Array:
    """Where a straight line through a place (2,) in a direction (2,) meets the line or edge that a place names.

    The meeting nearest to the place counts. Errors: UsageError where it does not, UnknownNameError.
    """
    thing = next((thing for thing in piece.things() if thing.name == place.other), None)
    if not isinstance(thing, (Line, Edge)):
        raise unknown(
            f"edge or line of {piece.name}",
            place.other,
            [*(e.name for e in piece.edges), *(item.name for item in piece.lines)],
        )
    curves = [part.curve for part in parts_of(piece, thing)] if isinstance(thing, Line) else list(thing.parts)
    ray = straight(start - FAR * way, start + FAR * way)
    met = [c.point for curve in curves for c in crossings(ray, curve)]
    if not met:
        raise UsageError(f"'{place}': the axis does not meet {place.other}; name another line")
    return np.asarray(min(met, key=lambda at: float(np.hypot(*(at - start)))))

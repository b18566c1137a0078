"""What the references of the dart operations mean on a pattern."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.pivoting import Target, target_at
from flatcut.errors import Option, UsageError, unknown
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, reverse, section
from flatcut.geometry.length import length, length_to
from flatcut.geometry.nearest import nearest_place
from flatcut.geometry.welding import starting_at
from flatcut.pattern.finding import unbroken
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, nearest_drawn, spots
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece, checked_name
from flatcut.pattern.walking import point_at, to_drawn
from flatcut.reshape.change import Change, applied
from flatcut.reshape.ways import Way, Ways
from flatcut.units import plain

MEET = 0.1
"""mm: a line that passes a place so near comes to it, the width of a pencil line."""


def one_dart(pattern: Pattern, target: Sequence[Place]) -> tuple[Piece, Dart]:
    """The piece and the dart of a target that is one dart. Errors: UsageError, UnknownNameError."""
    if len(target) != 1:
        raise UsageError(f"one dart is wanted, and {len(target)} are given: {', '.join(map(str, target))}")
    piece, thing = find(pattern, target[0])
    if not isinstance(thing, Dart):
        raise unknown(f"dart of {piece.name}", thing.name, [dart.name for dart in piece.darts])
    return piece, thing


def target_of(pattern: Pattern, piece: Piece, place: Place) -> tuple[Target, Pattern]:
    """The target that a written place means, and the pattern with a dart that is drawn there cut in.

    Errors: UsageError when the place lies on another piece or on no edge.
    """
    if place.piece and place.piece != piece.name:
        raise UsageError(f"'{place}' lies on another piece; a dart stays on its piece, {piece.name}")
    if place.name:
        _, thing = find(pattern, place)
        if isinstance(thing, Dart):
            pattern, _, dart = as_cut(pattern, piece, thing)
            return Target(dart=dart.uid), pattern
    found = spots(pattern, place)
    if len(found) == 2:
        corner = next(d for d in piece.darts if d.form == "cut" and d.host and _stands(piece, d, found[0].edge))
        return Target(dart=corner.uid), pattern
    if not found[0].edge:
        raise UsageError(f"'{place}' lies on no edge; write a place on an edge, such as {piece.name}.EDGE@1/2")
    edge = piece.edge_of(found[0].edge)
    return target_at(piece, edge, to_drawn(edge, found[0].sewn)), pattern


def along_line(pattern: Pattern, piece: Piece, dart: Dart, place: Place, to: Place | None) -> tuple[Target, Pattern]:
    """The target at the end of a line along which a dart opens, and the pattern without what of the line is used up.

    The line runs from the dart's point, or over it, to an edge; `to` tells which of its ends is meant where both lie on
    edges. What of it lies beyond the point stays. Errors: UsageError.
    """
    home, thing = find(pattern, place)
    if not isinstance(thing, Line) or home.uid != piece.uid:
        raise UsageError(f"'{place}' is no line of {piece.name}; name one from the dart's point to an edge")
    thing = unbroken(piece, thing)
    name, curve, apex = f"{piece.name}.{thing.name}", thing.curve, dart.points[0]
    u, away = nearest_place(curve, apex)
    if away > MEET:
        raise UsageError(
            f"{name} passes the point of {piece.name}.{dart.name} {plain(away)} mm off, and the dart opens along it; "
            f"bring the point there with: back-off {piece.name}.{dart.name} --to=PLACE"
        )
    ways = [section(curve, u, float(len(curve)))] if u < len(curve) - 1e-6 else []
    ways += [reverse(section(curve, 0.0, u))] if u > 1e-6 else []
    ends = [(way, *_on_edge(piece, way.end)) for way in ways]
    ends = [one for one in ends if one[3] <= MEET]
    if to is not None:
        at = spots(pattern, to)[0].point
        ends = [one for one in ends if float(np.hypot(*(one[0].end - at))) <= MEET]
    if not ends:
        where = "an edge" if to is None else str(to)
        raise UsageError(f"{name} does not lead from the point of {piece.name}.{dart.name} to {where}; draw it there")
    if len(ends) > 1:
        raise UsageError(f"{name} leads to edges both ways; say to which with ", Option("to"))
    way, edge, drawn, _ = ends[0]
    rest = [replace(thing, curve=other if other is ways[0] else reverse(other)) for other in ways if other is not way]
    lines = tuple(new for item in piece.lines for new in (rest if item.uid == thing.uid else [item]))
    gone: dict[str, Ways] = {thing.uid: ()}
    if rest:
        gone = {thing.uid: (Way(*_stretch(curve, u, first=way is ways[0]), thing.uid, 0.0, length(rest[0].curve)),)}
    pattern, _ = applied(pattern, Change(pieces=(replace(piece, lines=lines),), ways=gone))
    target = target_at(piece, edge, drawn)
    return replace(target, slash=starting_at(way, apex)), pattern


def _stretch(curve: Curve, u: float, *, first: bool) -> tuple[float, float]:
    """mm of a line that stay when the part after place u, or the one before it, is used up."""
    return (0.0, length_to(curve, u)) if first else (length_to(curve, u), length(curve))


def _on_edge(piece: Piece, at: Array) -> tuple[Edge, float, float]:
    """The edge nearest to a place, where on it that is, mm drawn, and how far off."""
    found = []
    for k, edge in enumerate(piece.edges):
        drawn = nearest_drawn(edge, at)
        found.append((float(np.hypot(*(point_at(edge, drawn)[0] - at))), k, drawn))
    away, k, drawn = min(found)
    return piece.edges[k], drawn, away


def _stands(piece: Piece, dart: Dart, edge: str) -> bool:
    """Whether a cut-in dart stands in the corner at the end of an edge (a uid)."""
    return dart.host == edge and dart.after == len(piece.edge_of(edge).parts) - 1


def free_for_dart(piece: Piece, name: str, *, of: str = "") -> str:
    """`name` when a dart may be called so; `of`: the name that the dart has now. Errors: UsageError."""
    checked_name(name, kind="dart's name")
    if name != of and name in piece.names():
        raise UsageError(f"{piece.name} has a '{name}' already; give another name")
    return name

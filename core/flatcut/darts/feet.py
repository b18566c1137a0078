"""Darts whose point or feet are moved: the edges beside them are drawn on to where the feet go."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.darts.darting import dart_of
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import flatten
from flatcut.geometry.length import length
from flatcut.geometry.region import contains
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.marking.pressed import beside
from flatcut.pattern.values import Dart, Piece
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import cycle, rebuilt
from flatcut.reshape.ways import Ways, kept_ends
from flatcut.units import plain

MOST = 2.0
"""mm that a foot moves along its leg when a point is put beside the axis from which it is told: the edge changes."""
EVEN = 1e-3
"""mm: legs that differ by less are equal."""


def evened(piece: Piece, dart: Dart) -> tuple[Change, float]:
    """Both legs of a cut-in dart made as long as their mean, and how far each foot moved, mm."""
    apex = dart.points[0]
    first, second = (length(leg) for leg in dart.legs)
    mean = (first + second) / 2
    feet = [apex + mean * unit(foot - apex) for foot in dart.feet]
    return with_feet(piece, dart, (feet[0], feet[1])), abs(first - second) / 2


def with_feet(piece: Piece, dart: Dart, feet: tuple[Array, Array]) -> Change:
    """The feet of a cut-in dart put elsewhere, the ends of the edges drawn on to them."""
    before, _, after, _ = beside(piece, dart)
    items = cycle(piece)
    one = next(k for k, item in enumerate(items) if item.of == dart.uid)
    count = len(items)
    last, first = (one - 1) % count, (one + 2) % count
    assert items[last].of == before.uid
    assert items[first].of == after.uid
    items[last] = replace(items[last], curve=ending_at(items[last].curve, feet[0]))
    items[one] = replace(items[one], curve=starting_at(items[one].curve, feet[0]))
    items[one + 1] = replace(items[one + 1], curve=ending_at(items[one + 1].curve, feet[1]))
    items[first] = replace(items[first], curve=starting_at(items[first].curve, feet[1]))
    made = rebuilt(piece, items, {d.uid: d for d in piece.darts})
    return Change(pieces=(made,), ways=ways_beside(piece, made, dart_of(made, dart.uid)))


def ways_beside(before: Piece, after: Piece, dart: Dart) -> dict[str, Ways]:
    """What became of the edges beside a cut-in dart of `after` that were drawn on, or cut back, to its feet.

    What lies on the far side of a foot stays as far from the other end of its edge.
    """
    host = after.edge_of(dart.host)
    old = before.edge_of(host.uid)
    if dart.after < len(host.parts) - 1:
        first = [sum(length(part) for part in edge.parts[: dart.after + 1]) for edge in (old, host)]
        total, now = drawn_length(old), drawn_length(host)
        last = min(total - first[0], now - first[1])
        return {host.uid: kept_ends(host.uid, total, now, min(first), last)}
    following = after.after(host)
    found = {}
    for edge, ends in ((host, True), (following, False)):
        total, now = drawn_length(before.edge_of(edge.uid)), drawn_length(edge)
        found[edge.uid] = kept_ends(edge.uid, total, now, now if ends else 0.0, 0.0 if ends else now)
    return found


def pointed_at(piece: Piece, dart: Dart, end: int, at: Array) -> tuple[Change, float]:
    """A point of a dart put elsewhere, and how far each foot moved along its leg to keep the legs equal, mm.

    end: 0, or 1 for the lower point of a double-pointed dart, whose feet stay where they are.
    Errors: GeometryError off the piece, UsageError beside the axis of a dart that is drawn inside.
    """
    if not contains(_ring(piece), at[None])[0]:
        raise GeometryError(f"the point of {piece.name}.{dart.name} would leave the piece; move it less")
    first, second = dart.legs
    if end == 0 and dart.double:
        legs = starting_at(first, at), ending_at(second, at)
    else:
        legs = ending_at(first, at), starting_at(second, at)
    moved = replace(dart, legs=legs)
    if dart.double:
        return Change(pieces=(_replaced(piece, moved),)), 0.0
    lengths = [length(leg) for leg in legs]
    uneven = abs(lengths[0] - lengths[1])
    was = abs(length(first) - length(second))
    if uneven <= max(EVEN, was + EVEN):
        return Change(pieces=(_replaced(piece, moved),)), 0.0
    if dart.form == "lines":
        raise UsageError(
            f"that place lies beside the axis of {piece.name}.{dart.name}, and the legs of a dart that is drawn inside "
            f"would differ by {plain(uneven)} mm; cut it in first with: dart {piece.name}.{dart.name} --form=cut"
        )
    return evened(_replaced(piece, moved), moved)


def _ring(piece: Piece) -> Array:
    """The outline as points, with the mouths of darts closed by straight lines: several darts may share a point."""
    return np.concatenate([flatten(part, tolerance=0.05) for edge in piece.edges for part in edge.parts])


def _replaced(piece: Piece, dart: Dart) -> Piece:
    return replace(piece, darts=tuple(dart if d.uid == dart.uid else d for d in piece.darts))

"""Darts whose feet are moved: the edges beside them are drawn on to where the feet go."""

from __future__ import annotations

from dataclasses import replace

from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.length import length
from flatcut.pattern.cycle import cycle, ending_at, rebuilt, starting_at
from flatcut.pattern.darting import beside
from flatcut.pattern.values import Dart, Piece


def evened(piece: Piece, dart: Dart) -> tuple[Piece, float]:
    """The piece with both legs of a cut-in dart as long as their mean, and how far each foot moved, mm."""
    apex = dart.points[0]
    first, second = (length(leg) for leg in dart.legs)
    mean = (first + second) / 2
    feet = [apex + mean * unit(foot - apex) for foot in dart.feet]
    return with_feet(piece, dart, (feet[0], feet[1])), abs(first - second) / 2


def with_feet(piece: Piece, dart: Dart, feet: tuple[Array, Array]) -> Piece:
    """The piece with the feet of a cut-in dart elsewhere, the ends of the edges drawn on to them."""
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
    return rebuilt(piece, items, {d.uid: d for d in piece.darts})

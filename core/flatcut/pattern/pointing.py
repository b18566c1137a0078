"""Where to point when a written reference is spoken of: a place for a mark or for a look."""

from __future__ import annotations

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, chain, point
from flatcut.pattern.finding import plain_place
from flatcut.pattern.places import Place, parse_place, split_outside
from flatcut.pattern.spots import find, on_edge, spot
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece, outline
from flatcut.pattern.walking import sewn_at, sewn_length


def pointed(pattern: Pattern, text: str) -> list[tuple[str, Array]]:
    """Name of the piece and point (2,) for every part of a reference: the middle of an edge, stretch, line or piece.

    A part that stands on no piece any more gives nothing.

    >>> pointed(Pattern(), "front.side")
    []
    """
    found = []
    for part in split_outside(text, "+"):
        try:
            found.append(_pointed(pattern, parse_place(part.strip().removeprefix("-"))))
        except UsageError:
            continue
    return found


def _pointed(pattern: Pattern, place: Place) -> tuple[str, Array]:
    if not place.name and not place.chord:
        piece = pattern.piece(place.piece)
        return piece.name, middle(piece)
    if place.chord:
        found = spot(pattern, place)
        return pattern.piece_of(found.piece).name, found.point
    place = plain_place(pattern, place)
    piece, thing = find(pattern, place)
    if isinstance(thing, Edge) and not place.other and (place.at is None or place.to is not None):
        start = 0.0 if place.at is None else sewn_at(thing, place.at)
        end = sewn_length(thing) if place.to is None else sewn_at(thing, place.to)
        return piece.name, on_edge(piece, thing, (start + end) / 2).point
    if isinstance(thing, Dart) and not place.part:
        return piece.name, thing.points.mean(axis=0)
    if isinstance(thing, Line) and place.at is None and not place.other:
        return piece.name, point(thing.curve, len(thing.curve) / 2)
    return piece.name, spot(pattern, place).point


def middle(piece: Piece) -> Array:
    """The middle of the box round a piece, (2,)."""
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-6))
    return np.array([(x0 + x1) / 2, (y0 + y1) / 2])

"""A piece that is opened along lines, one after the other, with where every place along its edges has gone so far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from flatcut.fullness.spreading import Opening, Spread
from flatcut.geometry.arrays import Array
from flatcut.pattern.values import Edge, Piece
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.cycle import with_edge
from flatcut.reshape.takeups import carried_takeups
from flatcut.reshape.ways import Moved, Ways, composed

_NOTHING: Mapping[str, Moved] = MappingProxyType({})
_UNBROKEN: Mapping[str, Ways] = MappingProxyType({})


class Opened(NamedTuple):
    """An opening where it stands now: from where to where, mm of the drawn edge."""

    opening: Opening
    start: float
    end: float


@dataclass(frozen=True, kw_only=True)
class Grown:
    """piece: as it is drawn by now, its take-ups where they belong; before: as it was.

    moved: by uid of an edge that was opened where its places are; lines: what became of lines inside; openings: in the
    order in which they were made.
    """

    piece: Piece
    before: Piece
    moved: Mapping[str, Moved] = field(default_factory=lambda: _NOTHING)
    lines: Mapping[str, Ways] = field(default_factory=lambda: _UNBROKEN)
    openings: tuple[Opened, ...] = ()

    def opened_by(self, done: Spread) -> Grown:
        """The same after one line more was opened."""
        moved, openings = dict(self.moved), list(self.openings)
        by: dict[str, float] = {}
        for opening in sorted(done.openings, key=lambda o: (o.edge, o.start)):
            shift = by.get(opening.edge, 0.0)
            start, end = opening.start + shift, opening.end + shift
            way = moved.get(opening.edge) or Moved.identity(drawn_length(self.before.edge_of(opening.edge)))
            moved[opening.edge] = way.opened(start, end, opening.width)
            more = opening.width - (end - start)
            openings = [
                o._replace(start=o.start + more, end=o.end + more)
                if o.opening.edge == opening.edge and o.start >= end - 1e-6
                else o
                for o in openings
            ]
            openings.append(Opened(opening, start, start + opening.width))
            by[opening.edge] = shift + more
        lines = composed(self.lines, done.broken)
        return replace(self, moved=moved, lines=lines, openings=tuple(openings)).drawn(done.piece)

    def drawn(self, piece: Piece) -> Grown:
        """The same with the piece drawn so, and its take-ups where they belong."""
        ways = {uid: way.ways(uid) for uid, way in self.moved.items()}
        old = {uid: self.before.edge_of(uid) for uid in ways}
        edges = tuple(
            replace(edge, takeups=carried_takeups(edge, old, {edge.uid: ways[edge.uid]})) if edge.uid in ways else edge
            for edge in piece.edges
        )
        return replace(self, piece=replace(piece, edges=edges))

    def redrawn(self, edge: Edge, places: Array, become: Array) -> Grown:
        """The same with an edge drawn anew: its `places`, mm, are at `become` now, straight between them."""
        openings = tuple(
            o._replace(start=float(np.interp(o.start, places, become)), end=float(np.interp(o.end, places, become)))
            if o.opening.edge == edge.uid
            else o
            for o in self.openings
        )
        moved = {**self.moved, edge.uid: self.moved[edge.uid].then(places, become)}
        return replace(self, moved=moved, openings=openings).drawn(with_edge(self.piece, edge))

    def standing(self, number: int, start: float, end: float) -> Grown:
        """The same with one of the openings from `start` to `end`, mm of its edge."""
        openings = list(self.openings)
        openings[number] = openings[number]._replace(start=start, end=end)
        return replace(self, openings=tuple(openings))

    def ways(self) -> dict[str, Ways]:
        """What became of each edge that was opened and each line that was broken."""
        return {**self.lines, **{uid: way.ways(uid) for uid, way in self.moved.items()}}

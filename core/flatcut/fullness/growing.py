"""What stands on an edge by its length, once the edge has grown or shrunk at some places.

Take-ups go with the cloth. Places that are kept along the sewn line (notches, allowances, ends of runs) do so too, but
for fullness that is taken up again: to the seam nothing has changed there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from flatcut.darts.dart_forms import ALIKE
from flatcut.fullness.spreading import Opening
from flatcut.geometry.arrays import Array
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Edge, Pattern, Piece, Position, RunPart, Seam, TakeUp
from flatcut.pattern.walking import drawn_length, sewn_length, to_drawn, to_sewn

LEAST = 0.01
"""mm: less fullness than this is none."""

Spans: TypeAlias = Sequence[tuple[float, float]]
"""Stretches of a drawn edge, from and to in mm."""


@dataclass(frozen=True)
class Carried:
    """From mm of an edge as it was drawn to mm as it is drawn now: straight lines between knots, both ascending.

    >>> cut = Carried.identity(100.0).opened(40.0, 40.0, 15.0)
    >>> cut(30.0), cut(40.0), cut(40.0, after=True), cut(50.0)
    (30.0, 40.0, 55.0, 65.0)
    """

    old: Array
    new: Array

    @staticmethod
    def identity(total: float) -> Carried:
        """Nothing has changed on an edge `total` mm long."""
        return Carried(np.array([0.0, total]), np.array([0.0, total]))

    def __call__(self, at: float, *, after: bool = False) -> float:
        """Where a place is now; at one that was opened before the opening, or `after` it."""
        if after:
            return float(np.interp(at, self.old, self.new))
        # of several knots at one place the last counts, so the first is found from the other side
        return float(np.interp(-at, -self.old[::-1], self.new[::-1]))

    def was(self, now: float) -> float:
        """Where a place was; inside an opening that is one place for all."""
        return float(np.interp(now, self.new, self.old))

    def opened(self, start: float, end: float, width: float) -> Carried:
        """The same, and then `width` mm put in place of what lies from `start` to `end` now."""
        by = width - (end - start)
        below, above = self.new <= start, self.new >= end
        if start == end:
            above = above & ~below
        old = [*self.old[below], self.was(start), self.was(end), *self.old[above]]
        new = [*self.new[below], start, start + width, *(self.new[above] + by)]
        return Carried(np.array(old), np.array(new))

    def then(self, places: Array, become: Array) -> Carried:
        """The same, and then places of now moved along the edge to `become`, straight between them."""
        more = np.array([p for p in places if not np.isclose(p, self.new, rtol=0, atol=1e-9).any()])
        new = np.concatenate([self.new, more])
        old = np.concatenate([self.old, [self.was(float(p)) for p in more]])
        order = np.argsort(new, kind="stable")
        return Carried(old[order], np.interp(new[order], places, become))


def with_openings(piece: Piece, before: Piece, openings: Iterable[Opening]) -> tuple[Piece, dict[str, Carried]]:
    """The piece with its take-ups where they belong, and how each edge that was opened has changed.

    piece: with the outline opened; before: as it was.
    """
    ways: dict[str, Carried] = {}
    for opening in sorted(openings, key=lambda o: (o.edge, o.start)):
        way = ways.get(opening.edge) or Carried.identity(drawn_length(before.edge_of(opening.edge)))
        start, end = way(opening.start), way(opening.end, after=opening.end > opening.start)
        ways[opening.edge] = way.opened(start, end, opening.width)
    return with_takeups(piece, before, ways), ways


def with_takeups(piece: Piece, before: Piece, ways: dict[str, Carried]) -> Piece:
    """The piece with the take-ups of its edges moved along; one whose cloth was cut out takes up less, or is gone."""
    edges = []
    for edge in piece.edges:
        way = ways.get(edge.uid)
        if way is not None:
            kept = [_moved(takeup, way) for takeup in before.edge_of(edge.uid).takeups]
            edge = replace(edge, takeups=tuple(t for t in kept if t.amount > LEAST))
        edges.append(edge)
    return replace(piece, edges=tuple(edges))


def _moved(takeup: TakeUp, way: Carried) -> TakeUp:
    start, end = way(takeup.start, after=True), way(takeup.end)
    lost = max(0.0, (takeup.end - takeup.start) - (end - start))
    return replace(takeup, start=start, end=max(start, end), amount=takeup.amount - lost)


def with_mouths(piece: Piece, names: Iterable[str]) -> Piece:
    """The piece with the take-ups of darts that are drawn inside put to their feet, where an edge was redrawn.

    names: uids of the edges.
    """
    changed = set(names)
    for dart in piece.darts:
        if dart.form != "lines" or dart.double or dart.host not in changed:
            continue
        edge = piece.edge_of(dart.host)
        start, end = sorted(nearest_drawn(edge, foot) for foot in dart.feet)
        takeups = tuple(
            replace(t, start=start, end=end, amount=end - start)
            if t.kind == "dart" and abs(t.start - start) + abs(t.end - end) < 40 * ALIKE
            else t
            for t in edge.takeups
        )
        piece = replace(
            piece, edges=tuple(replace(e, takeups=takeups) if e.uid == edge.uid else e for e in piece.edges)
        )
    return piece


def sewn_ways(
    before: Piece, grown: Piece, after: Piece, ways: dict[str, Carried], taken: Mapping[str, Spans]
) -> dict[str, Callable[[Position], Position]]:
    """By edge how a place that is kept along the sewn line is written now.

    grown: with the openings, but nothing taken up yet; after: as it is in the end; taken: by edge from where to where
    (mm drawn now) what was opened is taken up again.
    """
    return {
        uid: _sewn_way(before.edge_of(uid), grown.edge_of(uid), after.edge_of(uid), way, taken.get(uid, ()))
        for uid, way in ways.items()
    }


def _sewn_way(old: Edge, grown: Edge, new: Edge, way: Carried, taken: Spans) -> Callable[[Position], Position]:
    folded = tuple(TakeUp(uid="", kind="pleat", start=a, end=b, amount=b - a) for a, b in taken)
    flat = replace(grown, takeups=(*(rest for t in grown.takeups for rest in _beside(t, taken)), *folded))
    was, now, total = sewn_length(old), sewn_length(flat), sewn_length(new)

    def moved(position: Position) -> Position:
        at = min(max(position.along(was), 0.0), was)
        sewn = to_sewn(flat, way(to_drawn(old, at))) * (total / now if now > 0 else 1.0)
        if at >= was:
            sewn = total  # the end of an edge stays its end, whatever was opened beside it
        return replace(position, value={"start": sewn, "end": total - sewn}.get(position.mode, sewn / total))

    return moved


def _beside(takeup: TakeUp, taken: Spans) -> list[TakeUp]:
    """What of a take-up lies beside the stretches that are folded flat, with its amount on what is left."""
    parts = [(takeup.start, takeup.end)]
    for a, b in taken:
        parts = [
            (low, high)
            for start, end in parts
            for low, high in ((start, min(end, a)), (max(start, b), end))
            if high > low
        ]
    left = sum(high - low for low, high in parts)
    return [replace(takeup, start=a, end=b, amount=takeup.amount * (b - a) / left) for a, b in parts]


def with_places(pattern: Pattern, piece: Piece, places: dict[str, Callable[[Position], Position]]) -> Pattern:
    """The pattern with the piece in place of its own, and what is kept along its edges rewritten."""
    notches = tuple(replace(n, at=places[n.edge](n.at)) if n.edge in places else n for n in piece.notches)
    edges = tuple(_with_stretches(edge, places[edge.uid]) if edge.uid in places else edge for edge in piece.edges)
    changed = replace(piece, notches=notches, edges=edges)

    def run(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        return tuple(
            replace(
                part,
                start=part.start and places[part.of](part.start),
                end=part.end and places[part.of](part.end),
            )
            if part.of in places
            else part
            for part in parts
        )

    def seam(one: Seam) -> Seam:
        return replace(one, a=run(one.a), b=run(one.b))

    return replace(
        pattern,
        pieces=tuple(changed if p.uid == piece.uid else p for p in pattern.pieces),
        seams=tuple(seam(one) for one in pattern.seams),
    )


def _with_stretches(edge: Edge, place: Callable[[Position], Position]) -> Edge:
    if edge.allowance is None or not edge.allowance.stretches:
        return edge
    stretches = tuple(replace(s, start=place(s.start), end=place(s.end)) for s in edge.allowance.stretches)
    return replace(edge, allowance=replace(edge.allowance, stretches=stretches))

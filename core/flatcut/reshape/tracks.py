"""Edges as they were and as they are now, and where on those a place of these lies."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flatcut.pattern.runs import as_edge
from flatcut.pattern.values import Edge, Pattern, Piece, Position
from flatcut.pattern.walking import drawn_length, sewn_length, to_drawn, to_sewn
from flatcut.reshape.takeups import carried_takeups, with_mouths
from flatcut.reshape.ways import NEAR, SHORT, Way, Ways, way_at

START, END = "start", "end"
FOLDED = 0.01
"""mm: a place this far inside a fold is not where its fold is."""


@dataclass(frozen=True, kw_only=True)
class Tracks:
    """One change made ready for what stands on edges.

    was, pieces: the changed pieces before and after, these with their take-ups; old, new: edges, and lines that were
    changed, by uid, with the piece of each; told: uids of those that are changed or gone, and not as they were;
    begins, closes: by uid of an edge of now which end of which edge of before is its start, its end.
    """

    was: tuple[Piece, ...]
    pieces: tuple[Piece, ...]
    old: Mapping[str, tuple[Piece, Edge]]
    new: Mapping[str, tuple[Piece, Edge]]
    ways: Mapping[str, Ways]
    told: frozenset[str]
    begins: Mapping[str, tuple[str, str]]
    closes: Mapping[str, tuple[str, str]]
    sewn: bool

    @staticmethod
    def of(
        pattern: Pattern,
        pieces: Sequence[Piece],
        ways: Mapping[str, Ways],
        gone: Sequence[str],
        *,
        undone: frozenset[str],
        sewn: bool,
    ) -> Tracks:
        """`ways` and the rest as in a `Change`."""
        changed = [piece.uid for piece in pieces]
        was = tuple(pattern.piece_of(uid) for uid in (*changed, *gone) if any(p.uid == uid for p in pattern.pieces))
        old = {uid: found for piece in was for uid, found in _edges(piece, ways)}
        if not sewn:
            before = {uid: edge for uid, (_, edge) in old.items()}
            reached = {way.to for some in ways.values() for way in some}
            own = [
                tuple(
                    replace(e, takeups=carried_takeups(e, before, ways, undone)) if e.uid in reached else e
                    for e in piece.edges
                )
                for piece in pieces
            ]
            pieces = [
                with_mouths(replace(piece, edges=edges), reached) for piece, edges in zip(pieces, own, strict=True)
            ]
        targets = {way.to: () for some in ways.values() for way in some}
        new = {uid: found for piece in pieces for uid, found in _edges(piece, targets)}
        told = frozenset(uid for uid in old if uid in ways or uid not in new)
        ways = {uid: ways.get(uid, _same(uid, edge) if uid in new else ()) for uid, (_, edge) in old.items()}
        begins, closes = _ends(ways)
        return Tracks(
            was=was,
            pieces=tuple(pieces),
            old=old,
            new=new,
            ways=ways,
            told=told,
            begins=begins,
            closes=closes,
            sewn=sewn,
        )

    def along(self, uid: str, at: Position) -> float:
        """Sewn mm of a position on an edge as it was; one beyond its ends is at the end."""
        total = sewn_length(self.old[uid][1])
        return min(max(at.along(total), 0.0), total)

    def reach(self, uid: str, group: Sequence[Way]) -> tuple[float, float]:
        """From where to where, sewn mm of the edge as it was, some of its ways go."""
        edge = self.old[uid][1]
        if self.sewn:
            return group[0].start, group[-1].end
        return to_sewn(edge, group[0].start), to_sewn(edge, group[-1].end)

    def sewn_now(self, uid: str, sewn: float, group: Sequence[Way] = ()) -> tuple[str, float, bool]:
        """The edge (uid) on which a place (sewn mm) lies now, sewn mm along it; whether its cloth is gone or folded in.

        group: the ways to choose from, if not all. Errors: KeyError when the whole edge is gone.
        """
        old = self.old[uid][1]
        ways = tuple(group) or self.ways[uid]
        hit = way_at(ways, sewn if self.sewn else to_drawn(old, sewn))
        if hit is None:
            raise KeyError(uid)
        way, lost = hit
        new = self.new[way.to][1]
        now = way.place(sewn if self.sewn else to_drawn(old, sewn))
        if not self.sewn:
            drawn, now = now, to_sewn(new, now)
            lost = lost or abs(to_drawn(new, now) - drawn) > FOLDED
        # an end of an edge stays its end, whatever was opened beside it
        for end, there in ((START, sewn <= NEAR), (END, sewn >= sewn_length(old) - NEAR)):
            if there and self.begins.get(way.to) == (uid, end):
                now, lost = 0.0, False
            elif there and self.closes.get(way.to) == (uid, end):
                now, lost = sewn_length(new), False
        return way.to, now, lost

    def position(self, uid: str, at: Position, group: Sequence[Way] = ()) -> tuple[str, Position, bool]:
        """A position on an edge as it was as one on an edge of now, as in `sewn_now`.

        It goes on being counted from the end it was counted from where that still is an end of its edge.
        """
        to, now, lost = self.sewn_now(uid, self.along(uid, at), group)
        ends = {self.begins.get(to): START, self.closes.get(to): END}
        mode = ends.get((uid, at.mode), START)
        if at.mode == "fraction" and (uid, START) in ends and (uid, END) in ends:
            mode = "fraction"
        total = sewn_length(self.new[to][1])
        value = {START: now, END: total - now}.get(mode, now / total if total > 0 else 0.0)
        kept = mode == at.mode and abs(value - at.value) * (total if mode == "fraction" else 1.0) < SHORT
        return to, at if kept else Position(mode=mode, value=value), lost


def _same(uid: str, edge: Edge) -> Ways:
    total = drawn_length(edge)
    return (Way(0.0, total, uid, 0.0, total),)


def _edges(piece: Piece, lines: Mapping[str, object]) -> list[tuple[str, tuple[Piece, Edge]]]:
    """Edges, and those lines that are keys of `lines` with the manners of edges, by uid."""
    found = [(edge.uid, (piece, edge)) for edge in piece.edges]
    return found + [(line.uid, (piece, as_edge(piece, line))) for line in piece.lines if line.uid in lines]


def _ends(ways: Mapping[str, Ways]) -> tuple[dict[str, tuple[str, str]], dict[str, tuple[str, str]]]:
    landed: dict[str, list[tuple[float, float, str, bool, bool, bool]]] = {}
    for uid, some in ways.items():
        for k, way in enumerate(some):
            low, high = sorted((way.at, way.till))
            turned = way.at > way.till
            landed.setdefault(way.to, []).append((low, high, uid, k == 0, k == len(some) - 1, turned))
    begins, closes = {}, {}
    for to, found in landed.items():
        _, _, uid, first, last, turned = min(found)
        if last if turned else first:
            begins[to] = (uid, END if turned else START)
        _, _, uid, first, last, turned = max(found, key=lambda item: item[1])
        if first if turned else last:
            closes[to] = (uid, START if turned else END)
    return begins, closes

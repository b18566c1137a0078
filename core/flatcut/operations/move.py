"""`move`: a corner, a place of an edge, a whole edge, or a named point moved by a stated distance."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import choice, flag, length, ref, refs
from flatcut.drafting.at_the_centre import SQUARE
from flatcut.drafting.ends import drawn_from_end, end_part, mate_ends, neighbour
from flatcut.drafting.moving import corner_moved, edge_moved, end_moved, place_moved
from flatcut.errors import Option, UsageError
from flatcut.geometry.length import length as length_of
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.graining import grain_followed
from flatcut.pattern.mating import mates
from flatcut.pattern.places import Place
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.spots import Spot, find, named_edge, spot
from flatcut.pattern.values import Edge, Figure, NamedPoint, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, sewn_length, to_drawn, to_sewn
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.truing.following import followed
from flatcut.truing.truing import marks_followed
from flatcut.units import plain

REACH = 50.0
"""mm to either side of where an edge begins to turn over which it is made fair (common practice, no source)."""
SLACK = 1e-6
"""mm: a place so near to the end of an edge is the corner."""


@operation(menu="Shape", title="Move corner or edge")
@dataclass(frozen=True, kw_only=True)
class Move(Operation):
    """Move a corner, a place of an edge, a whole edge or a named point.

    A corner EDGE/OTHER moves along OTHER: outward where the amount is positive, inward where it is negative, and EDGE
    turns with it from --from on, or from its other end. Where EDGE is square to a fold or a centre line, as a neck is,
    it is drawn anew so that it stays square; with --straight it only turns. A place EDGE@1/2 moves square to the edge,
    less and less to nothing at --from, two places, or at the ends; EDGE@100%, an end of the edge, takes both edges that
    meet there with it, from a place on each. A whole edge moves square to itself, and its neighbours are run on or cut
    back. A point moves toward a place. With --mates the edge that is sewn to it there moves alike, so that both sides
    of the seam lose, or opposite, so that one gains what the other loses.
    """

    target: tuple[Place, ...] = refs(
        ("corner", "place", "edge", "point"),
        ("what is moved", "such as front.side/hem, front.side@1/2, front.side or front.bust-point"),
    )
    by: float | None = length(None, ("how far", "positive: outward"), low=-1000, high=1000)
    along: float = length(
        0.0,
        ("and along its edge by", "of a corner: positive: longer; of a place: as the edge runs"),
        low=-1000,
        high=1000,
    )
    from_: tuple[Place, ...] = refs(
        "place", ("beginning at", "one place for a corner, two for a place on an edge"), filled=False
    )
    straight: bool = flag(
        False,
        ("straight stays straight", "of a place: straight stretches beside it only turn; of a corner: its edge does"),
    )
    toward: Place | None = ref("place", ("toward", "the place toward which a point goes"), filled=False)
    mates: str = choice("", ("edge that it is sewn to", "moves alike, or opposite", "stays"), ("", "alike", "opposite"))
    reach: float = length(REACH, ("made fair beside the turn over", "0 leaves a corner"), high=500)

    def _apply(self, pattern: Pattern) -> Outcome:
        if self.by is None:
            raise UsageError("move wants how far; give ", Option("by"))
        before = pattern
        warnings: list[str] = []
        figures: list[Figure] = []
        for place in self.target:
            for piece, made in self._moved(pattern, place):
                refuse_overlap(made, advice="move it less")
                made = grain_followed(piece, made)
                told, off = self._at_the_centre(piece, made)
                figures += told
                warnings += off
                if made.edges == piece.edges:
                    pattern = pattern.with_piece(made)
                    continue
                pattern, lost = followed(pattern, [marks_followed(piece, made)])
                warnings += lost
        for old, new in zip(before.pieces, pattern.pieces, strict=True):
            if old is new:
                continue
            for a, b in zip(old.edges, new.edges, strict=True):
                change = drawn_length(b) - drawn_length(a)
                if abs(change) > 0.005:
                    figures += [
                        Figure(f"{new.name}.{b.name} longer by", change),
                        Figure(f"{new.name}.{b.name} drawn", drawn_length(b)),
                    ]
            figures.append(Figure(f"{new.name} area changed by", (abs(area(new)) - abs(area(old))) / 100, "cm²"))
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys(warnings)))

    def _moved(self, pattern: Pattern, place: Place) -> list[tuple[Piece, Piece]]:
        """Pieces before and after, the mate's last."""
        assert self.by is not None
        if place.chord:
            raise UsageError(f"'{place}' is no corner, edge or point; name one")
        piece, thing = find(pattern, place)
        if isinstance(thing, NamedPoint):
            return [(piece, self._point(pattern, piece, thing))]
        if self.toward is not None:
            raise UsageError(Option("toward"), " is for a named point; corners and edges move outward or inward")
        if not isinstance(thing, Edge):
            raise UsageError(
                f"'{place}' is no corner, edge or point; name one, such as {piece.name}.{piece.edges[0].name}"
            )
        if place.other and place.at is None and place.other in {edge.name for edge in piece.edges}:
            return self._corner(pattern, piece, thing, place)
        if place.at is None and not place.other:
            if self.along or self.straight:
                name = "along" if self.along else "straight"
                raise UsageError(Option(name), " is for a corner or a place; leave it out")
            if self.from_ or self.mates:
                raise UsageError(
                    "a whole edge moves alike all along; leave ", Option("from"), " and ", Option("mates"), " out"
                )
            return [(piece, edge_moved(piece, thing, self.by))]
        return self._place(pattern, piece, thing, spot(pattern, place))

    def _at_the_centre(self, piece: Piece, made: Piece) -> tuple[list[Figure], list[str]]:
        """The angles of corners at a fold or a centre line that were square, and which of them no longer are."""
        told, off = [], []
        for old, new in zip(piece.edges, made.edges, strict=True):
            after = piece.after(old), made.after(new)
            moved = old.parts != new.parts and after[0].parts != after[1].parts
            square = abs(inside_angle(piece, old) - 90.0) <= SQUARE
            if not moved or not square or old.middle == after[0].middle:
                continue
            angle, corner = inside_angle(made, new), f"{made.name}.{new.name}/{after[1].name}"
            told.append(Figure(f"{corner} angle", angle, "°"))
            if abs(angle - 90.0) > SQUARE and not self.straight:
                off.append(
                    f"{corner} was square and has {plain(angle)}° now, since no even line would be square there; move "
                    "it less, or draw the edge anew with line and cut"
                )
        return told, off

    def _point(self, pattern: Pattern, piece: Piece, point: NamedPoint) -> Piece:
        if self.toward is None:
            raise UsageError(f"{piece.name}.{point.name} moves toward a place; give ", Option("toward"))
        way = spot(pattern, self.toward).point - point.at
        size = float(np.hypot(*way))
        if size < 1e-6:
            raise UsageError(f"{piece.name}.{point.name} lies there already; name another place")
        moved = replace(point, at=point.at + (self.by or 0.0) / size * way)
        return replace(piece, points=tuple(moved if p.uid == point.uid else p for p in piece.points))

    def _corner(self, pattern: Pattern, piece: Piece, edge: Edge, place: Place) -> list[tuple[Piece, Piece]]:
        assert self.by is not None
        at_end = neighbour(piece, edge, at_end=True).name == place.other
        if not at_end and neighbour(piece, edge, at_end=False).name != place.other:
            spot(pattern, place)  # tells what meets the edge
        if len(self.from_) > 1:
            raise UsageError("a corner has one place from which its edge turns; give one with ", Option("from"))
        stretch = drawn_length(edge) if not self.from_ else self._stretch(pattern, edge, self.from_[0], at_end)
        found = [
            (piece, self._cornered(piece, edge, self.by, stretch, at_end=at_end)),
        ]
        if not self.mates:
            return found
        others = mate_ends(pattern, edge, at_end=at_end)
        if not others:
            raise UsageError(
                f"{place} is sewn to nothing that ends there; state the seam, or leave ", Option("mates"), " out"
            )
        by = self.by if self.mates == "alike" else -self.by
        for other, mate, mate_end in others:
            base = found[0][1] if other.uid == piece.uid else other
            own = drawn_length(mate)
            if self.from_:
                here = to_drawn(edge, spot(pattern, self.from_[0]).sewn)
                own = drawn_length(mate) * drawn_from_end(edge, here, at_end=at_end) / drawn_length(edge)
                at = [m for m in mates(pattern, edge.uid, spot(pattern, self.from_[0]).sewn) if m.edge.uid == mate.uid]
                if at:
                    own = drawn_from_end(mate, to_drawn(mate, at[0].sewn), at_end=mate_end)
            found.append((base, self._cornered(base, mate, by, own, at_end=mate_end)))
        return found

    def _cornered(self, piece: Piece, edge: Edge, by: float, stretch: float, *, at_end: bool) -> Piece:
        turned = self.straight
        return corner_moved(piece, edge, by, self.along, stretch, at_end=at_end, reach=self.reach, only_turned=turned)

    def _stretch(self, pattern: Pattern, edge: Edge, place: Place, at_end: bool) -> float:
        at = spot(pattern, place)
        if at.edge != edge.uid:
            raise UsageError(f"'{place}' does not lie on {edge.name}, which is moved; name a place on it")
        return drawn_from_end(edge, to_drawn(edge, at.sewn), at_end=at_end)

    def _place(self, pattern: Pattern, piece: Piece, edge: Edge, at: Spot) -> list[tuple[Piece, Piece]]:
        assert self.by is not None
        assert at.sewn is not None
        if not SLACK < at.sewn < sewn_length(edge) - SLACK:
            return [(piece, self._end(pattern, piece, edge, at_end=at.sewn > SLACK))]
        if len(self.from_) not in (0, 2):
            raise UsageError("a place on an edge moves less and less toward two others; give two with ", Option("from"))
        ends = sorted(drawn_length(edge) - self._stretch(pattern, edge, one, True) for one in self.from_)
        low, high = ends or (0.0, drawn_length(edge))
        here = to_drawn(edge, at.sewn)
        made = place_moved(piece, edge, here, self.by, (low, high), along=self.along, straight=self.straight)
        found = [(piece, made)]
        if not self.mates:
            return found
        others = mates(pattern, edge.uid, at.sewn)
        if not others:
            raise UsageError("that place is sewn to nothing; state the seam, or leave ", Option("mates"), " out")
        by = self.by if self.mates == "alike" else -self.by
        for mate in others:
            base = found[0][1] if mate.piece.uid == piece.uid else mate.piece
            reached = []
            for end in (low, high):
                sewn = to_sewn(edge, end)
                there = [m for m in mates(pattern, edge.uid, sewn) if m.edge.uid == mate.edge.uid]
                reached.append(to_drawn(mate.edge, there[0].sewn) if there else None)
            bounds = sorted(r for r in reached if r is not None)
            if len(bounds) < 2:
                bounds = [0.0, drawn_length(mate.edge)]
            found.append(
                (base, place_moved(base, mate.edge, to_drawn(mate.edge, mate.sewn), by, (bounds[0], bounds[-1])))
            )
        return found

    def _end(self, pattern: Pattern, piece: Piece, edge: Edge, *, at_end: bool) -> Piece:
        """The piece with a corner moved that both edges follow."""
        assert self.by is not None
        other = neighbour(piece, edge, at_end=at_end)
        corner = f"{piece.name}.{edge.name}/{other.name}"
        if self.mates:
            raise UsageError(Option("mates"), f" is for an edge that turns with its corner; name that {corner}")
        if len(self.from_) not in (0, 2):
            raise UsageError(f"both edges follow {corner}, each from a place on it; give two with ", Option("from"))
        ends = {edge.uid: at_end, other.uid: not at_end}
        reach = {on.uid: length_of(end_part(on, at_end=ends[on.uid])) for on in (edge, other)}
        for place in self.from_:
            on = named_edge(piece, replace(place, at=None))
            if on.uid not in ends:
                raise UsageError(
                    f"'{place}' lies on neither edge of {corner}; name a place on each with ", Option("from")
                )
            reach[on.uid] = self._stretch(pattern, on, place, ends[on.uid])
        return end_moved(piece, edge, self.by, self.along, (reach[edge.uid], reach[other.uid]), at_end=at_end)

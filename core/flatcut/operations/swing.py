"""`swing`: a panel seam turned about a place on it, so that its two hems share what they have in another way."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.declared.fields import length, number, ref, refs
from flatcut.drafting.blending import blended
from flatcut.drafting.ends import drawn_from_end, end_part, mate_ends, neighbour, refuse_dart
from flatcut.drafting.extending import swing_angle, swung
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import point
from flatcut.geometry.length import length as measured
from flatcut.geometry.length import places_at
from flatcut.geometry.rigid import brought
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.mating import mates
from flatcut.pattern.paper_motions import handed_over
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of, spot
from flatcut.pattern.values import Edge, Figure, Pattern, Piece
from flatcut.pattern.walking import drawn_length, to_drawn
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.truing.following import followed
from flatcut.truing.truing import marks_followed

LOOKS = 33
"""Places along the part of a seam that turns by which one side of it is laid along the other."""
REACH = 50.0
"""mm to either side of the place over which the seam is made fair (common practice, no source)."""


@operation(menu="Shape", title="Swing seam")
@dataclass(frozen=True, kw_only=True)
class Swing(Operation):
    """Turn a seam about a place on it until its end divides the two hems as stated.

    Both edges turn alike and keep their lengths: one panel gains what the other loses. Name either edge of the seam;
    the share is that of its own piece, half means to the middle of both hems.
    """

    target: tuple[Place, ...] = refs("edge", ("an edge of the seam", "such as back-centre.panel"))
    about: Place | None = ref(
        "place", ("place about which it turns", "such as back-centre.panel/waist-line"), filled=False
    )
    share: float = number(0.5, ("share of both hems", "what part of them this piece has then"), low=0.02, high=0.98)
    reach: float = length(REACH, ("made fair beside the place over", "0 leaves a corner"), high=500)

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 1 or self.about is None:
            raise UsageError("swing wants one edge and the place about which it turns; give ", Option("about"))
        piece, edge = edge_of(pattern, self.target[0])
        at = spot(pattern, self.about)
        if at.edge != edge.uid:
            raise UsageError(f"'{self.about}' does not lie on {self.target[0]}; name a place on it")
        ends = [
            (at_end, mate)
            for at_end in (True, False)
            for mate in mate_ends(pattern, edge, at_end=at_end)
            if neighbour(piece, edge, at_end=at_end).use == "hem"
        ]
        if len(ends) != 1:
            raise UsageError(
                f"{self.target[0]} wants one end at a hem that is sewn to another edge there; say which edges are hems "
                "with: edge --use=hem, and state the seam"
            )
        at_end, (mate_piece, mate_edge, mate_end) = ends[0]
        there = [m for m in mates(pattern, edge.uid, at.sewn) if m.edge.uid == mate_edge.uid]
        if not there:
            raise UsageError(f"'{self.about}' is not sewn to {mate_piece.name}.{mate_edge.name}; name another place")
        one = _Side.of(piece, edge, to_drawn(edge, at.sewn), at_end)
        two = _Side.of(mate_piece, mate_edge, to_drawn(mate_edge, there[0].sewn), mate_end)
        total = drawn_length(one.hem) + drawn_length(two.hem)
        radians = swing_angle(
            lambda turn: drawn_length(one.turned(turn).edge_of(one.hem.uid)), self.share * total, one.stretch
        )
        figures = [Figure("turned", math.degrees(abs(radians)), "°")]
        warnings: list[str] = []
        for side, turn in ((one, radians), (two, -radians)):
            made = side.turned(turn)
            own = made.edge_of(side.edge.uid)
            drawn = drawn_length(own) - side.stretch if side.at_end else side.stretch
            if self.reach > 0 and 1.0 < side.stretch < drawn_length(own) - 1.0:
                fair = blended(
                    made, own, drawn, min(self.reach, side.stretch, drawn_length(own) - side.stretch), bends=99
                )
                made = made if fair is None else fair.piece
            refuse_overlap(made, advice="choose another share")
            pattern, lost = followed(pattern, [marks_followed(side.piece, made)])
            warnings += lost
            for was in (side.edge, side.hem):
                now = drawn_length(pattern.piece_of(side.piece.uid).edge_of(was.uid))
                name = f"{side.piece.name}.{was.name}"
                figures += [Figure(f"{name} drawn", now), Figure(f"{name} longer by", now - drawn_length(was))]
        loses, gains = (one, two) if radians < 0 else (two, one)
        return Outcome(
            pattern=pattern,
            figures=tuple(figures),
            warnings=tuple(dict.fromkeys(warnings)),
            motions=handed_over(
                loses.piece, pattern.piece_of(loses.piece.uid), brought(loses.course(), gains.course())
            ),
        )


@dataclass(frozen=True)
class _Side:
    """One side of the seam: its piece, edge and hem, the mm from the place to the hem, and the edge's end there."""

    piece: Piece
    edge: Edge
    hem: Edge
    stretch: float
    at_end: bool

    @staticmethod
    def of(piece: Piece, edge: Edge, drawn: float, at_end: bool) -> _Side:
        refuse_dart(piece, edge, at_end=at_end)
        hem = neighbour(piece, edge, at_end=at_end)
        return _Side(piece, edge, hem, drawn_from_end(edge, drawn, at_end=at_end), at_end)

    def course(self) -> Array:
        """Points of the seam from the place on, at equal parts of what turns, (n, 2)."""
        own = end_part(self.edge, at_end=self.at_end)
        before_end = np.linspace(self.stretch, 0.0, LOOKS)
        return point(own, places_at(own, np.maximum(measured(own) - before_end, 0.0)))

    def turned(self, radians: float) -> Piece:
        return swung(self.piece, self.edge, self.hem, self.stretch, radians, at_end=self.at_end)

"""`join`: two pieces made into one along an edge of each."""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.declared.fields import length, piece_name, refs
from flatcut.errors import UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of
from flatcut.pattern.values import Figure, Pattern, area, checked_name
from flatcut.pattern.walking import drawn_length
from flatcut.sewing.joining import joined


@operation(menu="Shape")
@dataclass(frozen=True, kw_only=True)
class Join(Operation):
    """Join two pieces into one along a whole edge of each.

    The piece of the first edge stays where it is; the other is laid along it, turned but never flipped over, and all
    that is on it comes along. Edges of one name that run on into each other become one edge; notches of the joined
    edges and the seam between them are gone. A small gap or overlap is taped over, both pieces giving way by half.
    """

    target: tuple[Place, ...] = refs(("edge", "stretch"), "the two edges, that of the piece that stays first")
    # 1 mm is common practice, no source
    within: float = length(1.0, "largest gap or overlap that is taped over", high=20)
    name: str = piece_name(("name of the piece", "left out: that of the piece that stays"))

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) != 2:
            raise UsageError(f"join takes two edges, such as front.hip skirt-front.waist, and {len(self.target)} given")
        for place in self.target:
            if place.at is not None:
                raise UsageError(f"join takes whole edges, and '{place}' is a stretch; split the edge there with edge")
        held, other = (edge_of(pattern, place) for place in self.target)
        if held[0].uid == other[0].uid:
            raise UsageError(f"both edges lie on {held[0].name}; join takes edges of two pieces")
        name = checked_name(self.name, kind="piece's name") if self.name else held[0].name
        if name in {piece.name for piece in pattern.pieces} - {held[0].name, other[0].name}:
            raise UsageError(f"there is a piece '{name}' already; give another name")
        done = joined(pattern, held, other, within=float(self.within), name=name)
        before = sum(abs(area(piece)) for piece, _ in (held, other))
        figures = [
            Figure(f"{self.target[0]} drawn", drawn_length(held[1])),
            Figure(f"{self.target[1]} drawn", drawn_length(other[1])),
            Figure("largest gap", done.apart.gap),
            Figure("largest overlap", done.apart.overlap),
            *(Figure(f"{name}.{edge} bends at the joint by", angle, "°") for edge, angle in done.kinks.items()),
            Figure("notches taken out", done.dropped, ""),
            Figure(f"{name} area", abs(area(done.piece)) / 100, "cm²"),
            Figure("area changed by", (abs(area(done.piece)) - before) / 100, "cm²"),
        ]
        return Outcome(pattern=done.pattern, figures=tuple(figures), warnings=done.warnings)

"""`join`: two pieces made into one along an edge or a stretch of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.darts.darting import angle
from flatcut.declared.fields import flag, length, piece_name, refs, texts
from flatcut.errors import Option, UsageError
from flatcut.geometry.length import length as measured
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.paper_motions import turned_over
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of
from flatcut.pattern.values import Figure, Pattern, area, checked_name
from flatcut.pattern.walking import drawn_length
from flatcut.sewing.joining import joined
from flatcut.sewing.opened import Side, named_side, side
from flatcut.sewing.unfolding import unfolded


@operation(menu="Shape", title="Join pieces")
@dataclass(frozen=True, kw_only=True)
class Join(Operation):
    """Join two pieces into one along an edge of each, or along a stretch.

    The piece of the first edge stays where it is; the other is laid along it, turned but never flipped over, and all
    that is on it comes along. What both edges have left beyond a stretch opens as a dart. Edges and lines of one name
    that run on into each other become one, also those that a cut had numbered; darts that meet grow together. A pair
    joined to a piece on the fold becomes part of it. A piece is laid open by joining its edge to that of its other
    half, front.centre ~front.centre; names that both halves have get -2 on that one. A small gap or overlap is taped
    over, both pieces giving way by half.
    """

    previewed: ClassVar[bool] = False

    target: tuple[Place, ...] = refs(("edge", "stretch"), ("the two edges", "that of the piece that stays first"))
    # 1 mm is common practice, no source
    within: float = length(1.0, ("largest gap or overlap", "that is taped over"), high=20)
    name: str = piece_name(("name of the piece", "", "that of the piece that stays"))
    opens: tuple[str, ...] = texts(
        ("names of the new darts", "that open beyond a stretch", "that of the edge with -dart"), named=True
    )
    notches: bool = flag(True, ("notch where the seam ended", "where two edges became one"))

    def _apply(self, pattern: Pattern) -> Outcome:
        if len(self.target) == 2 and self.target[1] == replace(self.target[0], mirror=True) != self.target[0]:
            return self._laid_open(pattern)
        if len(self.target) != 2:
            raise UsageError(f"join takes two edges, such as front.hip skirt-front.waist, and {len(self.target)} given")
        held, other = (named_side(pattern, place) for place in self.target)
        if held.piece.uid == other.piece.uid:
            raise UsageError(f"both edges lie on {held.piece.name}; join takes edges of two pieces")
        name = checked_name(self.name, kind="piece's name") if self.name else held.piece.name
        if name in {piece.name for piece in pattern.pieces} - {held.piece.name, other.piece.name}:
            raise UsageError(f"there is a piece '{name}' already; give another name")
        self._check_opens(held, other)
        done = joined(
            pattern, held, other, within=float(self.within), name=name, opens=self.opens, notched=self.notches
        )
        before = sum(abs(area(one.piece)) for one in (held, other))
        figures = [
            Figure(f"{self.target[0]} drawn", held.high - held.low),
            Figure(f"{self.target[1]} drawn", other.high - other.low),
            Figure("largest gap", done.apart.gap),
            Figure("largest overlap", done.apart.overlap),
            *(
                Figure(f"{name}.{met.name} bends at the joint by", met.kink, "°")
                for met in done.meetings
                if not met.opens
            ),
        ]
        for dart in done.opens:
            legs = [measured(leg) for leg in dart.legs]
            figures += [
                Figure(f"{name}.{dart.name} angle", angle(dart), "°"),
                Figure(f"{name}.{dart.name} legs", legs[0]),
                Figure(f"{name}.{dart.name} legs differ by", abs(legs[0] - legs[1])),
            ]
        figures += [
            Figure("notches taken out", done.dropped, ""),
            Figure(f"{name} area", abs(area(done.piece)) / 100, "cm²"),
            Figure("area changed by", (abs(area(done.piece)) - before) / 100, "cm²"),
        ]
        return Outcome(pattern=done.pattern, figures=tuple(figures), warnings=done.warnings, motions=(done.motion,))

    def _laid_open(self, pattern: Pattern) -> Outcome:
        """A piece on the fold, or of a pair, with its other half."""
        place = self.target[0]
        piece, edge = edge_of(pattern, place)
        if place.at is not None:
            raise UsageError(
                f"'{place}' is a stretch; a piece is laid open along a whole edge, {piece.name}.{edge.name}"
            )
        name = checked_name(self.name, kind="piece's name") if self.name else piece.name
        if name in {p.name for p in pattern.pieces} - {piece.name}:
            raise UsageError(f"there is a piece '{name}' already; give another name")
        before, motion = abs(area(piece)), turned_over(piece, edge.start, edge.end)
        pattern, half, other = unfolded(pattern, piece, edge)
        halves = [(own, own.edge(edge.name)) for own in (pattern.piece_of(half), pattern.piece_of(other))]
        sides = [side(own, along, 0.0, drawn_length(along)) for own, along in halves]
        done = joined(pattern, *sides, within=float(self.within), name=name, opens=self.opens, notched=self.notches)
        figures = (
            Figure(f"{piece.name}.{edge.name} drawn", drawn_length(edge)),
            *(Figure(f"{name}.{met.name} bends at the joint by", met.kink, "°") for met in done.meetings),
            Figure(f"{name} area", abs(area(done.piece)) / 100, "cm²"),
            Figure("area differs from that of both halves by", (abs(area(done.piece)) - 2 * before) / 100, "cm²"),
        )
        said = f"{name} is cut as a whole, {done.piece.quantity} of it; {edge.name} is a line inside it now"
        return Outcome(pattern=done.pattern, figures=figures, warnings=(said, *done.warnings), motions=(motion,))

    def _check_opens(self, held: Side, other: Side) -> None:
        taken = (held.piece.names() - {held.edge.name}) | (other.piece.names() - {other.edge.name})
        for k, name in enumerate(self.opens):
            checked_name(name, kind="dart's name")
            if name in taken or name in self.opens[:k]:
                raise UsageError(f"there is a '{name}' already; give another name with ", Option("opens"))

"""`cut`: pieces cut along lines, along darts that these run into, and across others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.darts.dart_forms import as_cut
from flatcut.darts.darting import angle
from flatcut.declared.fields import further, length, part_names, refs, text, texts
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.fairness import fairness
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.panels.dropping import without_pieces
from flatcut.panels.links import Thing
from flatcut.panels.matching import at_corners, matched
from flatcut.panels.seaming import divided, without_mates
from flatcut.panels.several import Parts, cut_up, named, new_edges
from flatcut.panels.sharp import ended_at_corners
from flatcut.pattern.finding import parts_of
from flatcut.pattern.motions import Motion
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find
from flatcut.pattern.values import Dart, Figure, Line, Pattern, Piece, area, checked_name, outline
from flatcut.pattern.walking import drawn_length

HALVES = ("upper", "lower")
"""Which point of a dart with two a line across it counts from."""


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.1)


TURN = 2.0
"""Degrees that an edge may turn by within itself before that is told: it has a point there, which is made a curve
(common practice, no source)."""


@operation(menu="Shape", title="Cut piece")
@dataclass(frozen=True, kw_only=True)
class Cut(Operation):
    """Cut pieces along lines from edge to edge, along darts that these run into, and across others.

    Lines and darts that follow on one another are named together; several cuts make more than two parts, and lines on
    several pieces cut each of them. Along a dart its legs become the edges of two parts, and what it takes in goes.
    Across a dart, which is named too, each part keeps its share: the part with the point has the dart on its new edge,
    the part with the mouth is closed about the point; of a dart with two points each part has a half. The new edges are
    sewn to each other, and end where two lines meet in a corner of more than 15°; what was sewn to the piece is sewn to
    its parts. A part that loses the fold is cut as a pair.
    """

    target: tuple[Place, ...] = refs(
        ("line", "dart"),
        ("the lines", "and the darts that the cut goes along or across, and lines that it goes on along"),
    )
    names: tuple[str, ...] = part_names(
        ("names of the parts", "each with an edge that only it has, such as front-side.side", "numbered")
    )
    edge: str = text("", ("name of the new edges", "", "that of the line"), named=True)
    closed: tuple[Place, ...] = refs(
        "place",
        ("closed halves", "the half of a dart with two points that a line across it counts from", "DART.upper"),
        filled=False,
    )
    # 0.5 mm is common practice, no source
    within: float = further(
        length(
            0.5,
            ("legs of a dart apart, at most", "where it is closed, on the side of its mouth"),
            high=20,
        )
    )
    drop: tuple[str, ...] = texts(("parts to be taken out", "the names of those that are not used", "all stay"))
    notches: float | None = length(
        None,
        (
            "matching notches beyond by",
            "how far above and below the fullest point of each new seam, such as 5cm",
            "none",
        ),
        low=1,
        high=500,
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        for name in self.names:
            checked_name(name.partition(".")[0], kind="piece's name")
        if self.edge:
            checked_name(self.edge, kind="edge's name")
        before = pattern
        pattern, cuts = self._cut(before, self.target)
        drawn = {d.uid for piece in before.pieces for d in piece.darts if d.form == "lines"}
        missed = [dart for one in cuts for dart in one.missed]
        if any(dart.uid in drawn for dart in missed):
            # a dart that was cut into the edge for this cut, and that it does not come to, stays drawn as it was
            uids = {dart.uid for dart in missed}
            pattern, cuts = self._cut(before, [at for at in self.target if find(before, at)[1].uid not in uids])
            cuts[0].missed += missed
        pattern = named(pattern, cuts, self.names)
        new = new_edges(pattern, cuts)
        for one in cuts:
            named_here = (find(before, at) for at in self.target)
            lines = [
                line
                for piece, thing in named_here
                if piece.uid == one.piece.uid and isinstance(thing, Line)
                for line in parts_of(piece, thing)
            ]
            pattern = ended_at_corners(pattern, new, lines, self.edge)
            one.names += [] if self.edge else dict.fromkeys(line.name for line in lines if line.name not in one.names)
        new = new_edges(pattern, cuts)
        pattern = at_corners(divided(pattern, new), cuts)
        figures, warnings = self._told(before, pattern, cuts, new)
        if self.notches is not None:
            pattern, more, told = matched(pattern, cuts, new, self.notches)
            figures += more
            warnings += told
        motions = tuple(
            Motion(piece=one.piece.uid, ring=ring, about=ring.mean(axis=0), shift=np.zeros(2))
            for one in cuts
            for ring in (_ring(pattern.piece_of(uid)) for uid in one.parts)
        )
        if self.drop:
            pattern = self._dropped(pattern, cuts, new, warnings)
        return Outcome(
            pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys(warnings)), motions=motions
        )

    def _cut(self, pattern: Pattern, target: Sequence[Place]) -> tuple[Pattern, list[Parts]]:
        for place in target:
            piece, thing = find(pattern, place)
            if isinstance(thing, Dart):
                pattern, _, _ = as_cut(pattern, piece, thing)
        wanted: dict[str, list[Thing]] = {}
        for place in target:
            piece, thing = find(pattern, place)
            if not isinstance(thing, (Line, Dart)):
                raise UsageError(f"'{place}' is no line or dart of {piece.name}; name one that the cut goes along")
            wanted.setdefault(piece.uid, []).extend(parts_of(piece, thing) if isinstance(thing, Line) else (thing,))
        poles = dict(self._half(pattern, place, wanted) for place in self.closed)
        cuts: list[Parts] = []
        for uid, things in wanted.items():
            cuts.append(cut_up(pattern, pattern.piece_of(uid), things, poles, self.edge, float(self.within)))
            pattern = cuts[-1].pattern
        return pattern, cuts

    def _half(self, pattern: Pattern, place: Place, wanted: dict[str, list[Thing]]) -> tuple[str, int]:
        """The dart of which a half is named, by its uid, and the number of the point."""
        piece, thing = find(pattern, place)
        if not isinstance(thing, Dart) or not thing.double or place.part not in HALVES:
            raise UsageError(f"'{place}' is no half of a dart with two points; write it as DART.upper or DART.lower")
        if thing not in wanted.get(piece.uid, []):
            raise UsageError(f"the cut does not name {piece.name}.{thing.name}, of which a half is closed; name it too")
        return thing.uid, HALVES.index(place.part)

    def _told(
        self, before: Pattern, pattern: Pattern, cuts: list[Parts], new: dict[str, str]
    ) -> tuple[list[Figure], list[str]]:
        figures: list[Figure] = []
        warnings: list[str] = []
        for one in cuts:
            was = one.piece
            parts = [pattern.piece_of(uid) for uid in one.parts]
            figures += [
                Figure(f"{p.name}.{e.name} drawn", drawn_length(e)) for p in parts for e in p.edges if e.uid in new
            ]
            figures += [
                Figure(f"{p.name}.{e.name} turns at a point by", turn, "°")
                for p in parts
                for e in p.edges
                if e.uid in new and (turn := max(fairness(part).kink for part in e.parts)) > TURN
            ]
            areas = [abs(area(part)) / 100 for part in parts]
            figures += [Figure(f"{p.name} area", a, "cm²") for p, a in zip(parts, areas, strict=True)]
            figures.append(Figure("area that went with darts", abs(area(was)) / 100 - sum(areas), "cm²"))
            for over in one.overs:
                name = f"{was.name}.{over.dart.name}"
                figures.append(Figure(f"the line moved, where it goes over {name}, by", over.moved))
                if not over.dart.double:
                    figures.append(Figure(f"{name} closed on the side of its mouth by", angle(over.dart), "°"))
            warnings += one.dropped
            warnings += [
                f"the cut does not come to dart {was.name}.{dart.name}; it stays as it is" for dart in one.missed
            ]
            for part in parts:
                if part.cut_as != was.cut_as:
                    warnings.append(f"{part.name} has no part of the fold and is cut as a {part.cut_as}")
            if before.piece_of(was.uid).cut_by_hand is not None:
                warnings.append("the cut line that was drawn by hand was about the whole piece; it is made anew")
        return figures, warnings

    def _dropped(self, pattern: Pattern, cuts: list[Parts], new: dict[str, str], warnings: list[str]) -> Pattern:
        """The pattern without some parts; a new edge that has no mate any more is finished."""
        made = {uid for one in cuts for uid in one.parts}
        parts = [piece for piece in pattern.pieces if piece.uid in made]
        names = [part.name for part in parts]
        for name in self.drop:
            if name not in names:
                told = " and ".join([*([", ".join(names[:-1])] if names[:-1] else []), names[-1]])
                raise UsageError(f"the parts are {told}, and no '{name}'; name one of them with ", Option("drop"))
        gone = {part.uid for part in parts if part.name in self.drop}
        pattern, said = without_pieces(without_mates(pattern, gone, new), gone)
        warnings += said
        return pattern

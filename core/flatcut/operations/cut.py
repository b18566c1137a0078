"""`cut`: a piece cut in two along a line, and along darts that the line runs into."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.darts.dart_forms import as_cut
from flatcut.declared.fields import part_names, refs, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.panels.chains import Link, course
from flatcut.panels.cutting import Cut as Parted
from flatcut.panels.cutting import cut
from flatcut.panels.dropping import without_pieces
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find
from flatcut.pattern.values import Dart, Figure, Line, Pattern, Piece, area, checked_name
from flatcut.pattern.walking import drawn_length


@operation(menu="Shape", title="Cut piece")
@dataclass(frozen=True, kw_only=True)
class Cut(Operation):
    """Cut a piece in two along a line from edge to edge, and along darts that the line runs into.

    Lines and darts that follow on one another are named together. Along a dart its legs become the edges of the two
    parts, and what it takes in goes. The new edges are sewn to each other; what was sewn to the piece is sewn to both
    parts. A part that loses the fold is cut as a pair.
    """

    target: tuple[Place, ...] = refs(
        ("line", "dart"), ("the line", "and the darts and lines that the cut goes on along")
    )
    names: tuple[str, ...] = part_names(
        ("names of the two parts", "each with an edge that only it has, such as front-side.side", "numbered")
    )
    edge: str = text("", ("name of the new edges", "", "that of the line"), named=True)

    drop: str = text("", ("part to be taken out", "its name, where it is not used", "both parts stay"))

    def _apply(self, pattern: Pattern) -> Outcome:
        before = self._piece(pattern)
        for place in self.target:
            _, thing = find(pattern, place)
            if isinstance(thing, Dart):
                pattern, _, _ = as_cut(pattern, pattern.piece_of(before.uid), thing)
        piece = pattern.piece_of(before.uid)
        links = [self._link(pattern, place) for place in self.target]
        edge = self._named(piece, links)
        for name in self.names:
            checked_name(name.partition(".")[0], kind="piece's name")
        done = cut(pattern, piece, course(piece, links), self.names, edge)
        areas = [abs(area(part)) / 100 for part in done.parts]
        figures = [
            *(Figure(f"{p.name}.{e.name} drawn", drawn_length(e)) for p, e in zip(done.parts, done.edges, strict=True)),
            *(Figure(f"{p.name} area", a, "cm²") for p, a in zip(done.parts, areas, strict=True)),
            Figure("area that went with darts", abs(area(piece)) / 100 - sum(areas), "cm²"),
        ]
        warnings = list(done.dropped)
        for part in done.parts:
            if part.cut_as != piece.cut_as:
                warnings.append(f"{part.name} has no part of the fold and is cut as a {part.cut_as}")
        if piece.cut_by_hand is not None:
            warnings.append("the cut line that was drawn by hand was about the whole piece; it is made anew")
        after = done.pattern
        if self.drop:
            after = self._dropped(done, warnings)
        return Outcome(pattern=after, figures=tuple(figures), warnings=tuple(warnings))

    def _dropped(self, done: Parted, warnings: list[str]) -> Pattern:
        """The pattern without a part; the new edge of the other has no mate any more and is finished."""
        names = [part.name for part in done.parts]
        if self.drop not in names:
            raise UsageError(
                f"the parts are {' and '.join(names)}, and no '{self.drop}'; name one of them with ", Option("drop")
            )
        k = 1 - names.index(self.drop)
        after, said = without_pieces(done.pattern, {done.parts[1 - k].uid})
        warnings += [one for one in said if done.edges[k].name not in one]
        kept = after.piece_of(done.parts[k].uid)
        edges = tuple(replace(e, use="finished") if e.uid == done.edges[k].uid else e for e in kept.edges)
        return after.with_piece(replace(kept, edges=edges))

    def _piece(self, pattern: Pattern) -> Piece:
        found = [pattern.piece(name) for name in dict.fromkeys(place.piece for place in self.target)]
        if len(found) != 1:
            names = " and ".join(piece.name for piece in found)
            raise UsageError(f"the lines lie on {names}; cut one piece after the other")
        if len(set(self.target)) < len(self.target):
            raise UsageError("a line or dart is named twice; name each once")
        return found[0]

    def _link(self, pattern: Pattern, place: Place) -> Link:
        piece, thing = find(pattern, place)
        if isinstance(thing, (Line, Dart)):
            return thing
        raise UsageError(f"'{place}' is no line or dart of {piece.name}; name one that the cut goes along")

    def _named(self, piece: Piece, links: list[Link]) -> str:
        lines = [link for link in links if isinstance(link, Line)]
        name = checked_name(self.edge, kind="edge's name") if self.edge else (*lines, *links)[0].name
        if name in piece.names() - {link.name for link in links}:
            raise UsageError(f"{piece.name} has a '{name}' already; give another name with ", Option("edge"))
        return name

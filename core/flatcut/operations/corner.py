"""`corner`: how the allowances of two edges end where the edges meet."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, number, refs
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.offset_values import CornerNote
from flatcut.marking.corners import meeting, reaches
from flatcut.marking.cutline import cut_lines_of
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.seaming import seams_of
from flatcut.pattern.values import BY_USE, CORNER_KINDS, Corner, Edge, Figure, Pattern, Piece

DEFAULT = "default"
"""The kind that follows from what the edges are for."""
ABOUT = ("squared", "turned")
"""Kinds that go by one of the two edges."""


@operation(menu="Finish", title="Finish corner")
@dataclass(frozen=True, kw_only=True)
class SetCorner(Operation):
    """Say how the allowances end at corners: mitred, squared, turned, bevelled or stepped.

    Squared: the stitch line of the seam sewn first runs on to the other cut line, and its allowance ends square there.
    Turned: beyond the fold the cut edge is the mirror image of the side, so that a hem or facing fits when it is folded
    up. Bevelled: cut square at one width from the seam end. Stepped: each allowance keeps its width to the seam end,
    and the cut line steps from one to the other.
    """

    target: tuple[Place, ...] = refs("corner", "corners, such as front.side/hem")
    kind: str = choice(
        "mitred", ("how the allowances end", "default: by what the edges are for"), (*CORNER_KINDS, DEFAULT)
    )
    through: tuple[Place, ...] = refs(
        "edge",
        ("through which edge", "squared: the seam sewn first; turned: the hem", "told from seams and uses"),
        optional=True,
    )
    limit: float = number(
        3.0, ("longest mitre, in widths", "one that reaches farther is cut off"), low=1, high=20, digits=1
    )

    def _settled(self, pattern: Pattern) -> SetCorner:
        return self if self.kind in ABOUT else replace(self, through=())

    def _apply(self, pattern: Pattern) -> Outcome:
        wanted = [_corner(pattern, place) for place in self.target]
        given = {(place.piece, place.name) for place in self.through}
        for owner, name in given:
            if not any(p.name == owner and name in (e.name, p.after(e).name) for p, e in wanted):
                raise UsageError(
                    f"{owner}.{name} ends at none of these corners; ", Option("through"), " takes an edge that does"
                )
        changed: dict[str, Corner] = {}
        for piece, edge in wanted:
            changed[edge.uid] = self._made(pattern, piece, edge, given)
        pieces = []
        for piece in pattern.pieces:
            edges = tuple(replace(e, corner=changed[e.uid]) if e.uid in changed else e for e in piece.edges)
            pieces.append(replace(piece, edges=edges) if edges != piece.edges else piece)
        after = replace(pattern, pieces=tuple(pieces))
        figures, warnings = _told(after, changed)
        return Outcome(pattern=after, figures=figures, warnings=warnings)

    def _made(self, pattern: Pattern, piece: Piece, edge: Edge, given: set[tuple[str, str]]) -> Corner:
        if self.kind == DEFAULT:
            return BY_USE
        if self.kind not in ABOUT:
            return Corner(kind=self.kind, limit=self.limit)
        both = (edge, piece.after(edge))
        named = [e for e in both if (piece.name, e.name) in given]
        found = named or _likely(pattern, self.kind, both)
        at = f"{piece.name}.{edge.name}/{both[1].name}"
        if len(found) != 1:
            what = "is sewn first" if self.kind == "squared" else "is folded back"
            raise UsageError(
                f"at {at}, say which edge {what}: ",
                Option("through", f"{piece.name}.{edge.name}"),
                " or ",
                Option("through", f"{piece.name}.{both[1].name}"),
            )
        return Corner(kind=self.kind, through=found[0].uid, limit=self.limit)


def _corner(pattern: Pattern, place: Place) -> tuple[Piece, Edge]:
    """The piece of a corner, and the edge at whose end it is. Errors: UsageError where a dart stands in it."""
    piece = pattern.piece(place.piece)
    edge, other = piece.edge(place.name), piece.edge(place.other)
    first = edge if piece.after(edge).uid == other.uid else other
    if piece.after(first).uid not in (edge.uid, other.uid):
        raise UsageError(f"'{place}': {edge.name} and {other.name} do not meet; name two edges that follow each other")
    dart = piece.cut_in(first, len(first.parts) - 1)
    if dart is not None:
        raise UsageError(f"{dart.name} stands in {place}, and its folded end says how that is cut; name another")
    return piece, first


def _likely(pattern: Pattern, kind: str, both: tuple[Edge, Edge]) -> list[Edge]:
    """The edge that is sewn first or folded back, where seams and uses leave no doubt."""
    if kind == "turned":
        return [e for e in both if e.use == "hem"] or [e for e in both if e.use == "opening"]
    seams = [e for e in both if e.use == "seam"]
    return seams if len(seams) == 1 else [e for e in seams if seams_of(pattern, e.uid)]


def _told(pattern: Pattern, changed: dict[str, Corner]) -> tuple[tuple[Figure, ...], tuple[str, ...]]:
    """Angle of each corner, how far its allowances reach, and what the cut line says about it."""
    figures: list[Figure] = []
    warnings: list[str] = []
    told_of = [piece for piece in pattern.pieces if any(edge.uid in changed for edge in piece.edges)]
    for piece, cut in zip(told_of, cut_lines_of(told_of), strict=True):
        if isinstance(cut, GeometryError):
            raise cut
        for edge in [edge for edge in piece.edges if edge.uid in changed]:
            at = f"{piece.name}.{edge.name}/{piece.after(edge).name}"
            figures.append(Figure(f"{at} angle", meeting(piece, edge).angle, "°"))
            if cut is not None:
                figures += [Figure(f"{at} {words}", away) for words, away in reaches(piece, edge, cut)]
                warnings += [note for note in cut.warnings if isinstance(note, CornerNote) and note.corner == at]
    return tuple(figures), tuple(dict.fromkeys(warnings))

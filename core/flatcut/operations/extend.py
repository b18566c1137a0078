"""`extend`: an edge carried out, or in, along the edges beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, length, refs, text
from flatcut.drafting.ends import across
from flatcut.drafting.extending import extended
from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import unit
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.graining import with_grain_inside
from flatcut.pattern.motions import Motion
from flatcut.pattern.paper_motions import carried
from flatcut.pattern.places import Place
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.spots import edge_of
from flatcut.pattern.values import USES, Figure, Pattern
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.truing.following import followed
from flatcut.truing.truing import marks_followed
from flatcut.units import plain

REACH = 50.0
"""mm to either side of where a seam begins to flare over which it is made fair (common practice, no source)."""
ALIKE = 0.05
"""mm that a seam's two sides may differ by more than before, and nothing is said."""


@operation(menu="Shape", title="Extend edges")
@dataclass(frozen=True, kw_only=True)
class Extend(Operation):
    """Carry edges down by a length, such as hems, along the seams beside them; a negative length takes them up.

    The seams run straight on. With --flare each seam that is no fold or centre comes to lie so much farther out at the
    new edge, less with a minus, turned from the line named by --from on. Name the edges of all panels at once, and
    both sides of every seam change alike. The new edge is a smooth line square to both seams, or keeps its shape.
    """

    target: tuple[Place, ...] = refs("edge", ("the edges", "such as front.hip back.hip, of all panels at once"))
    by: float | None = length(None, ("how far", "negative: up"), low=-2000, high=3000)
    flare: float = length(
        0.0, ("flare at each seam", "how much farther out it ends; negative: tapered"), low=-500, high=500
    )
    from_: str = text("", ("flared from the line", "such as hip-line", "the old corner"))
    shape: str = choice(
        "square", ("shape of the new edge", "square to the seams beside it, or kept as it was"), ("square", "kept")
    )
    use: str = choice("", ("what the edges are for now", "", "as before"), ("", *USES))
    reach: float = length(REACH, ("made fair beside the turn over", "0 leaves a corner"), high=500)

    def _apply(self, pattern: Pattern) -> Outcome:
        if self.by is None:
            raise UsageError("extend wants how far; give ", Option("by"))
        if self.from_ and not self.flare:
            raise UsageError(Option("from"), " says where seams begin to turn; give ", Option("flare"), " too")
        before = pattern
        was = [run_sewn(pattern, seam.a) - run_sewn(pattern, seam.b) for seam in pattern.seams]
        figures: list[Figure] = []
        warnings: list[str] = []
        motions: list[Motion] = []
        for place in self.target:
            piece, edge = edge_of(pattern, place)
            made, flared = extended(
                piece, edge, self.by, self.flare, self.from_, square=self.shape == "square", reach=self.reach
            )
            # words such as 'hip line' were said of where the edge lay
            edges = tuple(replace(e, use=self.use or e.use, words="") if e.uid == edge.uid else e for e in made.edges)
            made = replace(made, edges=edges)
            refuse_overlap(made, advice="extend by less, or flare less")
            motions += carried(piece, made, self.by * across(piece, unit(edge.end - edge.start)))
            pattern, lost = followed(pattern, [marks_followed(piece, made)])
            warnings += lost
            pattern = pattern.with_piece(with_grain_inside(pattern.piece_of(piece.uid)))
            if self.flare and not flared:
                warnings.append(f"{piece.name}.{edge.name} has no seam beside it that could be flared")
        for old, new in zip(before.pieces, pattern.pieces, strict=True):
            for a, b in zip(old.edges, new.edges, strict=True):
                if abs(drawn_length(b) - drawn_length(a)) > 0.005:
                    figures.append(Figure(f"{new.name}.{b.name} longer by", drawn_length(b) - drawn_length(a)))
                    figures.append(Figure(f"{new.name}.{b.name} drawn", drawn_length(b)))
        for seam, differed in zip(pattern.seams, was, strict=True):
            differs = run_sewn(pattern, seam.a) - run_sewn(pattern, seam.b)
            if abs(differs - differed) > ALIKE:
                names = " and ".join(f"{pattern.piece_of(p.piece).name}" for p in (seam.a[0], seam.b[0]))
                warnings.append(
                    f"a seam of {names} differs by {plain(abs(differs))} mm now; extend the edges of both pieces alike"
                )
        return Outcome(
            pattern=pattern, figures=tuple(figures), warnings=tuple(dict.fromkeys(warnings)), motions=tuple(motions)
        )

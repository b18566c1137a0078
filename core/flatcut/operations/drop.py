"""`drop`: pieces taken out of the pattern."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import refs
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.runs import written
from flatcut.pattern.values import Figure, Pattern, area


@operation(menu="Shape", title="Drop piece")
@dataclass(frozen=True, kw_only=True)
class Drop(Operation):
    """Take pieces out of the pattern, and the seams that they were sewn by."""

    target: tuple[Place, ...] = refs("piece", "pieces")

    def _apply(self, pattern: Pattern) -> Outcome:
        gone = {pattern.piece(place.piece).uid for place in self.target}
        kept = tuple(piece for piece in pattern.pieces if piece.uid not in gone)
        warnings = []
        seams = []
        for seam in pattern.seams:
            met = {part.piece for part in (*seam.a, *seam.b)}
            if not met & gone:
                seams.append(seam)
            elif met - gone:
                warnings.append(f"the seam {written(pattern, seam.a)} = {written(pattern, seam.b)} is gone")
        dropped = {piece.name for piece in pattern.pieces if piece.uid in gone}
        for piece in kept:
            if piece.source in dropped:
                warnings.append(f"{piece.name} was made of {piece.source}, which is gone; it stays as it is")
        kept = tuple(replace(p, source="") if p.source in dropped else p for p in kept)
        figures = tuple(
            Figure(f"{piece.name} area", abs(area(piece)) / 100, "cm²") for piece in pattern.pieces if piece.uid in gone
        )
        return Outcome(
            pattern=replace(pattern, pieces=kept, seams=tuple(seams)), figures=figures, warnings=tuple(warnings)
        )

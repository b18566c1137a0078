"""`drop`: pieces taken out of the pattern."""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.declared.fields import refs
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.panels.dropping import without_pieces
from flatcut.pattern.places import Place
from flatcut.pattern.values import Figure, Pattern, area


@operation(menu="Shape", title="Drop piece")
@dataclass(frozen=True, kw_only=True)
class Drop(Operation):
    """Take pieces out of the pattern, and the seams that they were sewn by."""

    target: tuple[Place, ...] = refs("piece", "pieces")

    def _apply(self, pattern: Pattern) -> Outcome:
        gone = {pattern.piece(place.piece).uid for place in self.target}
        figures = tuple(
            Figure(f"{piece.name} area", abs(area(piece)) / 100, "cm²") for piece in pattern.pieces if piece.uid in gone
        )
        after, warnings = without_pieces(pattern, gone)
        return Outcome(pattern=after, figures=figures, warnings=warnings)

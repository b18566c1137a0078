"""`allowance`: the seam allowance of edges, and with it the cut line."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.operations.fields import length, refs
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.operations.resolve import ALL
from flatcut.pattern.defaults import ALLOWANCES, NO_ALLOWANCE
from flatcut.pattern.places import parse_place
from flatcut.pattern.values import Allowance, Edge, Figure, Pattern


@operation(menu="Finish")
@dataclass(frozen=True, kw_only=True)
class SetAllowance(Operation):
    """Give edges their seam allowance; the cut line follows from it.

    A piece as target means all its edges. Without a width each edge gets that of its use. Fold, centre and finished
    edges get none unless they are named themselves.
    """

    target: tuple[str, ...] = refs(("edge", "piece"), "edges, or pieces for all their edges")
    width: float | None = length(None, "width of the allowance; left out: by the use of each edge", high=200)

    def _apply(self, pattern: Pattern) -> Outcome:
        wanted = [parse_place(text) for text in self.target] if self.target != (ALL,) else []
        named = {(place.piece, place.name) for place in wanted}
        figures: list[Figure] = []
        pieces = []
        for piece in pattern.pieces:
            whole = not wanted or (piece.name, "") in named
            edges = []
            for edge in piece.edges:
                if whole or (piece.name, edge.name) in named:
                    edge = self._widened(edge, explicit=(piece.name, edge.name) in named)
                    assert edge.allowance is not None
                    figures.append(Figure(f"{piece.name}.{edge.name} allowance", edge.allowance.width))
                edges.append(edge)
            changed = any(new is not old for new, old in zip(edges, piece.edges, strict=True))
            pieces.append(replace(piece, edges=tuple(edges)) if changed else piece)
        return Outcome(pattern=replace(pattern, pieces=tuple(pieces)), figures=tuple(figures))

    def _widened(self, edge: Edge, *, explicit: bool) -> Edge:
        by_use = self.width is None or (edge.use in NO_ALLOWANCE and not explicit)
        width = ALLOWANCES[edge.use] if by_use else self.width
        assert width is not None
        return replace(edge, allowance=Allowance(width=width))

"""`redraw`: draw cut lines, ticks and labels anew."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import flag, refs
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.values import Pattern, Piece


@operation(menu="Prepare", title="Redraw piece")
@dataclass(frozen=True, kw_only=True)
class Redraw(Operation):
    """Draw the cut line, ticks, caps and label of pieces anew, after editing by hand.

    A cut line that was drawn by hand stands as it is, and a label that was deleted stays away, until --force.
    """

    target: tuple[Place, ...] = refs("piece", ("pieces", "none means all"), optional=True)
    force: bool = flag(False, ("also what was done by hand", "a cut line drawn by hand and a label that was deleted"))

    def _apply(self, pattern: Pattern) -> Outcome:
        wanted = {place.piece for place in self.target}
        # a new value with the same content: what is written is what is not the value that was read
        pieces = tuple(self._anew(p) if not wanted or p.name in wanted else p for p in pattern.pieces)
        return Outcome(pattern=replace(pattern, pieces=pieces), recorded=False)

    def _anew(self, piece: Piece) -> Piece:
        if not self.force:
            return replace(piece)
        return replace(piece, cut_by_hand=None, caption=replace(piece.caption, shown=True))

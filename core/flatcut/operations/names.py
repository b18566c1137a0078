"""`names`: show the names of edges on a layer that is never printed, or hide them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import flag
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.values import Pattern


@operation(menu="Prepare", title="Show names and figures")
@dataclass(frozen=True, kw_only=True)
class ShowNames(Operation):
    """Show the names of edges, darts and points and the last figures on a layer of their own, or hide them."""

    show: bool = flag(True, ("show the names", "of edges, darts, points and lines"))
    figures: bool = flag(True, ("show the figures of a press", "what it did, beside the pieces, and what to look at"))

    def _apply(self, pattern: Pattern) -> Outcome:
        return Outcome(pattern=replace(pattern, names_shown=self.show, told_hidden=not self.figures), recorded=False)

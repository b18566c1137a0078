"""`names`: show the names of edges on a layer that is never printed, or hide them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.declared.fields import flag
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.values import Pattern


@operation(menu="Prepare", title="Show names")
@dataclass(frozen=True, kw_only=True)
class ShowNames(Operation):
    """Show the names of edges, darts and points and the last figures on a layer of their own, or hide them."""

    show: bool = flag(True, "show them")

    def _apply(self, pattern: Pattern) -> Outcome:
        return Outcome(pattern=replace(pattern, names_shown=self.show), recorded=False)

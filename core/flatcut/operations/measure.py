"""`measure`: the length of a run, or the distance of two places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from flatcut.declared.fields import refs, text
from flatcut.errors import UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.measuring import distance, run_length
from flatcut.pattern.places import Place, Run
from flatcut.pattern.values import Figure, Pattern, checked_name


@operation(menu="Prepare", title="Measure edge")
@dataclass(frozen=True, kw_only=True)
class Measure(Operation):
    """Measure a run along its seam line, or straight from one place to another.

    Write edges joined by +, or two places with two dots between them. With --as the figure is kept under a name that
    lengths may use; without it nothing is recorded.
    """

    previewed: ClassVar[bool] = False

    target: tuple[Place | Run, ...] = refs(
        ("run", "place"),
        ("edges, or two places", "edges such as front.neck+back.neck; two places are written with .. between them"),
        between=True,
    )
    as_: str = text("", ("keep it under the name", "then other figures may count with it"), named=True)

    def _apply(self, pattern: Pattern) -> Outcome:
        runs = [one for one in self.target if isinstance(one, Run)]
        places = [one for one in self.target if isinstance(one, Place)]
        if not places:
            whole = Run(tuple(part for run in runs for part in run.parts))
            value, label = run_length(pattern, whole), str(whole)
        elif len(places) == 2 and not runs:
            value, label = distance(pattern, *places), "..".join(map(str, places))
        else:
            raise UsageError("measure takes edges, or two places with two dots between them")
        if not self.as_:
            return Outcome(pattern=pattern, figures=(Figure(label, value),), recorded=False)
        name = checked_name(self.as_, kind="measure's name")
        if name in pattern.body:
            raise UsageError(f"'{name}' is a body measurement; give another name")
        kept = replace(pattern, measures={**pattern.measures, name: value})
        return Outcome(pattern=kept, figures=(Figure(f"{name} = {label}", value),))

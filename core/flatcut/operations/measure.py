"""`measure`: the length of a run, or the distance of two places."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from flatcut.declared.fields import refs, text
from flatcut.errors import UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.measuring import distance, run_length
from flatcut.pattern.places import parse_place
from flatcut.pattern.spots import find
from flatcut.pattern.values import Dart, Figure, NamedPoint, Pattern, checked_name

_BETWEEN = re.compile(r"\.\.(?=~?[^\W\d_][\w-]*\.|at\()")


@operation(menu="Prepare")
@dataclass(frozen=True, kw_only=True)
class Measure(Operation):
    """Measure a run along its seam line, or straight from one place to another.

    Write edges joined by +, or two places with two dots between them. With --as the figure is kept under a name that
    lengths may use; without it nothing is recorded.
    """

    target: tuple[str, ...] = refs(
        ("run", "place"), "edges such as front.neck+back.neck, or two places; those are written with .. between them"
    )
    as_: str = text("", "name that the figure is kept under")

    def __post_init__(self) -> None:
        super().__post_init__()
        ends = tuple(end for word in self.target for end in _BETWEEN.split(word))
        object.__setattr__(self, "target", ends)

    def _apply(self, pattern: Pattern) -> Outcome:
        if not any(_is_place(pattern, word) for word in self.target):
            value, label = run_length(pattern, "+".join(self.target)), "+".join(self.target)
        elif len(self.target) == 2:
            value, label = distance(pattern, *self.target), "..".join(self.target)
        else:
            raise UsageError("measure takes edges, or two places with two dots between them")
        if not self.as_:
            return Outcome(pattern=pattern, figures=(Figure(label, value),), recorded=False)
        name = checked_name(self.as_, kind="measure's name")
        if name in pattern.body:
            raise UsageError(f"'{name}' is a body measurement; give another name")
        kept = replace(pattern, measures={**pattern.measures, name: value})
        return Outcome(pattern=kept, figures=(Figure(f"{name} = {label}", value),))


def _is_place(pattern: Pattern, word: str) -> bool:
    """Whether a resolved reference is a place, not an edge, a line or a stretch."""
    if "+" in word or word.startswith("-"):
        return False
    place = parse_place(word)
    if place.chord or place.other or place.part or (place.at is not None and place.to is None):
        return True
    return isinstance(find(pattern, place)[1], (NamedPoint, Dart))

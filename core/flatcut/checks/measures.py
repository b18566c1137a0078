"""Stored measures that the pattern has outgrown."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.errors import FlatcutError
from flatcut.findings import WARNING, Finding
from flatcut.pattern.measuring import distance, run_length
from flatcut.pattern.places import Run, parse_place, read_run, split_outside
from flatcut.pattern.values import Pattern, Step
from flatcut.units import plain

COMMAND, OPTION = "measure", "--as="


@dataclass(frozen=True, kw_only=True)
class Measures(Check):
    """What later steps count with still has the length it was stored with.

    A measure whose edges are cut or gone since tells nothing any more, and is left alone.
    """

    changed: float = length(1.0, ("stored measures: changed by", "how much what was measured may"), high=1000)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Measures that are used, and would be others today."""
        pattern = subject.pattern
        for number, step in enumerate(pattern.steps):
            name, targets = _stored(step)
            if not name or name not in pattern.measures:
                continue
            later = pattern.steps[number + 1 :]
            if any(_stored(one)[0] == name for one in later) or not any(_uses(one, name) for one in later):
                continue
            now = _today(pattern, targets)
            kept = pattern.measures[name]
            if now is None or abs(now - kept) <= self.changed:
                continue
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=(targets[0].partition("+")[0].lstrip("-~"), name),
                text=f"'{name}' was stored as {plain(kept)} mm, and {' '.join(targets)} measures {plain(now)} mm now; "
                f"measure it again, then what was made of it",
                figure=now - kept,
                passes=self.changed,
            )


def _stored(step: Step) -> tuple[str, list[str]]:
    """The name under which a step stores a measure, and what it measures; '' for other steps."""
    if not step.line.startswith(f"{COMMAND} "):
        return "", []
    words = shlex.split(step.line)[1:]
    names = [word.removeprefix(OPTION) for word in words if word.startswith(OPTION)]
    return (names[0] if names else ""), [word for word in words if not word.startswith("--")]


def _uses(step: Step, name: str) -> bool:
    """Whether a name stands in a step as a word of its own."""
    marks = str.maketrans(dict.fromkeys("\"'=()+*/,", " "))
    return name in step.line.translate(marks).split()


def _today(pattern: Pattern, targets: list[str]) -> float | None:
    """What is measured, in mm today; None where it cannot be any more."""
    try:
        if len(targets) == 2 and not any("+" in one for one in targets):
            return distance(pattern, parse_place(targets[0]), parse_place(targets[1]))
        parts = chain.from_iterable(read_run(part).parts for one in targets for part in split_outside(one, ","))
        return run_length(pattern, Run(tuple(parts)))
    except (FlatcutError, KeyError):
        return None

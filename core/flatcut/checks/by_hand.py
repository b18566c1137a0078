"""What was changed by hand since the last step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import WARNING, Finding
from flatcut.pattern.values import BY_HAND, Step


@dataclass(frozen=True, kw_only=True)
class ByHand(Check):
    """Nothing was changed by hand since the last step, or it is said what."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """The edits that reading the drawing has found, in its order."""
        pattern = subject.pattern
        recent: list[Step] = []
        for step in reversed(pattern.steps):
            if not step.line.startswith(BY_HAND):
                break
            recent.insert(0, step)
        for step in recent:
            what = step.line.removeprefix(BY_HAND).strip()
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=step.about,
                text=f"changed by hand since the last step: {what}; look at it, no recipe repeats it",
                aside=True,
            )

"""What was changed by hand since the last step."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import WARNING, Check, Finding, Subject
from flatcut.pattern.values import BY_HAND


@dataclass(frozen=True, kw_only=True)
class ByHand(Check):
    """Nothing was changed by hand since the last step, or it is said what."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """The edits that reading the drawing has found, in its order."""
        pattern = subject.pattern
        recent: list[str] = []
        for step in reversed(pattern.steps):
            if not step.line.startswith(BY_HAND):
                break
            recent.insert(0, step.line.removeprefix(BY_HAND).strip())
        known = {piece.name for piece in pattern.pieces}
        for what in recent:
            where = tuple(word for word in re.findall(r"[^\s,:]+", what) if word.partition(".")[0] in known)
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=where,
                text=f"changed by hand since the last step: {what}; look at it, no recipe repeats it",
            )

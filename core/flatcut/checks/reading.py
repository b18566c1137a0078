"""What could not be read, or was found on reading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import FAULT, Finding


@dataclass(frozen=True, kw_only=True)
class Reading(Check):
    """The drawing has pieces, and every one could be read."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """What reading the drawing found, each a fault of the piece that it was found on."""
        if subject.in_drawing and not subject.pattern.pieces and not subject.notes:
            text = "the drawing has no pieces to check; make its closed paths pieces with piece"
            yield Finding(check=self.name, severity=FAULT, where=(), text=text, grave=True)
        yield from subject.notes

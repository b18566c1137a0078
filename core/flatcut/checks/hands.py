"""Pieces that are sewn to each other lie the same side of the cloth up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.pattern.runs import owner, written
from flatcut.pattern.seaming import runs_meet_head_to_tail


@dataclass(frozen=True, kw_only=True)
class Hands(Check):
    """A single piece is no mirror image of what it must be for its seams: right side lies to right side."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams between single pieces of which one is the mirror image of what it should be."""
        pattern = subject.pattern
        for seam in pattern.seams:
            pieces = [owner(pattern, part)[0] for part in (*seam.a, *seam.b)]
            if not all(piece.one_sided for piece in pieces):
                continue
            image = any(part.mirrored for part in (*seam.a, *seam.b))  # a single piece has no other half
            if runs_meet_head_to_tail(pattern, seam.a, seam.b) == seam.reversed and not image:
                continue
            a, b = written(pattern, seam.a), written(pattern, seam.b)
            first, second = pieces[0].name, owner(pattern, seam.b[0])[0].name
            yield Finding(
                check=self.name,
                severity=WARNING if seam.suggested else FAULT,
                where=(a, b),
                text=f"{a} and {b} fit only with {first} or {second} turned over, and both are cut single; mirror one, "
                f"or cut it as a pair",
                about=seam.uid,
            )

"""What is sewn over both halves of a piece goes over a fold or a seam between them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import FAULT, Finding
from flatcut.pattern.run_order import halves_apart
from flatcut.pattern.runs import owner, written


@dataclass(frozen=True, kw_only=True)
class Halves(Check):
    """What is sewn over both halves of a piece, as a waistband, goes over a fold or a seam where they meet."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams that go from an edge to its mirror image where the garment is open."""
        pattern = subject.pattern
        for seam in pattern.seams:
            for run, other in ((seam.a, seam.b), (seam.b, seam.a)):
                sewn, piece = written(pattern, other), owner(pattern, other[0])[0]
                for name in halves_apart(pattern, run):
                    yield Finding(
                        check=self.name,
                        severity=FAULT,
                        where=(name, sewn),
                        text=f"{sewn} goes on from {name} to its mirror image, and the two do not meet there; state "
                        f"the seam between them, or draft {piece.name} anew from where the garment opens",
                        about=seam.uid,
                    )

"""Seams are walked so that what runs on across them is what belongs together: neck into neck, hem into hem."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import WARNING, Finding
from flatcut.pattern.runs import written
from flatcut.sewing.drawn_alike import names_crossed


@dataclass(frozen=True, kw_only=True)
class TurnedSeams(Check):
    """No seam is walked from the wrong end, as the names of the edges beside its ends tell."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams whose ends would fit each other by name with one run turned."""
        for seam in subject.pattern.seams:
            across = names_crossed(subject.pattern, seam)
            if across is None:
                continue
            a, b = written(subject.pattern, seam.a), written(subject.pattern, seam.b)
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=(a, b),
                text=f"{a} and {b} are sewn so that {across[0]} runs on into {across[1]}; if one is walked from the "
                f"wrong end, state the seam with --reversed={'false' if seam.reversed else 'true'}",
                about=seam.uid,
            )

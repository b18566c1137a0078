"""Seams walked: sewn length against sewn length."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.pattern.runs import owner, written
from flatcut.pattern.seaming import MISMATCH, walked
from flatcut.pattern.values import Pattern, Seam
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class SeamWalk(Check):
    """The two sides of every seam are as long as they should be, once take-ups are sewn.

    0.5 mm is aimed at, 1 mm passes, 1/16 in is the most that is eased in unseen (common practice, no source).
    """

    aim: float = length(
        0.5, ("seams: mismatch aimed at", "between it and what passes the report only says so"), high=100
    )
    pass_: float = length(MISMATCH, "seams: mismatch that passes", high=100)
    warn: float = length(
        1.6, ("seams: mismatch that is a fault", "above it; between it and what passes it is a warning"), high=100
    )

    def verdict(self, rest: float) -> str:
        """How a mismatch stands: 'aim', 'pass', 'warning' or 'fault'."""
        limits = (("aim", self.aim), ("pass", self.pass_), ("warning", self.warn))
        return next((word for word, limit in limits if abs(rest) <= limit + 1e-9), "fault")

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams whose sewn lengths differ by more than the wanted ease and what passes."""
        pattern = subject.pattern
        for seam in pattern.seams:
            one, two, rest = walked(pattern, seam)
            verdict = self.verdict(rest)
            if verdict in ("aim", "pass"):
                continue
            a, b = written(pattern, seam.a), written(pattern, seam.b)
            longer, shorter = (b, a) if rest > 0 else (a, b)
            lengths = (two, one) if rest > 0 else (one, two)
            wanted = f" and {plain(seam.ease)} mm of ease wanted" if seam.ease else ""
            yield Finding(
                check=self.name,
                severity=FAULT if verdict == "fault" and not seam.suggested else WARNING,
                where=(longer, shorter),
                text=f"{longer} is {plain(abs(rest))} mm longer than {shorter} ({plain(lengths[0])} against "
                f"{plain(lengths[1])} mm{wanted}); " + (_anew(pattern, seam) or _todo(a, b, suggested=seam.suggested)),
                figure=rest,
                passes=self.pass_,
                about=seam.uid,
            )


def _anew(pattern: Pattern, seam: Seam) -> str:
    """What to do where a side is a piece that was drafted to fit the other; '' where none is."""
    made = [owner(pattern, part)[0] for part in (*seam.a, *seam.b)]
    drafted = [piece for piece in made if piece.source is not None and piece.source.line]
    if not drafted or len({piece.uid for piece in made}) == len({piece.uid for piece in drafted}):
        return ""
    piece = drafted[0]
    assert piece.source is not None
    return f"if {piece.name} is out of date, draw it anew with: {piece.source.line}"


def _todo(a: str, b: str, *, suggested: bool) -> str:
    if suggested:
        return "the seam is only suggested: confirm it or state another"
    return f"make the two equal with: true {a} {b} --equal"

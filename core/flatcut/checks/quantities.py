"""The cut list and the seams agree: what is sewn together is cut equally often."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.findings import FAULT, WARNING, Finding, plural
from flatcut.marking.cutline import wants_cut
from flatcut.pattern.runs import owner, written
from flatcut.pattern.values import Edge, Pattern, Piece, RunPart


@dataclass(frozen=True, kw_only=True)
class Quantities(Check):
    """The two sides of a seam are there equally often, pairs and folds counted, once the pieces have allowances."""

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams whose sides are cut a different number of times."""
        pattern = subject.pattern
        # edges whose two halves are sewn each in its own way are not counted
        halves = {part.of for seam in pattern.seams for part in (*seam.a, *seam.b) if part.mirrored}
        for seam in pattern.seams:
            parts = (*seam.a, *seam.b)
            pieces = [owner(pattern, part)[0] for part in parts]
            if any(part.of in halves for part in parts) or not all(wants_cut(piece) for piece in pieces):
                continue
            one, two = _count(pattern, seam.a), _count(pattern, seam.b)
            if one == two:
                continue
            a, b = written(pattern, seam.a), written(pattern, seam.b)
            few, many = ((a, one), (b, two)) if one < two else ((b, two), (a, one))
            yield Finding(
                check=self.name,
                severity=WARNING if seam.suggested else FAULT,
                where=(few[0], many[0]),
                text=f"{few[0]} is there {_times(few[1])} and {many[0]}, which it is sewn to, {_times(many[1])}; "
                f"say with label how often each is cut",
                figure=one - two,
                unit="",
                about=seam.uid,
            )


def _count(pattern: Pattern, run: tuple[RunPart, ...]) -> int:
    """How often the side of a seam is there: as often as the part of it that is there least."""
    return min(times(*owner(pattern, part)) for part in run)


def times(piece: Piece, thing: object) -> int:
    """How often an edge is there once everything is cut: both halves of a fold have it, the fold line itself is one."""
    doubled = piece.cut_as == "fold" and not (isinstance(thing, Edge) and thing.use == "fold")
    return piece.quantity * (2 if doubled else 1)


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, plural(count, "time"))

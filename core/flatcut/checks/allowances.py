"""Both sides of a seam have the same allowance, and an edge on the fold has none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.marking.cutline import wants_cut
from flatcut.pattern.mating import sides
from flatcut.pattern.runs import Walked, owner, written
from flatcut.pattern.values import Line, Pattern, Seam
from flatcut.pattern.walking import to_drawn
from flatcut.pattern.widths import bands, even_width, width_at
from flatcut.units import plain

PLACES = 24
"""Places along a seam that are compared, none of them at its ends."""


@dataclass(frozen=True, kw_only=True)
class Allowances(Check):
    """Both sides of a seam have the same allowance, and an edge on the fold has none."""

    apart: float = length(0.2, ("allowances: sides differ by", "how much the two sides of a seam may"), high=1000)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seams whose sides differ in allowance, and fold edges that have one."""
        yield from self._seams(subject.pattern)
        for piece in subject.pattern.pieces:
            for edge in piece.edges if wants_cut(piece) else ():
                most = max(max(band.width, band.end_width) for band in bands(edge))
                if edge.use == "fold" and most > self.apart:
                    name = f"{piece.name}.{edge.name}"
                    yield Finding(
                        check=self.name,
                        severity=FAULT,
                        where=(name,),
                        text=f"{name} lies on the fold and has {plain(most)} mm of allowance; make it 0",
                        figure=most,
                        passes=self.apart,
                    )

    def _seams(self, pattern: Pattern) -> Iterator[Finding]:
        for seam in pattern.seams:
            here, there = sides(pattern, seam)[0]
            if not all(wants_cut(step.piece) for step in (*here, *there)) or _laid_on(pattern, seam):
                continue
            worst = max(zip(_widths(here), _widths(there), strict=True), key=lambda pair: abs(pair[0] - pair[1]))
            if abs(worst[0] - worst[1]) > self.apart:
                a, b = written(pattern, seam.a), written(pattern, seam.b)
                yield Finding(
                    check=self.name,
                    severity=WARNING if seam.suggested else FAULT,
                    where=(a, b),
                    text=f"{a} has {plain(worst[0])} mm of allowance where {b}, which it is sewn to, has "
                    f"{plain(worst[1])} mm; make them equal, unless the kind of seam wants it so",
                    figure=worst[0] - worst[1],
                    passes=self.apart,
                    about=seam.uid,
                )


def _laid_on(pattern: Pattern, seam: Seam) -> bool:
    """Whether a side is a line inside a piece: what is sewn there, as a pocket or what binds a slit, has its allowances
    to itself. On a fold line a folded strip is sewn to what it binds."""
    things = (owner(pattern, part)[1] for part in (*seam.a, *seam.b))
    return any(isinstance(thing, Line) and thing.kind in ("placement", "line") for thing in things)


def _widths(run: list[Walked]) -> list[float]:
    """mm of allowance at PLACES of a run, evenly along its sewn length."""
    total, found, before, k = sum(step.sewn for step in run), [], 0.0, 0
    for place in range(PLACES):
        along = (place + 0.5) / PLACES * total
        while along > before + run[k].sewn and k < len(run) - 1:
            before, k = before + run[k].sewn, k + 1
        step, left = run[k], along - before
        even = even_width(step.edge)
        if even is None:
            even = width_at(step.edge, to_drawn(step.edge, step.start + left if step.forward else step.end - left))
        found.append(even)
    return found

"""Caps of sleeves against the armholes they are set into: how much is eased in, and where."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.checks.derived import TAB
from flatcut.declared.fields import further, length
from flatcut.findings import WARNING, Finding
from flatcut.pattern.runs import ends, run_sewn, written
from flatcut.pattern.values import Edge, Pattern, Piece, Seam
from flatcut.pattern.walking import sewn_length
from flatcut.units import plain

CAP = "cap"
"""The name of the edge of a sleeve that is set in."""
LOWER = 0.4
"""Part of a cap: a stretch of it that begins under the arm and is no longer lies below its notches."""


@dataclass(frozen=True, kw_only=True)
class CapEase(Check):
    """A sleeve's cap is longer than its armholes by what can be eased in, and not under the arm.

    A woven set-in sleeve takes 0 to 4.5 cm, none of it below the notches (common practice, no source). What is gathered
    counts as it is sewn.
    """

    most: float = further(
        length(45.0, ("caps: eased in", "the most that a cap may be longer than its armholes"), high=300), TAB
    )
    short: float = further(length(1.0, ("caps: shorter than armholes by", "how much a cap may be"), high=100), TAB)
    under: float = further(
        length(2.0, ("caps: eased in under the arm", "how much may be, from underarm to notch"), high=100), TAB
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Caps of which too much, too little, or something in the wrong place is eased in."""
        pattern = subject.pattern
        for piece in pattern.pieces:
            for edge in piece.edges:
                if edge.name == CAP:
                    yield from self._cap(pattern, piece, edge)

    def _cap(self, pattern: Pattern, piece: Piece, edge: Edge) -> Iterator[Finding]:
        name, whole = f"{piece.name}.{edge.name}", sewn_length(edge)
        sewn = covered = 0.0
        for seam in pattern.seams:
            eased = _eased(pattern, seam, edge)
            if eased is None:
                continue
            (start, end), ease, armhole = eased
            sewn, covered = sewn + ease, covered + end - start
            beside = start < 1.0 or end > whole - 1.0
            if beside and end - start < LOWER * whole and ease > self.under:
                yield Finding(
                    check=self.name,
                    severity=WARNING,
                    where=(name, armhole),
                    text=f"{plain(ease)} mm of {name} are eased in under the arm along {armhole}; ease lies above the "
                    "notches: make them equal there, and state it above",
                    figure=ease,
                    passes=self.under,
                    about=seam.uid,
                )
        if covered < whole - 1.0:
            return  # a part of it is sewn to nothing, which is told where it is
        if sewn > self.most or sewn < -self.short:
            how = "longer" if sewn > 0 else "shorter"
            todo = "gather the rest, or lower the cap" if sewn > 0 else "raise the cap, or make the armholes smaller"
            yield Finding(
                check=self.name,
                severity=WARNING,
                where=(name,),
                text=f"{name} is {plain(abs(sewn))} mm {how} than the armholes it is set into; {todo}",
                figure=sewn,
                passes=self.most if sewn > 0 else self.short,
            )


def _eased(pattern: Pattern, seam: Seam, edge: Edge) -> tuple[tuple[float, float], float, str] | None:
    """The stretch of a cap that a seam sews to another piece, mm eased in there, and what it is sewn to."""
    for mine, its in ((seam.a, seam.b), (seam.b, seam.a)):
        if len(mine) == 1 and mine[0].of == edge.uid and all(part.piece != mine[0].piece for part in its):
            ease = run_sewn(pattern, mine) - run_sewn(pattern, its)
            return ends(pattern, mine[0]), ease, written(pattern, its)
    return None

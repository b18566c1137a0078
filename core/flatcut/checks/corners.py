"""Corner kinds: seam ends that end alike, squared ends that coincide, hems that are turned."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.marking.corners import allowance_end
from flatcut.marking.cutline import corner_kind
from flatcut.pattern.mating import sides
from flatcut.pattern.seam_ends import SeamEnd, inside_angle, seam_end
from flatcut.pattern.values import Edge, Piece, Seam
from flatcut.pattern.walking import drawn_length
from flatcut.pattern.widths import width_at
from flatcut.units import plain

NO_CORNER = 165.0
"""Degrees inside a piece from which on its edges run on."""
LAID = ("squared", "mitred", "bevelled")
"""Kinds of corner at which both allowances of the seam lie on each other."""


@dataclass(frozen=True, kw_only=True)
class Corners(Check):
    """Corners where two pieces meet end alike, no tip stands out beyond its mate, and hems that lean are turned."""

    follows: ClassVar[bool] = True

    ends_apart: float = length(
        0.5, ("corners: ends lie apart by", "how far the ends of the two allowances may, at a seam's end"), high=100
    )
    hem_miss: float = length(
        0.5, ("corners: hem misses its side by", "how far it may miss the side that it is folded onto"), high=100
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Seam ends whose two sides end unlike, and hems that would not lie on the side they are folded onto."""
        pattern = subject.pattern
        for seam in pattern.seams:
            here, there = sides(pattern, seam)[0]
            for first in (True, False):
                one, two = (_plain(seam_end(run, first=first)) for run in (here, there))
                if one and two and _alike(one, two) and subject.cut(one.piece.uid) and subject.cut(two.piece.uid):
                    yield from self._differing(subject, seam, one, two)
        for piece in pattern.pieces:
            if subject.cut(piece.uid) is not None:
                for edge in piece.edges:
                    yield from self._hem(piece, edge)

    def _differing(self, subject: Subject, seam: Seam, one: SeamEnd, two: SeamEnd) -> Iterator[Finding]:
        severity = WARNING if seam.suggested else FAULT
        kinds = _kind(one), _kind(two)
        ends = []
        for end in (one, two):
            cut = subject.cut(end.piece.uid)
            ends.append(None if cut is None else allowance_end(end.piece, end.edge, cut, at_end=end.at_end))
        away = None if ends[0] is None or ends[1] is None else float(ends[0][0] - ends[1][0])
        # a corner squared at a right angle ends as a mitred one does, whatever it is called
        alike = kinds[0] == kinds[1] or (away is not None and abs(away) <= self.ends_apart and _square(one, two))
        if not alike:
            yield Finding(
                check=self.name,
                severity=severity,
                where=(one.name, two.name),
                text=f"{one.name} is {kinds[0]} and {two.name}, where the same seam ends, is {kinds[1]}; make them "
                f"alike with corner",
                about=seam.uid,
            )
            return
        if kinds[0] not in LAID:
            return  # turned at a fold, or pressed open along the seam that this one runs into
        if away is not None and abs(away) > self.ends_apart:
            yield Finding(
                check=self.name,
                severity=severity,
                where=(one.name, two.name),
                text=f"the allowances at {one.name} and {two.name} laid on each other end {plain(abs(away))} mm apart, "
                f"so that a tip stands out; " + _mended(kinds[0], one, two),
                figure=away,
                passes=self.ends_apart,
                about=seam.uid,
            )

    def _hem(self, piece: Piece, edge: Edge) -> Iterator[Finding]:
        """A hem that is not turned where the side leans."""
        following = piece.after(edge)
        kind, _ = corner_kind(piece, edge)
        hems = [e for e in (edge, following) if e.use == "hem"]
        beside = [e for e in (edge, following) if e.use in ("seam", "opening")]
        if kind == "turned" or len(hems) != 1 or len(beside) != 1 or piece.cut_in(edge, len(edge.parts) - 1):
            return
        hem = hems[0]
        depth = width_at(hem, drawn_length(hem) if hem is edge else 0.0, before=hem is edge)
        lean = inside_angle(piece, edge) - 90.0
        if abs(lean) >= 60:
            return
        # the mirror image leans as far to the other side
        miss = 2 * depth * abs(math.tan(math.radians(lean)))
        if miss > self.hem_miss:
            at = f"{piece.name}.{edge.name}/{following.name}"
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(at,),
                text=f"the hem at {at} is {kind}, and folded up it misses the side by {plain(miss)} mm; make it turned "
                f"with corner",
                figure=miss,
                passes=self.hem_miss,
            )


def _alike(one: SeamEnd, two: SeamEnd) -> bool:
    """Whether both run into edges of one use, and into a corner: what is finished otherwise ends in its own way, and an
    edge may end in the middle of a line."""
    return one.across.use == two.across.use and max(one.angle, two.angle) < NO_CORNER


def _square(one: SeamEnd, two: SeamEnd) -> bool:
    """Whether both corners are mitred or squared ones."""
    return all(_kind(end).split()[0] in ("mitred", "squared") for end in (one, two))


def _mended(kind: str, one: SeamEnd, two: SeamEnd) -> str:
    if kind == "squared":
        return "make the angles there add up to 180°, or the allowances across them equal"
    edge = f"{one.piece.name}.{one.edge.name},{two.piece.name}.{two.edge.name}"
    return f"square them with: corner {one.name} {two.name} --kind=squared --through={edge}"


def _plain(end: SeamEnd | None) -> SeamEnd | None:
    """The end; None where a dart stands in the corner, whose cap is there instead of a corner kind."""
    if end is None or end.piece.cut_in(end.keeper, len(end.keeper.parts) - 1) is not None:
        return None
    return end


def _kind(end: SeamEnd) -> str:
    """Kind of the corner; squared through another edge than the seam's counts as another kind."""
    kind, side = corner_kind(end.piece, end.keeper)
    mine = (side == "first") == (end.keeper.uid == end.edge.uid)
    return f"{kind} across" if kind == "squared" and not mine else kind

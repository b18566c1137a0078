"""Corners where two pieces meet along a seam: neckline, armhole, waist and hem run on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.copies.copying import LAYERS
from flatcut.declared.fields import number
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.pattern.mating import sides
from flatcut.pattern.runs import ends
from flatcut.pattern.seam_ends import SeamEnd, seam_end
from flatcut.pattern.sourcing import sources_of
from flatcut.pattern.values import Edge, Pattern, Piece, Seam
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class _Joint:
    """The two corners that lie side by side at one end of a seam."""

    seam: Seam
    one: SeamEnd
    two: SeamEnd

    @property
    def off(self) -> float:
        """Degrees by which the joined line is not straight; above 0 it juts out."""
        return self.one.angle + self.two.angle - 180.0


@dataclass(frozen=True, kw_only=True)
class RunOn(Check):
    """The lines that a seam ends on run on from piece to piece: neckline, armhole, waist and hem.

    Where two seams cross it is enough that one of the two lines runs on: that of the seam sewn first.
    """

    most: float = number(
        2.0,
        ("joined lines: off straight, °", "the angle in degrees that passes where a seam runs into them"),
        low=0,
        high=90,
        digits=1,
    )
    meant: float = number(
        30.0,
        ("joined lines: meant corner, °", "the angle in degrees from which on a corner is meant"),
        low=0,
        high=180,
        digits=1,
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Ends of seams where the line across is broken."""
        joints = self._joints(subject)
        told: set[frozenset[tuple[str, str]]] = set()
        for joint in joints:
            pair = frozenset((joint.one.key, joint.two.key))
            if pair in told or not self.most < abs(joint.off) < self.meant:
                continue
            told.add(pair)
            if self._turned_out(joint, joints) or _one_on_the_other(subject.pattern, joint):
                continue
            if _faced(subject.pattern, joint.one.piece, joint.two.piece):
                continue
            if not self._crossed(joint, joints):
                yield self._finding(joint)

    def _finding(self, joint: _Joint) -> Finding:
        one, two = joint.one, joint.two
        how = "juts out" if joint.off > 0 else "dips"
        lines = [f"{end.piece.name}.{end.across.name}" for end in (one, two)]
        line = " into ".join(lines)
        # a piece that is sewn to its own mirror image has the same corner twice
        mirrored = one.key == two.key
        names = f"{one.name} and its mirror image" if mirrored else f"{one.name} and {two.name}"
        return Finding(
            check=self.name,
            severity=WARNING if joint.seam.suggested else FAULT,
            where=(one.name,) if mirrored else (one.name, two.name),
            text=f"{names} join to {plain(180 + joint.off)}° instead of 180°: "
            f"{line} {how}; "
            + ("draw it square to the seam" if mirrored else f"make it fair with: true {'+'.join(lines)}"),
            figure=joint.off,
            unit="°",
            passes=self.most,
            about=joint.seam.uid,
        )

    def _joints(self, subject: Subject) -> list[_Joint]:
        found = []
        for seam in subject.pattern.seams:
            here, there = sides(subject.pattern, seam)[0]
            for first in (True, False):
                one, two = seam_end(here, first=first), seam_end(there, first=first)
                if one is not None and two is not None and one.across.use == two.across.use:
                    found.append(_Joint(seam=seam, one=one, two=two))
        return found

    def _turned_out(self, joint: _Joint, joints: list[_Joint]) -> bool:
        """Whether both edges at the corner are sewn to those of the other piece: a collar's point, turned right side
        out, where no line runs on."""
        corners = {joint.one.key, joint.two.key}
        return any(j.seam.uid != joint.seam.uid and {j.one.key, j.two.key} == corners for j in joints)

    def _crossed(self, joint: _Joint, joints: list[_Joint]) -> bool:
        """Whether another seam crosses here whose own line runs on better on both sides.

        The corners of a joint are sewn, by the edges that the seam runs into, to two more corners; those four lie about
        one point, and the other two joints are those of the crossing seam.
        """
        sewn_across = [self._mate(joint, end, joints) for end in (joint.one, joint.two)]
        if sewn_across[0] is None or sewn_across[1] is None:
            return False
        opposite = next(
            (
                other
                for other in joints
                if {other.one.key, other.two.key} == {sewn_across[0][1].key, sewn_across[1][1].key}
            ),
            None,
        )
        mine = max(abs(joint.off), abs(opposite.off) if opposite else 0.0)
        crossing = max(abs(found[0].off) for found in sewn_across if found is not None)
        return crossing < mine

    def _mate(self, joint: _Joint, end: SeamEnd, joints: list[_Joint]) -> tuple[_Joint, SeamEnd] | None:
        """The joint of a crossing seam at a corner, and the corner on its other side."""
        for other in joints:
            if other.seam.uid == joint.seam.uid and {other.one.key, other.two.key} == {joint.one.key, joint.two.key}:
                continue
            for mine, far in ((other.one, other.two), (other.two, other.one)):
                if mine.key == end.key and mine.edge.uid == end.across.uid:
                    return other, far
        return None


def _faced(pattern: Pattern, one: Piece, two: Piece) -> bool:
    """Whether one of the pieces lies inside the other, as its facing or a copy in lining: no line runs on into it."""
    for inner, outer in ((one, two), (two, one)):
        kind = inner.source.kind if inner.source else ""
        lies_inside = kind == "facing" or (kind in LAYERS and inner.material != outer.material)
        if lies_inside and outer in sources_of(pattern, inner):
            return True
    return False


def _one_on_the_other(pattern: Pattern, joint: _Joint) -> bool:
    """Whether the lines across are sewn to one and the same stretch: two layers, as of a collar on its neckline."""
    if joint.one.across.uid == joint.two.across.uid:
        return False  # one line that ends at both sides of the seam, as a sleeve's cap does
    one, two = (_sewn_to(pattern, end.across) for end in (joint.one, joint.two))
    return any(a[0] == b[0] and min(a[2], b[2]) - max(a[1], b[1]) > 1.0 for a in one for b in two)


def _sewn_to(pattern: Pattern, edge: Edge) -> list[tuple[str, float, float]]:
    """The stretches that an edge is sewn to: uid of their edge, from where to where, sewn mm."""
    found = []
    for seam in pattern.seams:
        for mine, other in ((seam.a, seam.b), (seam.b, seam.a)):
            if any(part.of == edge.uid for part in mine) and len(mine) == 1:
                found += [(part.of, *ends(pattern, part)) for part in other]
    return found

"""Runs of edges as something to be sewn: how long, with which angles at its ends, and where its notches stand.

Every run is walked clockwise round its piece, so that two runs that are sewn right side to right side are walked
against each other. The mirror image of an edge, on the other half or on a pair's mate, is walked the other way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from flatcut.errors import UsageError
from flatcut.pattern.seam_ends import before, inside_angle
from flatcut.pattern.values import Edge, Pattern, Piece, area
from flatcut.pattern.walking import drawn_length, sewn_at, sewn_length, to_sewn

AT_END = 1.5
"""mm: a notch this near to an end, or to a dart's foot, marks that and no place of the seam."""


@dataclass(frozen=True)
class Mark:
    """A notch on a run: sewn mm from its start, and how many marks it has."""

    at: float
    count: int


@dataclass(frozen=True, kw_only=True)
class Stitch:
    """An edge, or its mirror image, that a run passes. clockwise: whether the outline is stored that way round."""

    piece: Piece
    edge: Edge
    clockwise: bool
    mirrored: bool = False

    @property
    def key(self) -> str:
        """What tells the edge from all others."""
        return self.edge.uid

    @property
    def text(self) -> str:
        """As it is written in a run, walked clockwise."""
        turned = "" if self.clockwise else "-"
        return f"{turned}{'~' if self.mirrored else ''}{self.piece.name}.{self.edge.name}"

    def after(self) -> Stitch:
        """The next edge of the outline, clockwise."""
        return self._beside(after=True)

    def earlier(self) -> Stitch:
        """The edge before it, clockwise."""
        return self._beside(after=False)

    def turned_over(self) -> Stitch:
        """Its mirror image."""
        return replace(self, mirrored=not self.mirrored)

    def _beside(self, *, after: bool) -> Stitch:
        stored = self.clockwise != self.mirrored
        edge = self.piece.after(self.edge) if after == stored else before(self.piece, self.edge)
        return replace(self, edge=edge)


@dataclass(frozen=True, kw_only=True)
class Sewable:
    """A run of edges one after the other.

    sewn: mm; angles: degrees inside the pieces at its start and end; beyond: uses of the edges before and after it;
    marks: ascending; joints: mm from its start where one edge goes over into the next.
    """

    stitches: tuple[Stitch, ...]
    sewn: float
    angles: tuple[float, float]
    beyond: tuple[str, str]
    marks: tuple[Mark, ...]
    joints: tuple[float, ...] = ()

    @property
    def keys(self) -> frozenset[str]:
        """The edges that it passes."""
        return frozenset(stitch.key for stitch in self.stitches)

    @property
    def course(self) -> tuple[float, float]:
        """The direction from its start to its end as drawn, (x, y) of length 1; (0, 0) of a run of several edges."""
        if len(self.stitches) > 1:
            return 0.0, 0.0
        (stitch,) = self.stitches
        start, end = stitch.edge.parts[0].start, stitch.edge.parts[-1].end
        x, y = (float(v) for v in (end - start if stitch.clockwise else start - end))
        long = math.hypot(x, y) or 1.0
        # the mirror image of an edge is walked the other way
        return x / long, (-y if stitch.mirrored else y) / long

    @property
    def way(self) -> tuple[tuple[str, bool], ...]:
        """What tells the run from all others: its edges in order, and which of them are mirrored."""
        return tuple((stitch.key, stitch.mirrored) for stitch in self.stitches)

    @property
    def text(self) -> str:
        """The run as it is written; one edge alone needs no sign for its direction."""
        if len(self.stitches) == 1:
            return self.stitches[0].text.removeprefix("-")
        return "+".join(stitch.text for stitch in self.stitches)

    def turned_over(self) -> Sewable:
        """The mirror image of the run, walked clockwise again."""
        return Sewable(
            stitches=tuple(stitch.turned_over() for stitch in self.stitches[::-1]),
            sewn=self.sewn,
            angles=(self.angles[1], self.angles[0]),
            beyond=(self.beyond[1], self.beyond[0]),
            marks=tuple(Mark(self.sewn - mark.at, mark.count) for mark in self.marks[::-1]),
            joints=tuple(self.sewn - at for at in self.joints[::-1]),
        )


def sewables(pattern: Pattern, uses: Sequence[str]) -> list[Sewable]:
    """Every edge of one of the uses as a run of its own, in the order of the pattern."""
    found = []
    for piece in pattern.pieces:
        clockwise = area(piece) > 0
        corners = {edge.uid: inside_angle(piece, edge) for edge in piece.edges}
        for edge in piece.edges:
            if edge.use not in uses:
                continue
            angles = (corners[before(piece, edge).uid], corners[edge.uid])
            total = sewn_length(edge)
            run = Sewable(
                stitches=(Stitch(piece=piece, edge=edge, clockwise=clockwise),),
                sewn=total,
                angles=angles,
                beyond=(before(piece, edge).use, piece.after(edge).use),
                marks=_marks(piece, edge),
            )
            found.append(run if clockwise else replace(run.turned_over(), stitches=run.stitches))
    return found


def _marks(piece: Piece, edge: Edge) -> tuple[Mark, ...]:
    """The notches of an edge in its stored direction, those of its ends and darts left out."""
    total = sewn_length(edge)
    feet = [to_sewn(edge, at) for at in _feet(piece, edge)]
    found = []
    for notch in piece.notches:
        if notch.edge != edge.uid:
            continue
        try:
            at = sewn_at(edge, notch.at)
        except UsageError:
            continue  # it stands nowhere, which a check says
        if all(abs(at - other) > AT_END for other in (0.0, total, *feet)):
            found.append(Mark(at, notch.count))
    return tuple(sorted(found, key=lambda mark: mark.at))


def _feet(piece: Piece, edge: Edge) -> list[float]:
    """Drawn mm at which darts stand on an edge."""
    along, found = 0.0, []
    for k, part in enumerate(edge.parts[:-1]):
        along += drawn_length(Edge(uid="", name="", parts=(part,)))
        if piece.cut_in(edge, k) is not None:
            found.append(along)
    return [*found, *(at for takeup in edge.takeups for at in (takeup.start, takeup.end))]


def joined(runs: Sequence[Sewable]) -> Sewable:
    """Runs one after the other as one."""
    joints, marks, walked = [], [], 0.0
    for k, run in enumerate(runs):
        if k:
            joints.append(walked)
        joints += [walked + at for at in run.joints]
        marks += [Mark(walked + mark.at, mark.count) for mark in run.marks]
        walked += run.sewn
    return Sewable(
        stitches=tuple(stitch for run in runs for stitch in run.stitches),
        sewn=walked,
        angles=(runs[0].angles[0], runs[-1].angles[1]),
        beyond=(runs[0].beyond[0], runs[-1].beyond[1]),
        marks=tuple(marks),
        joints=tuple(joints),
    )

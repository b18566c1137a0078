"""Centre and fold lines: straight, and square to what they meet."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import length, number
from flatcut.findings import FAULT, Finding
from flatcut.geometry.arrays import cross
from flatcut.geometry.curves import tangent
from flatcut.pattern.graining import STRAIGHT, chord_way
from flatcut.pattern.seam_ends import end_way, inside_angle, tilt
from flatcut.pattern.values import Edge, Piece, area
from flatcut.pattern.walking import drawn_length, point_at
from flatcut.units import plain

USES = ("fold", "centre")
ROUND = 50.0
"""mm: radius of the tightest curve that counts as square beside a fold: a narrow neck (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Square(Check):
    """Fold edges are straight, fold and centre are not tilted, and neck, waist and hem stand square on them."""

    off: float = number(
        1.0, ("fold and centre: off square, °", "the angle in degrees that passes"), low=0, high=45, digits=1
    )
    stretch: float = length(
        5.0, ("fold and centre: square over", "the stretch that has to be square"), low=0.1, high=100
    )
    point_meant: float = number(
        30.0,
        ("fold and centre: meant point, °", "the angle in degrees from which on a point is meant"),
        low=0,
        high=180,
        digits=1,
    )
    bow: float = length(0.5, "fold: bow that passes", high=100)
    tilted: float = length(1.0, ("fold and centre: tilted by", "how far one end may lie off line"), high=100)

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Folds that bow, fold and centre edges that are tilted, and corners of them that are not square."""
        for piece in subject.pattern.pieces:
            for edge in piece.edges:
                if edge.use == "fold":
                    yield from self._straight(piece, edge)
                if edge.use in USES and len(piece.edges) > 2:
                    yield from self._tilted(piece, edge)
            if len(piece.edges) < 2:
                continue
            for edge in piece.edges:
                following = piece.after(edge)
                centred = [e.use in USES for e in (edge, following)]
                if centred[0] != centred[1] and not piece.cut_in(edge, len(edge.parts) - 1):
                    yield from self._corner(piece, edge, following)

    def _straight(self, piece: Piece, edge: Edge) -> Iterator[Finding]:
        bow = chord_way(edge)[1]
        if bow > self.bow:
            name = f"{piece.name}.{edge.name}"
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(name,),
                text=f"{name} lies on the fold and bows by {plain(bow)} mm; make it straight",
                figure=bow,
                passes=self.bow,
            )

    def _tilted(self, piece: Piece, edge: Edge) -> Iterator[Finding]:
        """An edge that leans between two edges that are square to each other's fold."""
        turned, (way, bow) = tilt(piece, edge), chord_way(edge)
        long = float(abs((edge.end - edge.start) @ way))
        off = long * math.tan(math.radians(min(abs(turned), 45.0)))
        if off > self.tilted and abs(turned) < self.point_meant and bow <= STRAIGHT:
            name = f"{piece.name}.{edge.name}"
            what = "lies on the fold" if edge.use == "fold" else "is a centre line"
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(name,),
                text=f"{name} {what} and is tilted by {plain(abs(turned))}° between what it meets at its two ends, "
                f"{plain(off)} mm over its length; put it square to both",
                figure=off,
                passes=self.tilted,
            )

    def _corner(self, piece: Piece, edge: Edge, following: Edge) -> Iterator[Finding]:
        centred = edge.use in USES
        line = following if centred else edge
        off = inside_angle(piece, edge) - 90.0
        beside = _beside(piece, edge, following, centred=centred, along=self.stretch) - 90.0
        round_off = math.degrees(self.stretch / (2 * ROUND))
        worst = off if abs(off) > self.off else beside
        passes = self.off if abs(off) > self.off else self.off + round_off
        if passes < abs(worst) < self.point_meant:
            name = f"{piece.name}.{edge.name}/{following.name}"
            yield Finding(
                check=self.name,
                severity=FAULT,
                where=(name,),
                text=f"{name} has {plain(90 + worst)}° instead of 90°, so {piece.name}.{line.name} has a "
                f"{'dip' if worst > 0 else 'point'} in the middle; make it square there",
                figure=worst,
                unit="°",
                passes=self.off,
            )


def _beside(piece: Piece, edge: Edge, following: Edge, *, centred: bool, along: float) -> float:
    """Degrees inside the piece between a fold or centre edge and the first stretch of the edge that meets it."""
    line, middle = (following, edge) if centred else (edge, following)
    total = drawn_length(line)
    away = min(along, total)
    near, far = (point_at(line, d if centred else total - d)[0] for d in (0.0, away))
    out = end_way(middle.parts[-1]) if centred else -tangent(middle.parts[0], 0.0)
    # walked along the outline: into the corner and out of it, or the other way round
    into, onward = (out, far - near) if centred else (near - far, -out)
    turn = math.degrees(math.atan2(float(cross(into, onward)), float(into @ onward)))
    return 180.0 - (turn if area(piece) > 0 else -turn)

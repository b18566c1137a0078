"""`drill`: holes that are drilled through the cloth where a mark inside the piece is wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from flatcut.declared.fields import flag, length, refs
from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, tangent
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.finding import unbroken
from flatcut.pattern.marks.hole import of_dart
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Figure, Hole, Line, Pattern, Piece

SHORT = 13.0
"""mm, 1/2 in: how far short of a dart's point, so that the hole is sewn into the dart
(from memory: Joseph-Armstrong, Patternmaking for Fashion Design).
"""
INSIDE = 3.0
"""mm, 1/8 in: inside the widest place of a double-pointed dart, and inside a pocket's corners
(from memory: Joseph-Armstrong, Patternmaking for Fashion Design).
"""
DIAMETER = 2.0
"""mm (common practice: 2 to 3 mm, no source)."""
SAME = 0.5
"""mm: a hole this near to another is the same hole."""
CORNER = 0.26
"""Sine of 15°: a line that turns more sharply has a corner there."""


class _Wanted(NamedTuple):
    """A hole to be set, and what it is called in figures."""

    piece: Piece
    name: str
    at: Array
    dart: str = ""
    of: str = ""
    by: float = 0.0


@operation(menu="Finish", title="Drill hole")
@dataclass(frozen=True, kw_only=True)
class SetHole(Operation):
    """Mark drill holes: at a dart short of its point, inside the corners of a pocket line, or at any place.

    A double-pointed dart gets one short of each point and one inside each side where it is widest. A hole of a dart
    goes where the dart goes.
    """

    target: tuple[Place, ...] = refs(
        ("dart", "place", "line"),
        ("darts, lines or places", "a placement line has one in each corner; a place is such as front.bust-point"),
    )
    short: float = length(SHORT, "how far short of a dart's point", high=100)
    inside: float = length(INSIDE, ("how far inside", "of a dart's sides or a pocket's corners"), high=50)
    diameter: float = length(DIAMETER, "diameter of the hole", low=0.5, high=10)
    remove: bool = flag(False, "take the holes away")

    def _apply(self, pattern: Pattern) -> Outcome:
        wanted = [hole for place in self.target for hole in self._wanted(pattern, place)]
        holes = {piece.uid: list(piece.holes) for piece in pattern.pieces}
        uids = Uids(pattern.uids())
        figures: list[Figure] = []
        gone = 0
        for want in wanted:
            others = holes[want.piece.uid]
            kept = [hole for hole in others if not _same(want, hole)]
            gone += len(others) - len(kept)
            holes[want.piece.uid] = kept
            if self.remove:
                continue
            uid = uids.fresh("hole", want.piece.uid, want.dart or f"{want.at}", want.of)
            at = None if want.dart else want.at
            kept.append(Hole(uid=uid, at=at, dart=want.dart, of=want.of, by=want.by, diameter=self.diameter))
            figures += [Figure(f"{want.name} hole {axis}", float(v)) for axis, v in zip("xy", want.at, strict=True)]
        if self.remove and not gone:
            raise UsageError("there is no drill hole to take away here; name a dart or a place that has one")
        if self.remove:
            figures = [Figure("drill holes taken away", gone, "")]
        pieces = tuple(
            p if list(p.holes) == holes[p.uid] else replace(p, holes=tuple(holes[p.uid])) for p in pattern.pieces
        )
        return Outcome(pattern=replace(pattern, pieces=pieces), figures=tuple(figures))

    def _wanted(self, pattern: Pattern, place: Place) -> list[_Wanted]:
        thing = None
        if not place.chord:
            piece, thing = find(pattern, place)
        if isinstance(thing, Dart) and not place.part:
            return self._of_dart(piece, thing)
        if isinstance(thing, Line) and not place.other:
            found = _inside_corners(unbroken(piece, thing).curve, self.inside)
            if not found:
                raise UsageError(f"'{place}' has no corner to drill inside of; name a place")
            return [_Wanted(piece, str(place), at) for at in found]
        here = spot(pattern, place)
        return [_Wanted(pattern.piece_of(here.piece), str(place), here.point)]

    def _of_dart(self, piece: Piece, dart: Dart) -> list[_Wanted]:
        name = f"{piece.name}.{dart.name}"
        places = {"point": self.short}
        if dart.double:
            places = {"upper": self.short, "lower": self.short, "side-1": self.inside, "side-2": self.inside}
        return [_Wanted(piece, f"{name} {of}", of_dart(dart, of, by), dart.uid, of, by) for of, by in places.items()]


def _same(want: _Wanted, hole: Hole) -> bool:
    """Whether a hole is the one that is wanted: of the same part of a dart, or at the same place."""
    if want.dart or hole.dart:
        return (want.dart, want.of) == (hole.dart, hole.of)
    at = hole.place(want.piece)
    return at is not None and float(np.linalg.norm(at - want.at)) <= SAME


def _inside_corners(curve: Curve, by: float) -> list[Array]:
    """Places `by` mm inside the corners of a line, square to both its sides."""
    closed = bool(np.linalg.norm(curve.start - curve.end) < 1e-6)
    n = len(curve)
    found = []
    for k in range(0 if closed else 1, n):
        before = tangent(curve, float(k if k else n), before=True)
        after = tangent(curve, float(k))
        turn = float(cross(before, after))
        if abs(turn) < CORNER and before @ after > 0:
            continue
        way = unit(after - before)
        # along the bisector the distance to both sides is `by`
        half = float(abs(cross(unit(after), way)))
        found.append(np.asarray(curve.controls[k % n, 0] + by / max(half, 0.1) * way))
    return found

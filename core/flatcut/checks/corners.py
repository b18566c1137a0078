"""Corners where two pieces meet end alike, squared ends coincide, and hems that lean are turned."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from flatcut.checks.check import FAULT, WARNING, Finding
from flatcut.derive.corners import allowance_end, meeting
from flatcut.derive.cutline import CutLine, corner_kind, cut_line
from flatcut.errors import GeometryError
from flatcut.pattern.mating import ON, sides
from flatcut.pattern.runs import Walked
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.pattern.widths import width_at
from flatcut.units import plain

APART = 0.5
"""mm that the ends of two allowances may lie apart (common practice, no source)."""
TURN = 0.5
"""mm that the end of a hem may miss the side that it is folded up onto (common practice, no source)."""


class _End(NamedTuple):
    """An end of a seam on one piece: the edge, whether it ends there, and the edge at whose end the corner is kept."""

    piece: Piece
    edge: Edge
    at_end: bool
    keeper: Edge

    @property
    def name(self) -> str:
        """The corner as it is written."""
        return f"{self.piece.name}.{self.keeper.name}/{self.piece.after(self.keeper).name}"

    def kind(self) -> str:
        """Kind of the corner; squared through another edge than the seam's counts as another kind."""
        kind, side = corner_kind(self.piece, self.keeper)
        mine = (side == "first") == (self.keeper.uid == self.edge.uid)
        return f"{kind} across" if kind == "squared" and not mine else kind


def check(pattern: Pattern) -> Iterator[Finding]:
    """Seam ends whose two sides end unlike each other, and hems that would not lie on the side they are folded onto."""
    cuts: dict[str, CutLine | None] = {}
    for piece in pattern.pieces:
        try:
            cuts[piece.uid] = cut_line(piece)
        except GeometryError:
            cuts[piece.uid] = None  # the check of cut lines says so
    for seam in pattern.seams:
        here, there = sides(pattern, seam)[0]
        for k in (0, -1):
            one, two = _end(here[k], first=k == 0), _end(there[k], first=k == 0)
            if one is not None and two is not None and cuts[one.piece.uid] and cuts[two.piece.uid]:
                yield from _differing(one, two, cuts)
    for piece in pattern.pieces:
        if cuts[piece.uid] is not None:
            for edge in piece.edges:
                yield from _hem(piece, edge)


def _end(step: Walked, *, first: bool) -> _End | None:
    """The corner at the start or end of a walked part; None where it stops inside its edge or on a line."""
    edge = next((e for e in step.piece.edges if e.uid == step.edge.uid), None)
    if edge is None or len(step.piece.edges) < 2:
        return None
    at_end = step.forward != first
    if (sewn_length(edge) - step.end if at_end else step.start) > ON:
        return None
    keeper = edge if at_end else next(e for e in step.piece.edges if step.piece.after(e).uid == edge.uid)
    if step.piece.cut_in(keeper, len(keeper.parts) - 1) is not None:
        return None
    return _End(step.piece, edge, at_end, keeper)


def _differing(one: _End, two: _End, cuts: dict[str, CutLine | None]) -> Iterator[Finding]:
    kinds = one.kind(), two.kind()
    if kinds[0] != kinds[1]:
        yield Finding(
            check="corners",
            severity=WARNING,
            where=(one.name, two.name),
            text=f"{one.name} is {kinds[0]} and {two.name}, where the same seam ends, is {kinds[1]}; make them alike",
        )
        return
    if kinds[0] != "squared":
        return
    ends = []
    for end in (one, two):
        cut = cuts[end.piece.uid]
        assert cut is not None
        ends.append(allowance_end(end.piece, end.edge, cut, at_end=end.at_end))
    if ends[0] is None or ends[1] is None:
        return
    away = float(ends[0][0] - ends[1][0])
    if abs(away) > APART:
        yield Finding(
            check="corners",
            severity=WARNING,
            where=(one.name, two.name),
            text=f"the allowances that are pressed open at {one.name} and {two.name} end {plain(abs(away))} mm apart; "
            f"make the angles there add up to 180°, or the allowances across them equal",
            figure=away,
        )


def _hem(piece: Piece, edge: Edge) -> Iterator[Finding]:
    """A hem that is not turned where the side leans."""
    following = piece.after(edge)
    kind, _ = corner_kind(piece, edge)
    hems = [e for e in (edge, following) if e.use == "hem"]
    sides_ = [e for e in (edge, following) if e.use in ("seam", "opening")]
    if kind == "turned" or len(hems) != 1 or len(sides_) != 1 or piece.cut_in(edge, len(edge.parts) - 1):
        return
    hem = hems[0]
    depth = width_at(hem, drawn_length(hem) if hem is edge else 0.0, before=hem is edge)
    lean = meeting(piece, edge).angle - 90.0
    if abs(lean) >= 60:
        return
    # the mirror image leans as far to the other side
    miss = 2 * depth * abs(math.tan(math.radians(lean)))
    if miss > TURN:
        at = f"{piece.name}.{edge.name}/{following.name}"
        yield Finding(
            check="corners",
            severity=FAULT,
            where=(at,),
            text=f"the hem at {at} is {kind}, and folded up it misses the side by {plain(miss)} mm; "
            f"make the corner turned",
            figure=miss,
        )

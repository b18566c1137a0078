"""The two edges of a seam made equal: the corner at one end of the seam is moved on both, each by half."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.curves import tangent
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.mating import sides
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.runs import run_sewn, written
from flatcut.pattern.seam_ends import SeamEnd, end_way, seam_end
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam
from flatcut.reshape.change import Applied
from flatcut.truing.following import followed

EXACT = 1e-4
"""mm that two edges made equal may differ."""
ROUNDS = 4
"""A curved end is drawn on along its direction: what is left after one round is made up in the next."""
ORDER = ("hem", "finished", "opening", "seam", "centre", "fold")
"""Where the length of a seam is put right, first the edge that is sewn to nothing (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Equalled:
    """pattern: after the step; before: mm that the second side was too long; moved: mm that the corner of each side
    moved; corners: their names; dropped: what could not be carried over, in sentences."""

    pattern: Pattern
    before: float
    moved: tuple[float, float]
    corners: tuple[str, str]
    dropped: tuple[str, ...]


def seam_between(pattern: Pattern, a: Sequence[RunPart], b: Sequence[RunPart]) -> Seam:
    """The seam that joins two runs. Errors: UsageError where none is stated."""
    one, two = ({part.of for part in run} for run in (a, b))
    for seam in pattern.seams:
        sewn = {part.of for part in seam.a}, {part.of for part in seam.b}
        if sewn in ((one, two), (two, one)):
            return seam
    first, second = written(pattern, tuple(a)), written(pattern, tuple(b))
    raise UsageError(f"no seam between {first} and {second} is stated; state it first with: seam {first} {second}")


def equalled(pattern: Pattern, seam: Seam, *, within: float, at: str = "") -> Equalled:
    """The pattern with both sides of a seam as long as they should be, ease counted.

    at: uid of an edge at whose corner the length is put right; '' for the end where the seam meets a hem, else a free
    edge. Each side gives way by half, along its own direction. Errors: GeometryError beyond `within`, UsageError.
    """
    start = _rest(pattern, seam)
    first = _which_end(pattern, seam, at)
    ends = _ends(pattern, seam, first=first)
    before = pattern
    dropped: list[str] = []
    for _ in range(ROUNDS):
        rest = _rest(pattern, seam)
        if abs(rest) <= EXACT / 10:
            break
        # an edge that is sewn to itself in the mirror has one corner
        for side, by in ((0, rest / 2), (1, -rest / 2)):
            pattern, lost = _drawn_on(pattern, _ends(pattern, seam, first=first)[side], by)
            dropped += lost
    if abs(_rest(pattern, seam)) > EXACT:
        raise GeometryError(
            f"the edges at {ends[0].name} cannot be made equal there; choose the other end with ", Option("at")
        )
    moved = tuple(float(np.hypot(*(_corner(pattern, end) - _corner(before, end)))) for end in ends)
    names = " and ".join(end.name for end in ends)
    if max(moved) > within + 1e-9:
        raise GeometryError(
            f"to make the edges equal {names} would move by {max(moved):.2f} mm; allow it with ",
            Option("within", f"{np.ceil(max(moved) * 10) / 10:g}mm"),
            ", or find out which of the two is wrong",
        )
    for end in ends:
        where = outline_crossing(pattern.piece_of(end.piece.uid))
        if where is not None:
            raise GeometryError(f"{end.piece.name} would cross itself near x {where[0]:.1f}, y {where[1]:.1f} mm")
    return Equalled(
        pattern=pattern,
        before=start,
        moved=(moved[0], moved[1]),
        corners=(ends[0].name, ends[1].name),
        dropped=tuple(dict.fromkeys(dropped)),
    )


def _rest(pattern: Pattern, seam: Seam) -> float:
    return run_sewn(pattern, seam.b) - run_sewn(pattern, seam.a) - seam.ease


def _ends(pattern: Pattern, seam: Seam, *, first: bool) -> tuple[SeamEnd, SeamEnd]:
    here, there = sides(pattern, seam)[0]
    one, two = seam_end(here, first=first), seam_end(there, first=first)
    assert one is not None
    assert two is not None
    return one, two


def _which_end(pattern: Pattern, seam: Seam, at: str) -> bool:
    """Whether the length is put right at the seam's first end."""
    here, there = sides(pattern, seam)[0]
    found = []
    for first in (True, False):
        pair = seam_end(here, first=first), seam_end(there, first=first)
        if pair[0] is not None and pair[1] is not None:
            free = [e for e in pair if e is not None and not e.piece.cut_in(e.keeper, len(e.keeper.parts) - 1)]
            if len(free) == 2:
                found.append((first, free))
    if at:
        found = [(first, pair) for first, pair in found if at in {end.across.uid for end in pair}]
    if not found:
        raise UsageError(
            "the seam has no end there at which both sides have a corner; name another edge with ", Option("at")
        )
    return min(found, key=lambda f: (min(ORDER.index(end.across.use) for end in f[1]), f[0]))[0]


def _corner(pattern: Pattern, end: SeamEnd) -> np.ndarray:
    edge = pattern.piece_of(end.piece.uid).edge_of(end.edge.uid)
    return edge.end if end.at_end else edge.start


def _drawn_on(pattern: Pattern, end: SeamEnd, by: float) -> Applied:
    """The pattern with a seam's edge drawn on at its end by so many mm, and the edge across carried along."""
    piece = pattern.piece_of(end.piece.uid)
    edge, across = piece.edge_of(end.edge.uid), piece.edge_of(end.across.uid)
    way = end_way(edge.parts[-1]) if end.at_end else -tangent(edge.parts[0], 0.0)
    at = (edge.end if end.at_end else edge.start) + by * way
    if end.at_end:
        mine = (*edge.parts[:-1], ending_at(edge.parts[-1], at))
        theirs = (starting_at(across.parts[0], at), *across.parts[1:])
    else:
        mine = (starting_at(edge.parts[0], at), *edge.parts[1:])
        theirs = (*across.parts[:-1], ending_at(across.parts[-1], at))
    new = {edge.uid: replace(edge, parts=mine), across.uid: replace(across, parts=theirs)}
    changed: Piece = replace(piece, edges=tuple(new.get(e.uid, e) for e in piece.edges))
    return followed(pattern, [changed])

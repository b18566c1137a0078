"""From the curves of a collar to pieces: drawn with the fold at the left, from there to the opening at the right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.collars.growing import Grown
from flatcut.collars.neckline import Neckline
from flatcut.geometry.length import length
from flatcut.pattern.assembling import Mark, Side, assembled
from flatcut.pattern.graining import laid
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Grain, Piece, Position, RunPart, Seam

SAME = 1.0
"""mm: a notch this near to an end of its edge is left out."""


@dataclass(frozen=True, kw_only=True)
class Drafted:
    """What a kind of collar gives: pieces, seams among them and with the neckline, figures and warnings.

    grown: what becomes of the front where the collar is part of that.
    """

    pieces: tuple[Piece, ...]
    seams: tuple[Seam, ...]
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()
    grown: Grown | None = None


def on_fold(
    name: str, sides: Sequence[Side], notches: Sequence[tuple[str, float]], uids: Uids, *, grain: str = "straight"
) -> Piece:
    """A half collar. sides: clockwise, the last one the fold; notches: edge and mm from the fold along it."""
    marks = []
    total = {side.name: sum(map(length, side.parts)) for side in sides}
    for edge, at in notches:
        if not SAME < at < total[edge] - SAME:
            continue
        marks.append(Mark(edge=edge, at=at, from_end=_ends_at_fold(sides, edge)))
    fold = sides[-1].parts[0]
    piece = assembled(name, sides, uids, marks=marks, grain=(fold.start, fold.end), cut_as="fold")
    ways = {"straight": np.array([0.0, 1.0]), "cross": np.array([1.0, 0.0]), "bias": np.array([1.0, 1.0]) / 2**0.5}
    start, end, _ = laid(piece, ways[grain])
    return replace(piece, grain=Grain(start=start, end=end, kind=grain))


def seam(
    one: tuple[Piece, str], two: tuple[Piece, str], uids: Uids, *, ease: float = 0.0, reversed: bool = False
) -> Seam:
    """The seam of two edges of collar pieces; reversed: the second is walked from its end."""
    (a, name), (b, other) = one, two
    parts = [RunPart(piece=p.uid, of=p.edge(n).uid) for p, n in ((a, name), (b, other))]
    uid = uids.fresh("seam", a.uid, name, b.uid, other)
    return Seam(uid=uid, a=(parts[0],), b=(parts[1],), reversed=reversed, ease=ease)


def to_neckline(piece: Piece, edge: str, neck: Neckline, uids: Uids, *, away: bool) -> list[Seam]:
    """The seam of a collar's neck edge with its neckline; none where that was given as lengths.

    away: the edge is walked toward the fold, against the neckline.
    """
    if not neck.run:
        return []
    held = piece.edge(edge)

    part = RunPart(piece=piece.uid, of=held.uid)
    if neck.free:
        part = replace(part, start=Position(mode="start", value=neck.beyond), end=Position(mode="end", value=0.0))
    uid = uids.fresh("seam", piece.uid, edge, "neckline")
    return [Seam(uid=uid, a=(part,), b=neck.run, reversed=away)]


def free_ends(one: Piece, two: Piece, neck: Neckline, uids: Uids) -> list[Seam]:
    """The seam of what of two neck edges goes on beyond the neckline, and is sewn to each other."""
    if not neck.free or not neck.run:
        return []
    start, end = Position(mode="start", value=0.0), Position(mode="start", value=neck.beyond)
    parts = [RunPart(piece=p.uid, of=p.edge("neck").uid, start=start, end=end) for p in (one, two)]
    return [Seam(uid=uids.fresh("seam", one.uid, two.uid, "beyond"), a=(parts[0],), b=(parts[1],))]


def _ends_at_fold(sides: Sequence[Side], edge: str) -> bool:
    """Whether an edge is walked toward the fold: it is the one before it."""
    return sides[-2].name == edge

"""The lines that an operation has left with a kink, and their truing in the same step."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.pattern.mating import sides
from flatcut.pattern.runs import Walked
from flatcut.pattern.seam_ends import SeamEnd, seam_end
from flatcut.pattern.values import Edge, Figure, Pattern, Piece
from flatcut.pattern.walking import sewn_length
from flatcut.truing.truing import Trued, sharpest, trued
from flatcut.units import plain

NOTED = 1.0
"""Degrees of a new kink from which it is spoken of; a pencil does not show less (common practice, no source)."""
MEANT = 30.0
"""Degrees from which a kink is a corner that may be meant: it is told, and left as it is."""
USUAL = 3.0
"""mm that stand in the line to type."""


class Broken(NamedTuple):
    """A line with a kink that it did not have: as a target is written, its run, and degrees."""

    target: str
    run: tuple[Walked, ...]
    kink: float


def broken_lines(before: Pattern, after: Pattern) -> list[Broken]:
    """The lines of edges that changed which have a kink now where they had none, darts closed and seams sewn."""
    found: list[Broken] = []
    was = {edge.uid: (piece, edge) for piece in before.pieces for edge in piece.edges}
    changed = {
        edge.uid
        for piece in after.pieces
        for edge in piece.edges
        if edge.uid not in was or not _same(was[edge.uid][1], edge) or _darts(*was[edge.uid]) != _darts(piece, edge)
    }
    for piece in after.pieces:
        for edge in piece.edges:
            if edge.uid not in changed:
                continue
            old = _sharpest(before, *was[edge.uid]) if edge.uid in was else 0.0
            kink = _sharpest(after, piece, edge)
            if _broke(old if edge.uid in was else None, kink):
                found.append(Broken(f"{piece.name}.{edge.name}", (_whole(piece, edge),), kink))
    before_joints = {names: off for names, _, off in _joints(before)}
    for names, ends, off in _joints(after):
        if not {uid for end in ends for uid in (end.across.uid, end.edge.uid)} & changed:
            continue
        if _broke(before_joints.get(names), off):
            one, two = ends
            target = f"{one.piece.name}.{one.across.name}+{two.piece.name}.{two.across.name}"
            found.append(Broken(target, (_whole(one.piece, one.across), _whole(two.piece, two.across)), abs(off)))
    return found


def _broke(old: float | None, kink: float) -> bool:
    """Whether a line has a kink that it did not have, None where there was no such line: then a corner is meant."""
    before, now = abs(old or 0.0), abs(kink)
    return before + NOTED / 2 < now and now > NOTED and (now < MEANT or (old is not None and before < MEANT))


def trued_after(
    before: Pattern, after: Pattern, within: float | None
) -> tuple[Pattern, tuple[Figure, ...], tuple[str, ...]]:
    """The pattern with the lines that broke made fair within so many mm, the figures, and warnings.

    Without a distance nothing is changed, and a warning gives the line to type. Errors: GeometryError where a line
    cannot be made fair within the distance.
    """
    if within is None:
        told = [_told(line) for line in broken_lines(before, after)]
        return after, (), tuple(told)
    figures: list[Figure] = []
    dropped: list[str] = []
    done: set[str] = set()
    while True:
        # one after the other: what one line moves, the next starts from
        line = next((line for line in broken_lines(before, after) if line.target not in done), None)
        if line is None:
            return after, tuple(figures), tuple(dict.fromkeys(dropped))
        done.add(line.target)
        if line.kink >= MEANT:
            dropped.append(_told(line))
            continue
        made = trued(after, line.run, within=within)
        after = made.pattern
        dropped += made.dropped
        figures += true_figures(line.target, made)


def _told(line: Broken) -> str:
    """A line that broke, with the line to type."""
    what = f"a kink of {plain(line.kink, 1)}°" if line.kink < MEANT else f"a corner of {plain(line.kink, 1)}° now"
    meant = "" if line.kink < MEANT else "if none is meant, "
    return f"{line.target} has {what}; {meant}make it fair with: true {line.target} --within={plain(USUAL)}mm"


def true_figures(name: str, done: Trued) -> list[Figure]:
    """How far a line moved, by how much it is longer, and its kinks before and now."""
    found = [
        Figure(f"{name} largest move", done.largest),
        Figure(f"{name} longer by", done.change),
        Figure(f"{name} sharpest kink before", done.kink, "°"),
    ]
    for joint in done.joints:
        found += [
            Figure(f"{joint.name} kink before", joint.before, "°"),
            Figure(f"{joint.name} kink now", joint.after, "°"),
            Figure(f"{joint.name} moved by", joint.moved),
        ]
    return found


def _same(a: Edge, b: Edge) -> bool:
    if len(a.parts) != len(b.parts):
        return False
    return all(
        len(p) == len(q) and np.allclose(p.controls, q.controls, atol=1e-6)
        for p, q in zip(a.parts, b.parts, strict=True)
    )


def _darts(piece: Piece, edge: Edge) -> list[tuple[str, bytes]]:
    """The darts that open on an edge, with their points."""
    return [(d.uid, d.points.round(6).tobytes()) for d in piece.darts if d.host == edge.uid]


def _whole(piece: Piece, edge: Edge) -> Walked:
    return Walked(piece=piece, edge=edge, start=0.0, end=sewn_length(edge), forward=True)


def _sharpest(pattern: Pattern, piece: Piece, edge: Edge) -> float:
    """Degrees of the sharpest turn in an edge; 0 where it cannot be laid flat."""
    try:
        return sharpest(pattern, (_whole(piece, edge),))
    except (UsageError, GeometryError):
        return 0.0


def _joints(pattern: Pattern) -> Iterator[tuple[frozenset[tuple[str, str]], tuple[SeamEnd, SeamEnd], float]]:
    """The seam ends at which two edges of one use run on into each other: corners, ends, degrees off straight."""
    for seam in pattern.seams:
        here, there = sides(pattern, seam)[0]
        for first in (True, False):
            one, two = seam_end(here, first=first), seam_end(there, first=first)
            if one is None or two is None or one.across.use != two.across.use or one.key == two.key:
                continue
            yield frozenset((one.key, two.key)), (one, two), one.angle + two.angle - 180.0

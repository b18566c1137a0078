"""Seams of pieces that were cut: divided where both their sides were, and those to parts that are not used."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from flatcut.pattern.runs import run_sewn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Pattern, Piece, RunPart, Seam


def divided(pattern: Pattern, new: Mapping[str, str]) -> Pattern:
    """The pattern with seams in two where both sides were cut by a line of one name.

    new: the edges that the cuts made, by uid the name that they were given.
    """
    uids = Uids(pattern.uids())
    seams: list[Seam] = []
    for seam in pattern.seams:
        rest = seam
        while (parts := _in_two(pattern, rest, new, uids)) is not None:
            seams.append(parts[0])
            rest = parts[1]
        seams.append(rest)
    return replace(pattern, seams=tuple(seams))


def _in_two(pattern: Pattern, seam: Seam, new: Mapping[str, str], uids: Uids) -> tuple[Seam, Seam] | None:
    a, b = list(seam.a), list(seam.b)
    first = _ends(pattern, a, new)
    second = _ends(pattern, b, new)
    if seam.reversed:
        second = second[::-1]
    for i, name in enumerate(first):
        if not name or name not in second:
            continue
        k = second.index(name) + 1
        cut = len(b) - k if seam.reversed else k
        halves = (b[cut:], b[:cut]) if seam.reversed else (b[:cut], b[cut:])
        runs = [(tuple(a[: i + 1]), tuple(halves[0])), (tuple(a[i + 1 :]), tuple(halves[1]))]
        share = run_sewn(pattern, runs[0][0]) / run_sewn(pattern, seam.a) if seam.ease else 0.0
        return (
            replace(seam, a=runs[0][0], b=runs[0][1], ease=seam.ease * share),
            replace(
                seam,
                uid=uids.fresh("seam", seam.uid, name),
                a=runs[1][0],
                b=runs[1][1],
                ease=seam.ease * (1.0 - share) if seam.ease else 0.0,
            ),
        )
    return None


def _ends(pattern: Pattern, run: Sequence[RunPart], new: Mapping[str, str]) -> list[str]:
    """Between each two parts of a run the name of the line that parted them, '' for none."""
    found = []
    for one, other in pairwise(run):
        names = {new.get(_beside(pattern, one, at_end=True), ""), new.get(_beside(pattern, other, at_end=False), "")}
        found.append(names.pop() if len(names) == 1 else "")
    return found


def _beside(pattern: Pattern, part: RunPart, *, at_end: bool) -> str:
    """uid of the edge that follows on a part of a run as it is walked, or comes before it."""
    piece: Piece = pattern.piece_of(part.piece)
    edge: Edge | None = next((e for e in piece.edges if e.uid == part.of), None)
    if edge is None:
        return ""
    forward = part.backwards == part.mirrored
    if forward == at_end:
        return piece.after(edge).uid
    return next(e.uid for e in piece.edges if piece.after(e).uid == edge.uid)


def without_mates(pattern: Pattern, gone: Collection[str], new: Mapping[str, str]) -> Pattern:
    """The pattern without the seams of new edges with those of pieces that go (uids); the others are finished edges."""
    alone: set[str] = set()
    seams = []
    for seam in pattern.seams:
        parts = (*seam.a, *seam.b)
        if all(part.of in new for part in parts) and any(part.piece in gone for part in parts):
            alone |= {part.of for part in parts}
        else:
            seams.append(seam)
    pieces = tuple(
        replace(p, edges=tuple(replace(e, use="finished") if e.uid in alone else e for e in p.edges))
        if any(e.uid in alone for e in p.edges)
        else p
        for p in pattern.pieces
    )
    return replace(pattern, pieces=pieces, seams=tuple(seams))

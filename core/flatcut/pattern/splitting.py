"""An edge split in two, and everything that refers to it brought along."""

from __future__ import annotations

from dataclasses import replace

from flatcut.errors import UsageError
from flatcut.geometry.curves import split
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Corner,
    Dart,
    Edge,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    TakeUp,
)
from flatcut.pattern.walking import SLACK, drawn_of, part_at, sewn_at, sewn_length, to_drawn, to_sewn
from flatcut.pattern.widths import split_allowance


def split_edge(pattern: Pattern, piece: Piece, edge: Edge, sewn: float, *, names: tuple[str, str]) -> Pattern:
    """The pattern with `edge` split `sewn` mm from its start; its first half keeps the uid.

    Seams to the edge become runs over both halves. Errors: UsageError at an end of the edge or inside a take-up.
    """
    total = sewn_length(edge)
    if not SLACK < sewn < total - SLACK:
        raise UsageError(f"{piece.name}.{edge.name} is split at its own end; choose a place between its ends")
    drawn = to_drawn(edge, sewn)
    for takeup in edge.takeups:
        if takeup.start + SLACK < drawn < takeup.end - SLACK:
            raise UsageError(f"{piece.name}.{edge.name} is split inside its {takeup.kind}; choose a place outside it")
    first, second, k = _halves(edge, drawn, Uids(pattern.uids()), names)
    changed = replace(
        piece,
        edges=tuple(new for old in piece.edges for new in ((first, second) if old.uid == edge.uid else (old,))),
        darts=tuple(_hosted(dart, edge, second, k) for dart in piece.darts),
        notches=tuple(_kept(notch, edge, second, sewn) for notch in piece.notches),
    )
    return replace(
        pattern,
        pieces=tuple(changed if p.uid == piece.uid else p for p in pattern.pieces),
        seams=tuple(_followed(seam, edge, second, sewn) for seam in pattern.seams),
    )


def _halves(edge: Edge, drawn: float, uids: Uids, names: tuple[str, str]) -> tuple[Edge, Edge, int]:
    k, u = part_at(edge, drawn)
    part = edge.parts[k]
    if u >= len(part) - 1e-12:
        before, after, last = edge.parts[: k + 1], edge.parts[k + 1 :], k
    else:
        one, two = split(part, u)
        before, after, last = (*edge.parts[:k], one), (two, *edge.parts[k + 1 :]), k
    reached = drawn_of(edge, k, u)
    allowance, rest = split_allowance(edge, to_sewn(edge, reached))
    first = replace(
        edge,
        name=names[0],
        parts=before,
        takeups=tuple(t for t in edge.takeups if t.end <= reached + SLACK),
        allowance=allowance,
        corner=Corner(),
    )
    second = Edge(
        uid=uids.fresh("split", edge.uid, names[1]),
        name=names[1],
        parts=after,
        use=edge.use,
        takeups=tuple(_shifted(t, reached) for t in edge.takeups if t.end > reached + SLACK),
        allowance=rest,
        corner=edge.corner,
    )
    return first, second, last


def _shifted(takeup: TakeUp, by: float) -> TakeUp:
    return replace(takeup, start=takeup.start - by, end=takeup.end - by)


def _hosted(dart: Dart, edge: Edge, second: Edge, last: int) -> Dart:
    if dart.host != edge.uid or dart.form != "cut" or dart.after < last:
        return dart
    # parts of the second half count from its own start: the part that was split is its first
    shift = last if len(second.parts) == len(edge.parts) - last else last + 1
    if dart.after == last and shift == last + 1:
        return dart  # it stands in the new corner, at the end of the first half
    return replace(dart, host=second.uid, after=dart.after - shift)


def _kept(notch: Notch, edge: Edge, second: Edge, sewn: float) -> Notch:
    if notch.edge != edge.uid:
        return notch
    at = sewn_at(edge, notch.at)
    if at <= sewn:
        position = notch.at if notch.at.mode == "start" else Position(mode="start", value=at)
        return replace(notch, at=position)
    position = notch.at if notch.at.mode == "end" else Position(mode="start", value=at - sewn)
    return replace(notch, edge=second.uid, at=position)


def _followed(seam: Seam, edge: Edge, second: Edge, sewn: float) -> Seam:
    def run(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        return tuple(new for part in parts for new in _over(part, edge, second, sewn))

    return replace(seam, a=run(seam.a), b=run(seam.b))


def _over(part: RunPart, edge: Edge, second: Edge, sewn: float) -> list[RunPart]:
    """A part of a run over the two halves, in walking order."""
    if part.of != edge.uid:
        return [part]
    total = sewn_length(edge)
    start = 0.0 if part.start is None else sewn_at(edge, part.start)
    end = total if part.end is None else sewn_at(edge, part.end)
    found = []
    if start < sewn - SLACK:
        stop = None if end >= sewn - SLACK else Position(mode="start", value=end)
        found.append(replace(part, end=stop))
    if end > sewn + SLACK:
        begin = None if start <= sewn + SLACK else Position(mode="start", value=start - sewn)
        stop = None if part.end is None or end >= total - SLACK else Position(mode="start", value=end - sewn)
        found.append(replace(part, of=second.uid, start=begin, end=stop))
    if found and part.start is not None and start < sewn - SLACK:
        found[0] = replace(found[0], start=Position(mode="start", value=start))
    return found if part.backwards == part.mirrored else found[::-1]

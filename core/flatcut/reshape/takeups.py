"""Take-ups go with the cloth they lie on."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Piece, TakeUp
from flatcut.reshape.ways import NEAR, Way, Ways, grouped

SAME = 1e-6
"""mm: ends of a take-up this near to a dart's feet are there."""
LEAST = 0.01
"""mm: less fullness than this is none."""


def carried_takeups(
    edge: Edge, old: Mapping[str, Edge], ways: Mapping[str, Ways], undone: Collection[str] = ()
) -> tuple[TakeUp, ...]:
    """The take-ups of an edge as it is now: those that ways bring there, and those on it whose uid is new.

    One whose cloth was cut out takes up less, or is gone; one that two edges share now is divided as its cloth is.
    old: the edges as they were, by uid; undone: uids of take-ups that are none any more.
    """
    known = {takeup.uid for was in old.values() for takeup in was.takeups}
    found = [takeup for takeup in edge.takeups if takeup.uid not in known]
    for uid, all_of in ways.items():
        for group in grouped([way for way in all_of if way.to == edge.uid]):
            for takeup in old[uid].takeups:
                if takeup.uid in undone:
                    continue
                found += _along(takeup, group, old[uid].takeups)
    return tuple(sorted(found, key=lambda t: t.start))


def _along(takeup: TakeUp, group: list[Way], others: tuple[TakeUp, ...]) -> list[TakeUp]:
    """What of a take-up lies on the stretches of one edge: one, or none."""
    low, high = max(takeup.start, group[0].start), min(takeup.end, group[-1].end)
    within = takeup.end <= group[-1].end + NEAR and takeup.start >= group[0].start - NEAR
    if high - low < LEAST and not (within and takeup.amount > LEAST and takeup.end - takeup.start < LEAST):
        return []
    ends = _placed(group, low, after=True), _placed(group, high, after=False)
    start, end = min(ends), max(ends)
    if group[0].at <= group[0].till and ends[1] < ends[0]:
        end = start = ends[0]  # all its cloth is gone
    share = (high - low) / (takeup.end - takeup.start) if takeup.end > takeup.start else 1.0
    nested = [t for t in others if low - NEAR <= t.start and t.end <= high + NEAR and _shorter(t, takeup)]
    lost = max(0.0, (high - low) - (end - start)) - sum(_lost(t, group) for t in nested)
    amount = takeup.amount * share - max(lost, 0.0)
    uid = takeup.uid
    if low > takeup.start + NEAR:
        uid = Uids(t.uid for t in others).fresh("takeup", takeup.uid, group[0].to)
    return [replace(takeup, uid=uid, start=start, end=end, amount=amount)] if amount > LEAST else []


def _shorter(one: TakeUp, other: TakeUp) -> bool:
    return one.end - one.start < other.end - other.start


def _lost(takeup: TakeUp, group: list[Way]) -> float:
    now = _placed(group, takeup.end, after=False) - _placed(group, takeup.start, after=True)
    return max(0.0, (takeup.end - takeup.start) - max(0.0, abs(now) if group[0].at > group[0].till else now))


def _placed(group: list[Way], at: float, *, after: bool) -> float:
    here = [way for way in group if way.start - NEAR <= at <= way.end + NEAR]
    if here:
        return here[-1 if after else 0].place(at)
    if after:
        return next((way.at for way in group if way.start > at), group[-1].till)
    return next((way.till for way in reversed(group) if way.end < at), group[0].at)


def with_mouths(piece: Piece, edges: Collection[str]) -> Piece:
    """The piece with the take-ups of darts that are drawn inside at their feet, on edges (uids) that were redrawn."""
    for dart in piece.darts:
        if dart.form != "lines" or dart.double or dart.host not in edges:
            continue
        edge = next((e for e in piece.edges if e.uid == dart.host), None)
        if edge is None:
            continue
        start, end = sorted(nearest_drawn(edge, foot) for foot in dart.feet)
        # each dart that is drawn inside has one: its own is the one that lies nearest to its feet
        mouths = [t for t in edge.takeups if t.kind == "dart"]
        own_mouth = min(mouths, key=lambda t: abs(t.start - start) + abs(t.end - end), default=None)
        if own_mouth is None or abs(own_mouth.start - start) + abs(own_mouth.end - end) <= SAME:
            continue
        put = replace(own_mouth, start=start, end=end, amount=end - start)
        takeups = tuple(put if t is own_mouth else t for t in edge.takeups)
        own = replace(edge, takeups=takeups)
        piece = replace(piece, edges=tuple(own if e.uid == own.uid else e for e in piece.edges))
    return piece

"""What stands on edges that were redrawn stays on its cloth: a place goes to the nearest one on the new line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.length import length_to, lengths_to, places_at
from flatcut.geometry.nearest import nearest
from flatcut.pattern.values import Edge, Pattern, Piece, TakeUp
from flatcut.pattern.walking import all_sewn, drawn_length
from flatcut.reshape.change import Applied, Change, applied
from flatcut.reshape.takeups import with_mouths
from flatcut.reshape.ways import Moved, Ways

STEP = 2.0
"""mm between places of which it is told where they go."""
EXACT = 1e-6
"""mm: a place that goes no farther along stays where it is."""


def followed(pattern: Pattern, pieces: Sequence[Piece]) -> Applied:
    """The pattern with pieces whose edges were redrawn, part by part; what stands on those edges follows.

    pieces: all of them or those that changed, with edges and darts as they are drawn now. Fullness keeps its amount,
    and what takes up all the cloth between its ends, as a pleat does, still takes up all of it.
    """
    changed, ways = [], dict[str, Ways]()
    for new in pieces:
        old = pattern.piece_of(new.uid)
        if new is old:
            continue
        edges = []
        for was, now in zip(old.edges, new.edges, strict=True):
            if was.parts != now.parts:
                now, ways[now.uid] = _followed(was, now)
            edges.append(now)
        changed.append(with_mouths(replace(new, edges=tuple(edges)), ways))
    return applied(pattern, Change(pieces=tuple(changed), ways=ways, sewn=True)) if ways else Applied(pattern, ())


def _followed(was: Edge, now: Edge) -> tuple[Edge, Ways]:
    """The new edge with its take-ups, and where the places of the old one go, along the sewn lines."""
    moved = _moved(was, now)
    now = replace(now, takeups=tuple(_moved_takeup(t, moved) for t in was.takeups))
    sewn = Moved(
        all_sewn(was, moved.old),
        all_sewn(now, moved.new),
    )
    return now, sewn.ways(now.uid)


def _moved_takeup(was: TakeUp, moved: Moved) -> TakeUp:
    start, end = moved(was.start, after=True), moved(was.end)
    whole = was.amount >= was.end - was.start - EXACT
    return replace(was, start=start, end=end, amount=end - start if whole else was.amount)


def _moved(was: Edge, now: Edge) -> Moved:
    """From mm of the drawn edge as it was to mm of it as it is now."""
    ends = [end for t in was.takeups for end in (t.start, t.end)]
    old, new = [], []
    reached = at = 0.0
    for k, (before, after) in enumerate(zip(was.parts, now.parts, strict=True)):
        size, length = length_to(before, float(len(before))), length_to(after, float(len(after)))
        own = [end - reached for end in ends if 0 < end - reached < size]
        places = np.unique([*np.linspace(0.0, size, 2 + int(size / STEP)), *own])
        become = places.copy() if before is after else _nearest(before, after, places)
        # beside a dart's foot the last step goes with the foot
        if k > 0:
            become[0] = 0.0
        if k < len(was.parts) - 1:
            become[-1] = length
        keep = _ascending(become)
        old += (reached + places[keep]).tolist()
        new += (at + become[keep]).tolist()
        reached, at = reached + size, at + length
    assert abs(reached - drawn_length(was)) < EXACT
    return Moved(np.array(old), np.array(new))


def _nearest(before: Curve, after: Curve, places: Array) -> Array:
    """mm along a curve as it is now of places, mm along it as it was; never back."""
    points = point(before, places_at(before, places))
    found = lengths_to(after, nearest(after, points)[0])
    found = np.where(np.abs(found - places) < EXACT, places, found)
    return np.maximum.accumulate(found)


def _ascending(become: Array) -> list[int]:
    """Which of ascending places go on along the curve, the first and the last among them."""
    keep = [0]
    for k in range(1, len(become)):
        if become[k] - become[keep[-1]] > EXACT:
            keep.append(k)
    last = len(become) - 1
    if keep[-1] != last:
        keep[-1 if len(keep) > 1 else len(keep) :] = [last]
    return keep

"""Where along an edge a place goes when its outline is changed.

A `Way` takes a stretch of an edge as it was to a stretch of an edge as it is now, linearly. What no way covers of the
old edge is lost; what none covers of the new one is cloth that was put in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np

from flatcut.geometry.arrays import Array

NEAR = 1e-6
"""mm: two places along an edge this near are one."""
SHORT = 1e-9
"""mm: a shorter stretch is none."""


class Way(NamedTuple):
    """The stretch from `start` to `end` of an edge is that from `at` to `till` of the edge `to` (uid) now, in mm.

    `at` after `till` where the edge runs the other way now.
    """

    start: float
    end: float
    to: str
    at: float
    till: float

    def place(self, old: float) -> float:
        """Where a place of the stretch is now; one beyond its ends goes to the end.

        >>> Way(10.0, 30.0, "e", 0.0, 40.0).place(15.0), Way(0.0, 8.0, "e", 8.0, 0.0).place(3.0)
        (10.0, 5.0)
        """
        share = (old - self.start) / (self.end - self.start) if self.end > self.start else 0.0
        return self.at + min(max(share, 0.0), 1.0) * (self.till - self.at)


Ways: TypeAlias = tuple[Way, ...]
"""What became of one edge, ascending along it; empty when all of it is gone."""


@dataclass(frozen=True)
class Moved:
    """From mm of an edge as it was to mm of the same edge as it is now: straight lines between knots, both ascending.

    >>> cut = Moved.identity(100.0).opened(40.0, 40.0, 15.0)
    >>> cut(30.0), cut(40.0), cut(40.0, after=True), cut(50.0)
    (30.0, 40.0, 55.0, 65.0)
    >>> cut.ways("e")
    (Way(start=0.0, end=40.0, to='e', at=0.0, till=40.0), Way(start=40.0, end=100.0, to='e', at=55.0, till=115.0))
    """

    old: Array
    new: Array

    @staticmethod
    def identity(total: float) -> Moved:
        """Nothing has changed on an edge `total` mm long."""
        return Moved(np.array([0.0, total]), np.array([0.0, total]))

    def __call__(self, at: float, *, after: bool = False) -> float:
        """Where a place is now; at one that was opened before the opening, or `after` it."""
        if after:
            return float(np.interp(at, self.old, self.new))
        # of several knots at one place the last counts, so the first is found from the other side
        return float(np.interp(-at, -self.old[::-1], self.new[::-1]))

    def was(self, now: float) -> float:
        """Where a place was; inside an opening that is one place for all."""
        return float(np.interp(now, self.new, self.old))

    def opened(self, start: float, end: float, width: float) -> Moved:
        """The same, and then `width` mm put in place of what lies from `start` to `end` now."""
        by = width - (end - start)
        below, above = self.new <= start, self.new >= end
        if start == end:
            above = above & ~below
        old = [*self.old[below], self.was(start), self.was(end), *self.old[above]]
        new = [*self.new[below], start, start + width, *(self.new[above] + by)]
        return Moved(np.array(old), np.array(new))

    def then(self, places: Array, become: Array) -> Moved:
        """The same, and then places of now moved along the edge to `become`, straight between them."""
        more = np.array([p for p in places if not np.isclose(p, self.new, rtol=0, atol=1e-9).any()])
        new = np.concatenate([self.new, more])
        old = np.concatenate([self.old, [self.was(float(p)) for p in more]])
        order = np.argsort(new, kind="stable")
        return Moved(old[order], np.interp(new[order], places, become))

    def ways(self, uid: str) -> Ways:
        """The same as ways along the edge of that uid."""
        knots = zip(self.old.tolist(), self.new.tolist(), strict=True)
        return tuple(
            Way(a, b, uid, now, then) for (a, now), (b, then) in pairwise(knots) if b - a > SHORT and then - now > SHORT
        )


def kept_ends(uid: str, total: float, now: float, first: float, last: float) -> Ways:
    """An edge `total` mm long and `now` mm long in the end, of which the first and the last so many mm are kept.

    Both are cut where there is less than that.

    >>> kept_ends("e", 50.0, 45.0, 0.0, 45.0)
    (Way(start=5.0, end=50.0, to='e', at=0.0, till=45.0),)
    """
    first, last = min(first, total, now), min(last, total, now)
    found = (Way(0.0, first, uid, 0.0, first), Way(total - last, total, uid, now - last, now))
    return tuple(way for way in found if way.end - way.start > SHORT)


def way_at(ways: Ways, at: float, *, after: bool = False) -> tuple[Way, bool] | None:
    """The way that a place of the old edge goes, and whether it was lost beside it; None when the edge is gone.

    At a joint the way before it, or the one `after` it; so too beside all that is left.

    >>> ways = (Way(0.0, 10.0, "a", 0.0, 10.0), Way(10.0, 20.0, "b", 0.0, 10.0), Way(30.0, 40.0, "c", 0.0, 10.0))
    >>> [(way_at(ways, at)[0].to, way_at(ways, at, after=True)[0].to) for at in (5.0, 10.0, 25.0, 45.0)]
    [('a', 'a'), ('a', 'b'), ('b', 'c'), ('c', 'c')]
    >>> way_at(ways[1:], 5.0), way_at(ways, 45.0)[1], way_at((), 5.0)
    ((Way(start=10.0, end=20.0, to='b', at=0.0, till=10.0), True), True, None)
    """
    if not ways:
        return None
    here = [way for way in ways if way.start - NEAR <= at <= way.end + NEAR]
    if here:
        return here[-1 if after else 0], False
    before = [way for way in ways if way.end < at]
    following = [way for way in ways if way.start > at]
    if after:
        return (following[0] if following else before[-1]), True
    return (before[-1] if before else following[0]), True


def grouped(ways: Sequence[Way]) -> list[list[Way]]:
    """Ways that follow each other on one edge in one direction, together."""
    found: list[list[Way]] = []
    for way in ways:
        last = found[-1][-1] if found else None
        on = last is not None and last.to == way.to and (last.at <= last.till) == (way.at <= way.till)
        if on:
            found[-1].append(way)
        else:
            found.append([way])
    return found


def composed(first: Mapping[str, Ways], then: Mapping[str, Ways]) -> dict[str, Ways]:
    """Two changes one after the other as one.

    >>> composed({"a": (Way(0, 9, "b", 1, 10),)}, {"b": (Way(0, 4, "b", 4, 0), Way(4, 10, "c", 0, 6))})
    {'a': (Way(start=0.0, end=3.0, to='b', at=3.0, till=0.0), Way(start=3.0, end=9.0, to='c', at=0.0, till=6.0))}
    """
    born = {way.to for ways in first.values() for way in ways}
    found = {uid: ways for uid, ways in then.items() if uid not in first and uid not in born}
    for uid, ways in first.items():
        parts = [part for way in ways for part in (_through(way, then[way.to]) if way.to in then else [way])]
        found[uid] = tuple(sorted(parts))
    return found


def _through(way: Way, then: Ways) -> list[Way]:
    """A way whose stretch went further ways."""
    low, high = sorted((way.at, way.till))
    ends = (way.start, way.end) if way.at < way.till else (way.end, way.start)
    back = Way(low, high, "", *ends)
    found = []
    for other in then:
        a, b = max(low, other.start), min(high, other.end)
        if b - a > SHORT:
            (start, at), (end, till) = sorted((back.place(mid), other.place(mid)) for mid in (a, b))
            found.append(Way(start, end, other.to, at, till))
    return found

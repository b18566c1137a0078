"""Along an edge: as drawn, and as sewn once its take-ups are folded or drawn up.

`drawn` counts mm along the spans from the edge's start (a cut-in dart's mouth counts nothing); `sewn` counts mm along
the finished seam line. Inside a take-up sewn runs linearly, at the rate 1 - amount / length of the stretch. Where one
lies within another, as a pleat in an eased stretch, the longer one is taken up on the cloth that the other leaves.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from weakref import WeakKeyDictionary

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point, tangent
from flatcut.geometry.length import length, length_to, place_at, places_at
from flatcut.pattern.edges import Edge, TakeUp
from flatcut.pattern.finish import Position
from flatcut.units import plain

_KNOWN: WeakKeyDictionary[Curve, float] = WeakKeyDictionary()
"""Lengths that were measured once: a curve never changes, and each notch and seam asks for those of its whole edge."""

SLACK = 1e-6
"""mm: a place this far beyond an edge's end still is its end."""
HAIR = 0.05
"""mm: a stretch that begins or ends this near the end of its edge is meant to end there; two sides differ by less."""


def _length(part: Curve) -> float:
    known = _KNOWN.get(part)
    if known is None:
        known = _KNOWN[part] = length(part)
    return known


def drawn_length(edge: Edge) -> float:
    """mm of the drawn spans.

    >>> from flatcut.geometry.curves import line
    >>> drawn_length(Edge(uid="e", name="hem", parts=(line((0, 0), (3, 4)), line((5, 4), (5, 9)))))
    10.0
    """
    return sum(_length(part) for part in edge.parts)


def sewn_length(edge: Edge) -> float:
    """mm of the sewn line: drawn less the take-ups that lie on it."""
    return drawn_length(edge) - sum(takeup.amount for takeup in edge.takeups)


def _knots(edge: Edge) -> tuple[list[float], list[float]]:
    """Matching drawn and sewn distances where the rate changes; both ascending."""
    drawn, sewn = [0.0], [0.0]
    for takeup in _side_by_side(sorted(edge.takeups, key=lambda t: t.start)):
        for at, taken in ((takeup.start, 0.0), (takeup.end, takeup.amount)):
            sewn.append(sewn[-1] + (at - drawn[-1]) - taken)
            drawn.append(at)
    total = drawn_length(edge)
    sewn.append(sewn[-1] + total - drawn[-1])
    drawn.append(total)
    return drawn, sewn


def _side_by_side(takeups: list[TakeUp]) -> list[TakeUp]:
    """Take-ups, ascending, cut up so that none lies over another: each stretch belongs to the shortest one on it."""
    if all(a.end <= b.start + SLACK for a, b in pairwise(takeups)):
        return takeups
    ends = sorted({at for t in takeups for at in (t.start, t.end)})
    cells: list[tuple[TakeUp, float, float]] = []
    for start, end in pairwise(ends):
        over = [t for t in takeups if t.start <= start and end <= t.end]
        if over:
            cells.append((min(over, key=lambda t: t.end - t.start), start, end))
    left = {t.uid: sum(end - start for own, start, end in cells if own is t) for t in takeups}
    return [
        replace(own, start=start, end=end, amount=own.amount * (end - start) / left[own.uid])
        for own, start, end in cells
    ]


def to_drawn(edge: Edge, sewn: float) -> float:
    """The drawn distance of a sewn one; on a fold, where one sewn place is a whole stretch, its first end."""
    drawn, counted = _knots(edge)
    k = max(1, int(np.searchsorted(counted, sewn, side="left")))
    if k >= len(counted):
        return drawn[-1]
    span = counted[k] - counted[k - 1]
    share = (sewn - counted[k - 1]) / span if span > 0 else 0.0
    return drawn[k - 1] + share * (drawn[k] - drawn[k - 1])


def all_drawn(edge: Edge, sewn: Array) -> Array:
    """The drawn distances of sewn ones, (n,) both: see `to_drawn`."""
    drawn, counted = map(np.array, _knots(edge))
    k = np.clip(np.searchsorted(counted, sewn, side="left"), 1, len(counted) - 1)
    span = counted[k] - counted[k - 1]
    share = np.divide(sewn - counted[k - 1], span, out=np.zeros(len(sewn)), where=span > 0)
    return np.asarray(np.where(sewn > counted[-1], drawn[-1], drawn[k - 1] + share * (drawn[k] - drawn[k - 1])))


def to_sewn(edge: Edge, drawn: float) -> float:
    """The sewn distance of a drawn one."""
    at, counted = _knots(edge)
    return float(np.interp(drawn, at, counted))


def all_sewn(edge: Edge, drawn: Array) -> Array:
    """The sewn distances of drawn ones, (n,) both."""
    at, counted = _knots(edge)
    return np.asarray(np.interp(drawn, at, counted))


def sewn_at(edge: Edge, position: Position) -> float:
    """Sewn mm from the start. Errors: UsageError when the place lies beyond the edge."""
    total = sewn_length(edge)
    value = position.along(total)
    if not -SLACK <= value <= total + SLACK:
        raise UsageError(f"{plain(position.value)} mm lies beyond edge {edge.name}, which is {plain(total)} mm long")
    return min(max(value, 0.0), total)


def part_at(edge: Edge, drawn: float) -> tuple[int, float]:
    """The part that a drawn distance falls in, and the place u on it; a dart's mouth belongs to the part before."""
    left = drawn
    for k, part in enumerate(edge.parts):
        total = _length(part)
        if left <= total + SLACK or k == len(edge.parts) - 1:
            return k, place_at(part, min(max(left, 0.0), total))
        left -= total
    raise AssertionError("an edge has a part")


def point_at(edge: Edge, drawn: float) -> tuple[Array, Array]:
    """Point and unit tangent at a drawn distance, both (2,)."""
    k, u = part_at(edge, drawn)
    return point(edge.parts[k], u), tangent(edge.parts[k], u, before=u >= len(edge.parts[k]))


def points_at(edge: Edge, drawn: Array) -> Array:
    """Points (n, 2) at many drawn distances (n,), in one go.

    >>> from flatcut.geometry.curves import line
    >>> edge = Edge(uid="e", name="hem", parts=(line((0, 0), (3, 0)), line((5, 0), (9, 0))))
    >>> points_at(edge, np.array([1.0, 3.0, 5.0]))
    array([[1., 0.],
           [3., 0.],
           [7., 0.]])
    """
    found, left = np.empty((len(drawn), 2)), np.ones(len(drawn), dtype=bool)
    before = 0.0
    for k, part in enumerate(edge.parts):
        total = _length(part)
        mine = left & ((drawn <= before + total + SLACK) | (k == len(edge.parts) - 1))
        if mine.any():
            found[mine] = point(part, places_at(part, np.clip(drawn[mine] - before, 0.0, total)))
        left &= ~mine
        before += total
    return found


def drawn_of(edge: Edge, part: int, u: float) -> float:
    """The drawn distance of place u on a part."""
    return sum(_length(p) for p in edge.parts[:part]) + length_to(edge.parts[part], u)


def nearest_drawn(edge: Edge, at: Array) -> float:
    """The drawn distance of the point of an edge nearest to `at`."""
    from flatcut.geometry.nearest import nearest  # asked where something was moved by hand

    best = (np.inf, 0, 0.0)
    for k, part in enumerate(edge.parts):
        u, away = nearest(part, at)
        best = min(best, (float(away), k, float(u)))
    return drawn_of(edge, best[1], best[2])

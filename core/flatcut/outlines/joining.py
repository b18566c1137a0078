"""Pieces of line, drawn one by one, put together: chains where two ends meet, and the outline round what branches."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, chain, flatten, reverse, signed_area

MEETS = 0.05
"""mm: ends nearer each other than this are one point; other programs round, and draw by hand (common practice)."""


class Joined(NamedTuple):
    """A line put together, and whether it is closed; gap: the widest that was shut in it, mm."""

    curve: Curve
    closed: bool
    gap: float


def joined(curves: Sequence[Curve], *, within: float = MEETS) -> list[Joined]:
    """Lines put together where their ends meet, in the order of the first of each.

    Where more than two ends meet, the outermost closed line round the lot is put together first, as an outline with
    darts drawn up to it is; what is left over stays in chains that end there.

    >>> from flatcut.geometry.curves import line
    >>> corners = [(0, 0), (9, 0), (9, 9), (0, 9)]
    >>> sides = [line(a, b) for a, b in zip(corners, corners[1:] + corners[:1])]
    >>> [(one.closed, len(one.curve)) for one in joined([sides[0], sides[2], sides[3], sides[1]])]
    [(True, 4)]
    """
    rings = [Joined(c, True, float(np.hypot(*(c.end - c.start)))) for c in curves if _shut(c, within)]
    open_ones = [c for c in curves if not _shut(c, within)]
    ends = _points(open_ones, within)
    found: list[tuple[int, Joined]] = [(-1, ring) for ring in rings]
    left = set(range(len(open_ones)))
    for group in _groups(ends, len(open_ones)):
        outer = _outer(group, ends, open_ones)
        if outer:
            found.append((min(k for k, _ in outer), _chained(outer, open_ones, closed=True)))
            left -= {k for k, _ in outer}
    found += _chains(left, ends, open_ones)
    return [one for _, one in sorted(found, key=lambda item: item[0])]


def _shut(curve: Curve, within: float) -> bool:
    return bool(np.hypot(*(curve.end - curve.start)) <= within) and _size(curve) > 2 * within


def _size(curve: Curve) -> float:
    x0, y0, x1, y1 = bounds(curve)
    return max(x1 - x0, y1 - y0)


def _points(curves: Sequence[Curve], within: float) -> list[tuple[int, int]]:
    """For each curve the numbers of the points that it starts and ends at; ends that are near have one number."""
    ends = np.array([point for curve in curves for point in (curve.start, curve.end)]).reshape(-1, 2)
    number = list(range(len(ends)))
    cells: dict[tuple[int, int], list[int]] = {}

    def root(k: int) -> int:
        while number[k] != k:
            number[k] = number[number[k]]
            k = number[k]
        return k

    for k, (x, y) in enumerate(ends.tolist()):
        i, j = math.floor(x / within), math.floor(y / within)
        for cell in ((i + a, j + b) for a in (-1, 0, 1) for b in (-1, 0, 1)):
            for other in cells.get(cell, ()):
                if math.hypot(*(ends[other] - ends[k])) <= within:
                    number[root(k)] = root(other)
        cells.setdefault((i, j), []).append(k)
    return [(root(2 * k), root(2 * k + 1)) for k in range(len(curves))]


def _groups(ends: Sequence[tuple[int, int]], count: int) -> list[list[int]]:
    """Curves that hang together."""
    at: dict[int, list[int]] = {}
    for k, pair in enumerate(ends):
        for point in pair:
            at.setdefault(point, []).append(k)
    seen: set[int] = set()
    groups = []
    for first in range(count):
        if first in seen:
            continue
        todo, group = [first], []
        seen.add(first)
        while todo:
            k = todo.pop()
            group.append(k)
            for point in ends[k]:
                new = [other for other in at[point] if other not in seen]
                seen.update(new)
                todo += new
        groups.append(sorted(group))
    return groups


def _outer(group: list[int], ends: Sequence[tuple[int, int]], curves: Sequence[Curve]) -> list[tuple[int, bool]]:
    """The closed line round a group of curves: each with whether it is walked backwards; none where there is none."""
    kept = set(group)
    while True:  # what hangs on by one end only bounds nothing
        at: dict[int, list[tuple[int, bool]]] = {}
        for k in kept:
            at.setdefault(ends[k][0], []).append((k, False))
            at.setdefault(ends[k][1], []).append((k, True))
        loose = {k for leaving in at.values() if len(leaving) == 1 for k, _ in leaving}
        if not loose:
            break
        kept -= loose
    if not kept:
        return []
    # the leftmost line is on the outside; walked one way round the outside lies to its left, the other way not
    corner = min(kept, key=lambda k: bounds(curves[k])[0])
    shapes = {k: flatten(curves[k], tolerance=0.1) for k in kept}
    walks = [_walk((corner, way), at, ends, shapes) for way in (False, True)]
    return max(walks, key=lambda walk: _enclosed(walk, curves))


def _walk(
    start: tuple[int, bool],
    at: Mapping[int, Sequence[tuple[int, bool]]],
    ends: Sequence[tuple[int, int]],
    shapes: Mapping[int, Array],
) -> list[tuple[int, bool]]:
    """Round a face to its start, the leftmost way on at every point; nothing where a line is walked twice."""
    walk = [start]
    while len(walk) <= 2 * len(shapes):
        k, backwards = walk[-1]
        here = ends[k][0 if backwards else 1]
        came = _leaving(shapes[k], backwards=not backwards)
        choices = [one for one in at[here] if one != (k, not backwards)] or [(k, not backwards)]
        following = min(choices, key=lambda one: _turn(came, _leaving(shapes[one[0]], backwards=one[1])))
        if following == start:
            return walk if len({k for k, _ in walk}) == len(walk) else []
        walk.append(following)
    return []


def _enclosed(walk: Sequence[tuple[int, bool]], curves: Sequence[Curve]) -> float:
    """mm² inside a walk, 0 for none."""
    return abs(signed_area(_chained(walk, curves, closed=True).curve)) if walk else 0.0


def _leaving(points: Array, *, backwards: bool) -> Array:
    """The direction in which a line is left at its start, or backwards at its end."""
    return np.asarray(points[-2] - points[-1] if backwards else points[1] - points[0])


def _turn(back: Array, out: Array) -> float:
    """Radians from the way back, clockwise on the screen, to a way out: the least keeps what is outside to the left."""
    angle = math.atan2(out[1], out[0]) - math.atan2(back[1], back[0])
    return angle % (2 * math.pi) or 2 * math.pi


def _chains(left: set[int], ends: Sequence[tuple[int, int]], curves: Sequence[Curve]) -> list[tuple[int, Joined]]:
    """What is left, in chains that end where one end is alone or more than two meet."""
    at: dict[int, list[tuple[int, bool]]] = {}
    for k in sorted(left):
        at.setdefault(ends[k][0], []).append((k, False))
        at.setdefault(ends[k][1], []).append((k, True))

    def run(k: int, backwards: bool) -> list[tuple[int, bool]]:
        walk = [(k, backwards)]
        while True:
            k, backwards = walk[-1]
            here = ends[k][0 if backwards else 1]
            onward = [one for one in at[here] if one != (k, not backwards)]
            if len(at[here]) != 2 or not onward or onward[0][0] in {j for j, _ in walk}:
                return walk
            walk.append(onward[0])

    found = []
    while left:
        first = min(left)
        back = run(first, True)
        walk = run(back[-1][0], not back[-1][1])
        left -= {k for k, _ in walk}
        start, end = ends[walk[0][0]][1 if walk[0][1] else 0], ends[walk[-1][0]][0 if walk[-1][1] else 1]
        found.append((first, _chained(walk, curves, closed=start == end and len(walk) > 1)))
    return found


def _chained(walk: Sequence[tuple[int, bool]], curves: Sequence[Curve], *, closed: bool) -> Joined:
    parts = [reverse(curves[k]) if backwards else curves[k] for k, backwards in walk]
    following = [*parts[1:], parts[0]] if closed else parts[1:]
    gaps = [float(np.hypot(*(b.start - a.end))) for a, b in zip(parts, following, strict=False)]
    whole = chain(parts, within=math.inf)
    if closed:
        controls = np.array(whole.controls)
        controls[-1, 3] = controls[0, 0]
        whole = Curve(controls, np.asarray(whole.straight, dtype=np.bool_))
    return Joined(whole, closed, max(gaps, default=0.0))

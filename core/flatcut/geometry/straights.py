"""Straight stretches of a polyline of many points, exact or rough."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, cross, unit

LONG = 40.0
"""mm: shorter stretches of several points are not called straight, for a curve may be as flat over a short way."""
BEND = 0.25
"""A stretch is straight if the parabola through it rises by no more than this part of the tolerance (an arc of 40 mm
that rises by 0.025 mm has a radius of 8 m) ..."""
ROUGH = 0.7
"""... and no point leaves the line through it by more than this part."""
EDGE = 1 / 40
"""Its ends are the outermost points that leave that line by less than this part of the tolerance ..."""
EDGE_ROUGH = 1.5
"""... or by so many times the roughness (root mean square) of its middle."""
NEAR_END = 8.0
"""mm: a stretch that comes so near to an end of the polyline is drawn on to it, if its points allow that."""
ALONE, ALONE_RATIO = 10.0, 4.0
"""One chord is straight by itself from so many mm on if it is so many times as long as its neighbours: of a line often
the ends only are digitised."""


CELLS, CELL_BEND, CELL_TWIST, CELL_ROUGH = 12, 0.3, 0.2, 0.35
"""Parts of the least length of a straight stretch; how far the means of their points may bend to one side, to both, and
lie aside, in tolerances: of a straight stretch less than this shows in them."""
LENIENT = 2.0
"""How many tolerances are allowed over the least length at a start: roughness bends a short stretch more than a long
one."""
FINE = 2.5
"""mm: of points nearer to each other than this not each is tried as the start of a stretch."""
LOOKED_AT = 400
"""Points that tell whether a stretch is straight."""


_S = np.linspace(-1, 1, CELLS - 1)
_COLUMNS = np.stack([np.ones_like(_S), _S, 1 - _S * _S, (5 * _S**3 - 3 * _S) / 2], axis=1)
_CUBIC = np.linalg.pinv(_COLUMNS)
"""The cubic nearest to heights at even steps: its rise as a parabola and its bend to both sides are the last two."""


class Straight(NamedTuple):
    """Points number `first` to `last` lie on the line from `start` to `end`, (2,) in mm."""

    first: int
    last: int
    start: Array
    end: Array


def straights(nodes: Array, *, tolerance: float) -> list[Straight]:
    """Straight stretches of an open polyline (m, 2), in order; all their points are within `tolerance` mm of them.

    The ends of the polyline stay; inside, a stretch ends beside its first and last point, on the line through all.

    >>> bent = np.array([[0., 0], [25, 0], [50, 0], [51, 0.1], [52, 0.3], [53, 0.6]])
    >>> [(s.first, s.last, s.end) for s in straights(bent, tolerance=0.1)]
    [(0, 2, array([50.,  0.]))]
    """
    return straights_of([nodes], np.array([tolerance]))[0]


def straights_of(lines: Sequence[Array], tolerance: Array) -> list[list[Straight]]:
    """As `straights`, of several polylines (m, 2), with a tolerance (k,) each."""
    if not lines:
        return []
    count = np.array([len(nodes) for nodes in lines])
    last = np.cumsum(count) - 1
    own = np.repeat(np.arange(len(lines)), count)
    points = np.concatenate(lines)
    x, y = np.diff(points, axis=0).T
    chord = np.sqrt(x * x + y * y)
    chord[last[:-1]] = 0.0
    along = np.concatenate([[0.0], np.cumsum(chord)])
    first = last + 1 - count
    steps = np.maximum(1, (FINE * (count - 1) / np.maximum(along[last] - along[first], 1e-9)).astype(np.intp))
    hopeful = _hopeful(points, along, own, last, tolerance) & ((np.arange(len(own)) - first[own]) % steps[own] == 0)
    starts = np.flatnonzero(hopeful)
    # the first that is far enough away
    ends = np.minimum(np.searchsorted(along, along[starts] + LONG * (1 - 1e-9)), last[own[starts]])
    hopeful[starts] = _are_straight(points, starts, ends, LENIENT * tolerance[own[starts]])
    chord[last[:-1]] = np.inf
    beside = np.zeros(len(chord) + 2)
    beside[1:-1] = np.where(np.isinf(chord), 0.0, chord)
    alone = (chord >= ALONE) & (chord >= ALONE_RATIO * np.maximum(beside[:-2], beside[2:])) & np.isfinite(chord)
    found: list[list[Straight]] = [[] for _ in lines]
    starts = np.flatnonzero(hopeful)
    ends = _straight_until(points, starts, last[own[starts]], tolerance[own[starts]])
    singly = np.flatnonzero(alone)
    for k in np.union1d(own[singly], own[starts]).tolist():
        mine, chords = own[starts] == k, singly[own[singly] == k] - first[k]
        ends_of = dict(zip((starts[mine] - first[k]).tolist(), (ends[mine] - first[k]).tolist(), strict=True))
        found[k] = _along(lines[k], ends_of, set(chords.tolist()), int(steps[k]), float(tolerance[k]))
    return found


def _along(nodes: Array, ends: dict[int, int], singly: set[int], step: int, tolerance: float) -> list[Straight]:
    """The straight stretches of one polyline: those that begin at some points, of which others stand `step` points
    apart, and end at others; and the long chords that stand alone, by their first points."""
    whole = _whole(nodes, 0, len(nodes) - 1, tolerance) if ends else None
    if whole is not None and (whole.first, whole.last) == (0, len(nodes) - 1):
        return [whole]
    found: list[Straight] = []
    first = 0
    for start in sorted(singly.union(ends)):
        if start < first:
            continue
        end = ends.get(start, start)
        if end > start + 1 and np.hypot(*(nodes[end] - nodes[start])) >= LONG:
            part = _trimmed(nodes, max(first, start - step + 1), end, tolerance)
            if part is not None:
                # what roughness has parted is one
                both = _whole(nodes, found[-1].first, end, tolerance) if found else None
                found[len(found) - (both is not None) :] = [both or part]
                first = end
                continue
        if start in singly:
            found.append(Straight(start, start + 1, nodes[start], nodes[start + 1]))
            first = start + 1
    return found


def _whole(nodes: Array, first: int, last: int, tolerance: float) -> Straight | None:
    """What lies between two points, where all of it is straight."""
    if np.hypot(*(nodes[last] - nodes[first])) < LONG:
        return None
    straight = _are_straight(nodes, np.array([first]), np.array([last]), np.array([tolerance]))
    return _trimmed(nodes, first, last, tolerance) if straight[0] else None


def _hopeful(points: Array, along: Array, own: Ints, last: Ints, tolerance: Array) -> BoolArray:
    """Which points of several polylines (m,) a straight stretch can begin at, told from the next LONG mm after each.

    Where all cells of that way hold points, the means of these, which show less of the roughness, must lie straight;
    elsewhere some points in the middle must lie near the chord of its ends.
    """
    start = along[np.append(0, last[:-1] + 1)]
    number = ((along - start[own]) / (LONG / CELLS)).astype(np.intp)
    begins = np.append(True, (np.diff(number) != 0) | (np.diff(own) != 0))
    cell, first = np.cumsum(begins) - 1, np.flatnonzero(begins)
    middles = np.add.reduceat(points, first) / np.diff(np.append(first, len(points)))[:, None]
    number, cell_own = number[first], own[first]
    straight, full = np.zeros((2, len(first) + 1), dtype=np.bool_)
    n = len(first) - CELLS + 2
    if n > 0:
        # the cells after the point's own one
        end = np.arange(n) + CELLS - 2
        full[:n] = (number[end] - number[:n] == CELLS - 2) & (cell_own[end] == cell_own[:n])
        begin = np.flatnonzero(full)
        allowed = tolerance[cell_own[begin]]
        way = unit(middles[begin + CELLS - 2] - middles[begin])
        rise = np.abs(cross(way, middles[begin + CELLS // 2 - 1] - middles[begin]))
        hardly = rise <= (CELL_BEND + CELL_ROUGH) * allowed
        begin, way, allowed = begin[hardly], way[hardly], allowed[hardly]
        rows = begin[:, None] + np.arange(CELLS - 1)
        away = cross(way[:, None], middles[rows] - middles[rows[:, :1]])
        fit = away @ _CUBIC.T
        rest = np.abs(away - fit @ _COLUMNS.T).max(axis=1, initial=0.0)
        bend, twist = np.abs(fit[:, 2:]).T
        near = (bend <= CELL_BEND * allowed) & (twist <= CELL_TWIST * allowed) & (rest <= CELL_ROUGH * allowed)
        straight[begin] = near
    hopeful = straight[cell + 1]
    end_of = last[own]
    long = along[end_of] - along >= LONG * (1 - 1e-9)
    unsure = np.flatnonzero(long & ~full[cell + 1])
    if len(unsure):
        end = np.clip(np.searchsorted(along, along[unsure] + LONG, side="right") - 1, unsure, end_of[unsure])
        chord = unit(points[end] - points[unsure])
        near = np.ones(len(unsure), dtype=np.bool_)
        for part in (0.25, 0.5, 0.75):
            middle = (unsure + part * (end - unsure)).astype(np.intp)
            off = np.abs(cross(chord, points[middle] - points[unsure]))
            near &= off <= (2 * ROUGH + BEND) * tolerance[own[unsure]]
        hopeful[unsure] = near
    return np.asarray(hopeful & long)


def _straight_until(nodes: Array, first: Ints, last: Ints, tolerance: Array) -> Ints:
    """The last points up to which polylines are straight from points `first` (m,) on, none beyond `last` (m,): by
    doubling, then by halving.

    All starts take their steps together.
    """
    good, step = first + 1, np.ones(len(first), dtype=np.intp)
    rising = np.ones(len(first), dtype=np.bool_)
    while True:
        end = good + step
        tried = np.flatnonzero((step >= 1) & (end <= last))
        passed = np.zeros(len(first), dtype=np.bool_)
        passed[tried] = _are_straight(nodes, first[tried], end[tried], tolerance[tried])
        good = np.where(passed, end, good)
        # up to the first that is not straight steps are doubled, and that one is tried no second time
        rising &= passed
        step = np.where(rising, 2 * step, step // 2)
        if not step.any():
            return good


def _are_straight(nodes: Array, first: Ints, last: Ints, tolerance: Array) -> BoolArray:
    """Whether points number `first` to `last` (m,) lie along a line each, within a tolerance (m,), and do not bend to
    one side."""
    result = np.zeros(len(first), dtype=np.bool_)
    many = last - first >= 2 * LOOKED_AT
    for k in np.flatnonzero(many):
        result[k] = _is_straight(nodes[first[k] : last[k] + 1], tolerance[k : k + 1])
    few = np.flatnonzero(~many)
    if not len(few):
        return result
    first, last, tolerance = first[few], last[few], tolerance[few]
    chord = nodes[last] - nodes[first]
    size = np.hypot(*chord.T)
    at = first[:, None] + np.arange(int((last - first).max()) + 1)
    own = at <= last[:, None]
    to = nodes[np.minimum(at, last[:, None])] - nodes[first][:, None]
    s = (to * chord[:, None]).sum(axis=2) / np.maximum(size, 1e-100)[:, None] ** 2
    away = cross(unit(chord)[:, None], to)
    short = size < LONG / 2
    columns = np.stack([np.ones_like(s), s, 4 * s * (1 - s)], axis=2) * own[:, :, None]
    turned = columns.transpose(0, 2, 1)
    # three points or more of a stretch that is no short one: the parabola is theirs
    normal = turned @ columns + 1e-13 * np.eye(3)
    fit = np.linalg.solve(normal, turned @ away[:, :, None])
    rest = np.abs((away - (columns @ fit)[:, :, 0]) * own).max(axis=1)
    bent = (np.abs(fit[:, 2, 0]) <= BEND * tolerance) & (rest <= ROUGH * tolerance)
    result[few] = np.where(short, np.abs(away * own).max(axis=1) <= 2 * ROUGH * tolerance, bent)
    return result


def _is_straight(nodes: Array, tolerance: Array) -> bool:
    """As `_are_straight`, of one stretch of very many points, of which some stand for all."""
    some = nodes[np.linspace(0, len(nodes) - 1, LOOKED_AT).astype(np.intp)]
    return bool(_are_straight(some, np.array([0]), np.array([len(some) - 1]), tolerance)[0])


def _trimmed(nodes: Array, first: int, last: int, tolerance: float) -> Straight | None:
    """The part of nearly straight points that lies on the line of the middle ones.

    A stretch that was found to be straight runs a little into the curves at its ends, by what it was allowed.
    """
    own = nodes[first : last + 1]
    chord = own[-1] - own[0]
    s = (own - own[0]) @ chord / float(chord @ chord)
    away = cross(unit(chord), own - own[0])
    inner = np.flatnonzero((s >= 0.1) & (s <= 0.9))
    if len(inner) > 2:
        slope, height = np.polyfit(s[inner], away[inner], 1)
    else:
        slope, height, inner = 0.0, 0.0, np.arange(len(own))
    rest = np.abs(away - slope * s - height)
    limit = max(EDGE_ROUGH * float(np.sqrt((rest[inner] ** 2).mean())), EDGE * tolerance)
    on_line = np.flatnonzero(rest <= limit)
    a, b = min(int(on_line[0]), int(inner[0])), max(int(on_line[-1]), int(inner[-1]))
    normal = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    ends = [own[k] - (away[k] - slope * s[k] - height) * normal for k in (a, b)]
    a, b = first + a, first + b
    n = len(nodes) - 1
    tries = [(a, ends[0], b, ends[1])]
    if np.hypot(*(nodes[a] - nodes[0])) <= NEAR_END:
        tries.append((0, nodes[0], b, ends[1]))
    if np.hypot(*(nodes[b] - nodes[n])) <= NEAR_END:
        tries.extend([(i, p, n, nodes[n]) for i, p, _, _ in tries])
    for i, p, k, q in reversed(tries):
        if (i == 0 and (p != nodes[0]).any()) or (k == n and (q != nodes[n]).any()):
            continue  # the ends of the polyline stay
        beside = np.abs(cross(unit(q - p), nodes[i : k + 1] - p))
        if float(beside.max()) <= 0.95 * tolerance and np.hypot(*(q - p)) >= LONG:
            return Straight(i, k, p, q)
    return None

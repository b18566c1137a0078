"""Rings at one width all round of which it is sure that they are right: what the gate need not look at any closer.

A span of the stitch line that turns by less than 90° is crossed by no disc that touches it from one side, as long as
the disc's radius is no larger than that of its sharpest bend to that side. So one foot, found anywhere on the span,
tells from how far away the whole of it stays from a place, by a bound that errs by the square of how far the foot is
off. With this each place of the ring is shown to be nowhere nearer to the stitch line than its width and, but for the
tips of corners, somewhere as near. Where a ring is so, runs in the sense of its source, and turns its inner side to the
stitch line at one place, it lies round it as it should.

What is not shown so may be right all the same, and is left to the gate (`offset_gate`), which asks for no more.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.arrays import Ints as Ints
from flatcut.geometry.offset_feet import FEWEST, MOST, STRIDE

STEPS = 2
"""Newton's steps to a foot: one that is not reached proves less."""

STRAIGHT = 1e6
"""mm: radius of what is not bent, or hardly."""

FACING = 0.5
"""Cosine of the angle between the walks along the ring and along the stitch line at a place that shows their sides."""


class Line(NamedTuple):
    """Stitch lines: controls (n, 4, 2) of their spans, walked with the wanted side on the left, one line after the
    other; first (lines + 1,): where each begins; width (n,) mm; before, after (n,): mm that a tip at the start and at
    the end of a span may go."""

    controls: Array
    first: Ints
    width: Array
    before: Array
    after: Array


class _Bends(NamedTuple):
    """Of spans (n,): power (4, 2, n) by powers of t; rough (3, 2, n): without the first and in single precision; left,
    right (n,) mm: least radii to either side, 0 where a span turns too far; low, high (2, n): corners of their boxes,
    roughly."""

    power: Array
    rough: Array
    left: Array
    right: Array
    low: Array
    high: Array


def _bends(controls: Array) -> _Bends:
    p0, p1, p2, p3 = p = np.ascontiguousarray(controls.transpose(1, 2, 0))
    d0, d1, d2 = legs = 3 * (p[1:] - p[:-1])
    s0, s1, s2 = legs[:, 0] * legs[:, 0] + legs[:, 1] * legs[:, 1]
    b01, b02, b12 = (u[0] * v[0] + u[1] * v[1] for u, v in ((d0, d1), (d0, d2), (d1, d2)))
    c01, c02, c12 = (u[0] * v[1] - u[1] * v[0] for u, v in ((d0, d1), (d0, d2), (d1, d2)))
    # square of the pace, and its cross product with what changes it, by their Bernstein coefficients
    slow = np.minimum(np.minimum(np.minimum(s0, s2), np.minimum(b01, b12)), (2 * s1 + b02) / 3)
    cube = np.where(np.minimum(slow, b02) > 0, slow, 0.0) ** 1.5
    least, most = np.minimum(np.minimum(2 * c01, c02), 2 * c12), np.maximum(np.maximum(2 * c01, c02), 2 * c12)
    left, right = (cube / np.maximum(side, cube / STRAIGHT + 1e-300) for side in (-least, most))
    power = np.empty(p.shape)
    power[0], power[1], power[2], power[3] = p0, d0, d1 - d0, p3 - p0 + 3 * (p1 - p2)
    box = (p.min(axis=0).astype(np.float32), p.max(axis=0).astype(np.float32))
    return _Bends(power, power[1:].astype(np.float32), left, right, *box)


def surely_at_width(ring: Array, chain: Ints, line: Line, slack: float) -> BoolArray:
    """Which chains have a ring for certain that is nowhere nearer to their line than its width and everywhere as near
    but at tips, within `slack` mm, and turns its right side to it. ring (m, 4, 2): spans of `chain` (m,), in order.
    """
    count = len(line.first) - 1
    on = _places(ring, chain)
    points, owner = on.points, on.owner
    bends = _bends(line.controls)
    near = (np.maximum(np.maximum(line.before, line.after), line.width) + 2 * slack) ** 2
    place, row = _within(on, chain, line.first, bends.low, bends.high, near.astype(np.float32))
    p = points.take(place, axis=1)
    k0, k1, k2, k3 = bends.power.take(row, axis=2)
    t = _feet(p - k0, bends.rough, row)
    gap = p - (((k3 * t + k2) * t + k1) * t + k0)
    pace = (3 * k3 * t + 2 * k2) * t + k1
    size = np.sqrt(pace[0] * pace[0] + pace[1] * pace[1]) + 1e-300
    along = (gap[0] * pace[0] + gap[1] * pace[1]) / size
    beside = (gap[0] * pace[1] - gap[1] * pace[0]) / size
    away, off = np.sqrt(gap[0] * gap[0] + gap[1] * gap[1]), np.abs(beside)
    radius = np.where(beside > 0, bends.left.take(row), bends.right.take(row))
    inner = radius - off
    least = radius - np.sqrt(inner * inner + along * along)
    at_start, at_end = (t == 0) & (along <= 0), (t == 1) & (along >= 0)
    beyond = at_start | at_end
    width = line.width.take(row)
    wrong = np.flatnonzero(~((least >= width - slack) | (beyond & (inner > 0) & (away >= width - slack))))
    sure = np.ones(count, dtype=np.bool_)
    sure[owner[place[wrong]]] = False
    held = away <= width + slack
    there = np.zeros(len(owner), dtype=np.bool_)
    there[place[held]] = True
    for reach, end in ((line.before, at_start), (line.after, at_end)):
        tips = np.flatnonzero(end & ~held)
        there[place[tips[away[tips] <= reach[row[tips]] + slack]]] = True
    sure[owner[~there]] = False
    # at the first foot of each the ring goes on as its line does, and the line lies on its right
    shown = np.flatnonzero(held & ~beyond & (beside > 0))
    whose = owner[place[shown]]
    first = np.ones(len(shown), dtype=np.bool_)
    np.not_equal(whose[1:], whose[:-1], out=first[1:])
    shown, whose = shown[first], whose[first]
    step, way = points[:, np.minimum(place[shown] + 1, len(owner) - 1)] - p[:, shown], pace[:, shown]
    onward = step[0] * way[0] + step[1] * way[1]
    faces = np.zeros(count, dtype=np.bool_)
    faces[whose[onward > FACING * size[shown] * np.sqrt(step[0] * step[0] + step[1] * step[1])]] = True
    return sure & faces


class _Places(NamedTuple):
    """points (2, k) on the spans of rings, in order, rough in single precision, and the chain of each; of each span own
    and first (m,): how many of them are its own, and where they begin, and low, high (2, m): the corners of the box
    that it lies in, roughly."""

    points: Array
    rough: Array
    owner: Ints
    own: Ints
    first: Ints
    low: Array
    high: Array


def _places(ring: Array, chain: Ints) -> _Places:
    """Places on a ring, as many as `offset_feet.places_on` has."""
    c = np.ascontiguousarray(ring.transpose(1, 2, 0))
    legs = c[1:] - c[:-1]
    size = np.sqrt(legs[:, 0] * legs[:, 0] + legs[:, 1] * legs[:, 1]).sum(axis=0)
    count = np.minimum(np.maximum(np.ceil(size / STRIDE), FEWEST), MOST).astype(np.intp)
    first = count.cumsum() - count
    span, number = _ranges(count)
    t = number / count[span]
    s = 1 - t
    p0, p1, p2, p3 = c.take(span, axis=2)
    points = s * s * (s * p0 + 3 * t * p1) + t * t * (3 * s * p2 + t * p3)
    box = (c.min(axis=0).astype(np.float32), c.max(axis=0).astype(np.float32))
    return _Places(points, points.astype(np.float32), chain[span], count, first, *box)


def _ranges(count: Ints) -> tuple[Ints, Ints]:
    """For counts (n,) the numbers of those that each is of, and how manieth of its own it is."""
    of = np.repeat(np.arange(len(count)), count)
    return of, np.arange(len(of)) - (count.cumsum() - count)[of]


def _within(ring: _Places, chain: Ints, first: Ints, low: Array, high: Array, near: Array) -> tuple[Ints, Ints]:
    """Places of spans of `chain` and rows of the same of which the place lies so near (its square) to the row's box."""
    span, row = _ranges((first[1:] - first[:-1])[chain])
    row += first[chain[span]]
    close = _boxes_near(ring.low.take(span, axis=1), ring.high.take(span, axis=1), low, high, row, near)
    span, row = span[close], row[close]
    pair, place = _ranges(ring.own[span])
    place += ring.first[span[pair]]
    row = row[pair]
    p = ring.rough.take(place, axis=1)
    close = _boxes_near(p, p, low, high, row, near)
    return place[close], row[close]


def _boxes_near(low: Array, high: Array, lowest: Array, highest: Array, row: Ints, near: Array) -> Ints:
    gap = np.maximum(low - highest.take(row, axis=1), lowest.take(row, axis=1) - high)
    np.maximum(gap, 0.0, out=gap)
    gap *= gap
    return np.flatnonzero(gap[0] + gap[1] <= near[row])


def _feet(p: Array, rough: Array, row: Ints) -> Array:
    """Where on rows that begin at (0, 0) places (2, k) have their feet, 0 to 1: in single precision, since what is then
    measured there is bounded whether they are reached or not."""
    k1, k2, k3 = rough.take(row, axis=2)
    p = p.astype(np.float32)
    chord = k1 + k2 + k3
    long = chord[0] * chord[0] + chord[1] * chord[1]
    t = (p[0] * chord[0] + p[1] * chord[1]) / np.maximum(long, 1e-30)
    for turn in range(STEPS + 1):
        t = np.minimum(np.maximum(t, 0.0), 1.0)
        if turn == STEPS:
            break
        a = k3 * t
        b = a + k2
        gap = (b * t + k1) * t - p
        b *= 2
        pace = (a + b) * t + k1
        bend = 4 * a + b
        speed = pace[0] * pace[0] + pace[1] * pace[1]
        down = np.maximum(speed + gap[0] * bend[0] + gap[1] * bend[1], 0.1 * speed + 1e-30)
        t = t - (gap[0] * pace[0] + gap[1] * pace[1]) / down
    return np.asarray(t, dtype=np.float64)

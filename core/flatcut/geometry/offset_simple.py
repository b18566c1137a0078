"""Rings of cubics of which it is proved that they do not cross themselves: exactly, and without chords.

A span whose legs all go forward along its chord does not meet itself. Two spans that follow each other meet in their
joint alone where a line through it has the one on this side and the other on that; two others do not meet where a line
parts them. A span lies within the hull of its control points, so these are all that is looked at. What is not proved
so may be simple all the same, and is left to chords (region.simple_rings).
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints

CLOSED = 1e-6
"""mm that the ends of two spans may lie apart before they are made one point."""

HANDLE = 1e-5
"""Part of its chord that each leg of a span goes forward: a shorter one has no direction to go by."""

CLEAR = 1e-9
"""mm: nothing is proved by a gap that is no wider than what rounding makes."""


def proved_simple(controls: Array, chain: Ints, count: int, sharpest: float = -1.0) -> BoolArray:
    """Which of `count` rings are simple for certain. controls (n, 4, 2): their spans in order; chain (n,): whose.

    Each span counts as ending where the next of its ring begins, if that is no farther than CLOSED. sharpest: cosine of
    a turn; of a ring with a sharper one nothing is proved.

    >>> nodes = np.array([[0.0, 0], [4, 0], [4, 3]])
    >>> step = (np.roll(nodes, -1, axis=0) - nodes) / 3
    >>> sides = np.stack([nodes + k * step for k in range(4)], axis=1)
    >>> proved_simple(sides, np.zeros(3, dtype=np.intp), 1)
    array([ True])
    """
    first = np.searchsorted(chain, np.arange(count + 1))
    size = first[1:] - first[:-1]
    after = np.arange(1, len(chain) + 1)
    after[first[1:][size > 0] - 1] = first[:-1][size > 0]
    p = np.ascontiguousarray(controls.transpose(2, 1, 0))  # x and y apart: along an axis of two numbers numpy is slow
    begins = p[:, 0].take(after, axis=1)
    gap = np.abs(p[:, 3] - begins)
    p[:, 3] = begins
    legs, chord = p[:, 1:] - p[:, :-1], p[:, 3] - p[:, 0]
    least = np.maximum(HANDLE * _along(chord, chord), CLEAR * CLEAR)
    fine = (_along(legs, chord).min(axis=0) > least) & (gap[0] <= CLOSED) & (gap[1] <= CLOSED)
    leave, arrive = (way / np.maximum(np.sqrt(_along(way, way)), 1e-300) for way in (legs[:, 0], legs[:, 2]))
    leave = leave.take(after, axis=1)
    fine &= _along(arrive, leave) >= sharpest
    way, joint = arrive + leave, p[:, 3:]
    fine &= _along(p[:, :3] - joint, way).max(axis=0) < -CLEAR
    fine &= _along(p[:, 1:].take(after, axis=2) - joint, way).min(axis=0) > CLEAR
    proved = size >= 3
    proved[chain[~fine]] = False
    a, b = _others(first, proved)
    proved[chain[a[_hulls_meet(p, a, b)]]] = False
    return proved


def _along(u: Array, v: Array) -> Array:
    """Dot products of vectors (2, ..., n) and (2, n)."""
    return np.asarray(u[0] * v[0] + u[1] * v[1])


def _others(first: Ints, proved: BoolArray) -> tuple[Ints, Ints]:
    """Pairs of spans of each ring that do not follow each other, each pair once."""
    size = first[1:] - first[:-1]
    of = np.repeat(np.arange(len(size)), size)
    place = np.arange(len(of)) - first[of]
    more = np.where(proved[of], np.maximum(size[of] - place - 2 - (place == 0), 0), 0)
    which = np.repeat(np.arange(len(of)), more)
    return which, which + 2 + np.arange(len(which)) - (more.cumsum() - more)[which]


def _hulls_meet(p: Array, a: Ints, b: Ints) -> Ints:
    """Which pairs a and b of spans, by their control points p (2, 4, n), no line parts that is tried."""
    low, high = p.min(axis=1), p.max(axis=1) + CLEAR
    close = (low.take(a, axis=1) <= high.take(b, axis=1)) & (low.take(b, axis=1) <= high.take(a, axis=1))
    met = np.flatnonzero(close[0] & close[1])
    for k in range(3):
        if not len(met):
            break
        one, two = p.take(a[met], axis=2), p.take(b[met], axis=2)
        if k < 2:
            chord = (one, two)[k][:, 3] - (one, two)[k][:, 0]
            way = np.stack([chord[1], -chord[0]])
        else:
            way = two.mean(axis=1) - one.mean(axis=1)
        u, v = _along(one, way), _along(two, way)
        gap = np.maximum(u.min(axis=0) - v.max(axis=0), v.min(axis=0) - u.max(axis=0))
        met = met[~(gap > CLEAR * np.maximum(np.abs(way[0]) + np.abs(way[1]), 1.0))]
    return met

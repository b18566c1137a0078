"""Rings of cubics of which it is proved that they do not cross themselves: exactly, and without chords.

A span whose legs all go forward along its chord does not meet itself. Two spans that follow each other meet in their
joint alone where a line through it has the one on this side and the other on that; two others do not meet where a line
parts them. A span lies within the hull of its control points, so these are all that is looked at. What is not proved
so may be simple all the same, and is left to chords (region.simple_rings).
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, unit

CLEAR = 1e-9
"""mm: nothing is proved by a gap that is no wider than what rounding makes."""


def proved_simple(controls: Array, chain: Ints, count: int) -> BoolArray:
    """Which of `count` rings are simple for certain. controls (n, 4, 2): their spans in order; chain (n,): whose.

    Each span counts as ending where the next of its ring begins.

    >>> nodes = np.array([[0.0, 0], [4, 0], [4, 3]])
    >>> step = (np.roll(nodes, -1, axis=0) - nodes) / 3
    >>> sides = np.stack([nodes + k * step for k in range(4)], axis=1)
    >>> proved_simple(sides, np.zeros(3, dtype=np.intp), 1)
    array([ True])
    """
    first = np.searchsorted(chain, np.arange(count + 1))
    size = np.diff(first)
    after = np.arange(1, len(chain) + 1)
    after[first[1:][size > 0] - 1] = first[:-1][size > 0]
    p = controls.copy()
    p[:, 3] = controls[after, 0]
    legs, chord = np.diff(p, axis=1), p[:, 3] - p[:, 0]
    fine = ((legs * chord[:, None]).sum(axis=2) > CLEAR * CLEAR).all(axis=1)
    way = (unit(legs[:, 2]) + unit(legs[after, 0]))[:, None]
    fine &= (((p[:, :3] - p[:, 3:]) * way).sum(axis=2) < -CLEAR).all(axis=1)
    fine &= (((p[after, 1:] - p[:, 3:]) * way).sum(axis=2) > CLEAR).all(axis=1)
    proved = (np.bincount(chain, weights=~fine, minlength=count) == 0) & (size >= 3)
    a, b = _others(first, proved)
    met = _hulls_meet(p[..., 0].T.copy(), p[..., 1].T.copy(), a, b)
    proved[chain[a[met]]] = False
    return np.asarray(proved, dtype=np.bool_)


def _others(first: Ints, proved: BoolArray) -> tuple[Ints, Ints]:
    """Pairs of spans of each ring that do not follow each other, each pair once."""
    size = np.where(proved, np.diff(first), 0)
    span = np.repeat(first[:-1], size) + np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size)
    place, of = span - np.repeat(first[:-1], size), np.repeat(size, size)
    more = np.maximum(of - place - 2 - (place == 0), 0)
    a = np.repeat(span, more)
    return a, a + 2 + np.arange(len(a)) - np.repeat(np.cumsum(more) - more, more)


def _hulls_meet(x: Array, y: Array, a: Ints, b: Ints) -> BoolArray:
    """Whether no line that is tried parts the control points x, y (4, n) of spans a and b, both (m,)."""
    met = np.ones(len(a), dtype=np.bool_)
    for v in (x, y):
        low, high = v.min(axis=0), v.max(axis=0)
        met &= (low[a] <= high[b] + CLEAR) & (low[b] <= high[a] + CLEAR)
    left = np.flatnonzero(met)
    xs, ys = (x[:, a[left]], x[:, b[left]]), (y[:, a[left]], y[:, b[left]])
    ways = [(ys[k][3] - ys[k][0], xs[k][0] - xs[k][3]) for k in (0, 1)]
    ways.append((xs[1].mean(axis=0) - xs[0].mean(axis=0), ys[1].mean(axis=0) - ys[0].mean(axis=0)))
    for u, v in ways:
        one, two = (px * u + py * v for px, py in zip(xs, ys, strict=True))
        gap = np.maximum(one.min(axis=0) - two.max(axis=0), two.min(axis=0) - one.max(axis=0))
        met[left[gap > CLEAR * np.maximum(np.abs(u) + np.abs(v), 1.0)]] = False
    return met

"""Feet: where places on a ring stand square to a stitch line, how far from it, and what its width is there.

They are found on chords first, which rules out most edges at most places, and then on the cubics themselves.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.arrays import Ints as Ints

STRIDE = 12.0
"""mm between places on the ring: what is wrong is wrong over about a width, and its nodes are all looked at."""

CAREFUL = 4
"""Times as many places where unequal widths, corners of other kinds or folds may leave a small fault."""

NEAR_NODES = np.array([0.125, 0.25, 0.5])
"""Parts of the way between two of these places at which, beside a node, there are more: a ring is wrong at corners."""

FEWEST, MOST = 4, 64
"""Places on one span of the ring."""

SAG = 1.0
"""mm that the chords may stray from the stitch line: more, and more feet are looked for on cubics."""

CHORDS = 48
"""Most chords of one span."""

NEWTON, FIRST, THERE = 6, 2, 1e-4
"""Steps towards a foot: so many for those that still move by more than THERE of their span after FIRST. A foot that is
not reached reads too far away."""

CELLS = 60_000
"""Places times chords in one array: as much as a processor keeps at hand."""


class Stitch(NamedTuple):
    """The stitch line: spans (n, 4, 2), walked with the wanted side on the left; straight, chain (n,); widths near and
    far (n,) at their ends; corner_in, corner_out (n,): the corners at the start and end of each span's edge."""

    controls: Array
    straight: BoolArray
    chain: Ints
    near: Array
    far: Array
    corner_in: Ints
    corner_out: Ints

    def of(self, rows: Ints) -> Stitch:
        """Some of the spans."""
        return Stitch(
            self.controls[rows],
            self.straight[rows],
            self.chain[rows],
            self.near[rows],
            self.far[rows],
            self.corner_in[rows],
            self.corner_out[rows],
        )


class Feet(NamedTuple):
    """Pairs of places and feet: place, span (k,); at (k,) on the span; distance, width (k,) mm; slope (k,) of it."""

    place: Ints
    span: Ints
    at: Array
    distance: Array
    width: Array
    slope: Array


def places_on(controls: Array, chain: Ints, careful: BoolArray) -> tuple[Array, Ints]:
    """Places along the ring, every node among them, and the chain of each; careful: chains with more of them."""
    size = np.sqrt((np.diff(controls, axis=1) ** 2).sum(axis=2)).sum(axis=1)
    close = careful[chain]
    more = np.where(close, CAREFUL, 1)
    count = np.clip(np.ceil(more * size / STRIDE), more * FEWEST, more * MOST).astype(np.intp)
    span = np.repeat(np.arange(len(count)), count)
    at = np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count)
    at = at / count[span]
    ends = np.flatnonzero(close)
    if len(ends):
        step = NEAR_NODES / count[ends, None]
        span = np.concatenate([span, np.repeat(ends, 2 * len(NEAR_NODES))])
        at = np.concatenate([at, np.hstack([step, 1 - step]).ravel()])
        order = np.lexsort((at, span))
        span, at = span[order], at[order]
    return at_places(controls[span], at), chain[span]


def at_places(controls: Array, t: Array) -> Array:
    """Points (..., 2) mm on cubics (..., 4, 2) at t (...)."""
    # x and y apart: along an axis of two numbers numpy is slow
    controls = controls.reshape((1,) * (t.ndim + 2 - controls.ndim) + controls.shape)
    fore = range(controls.ndim - 2)
    c = np.ascontiguousarray(controls.transpose(controls.ndim - 2, controls.ndim - 1, *fore))
    s = 1 - t
    found = s * s * s * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t * t * t * c[3]
    return np.ascontiguousarray(found.transpose(*range(1, found.ndim), 0))


def bend_of(controls: Array) -> Array:
    """mm of the larger second difference of the controls of spans (n, 4, 2), (n,)."""
    second = controls[:, :-2] - 2 * controls[:, 1:-1] + controls[:, 2:]
    square = second[..., 0] ** 2 + second[..., 1] ** 2
    return np.asarray(np.sqrt(np.maximum(square[:, 0], square[:, 1])))


def feet_of(stitch: Stitch, points: Array, owner: Ints, slack: float) -> Feet:
    """Every foot that may be within its width, and a little more."""
    bend = bend_of(stitch.controls)
    count = np.where(stitch.straight, 1, np.clip(np.ceil(np.sqrt(0.75 * bend / SAG)), 1, CHORDS)).astype(np.intp)
    sag = np.where(stitch.straight, 0.0, 0.75 * bend / count**2)
    # the ends of chords, one more of each span than it has chords
    whose = np.repeat(np.arange(len(count)), count + 1)
    number = np.arange(len(whose)) - np.repeat(np.cumsum(count + 1) - count - 1, count + 1)
    nodes = at_places(stitch.controls[whose], number / count[whose])
    begins = np.flatnonzero(number < count[whose])
    span, step, starts, ends = whose[begins], number[begins], nodes[begins], nodes[begins + 1]
    reach = (np.maximum(stitch.near, stitch.far) + sag + slack + 0.01)[span]
    place, chord, share = _pairs(points, owner, starts, ends, stitch.chain[span], reach)
    which = span[chord]
    at = (step[chord] + share) / count[which]
    bent = np.flatnonzero(~stitch.straight[which])
    at[bent] = _nearest(stitch.controls[which[bent]], points[place[bent]], at[bent])
    gap = at_places(stitch.controls[which], at) - points[place]
    distance = np.sqrt(gap[:, 0] ** 2 + gap[:, 1] ** 2)
    width, slope = stitch.near[which].copy(), np.zeros(len(which))
    tapered = np.flatnonzero(stitch.near[which] != stitch.far[which])
    if len(tapered):
        rows = which[tapered]
        total, part = _lengths(stitch.controls[rows], at[tapered])
        width[tapered] += (stitch.far - stitch.near)[rows] * part / total
        slope[tapered] = np.abs(stitch.far - stitch.near)[rows] / total
    return Feet(place, which, at, distance, width, slope)


def _pairs(points: Array, owner: Ints, starts: Array, ends: Array, of: Ints, reach: Array) -> tuple[Ints, Ints, Array]:
    """Numbers of places and chords of one chain that are within reach of each other, and where on the chord."""
    chains = int(max(owner.max(initial=0), of.max(initial=0))) + 1
    p0, c0 = (np.searchsorted(x, np.arange(chains + 1)) for x in (owner, of))
    most_p, most_c = int(np.diff(p0).max()), int(np.diff(c0).max())
    group = max(1, CELLS // max(1, most_p * most_c))
    middle = points.mean(axis=0)
    rough, low, high = ((x - middle).astype(np.float32) for x in (points, starts, ends))
    along = high - low
    scale = np.float32(1) / np.maximum((along**2).sum(axis=1), np.float32(1e-30))
    square = (reach**2).astype(np.float32)
    found: list[tuple[Ints, Ints, Array]] = []
    for first in range(0, chains, group):
        mine = np.arange(first, min(first + group, chains))
        mine = mine[np.diff(p0)[mine] > 0]
        if not len(mine):
            continue
        # padded to one shape; what is padded is told by its number
        p, c = p0[mine, None] + np.arange(most_p), c0[mine, None] + np.arange(most_c)
        no_p, no_c = p >= p0[mine + 1, None], c >= c0[mine + 1, None]
        p, c = np.minimum(p, len(points) - 1), np.minimum(c, len(starts) - 1)
        # single precision will do to find pairs; what is found is measured anew
        dx = rough[p, 0][:, :, None] - low[c, 0][:, None]
        dy = rough[p, 1][:, :, None] - low[c, 1][:, None]
        ux, uy = along[c, 0][:, None], along[c, 1][:, None]
        t = (dx * ux + dy * uy) * scale[c][:, None]
        np.clip(t, 0.0, 1.0, out=t)
        dx -= t * ux
        dy -= t * uy
        far = np.where(no_c, np.float32(-1), square[c])
        hit = (dx * dx + dy * dy <= far[:, None]) & ~no_p[:, :, None]
        g, i, j = np.nonzero(hit)
        found.append((p[g, i], c[g, j], t[hit].astype(np.float64)))
    place, chord, share = (np.concatenate(x) for x in zip(*found, strict=True))
    return place, chord, share


def _nearest(controls: Array, points: Array, at: Array) -> Array:
    """Places on cubics that are locally nearest to points, from places close by."""
    at, moved = nearer(controls, points, at, FIRST)
    on = np.flatnonzero(moved > THERE)
    if len(on):
        at[on], _ = nearer(controls[on], points[on], at[on], NEWTON)
    return at


def nearer(controls: Array, points: Array, at: Array, steps: int) -> tuple[Array, Array]:
    """The nearest places on cubics (n, 4, 2) to points (n, 2) of so many Newton steps, and how far
    the last step went."""
    p0, p1, p2, p3 = np.ascontiguousarray(controls.transpose(1, 2, 0))
    c0, c1, c2, c3 = p0 - points.T, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)
    best, least, step = at, np.full(len(at), np.inf), np.zeros(len(at))
    for turn in range(steps + 1):
        gap = ((c3 * at + c2) * at + c1) * at + c0
        far = gap[0] * gap[0] + gap[1] * gap[1]
        best, least = np.where(far < least, at, best), np.minimum(far, least)
        if turn == steps:
            break
        pace, bend = (3 * c3 * at + 2 * c2) * at + c1, 6 * c3 * at + 2 * c2
        speed = pace[0] * pace[0] + pace[1] * pace[1]
        down = speed + gap[0] * bend[0] + gap[1] * bend[1]
        down = np.where(down > 0.1 * speed, down, speed)
        step = (gap[0] * pace[0] + gap[1] * pace[1]) / np.maximum(down, 1e-300)
        at = np.minimum(np.maximum(at - np.minimum(np.maximum(step, -0.1), 0.1), 0.0), 1.0)
    return best, np.abs(step)


def _lengths(controls: Array, at: Array) -> tuple[Array, Array]:
    """Length of spans, and of their parts up to a place, on 64 chords."""
    k = np.arange(65) / 64
    whole, part = (
        np.sqrt((np.diff(at_places(controls[:, None], t), axis=1) ** 2).sum(axis=2)).sum(axis=1)
        for t in (np.broadcast_to(k, (len(at), 65)), at[:, None] * k)
    )
    return np.maximum(whole, 1e-300), part

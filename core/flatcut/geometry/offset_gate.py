"""The gate on every cut line: is it where the allowances say, and nowhere else?

It knows the stitch line, the widths and the corners' limits, and the finished ring; nothing of how that was made. Of
many places on the ring, every node among them, it measures the distance to the stitch line:

- nowhere nearer to an edge than the width of the edge at the foot of the perpendicular. Only where unequal widths meet
  at a corner, or a corner is squared or turned, may it be the lesser of the two widths there;
- everywhere as near to some edge as its width, but for the tips of corners, which keep within their limit;
- no outward turn beyond SPIKE but at such a tip, and the stitch line on the inner side.

The feet are found on chords first, which rules out most edges at most places, and then on the cubics themselves.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flatcut.geometry.arrays import Array, BoolArray, cross, unit

STRIDE = 12.0
"""mm between places on the ring: what is wrong is wrong over about a width, and its nodes are all looked at."""

FEWEST, MOST = 4, 64
"""Places on one span of the ring."""

SAG = 1.0
"""mm that the chords may stray from the stitch line: more, and more feet are looked for on cubics."""

CHORDS = 48
"""Most chords of one span."""

SPIKE = -np.cos(np.radians(40.0))
"""Cosine of an outward turn (140°) that nothing but the tip of a corner explains."""

END = 0.1
"""mm: a foot this near to the end of an edge is its end."""

NEWTON, FIRST, THERE = 6, 2, 1e-4
"""Steps towards a foot: so many for those that still move by more than THERE of their span after FIRST. A foot that is
not reached reads too far away."""

CELLS = 60_000
"""Places times chords in one array: as much as a processor keeps at hand."""

Ints = NDArray[np.intp]


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


class Tips(NamedTuple):
    """Corners: node (m, 2); chain (m,); reach (m,) mm from the node that a tip may go, 0 where there is none; wide,
    floor (m,) the larger and the lesser of both widths; uneven (m,) whether they differ; within (m,) mm from the node
    that the lesser is enough for both edges."""

    node: Array
    chain: Ints
    reach: Array
    wide: Array
    floor: Array
    uneven: BoolArray
    within: Array


class Fault(NamedTuple):
    """Where a ring is wrong: place (2,); the span of the stitch line, -1 for none; mm too near, or too far if negative;
    what: one of 'near', 'far', 'spike', 'inside'."""

    place: Array
    span: int
    short: float
    what: str


def faults(stitch: Stitch, tips: Tips, spans: tuple[Array, Ints], *, slack: float) -> dict[int, Fault]:
    """The worst fault of each chain whose ring has one. spans: controls and chain, in ring order.

    slack: mm that a distance may be wrong by.
    """
    controls, chain = spans
    points, owner = _places(controls, chain)
    feet = _feet(stitch, points, owner, slack)
    found: dict[int, Fault] = {}
    _too_near(stitch, tips, points, owner, feet, slack, found)
    _too_far(stitch, tips, points, owner, feet, slack, found)
    _spikes(tips, controls, chain, found)
    _inside(stitch, points, owner, slack, found)
    return found


class Feet(NamedTuple):
    """Pairs of places and feet: place, span (k,); at (k,) on the span; distance, width (k,) mm; slope (k,) of it."""

    place: Ints
    span: Ints
    at: Array
    distance: Array
    width: Array
    slope: Array


def _places(controls: Array, chain: Ints) -> tuple[Array, Ints]:
    """Places along the ring, every node among them, and the chain of each."""
    size = np.sqrt((np.diff(controls, axis=1) ** 2).sum(axis=2)).sum(axis=1)
    count = np.clip(np.ceil(size / STRIDE), FEWEST, MOST).astype(np.intp)
    span = np.repeat(np.arange(len(count)), count)
    step = np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count)
    return _at(controls[span], step / count[span]), chain[span]


def _at(controls: Array, t: Array) -> Array:
    t = t[..., None]
    s = 1 - t
    return np.asarray(
        s * s * s * controls[..., 0, :]
        + 3 * s * s * t * controls[..., 1, :]
        + 3 * s * t * t * controls[..., 2, :]
        + t * t * t * controls[..., 3, :]
    )


def _feet(stitch: Stitch, points: Array, owner: Ints, slack: float) -> Feet:
    """Every foot that may be within its width, and a little more."""
    second = np.diff(stitch.controls, n=2, axis=1)
    bend = np.sqrt((second**2).sum(axis=2).max(axis=1))
    count = np.where(stitch.straight, 1, np.clip(np.ceil(np.sqrt(0.75 * bend / SAG)), 1, CHORDS)).astype(np.intp)
    sag = np.where(stitch.straight, 0.0, 0.75 * bend / count**2)
    span = np.repeat(np.arange(len(count)), count)
    step = np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count)
    starts, ends = (_at(stitch.controls[span], k / count[span]) for k in (step, step + 1))
    reach = (np.maximum(stitch.near, stitch.far) + sag + slack + 0.01)[span]
    place, chord, share = _pairs(points, owner, starts, ends, stitch.chain[span], reach)
    which = span[chord]
    at = (step[chord] + share) / count[which]
    bent = np.flatnonzero(~stitch.straight[which])
    at[bent] = _nearest(stitch.controls[which[bent]], points[place[bent]], at[bent])
    gap = _at(stitch.controls[which], at) - points[place]
    distance = np.sqrt((gap**2).sum(axis=1))
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
    at, moved = _stepped(controls, points, at, FIRST)
    on = np.flatnonzero(moved > THERE)
    if len(on):
        at[on], _ = _stepped(controls[on], points[on], at[on], NEWTON)
    return at


def _stepped(controls: Array, points: Array, at: Array, steps: int) -> tuple[Array, Array]:
    """The nearest places of so many Newton steps, and how far the last step went."""
    c0 = controls[:, 0] - points
    c1 = 3 * (controls[:, 1] - controls[:, 0])
    c2 = 3 * (controls[:, 0] - 2 * controls[:, 1] + controls[:, 2])
    c3 = controls[:, 3] - controls[:, 0] + 3 * (controls[:, 1] - controls[:, 2])
    best, least, step = at, np.full(len(at), np.inf), np.zeros(len(at))
    for turn in range(steps + 1):
        t = at[:, None]
        gap = ((c3 * t + c2) * t + c1) * t + c0
        far = gap[:, 0] * gap[:, 0] + gap[:, 1] * gap[:, 1]
        best, least = np.where(far < least, at, best), np.minimum(far, least)
        if turn == steps:
            break
        pace, bend = (3 * c3 * t + 2 * c2) * t + c1, 6 * c3 * t + 2 * c2
        speed = pace[:, 0] * pace[:, 0] + pace[:, 1] * pace[:, 1]
        down = speed + gap[:, 0] * bend[:, 0] + gap[:, 1] * bend[:, 1]
        down = np.where(down > 0.1 * speed, down, speed)
        step = (gap[:, 0] * pace[:, 0] + gap[:, 1] * pace[:, 1]) / np.maximum(down, 1e-300)
        at = np.minimum(np.maximum(at - np.minimum(np.maximum(step, -0.1), 0.1), 0.0), 1.0)
    return best, np.abs(step)


def _lengths(controls: Array, at: Array) -> tuple[Array, Array]:
    """Length of spans, and of their parts up to a place, on 64 chords."""
    k = np.arange(65) / 64
    whole, part = (
        np.sqrt((np.diff(_at(controls[:, None], t), axis=1) ** 2).sum(axis=2)).sum(axis=1)
        for t in (np.broadcast_to(k, (len(at), 65)), at[:, None] * k)
    )
    return np.maximum(whole, 1e-300), part


def _too_near(
    s: Stitch, tips: Tips, points: Array, owner: Ints, feet: Feet, slack: float, found: dict[int, Fault]
) -> None:
    close = np.flatnonzero(feet.width - feet.distance > slack)
    if not len(close):
        return
    place, span = feet.place[close], feet.span[close]
    wanted, inner = feet.width[close].copy(), np.zeros(len(close), dtype=np.bool_)
    for corner in (s.corner_in[span], s.corner_out[span]):
        away = np.sqrt(((points[place] - tips.node[corner]) ** 2).sum(axis=1))
        foot = _at(s.controls[span], feet.at[close])
        at_end = np.sqrt(((foot - tips.node[corner]) ** 2).sum(axis=1)) < END
        lower = ((away <= tips.within[corner]) & (tips.within[corner] > 0)) | (tips.uneven[corner] & at_end)
        wanted = np.where(lower, np.minimum(wanted, tips.floor[corner]), wanted)
        inner |= at_end
    # what is near to an edge through the cloth is no concern of its allowance
    d = 3 * np.diff(s.controls[span], axis=1)
    t = feet.at[close][:, None]
    pace = (1 - t) ** 2 * d[:, 0] + 2 * t * (1 - t) * d[:, 1] + t * t * d[:, 2]
    left = cross(pace, points[place] - _at(s.controls[span], feet.at[close])) < 0
    wanted = np.where(left | inner, wanted, 0.0)
    short = wanted - feet.distance[close] - slack * (1 + 2 * feet.slope[close])
    bad = np.flatnonzero(short > 0)
    # beyond the end of its edge an allowance is the neighbours', and ends with them where these step to a narrower one
    ended = bad[inner[bad]]
    beside = _near_corners(tips, points[place[ended]], owner[place[ended]], np.where(tips.uneven, tips.wide, 0.0))
    bad = np.setdiff1d(bad, ended[beside])
    for k in bad[np.argsort(short[bad])].tolist():
        found[int(owner[place[k]])] = Fault(points[place[k]], int(span[k]), float(short[k] + slack), "near")


def _too_far(
    s: Stitch, tips: Tips, points: Array, owner: Ints, feet: Feet, slack: float, found: dict[int, Fault]
) -> None:
    least = np.full(len(points), np.inf)
    np.minimum.at(least, feet.place, feet.distance - feet.width - slack * feet.slope)
    loose = np.flatnonzero(least > slack)
    if not len(loose):
        return
    held = _near_corners(tips, points[loose], owner[loose], tips.reach + slack)
    for k in loose[~held].tolist():
        found.setdefault(int(owner[k]), Fault(points[k], -1, -float(min(least[k], 1e9)), "far"))


def _near_corners(tips: Tips, points: Array, owner: Ints, reach: Array) -> BoolArray:
    """Which places lie within reach (of each corner, mm) of a corner of their own chain."""
    k0, k1 = np.searchsorted(tips.chain, owner), np.searchsorted(tips.chain, owner, side="right")
    place = np.repeat(np.arange(len(points)), k1 - k0)
    corner = np.arange(len(place)) - np.repeat(np.cumsum(k1 - k0) - (k1 - k0), k1 - k0) + np.repeat(k0, k1 - k0)
    away = np.sqrt(((points[place] - tips.node[corner]) ** 2).sum(axis=1))
    held = np.zeros(len(points), dtype=np.bool_)
    held[place[away <= reach[corner]]] = True
    return held


def _spikes(tips: Tips, controls: Array, chain: Ints, found: dict[int, Fault]) -> None:
    """Outward turns beyond SPIKE where no corner has a tip."""
    first = np.concatenate([[True], chain[1:] != chain[:-1]])
    start = np.flatnonzero(first)
    after = np.arange(1, len(chain) + 1)
    after[np.concatenate([start[1:] - 1, [len(chain) - 1]])] = start
    arrive, leave = _ways(controls[:, ::-1]), _ways(controls)[after]
    turn = -(arrive * leave).sum(axis=1)
    for k in np.flatnonzero((turn < SPIKE) & (cross(-arrive, leave) > 0)).tolist():
        mine = tips.chain == chain[k]
        away = np.sqrt(((tips.node[mine] - controls[k, 3]) ** 2).sum(axis=1))
        if not (away <= tips.reach[mine] + 1e-6).any():
            found.setdefault(int(chain[k]), Fault(controls[k, 3], -1, 0.0, "spike"))


def _ways(controls: Array) -> Array:
    """Unit directions in which spans leave their first point; a handle of no length is looked through."""
    size = np.abs(controls - controls[:, :1]).max(axis=(1, 2))
    way = controls[:, 1] - controls[:, 0]
    for k in (2, 3):
        weak = np.abs(way).max(axis=1) <= 1e-6 * size
        way = np.where(weak[:, None], controls[:, k] - controls[:, 0], way)
    return unit(way)


def _inside(stitch: Stitch, points: Array, owner: Ints, slack: float, found: dict[int, Fault]) -> None:
    """One place of each stitch line, as far from the ring as its widest span, lies on the right of the ring's walk."""
    order = np.lexsort((-np.maximum(stitch.near, stitch.far), stitch.chain))
    chains, first = np.unique(stitch.chain[order], return_index=True)
    row = np.full(int(max(chains.max(), owner.max())) + 1, -1, dtype=np.intp)
    row[chains] = order[first]
    middle = _at(stitch.controls[row], np.full(len(row), 0.5))
    start = np.searchsorted(owner, owner)
    after = np.arange(1, len(points) + 1)
    last = np.concatenate([owner[1:] != owner[:-1], [True]])
    after[last] = start[last]
    a, b = points - middle[owner], points[after] - middle[owner]
    # how often the ring goes round the place, from the crossings of a ray
    up = ((a[:, 1] <= 0) & (b[:, 1] > 0)).astype(np.intp) - ((a[:, 1] > 0) & (b[:, 1] <= 0))
    wind = np.bincount(owner, weights=up * (up * cross(a, b - a) > 0), minlength=len(row))
    # inside a ring walked clockwise once, outside one walked the other way
    area = np.bincount(owner, weights=cross(a, b), minlength=len(row))
    width = np.maximum(stitch.near, stitch.far)[row]
    present = np.unique(owner)
    wrong = (width > slack) & (np.where(area > 0, wind != 1, wind != 0))
    for k in present[wrong[present]].tolist():
        found.setdefault(k, Fault(middle[k], int(row[k]), 0.0, "inside"))

"""The gate on every cut line: is it where the allowances say, and nowhere else?

It knows the stitch line, the widths and what the corners ask for, and the finished ring; nothing of how that was made.
Of many places on the ring, every node among them, it measures the distance to the stitch line:

- nowhere nearer to an edge than its width, square to it, on its side of the cloth. At a corner that turns outward the
  cut line of the narrower edge, or of the one that is squared, may run straight on over the other's allowance; and the
  end of a hem that is folded up is the mirror image of its neighbour's cut line;
- everywhere as near to some edge as its width, but for the tips of corners, which keep within their limit;
- ahead of a cusp, or of a tip as sharp as one, not nearer to it than the allowance is wide;
- no outward turn beyond SPIKE but at such a tip, none straight back, and the stitch line on the inner side.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, cross, span_size, unit
from flatcut.geometry.offset_feet import Feet, Ints, Stitch, at_places, feet_of, nearer, places_on

SPIKE = -np.cos(np.radians(40.0))
"""Cosine of an outward turn (140°) that nothing but the tip of a corner explains."""

BACK = -np.cos(np.radians(1.0))
"""... and of one (179°) that nothing explains where there is an allowance."""

END = 0.5
"""mm: a foot this near to the end of an edge (in a tiny one its last quarter) is its end, where allowances end square:
that an edge curls there within less than this is no concern of a cutter."""

STEPS = 12
"""Steps towards a foot that makes a ring wrong."""

UPRIGHT = 0.02
"""Cosine of the angle between an edge and the way to its foot: with a larger one it is no foot, but an end."""

LOOKS = np.linspace(0.0, 1.0, 257)
"""Where a span is looked at for feet that lie closely together."""

AROUND = [(float(np.cos(a)), float(np.sin(a))) for a in np.arange(8) * np.pi / 4]
"""Directions from a place."""

COVERED = 0.9
"""Part of its width up to which an allowance is looked for ahead of a sharp tip."""

BEYOND = np.array([0.02, 0.1, 0.25, 0.5, 0.9])
"""Parts of the way (or of the width, if that is less) that a cut line runs on too far at which it is looked at."""

THROUGH = 0.02
"""Parts of the way from a place to its foot, at either end, that the stitch line may touch."""


class Tips(NamedTuple):
    """Corners: node (m, 2); chain (m,); reach (m,) mm from the node that a tip may go, 0 where there is none; wide (m,)
    the larger of both widths. ends, on (m, 2, 2): where the cut lines of the edges before and after end, and the
    direction in which each runs on; far (m, 2) mm that it may run on over the other's allowance. hem (m,): 1 where the
    edge before is a hem that is folded up, 2 the edge after, else 0; way (m, 2) the hem's direction there.
    ahead (m, 2): where the stitch line turns back in a tip, the vector from there as far as the allowance reaches."""

    node: Array
    chain: Ints
    reach: Array
    wide: Array
    ends: Array
    on: Array
    far: Array
    hem: Ints
    way: Array
    ahead: Array


class Fault(NamedTuple):
    """Where a ring is wrong: place (2,); the span of the stitch line, -1 for none; mm too near, or too far if negative;
    what: one of 'near', 'far', 'spike', 'inside'."""

    place: Array
    span: int
    short: float
    what: str


def faults(
    stitch: Stitch, tips: Tips, spans: tuple[Array, Ints], *, slack: float, careful: BoolArray
) -> dict[int, Fault]:
    """The worst fault of each chain whose ring has one. spans: controls and chain, in ring order.

    slack: mm that a distance may be wrong by; careful: by chain, whether it is looked at in more places.
    """
    controls, chain = spans
    points, owner = places_on(controls, chain, careful)
    feet = feet_of(stitch, points, owner, slack)
    found: dict[int, Fault] = {}
    _too_near(stitch, tips, points, owner, feet, slack, found)
    on_too_far, of = _run_on_too_far(tips, controls, chain, slack)
    if len(of):
        _too_near(stitch, tips, on_too_far, of, feet_of(stitch, on_too_far, of, slack), slack, found)
    _too_far(stitch, tips, points, owner, feet, slack, found)
    _spikes(tips, controls, chain, found)
    _ahead(stitch, tips, points, owner, slack, found)
    _inside(stitch, points, owner, slack, found)
    return found


def _too_near(
    s: Stitch, tips: Tips, points: Array, owner: Ints, feet: Feet, slack: float, found: dict[int, Fault]
) -> None:
    short = feet.width - feet.distance - slack * (1 + 2 * feet.slope)
    close = np.flatnonzero(short > 0)
    if not len(close):
        return
    # what is near to an edge through the cloth is no concern of its allowance
    span, here = feet.span[close], points[feet.place[close]]
    at, _ = nearer(s.controls[span], here, feet.at[close], STEPS)
    foot, pace = at_places(s.controls[span], at), paces(s.controls[span], at)
    way = here - foot
    beside = cross(pace, way) < 0
    size = np.sqrt((pace**2).sum(axis=1) * (way**2).sum(axis=1))
    beside &= np.abs((pace * way).sum(axis=1)) <= UPRIGHT * size
    ends = tips.node[np.stack([s.corner_in[span], s.corner_out[span]])]
    beside &= (((ends - foot) ** 2).sum(axis=2) > _margins(s, span) ** 2).all(axis=0)
    close, span, foot, here = close[beside], span[beside], foot[beside], here[beside]
    excused = np.zeros(len(close), dtype=np.bool_)
    for corner, other in ((s.corner_in[span], 0), (s.corner_out[span], 1)):
        along = here - tips.ends[corner, other]
        on = tips.on[corner, other]
        run = (along * on).sum(axis=1)
        excused |= (np.abs(cross(along, on)) <= 2 * slack) & (run >= -slack) & (run <= tips.far[corner, other] + slack)
        hem = np.flatnonzero(~excused & (tips.hem[corner] == 2 - other))
        for r in np.unique(corner[hem]).tolist():
            mine = hem[corner[hem] == r]
            excused[mine] = _mirrored_on(s, tips, r, other, here[mine], slack)
    close, span, foot, here = close[~excused], span[~excused], foot[~excused], here[~excused]
    wrong = _deep(s, span, here, slack * (1 + 2 * feet.slope[close]))
    wrong[wrong] = ~_through(s, s.chain[span[wrong]], here[wrong], foot[wrong])
    for k in np.flatnonzero(wrong)[np.argsort(short[close[wrong]])].tolist():
        amount = float(short[close[k]] + slack)
        found[int(owner[feet.place[close[k]]])] = Fault(here[k], int(span[k]), amount, "near")


def _run_on_too_far(tips: Tips, controls: Array, chain: Ints, slack: float) -> tuple[Array, Ints]:
    """Places on a ring where a cut line runs straight on over its neighbour's allowance for longer than it may, and the
    chain of each: what that enters there may be shorter than the stride of all other places."""
    corner, side = np.nonzero(tips.far > slack)
    of, first = tips.chain[corner], np.searchsorted(chain, tips.chain[corner])
    count = np.searchsorted(chain, of, side="right") - first
    which = np.repeat(np.arange(len(corner)), count)
    span = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + first[which]
    corner, side = corner[which], side[which]
    on, end = tips.on[corner, side], tips.ends[corner, side]
    both = controls[span][:, (0, 3)] - end[:, None]
    run = (both * on[:, None]).sum(axis=2)
    beside = np.abs(cross(both, on[:, None])).max(axis=1)
    low = np.maximum(tips.far[corner, side], run.min(axis=1))
    over = np.flatnonzero((beside <= 2 * slack) & (run.max(axis=1) > low + slack))
    far = np.minimum(run.max(axis=1)[over] - low[over], tips.wide[corner[over]])
    runs = (low[over] + slack)[:, None] + far[:, None] * BEYOND
    places = end[over, None] + runs[..., None] * on[over, None]
    order = np.argsort(of[which[over]], kind="stable")
    owner = np.repeat(of[which[over]][order], len(BEYOND))
    return places[order].reshape(-1, 2), owner


def _margins(s: Stitch, span: Ints) -> Array:
    """mm from the ends of the edges of spans at which a foot is an end: END, or of a tiny edge a quarter."""
    margin = np.full(len(span), END)
    for corner in np.unique(s.corner_out[span]).tolist():
        on = at_places(s.controls[s.corner_out == corner, None], LOOKS[None, ::16])
        size = float(np.sqrt((np.diff(on, axis=1) ** 2).sum(axis=2)).sum())
        margin[s.corner_out[span] == corner] = min(END, size / 4)
    return margin


def paces(controls: Array, t: Array) -> Array:
    """dx/dt of cubics (n, 4, 2) at t, (n,) or (n, k)."""
    d = 3 * np.diff(controls, axis=1)
    if t.ndim == 2:
        d = d[:, None]
    t = t[..., None]
    return np.asarray((1 - t) ** 2 * d[..., 0, :] + 2 * t * (1 - t) * d[..., 1, :] + t * t * d[..., 2, :])


def _mirrored_on(s: Stitch, tips: Tips, corner: int, side: int, points: Array, slack: float) -> BoolArray:
    """Whether points, mirrored about the hem of a corner, lie on the cut line of its other edge or where that runs on;
    side: 0 where that is the edge before the corner."""
    to, way = points - tips.node[corner], tips.way[corner]
    image = tips.node[corner] + 2 * (to @ way)[:, None] * way - to
    mine = np.flatnonzero((s.corner_in if side else s.corner_out) == corner)
    edge = s.of(mine)._replace(chain=np.zeros(len(mine), dtype=np.intp))
    feet = feet_of(edge, image, np.zeros(len(image), dtype=np.intp), slack)
    lies = np.zeros(len(points), dtype=np.bool_)
    lies[feet.place[np.abs(feet.distance - feet.width) <= 2 * slack * (1 + 2 * feet.slope)]] = True
    along, on = image - tips.ends[corner, side], tips.on[corner, side]
    return np.asarray(lies | ((np.abs(cross(along, on)) <= 2 * slack) & (along @ on >= -slack)))


def _deep(s: Stitch, span: Ints, places: Array, slack: Array) -> BoolArray:
    """Whether the allowance of a span's edge covers all that lies `slack` mm around a place; all (n,) or (n, 2). Where
    an edge is bent more tightly than its width its normals cross, and on one side of where they do the feet are near,
    on the other there are none.
    """
    deep = np.ones(len(span), dtype=np.bool_)
    edge = s.corner_out[span]
    for corner in np.unique(edge).tolist():
        mine = np.flatnonzero(edge == corner)
        rows = np.flatnonzero((s.corner_out == corner) & (s.chain == s.chain[span[mine[0]]]))
        on, width = _looked_at(s, rows)
        pace = paces(s.controls[rows], np.broadcast_to(LOOKS, width.shape))
        for x, y in AROUND:
            around = places[mine] + slack[mine, None] * np.array([x, y])
            held = _has_feet(on, width, pace, around)
            deep[mine[~held]] = False
            mine = mine[held]
    return deep


def _has_feet(on: Array, width: Array, pace: Array, places: Array) -> BoolArray:
    """Whether places (m, 2) lie in an allowance; on, pace (k, n, 2), width (k, n): of its edge, see `_looked_at`."""
    dot = (places @ pace.reshape(-1, 2).T).reshape(len(places), *width.shape) - (on * pace).sum(axis=2)
    here, row, k = np.nonzero((dot[..., 1:] <= 0) != (dot[..., :-1] <= 0))
    before, after = dot[here, row, k], dot[here, row, k + 1]
    part = before / (before - after)
    gap = places[here] - on[row, k] - part[:, None] * (on[row, k + 1] - on[row, k])
    wide = width[row, k] + part * (width[row, k + 1] - width[row, k])
    within = ((gap**2).sum(axis=1) < wide**2) & (cross(pace[row, k], gap) < 0)
    held = np.zeros(len(places), dtype=np.bool_)
    held[here[within]] = True
    return held


def _looked_at(s: Stitch, rows: Ints) -> tuple[Array, Array]:
    """Points (k, n, 2) on spans at LOOKS, and the widths there (k, n)."""
    on = at_places(s.controls[rows, None], np.broadcast_to(LOOKS, (len(rows), len(LOOKS))))
    size = np.sqrt((np.diff(on, axis=1) ** 2).sum(axis=2))
    share = np.zeros((len(rows), len(LOOKS)))
    share[:, 1:] = np.cumsum(size, axis=1) / np.maximum(size.sum(axis=1, keepdims=True), 1e-300)
    return on, s.near[rows, None] + (s.far - s.near)[rows, None] * share


def _beyond_all(s: Stitch, chain: int, place: Array) -> float:
    """mm that a place lies farther from each edge than its width there, the least of all edges, densely looked at."""
    rows = np.flatnonzero(s.chain == chain)
    on, width = _looked_at(s, rows)
    way, to = np.diff(on, axis=1), place - on[:, :-1]
    part = np.clip((to * way).sum(axis=2) / np.maximum((way**2).sum(axis=2), 1e-300), 0.0, 1.0)
    away = np.sqrt(((to - part[..., None] * way) ** 2).sum(axis=2))
    return float((away - width[:, :-1] - part * np.diff(width, axis=1)).min())


def _through(s: Stitch, chain: Ints, places: Array, feet: Array) -> BoolArray:
    """Whether the stitch line of a chain crosses the way from a place to its foot, (n,) and (n, 2)."""
    crossed = np.zeros(len(chain), dtype=np.bool_)
    t = np.linspace(0, 1, 33)
    for number in np.unique(chain).tolist():
        mine = np.flatnonzero(chain == number)
        controls = s.controls[s.chain == number]
        on = at_places(controls[:, None], np.broadcast_to(t, (len(controls), 33)))
        a, v = on[:, :-1].reshape(-1, 2), np.diff(on, axis=1).reshape(-1, 2)
        way = (feet - places)[mine, None]
        det = cross(way, v[None])
        det = np.where(np.abs(det) < 1e-300, 1e-300, det)
        to = a - places[mine, None]
        along, across = cross(to, v[None]) / det, cross(to, way) / det
        hit = (along > THROUGH) & (along < 1 - THROUGH) & (across >= 0) & (across <= 1)
        crossed[mine] = hit.any(axis=1)
    return crossed


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
        if int(owner[k]) in found or _beyond_all(s, int(owner[k]), points[k]) <= slack:
            continue
        found.setdefault(int(owner[k]), Fault(points[k], -1, -float(min(least[k], 1e9)), "far"))


def _near_corners(tips: Tips, points: Array, owner: Ints, reach: Array) -> BoolArray:
    """Which places lie within reach (of each corner, mm) of a corner of their own chain."""
    k0, k1 = np.searchsorted(tips.chain, owner), np.searchsorted(tips.chain, owner, side="right")
    place = np.repeat(np.arange(len(points)), k1 - k0)
    corner = np.arange(len(place)) - np.repeat(np.cumsum(k1 - k0) - (k1 - k0), k1 - k0) + np.repeat(k0, k1 - k0)
    gap = points[place] - tips.node[corner]
    away = np.sqrt(gap[:, 0] ** 2 + gap[:, 1] ** 2)
    held = np.zeros(len(points), dtype=np.bool_)
    held[place[away <= reach[corner]]] = True
    return held


def _spikes(tips: Tips, controls: Array, chain: Ints, found: dict[int, Fault]) -> None:
    """Outward turns beyond SPIKE where no corner has a tip."""
    first = np.concatenate([[True], chain[1:] != chain[:-1]])
    start = np.flatnonzero(first)
    after = np.arange(1, len(chain) + 1)
    after[np.concatenate([start[1:] - 1, [len(chain) - 1]])] = start
    arrive, leave = directions(controls[:, ::-1]), directions(controls)[after]
    turn = -(arrive * leave).sum(axis=1)
    for k in np.flatnonzero((turn < SPIKE) & ((cross(-arrive, leave) > 0) | (turn < BACK))).tolist():
        mine = tips.chain == chain[k]
        away = np.sqrt(((tips.node[mine] - controls[k, 3]) ** 2).sum(axis=1))
        back = turn[k] < BACK and not (away <= tips.wide[mine] * 1e-3 + 1e-3).any()
        if back or not (away <= tips.reach[mine] + 1e-6).any():
            found.setdefault(int(chain[k]), Fault(controls[k, 3], -1, 0.0, "spike"))


def _ahead(s: Stitch, tips: Tips, points: Array, owner: Ints, slack: float, found: dict[int, Fault]) -> None:
    """Places ahead of sharp tips that no allowance covers: normals of an edge that turns back leave them out."""
    wide = np.sqrt((tips.ahead**2).sum(axis=1))
    for k in np.flatnonzero(wide > 2 * slack).tolist():
        chain, place = int(tips.chain[k]), tips.node[k] + COVERED * tips.ahead[k]
        mine = owner == chain
        if chain in found or not mine.any():
            continue
        if _through(s, np.array([chain]), place[None], tips.node[k][None])[0]:
            continue
        a = points[mine] - place
        b = np.roll(a, -1, axis=0)
        up = ((a[:, 1] <= 0) & (b[:, 1] > 0)).astype(np.intp) - ((a[:, 1] > 0) & (b[:, 1] <= 0))
        wind = int((up * (up * cross(a, b - a) > 0)).sum())
        if wind != (1 if cross(a, b).sum() > 0 else 0):
            found[chain] = Fault(place, -1, float((1 - COVERED) * wide[k]), "near")


def directions(controls: Array) -> Array:
    """Unit directions in which spans leave their first point; a handle of no length is looked through."""
    size = span_size(controls)
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
    middle = at_places(stitch.controls[row], np.full(len(row), 0.5))
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

"""Where single spans meet: the raw hits that `intersect` sorts into crossings.

Two lines: closed form. A line and a cubic: the distance from the line is a cubic polynomial in the curve's parameter;
between its turning points it is monotone, so every change of sign there holds exactly one root, and a turning point
within the tolerance of the line is a contact. Two cubics: pieces are halved and those that keep clear of each other
dropped, until the pieces left are

- two gently bent ones that run across each other: at most one crossing, found by Newton's method,
- two short ones that run along each other: a contact or up to two crossings beside their closest approach,
- or far smaller than the tolerance: a hit as they stand (a cusp, a handle of length zero).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.arrays import Ints as Indices
from flatcut.geometry.bernstein import halve, root, value
from flatcut.geometry.curves import Curve, split_spans
from flatcut.geometry.nearest import nearest

GENTLE = np.radians(15.0)
"""Pieces bent no more than this from their chord count as gently bent: Newton's method is sure to settle on them."""
EVEN = 0.25
"""... and whose least speed is at least this part of the largest."""
TINY = 1 / 16
"""Pieces no larger than this part of the tolerance are hits as they stand."""
SHORT = 0.25
"""mm: pieces this short that run along each other are looked at for their closest approach. On garment curves
(radius 1 mm and up) two arcs so short meet twice at most, save by less than 1e-6 mm."""
SHORT_PART = 1 / 2048
"""... or this part of the larger span, so that curves of a kilometre do not take a million pieces."""
SHARED = 1e-7
"""rad: a common point at so flat an angle is a contact or part of a shared stretch. Where curves as alike as radii of
100 mm and 101 mm part by 1e-6 mm between two crossings, these have more than ten times this angle."""
MANY = 24
"""Isolated contacts of two cubics are at most four; of more than this many, only a selection is kept."""
LOOK, FULL = 5, 16
"""After so many rounds of halving a pair of which so many pieces are left is looked at: it may share a stretch."""
ROUNDS = 60
"""Rounds of halving at most; 2^-60 of a span is nothing."""
LEVEL = 1e-9
"""Parameters this little outside 0..1 are the end itself."""


class Hits(NamedTuple):
    """Raw hits: pair number, own parameters on both spans, and whether the spans only run close by each other there."""

    pair: Indices
    t: Array
    s: Array
    close: BoolArray


def meet(a: Array, a_straight: BoolArray, b: Array, b_straight: BoolArray, *, tolerance: float) -> Hits:
    """All raw hits of the pairs of spans a[k], b[k], both (m, 4, 2); the same hit may come several times.

    Ends that lie beside the other span without reaching it are left to the caller.
    """
    kinds = (a_straight & b_straight, a_straight & ~b_straight, ~a_straight & b_straight, ~a_straight & ~b_straight)
    found: list[Hits] = []
    for kind, chosen in enumerate(kinds):
        rows = np.flatnonzero(chosen)
        if not rows.size:
            continue
        p, q = a[rows], b[rows]
        if kind == 0:
            hits = lines(p, q)
        elif kind == 1:
            pair, s, t, close = line_cubics(q, p, tolerance)
            hits = Hits(pair, t, s, close)
        elif kind == 2:
            hits = line_cubics(p, q, tolerance)
        else:
            hits = cubics(p, q, tolerance)
        found.append(hits._replace(pair=rows[hits.pair]))
    if not found:
        return Hits(np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.bool_))
    return _joined(found)


def lines(a: Array, b: Array) -> Hits:
    """Crossings of straight spans; parallel ones have none."""
    along, beside, start = a[:, 3] - a[:, 0], b[:, 3] - b[:, 0], b[:, 0] - a[:, 0]
    turn = cross(along, beside)
    size = np.sqrt((along * along).sum(axis=1) * (beside * beside).sum(axis=1))
    usable = np.abs(turn) > 1e-14 * size
    t = np.divide(cross(start, beside), turn, out=np.full(len(a), -1.0), where=usable)
    s = np.divide(cross(start, along), turn, out=np.full(len(a), -1.0), where=usable)
    return _inside(np.arange(len(a)), t, s, np.zeros(len(a), dtype=np.bool_))


def line_cubics(a: Array, b: Array, tolerance: float) -> Hits:
    """Crossings and contacts of cubics a[k] with straight spans b[k]."""
    along = b[:, 3] - b[:, 0]
    size = np.hypot(along[:, 0], along[:, 1])
    axis = np.divide(along, size[:, None], out=np.zeros_like(along), where=size[:, None] > 0)
    offset = a - b[:, :1]
    away = cross(axis[:, None], offset)
    turns = _turning_points(away)
    stops = np.concatenate([np.zeros((len(a), 1)), turns, np.ones((len(a), 1))], axis=1)
    height = np.stack([value(away, stops[:, k])[0] for k in range(4)], axis=1)
    row, piece = np.nonzero(height[:, :-1] * height[:, 1:] < 0)
    up = np.where(height[row, piece] < 0, 1.0, -1.0)
    crossing = root(up[:, None] * away[row], stops[row, piece], stops[row, piece + 1])
    touch_row, touch = np.nonzero((np.abs(height[:, 1:3]) <= tolerance) & (turns > 0) & (turns < 1))
    rows = np.concatenate([row, touch_row])
    t = np.concatenate([crossing, turns[touch_row, touch]])
    close = np.concatenate([np.zeros(len(row), dtype=np.bool_), np.ones(len(touch_row), dtype=np.bool_)])
    reach = (axis[rows, None] * offset[rows]).sum(axis=2)
    s = np.divide(value(reach, t)[0], size[rows], out=np.full(len(rows), -1.0), where=size[rows] > 0)
    return _inside(rows, t, s, close)


def cubics(a: Array, b: Array, tolerance: float) -> Hits:
    """Crossings and contacts of pairs of cubics."""
    work = _Work(np.arange(len(a)), a, np.zeros(len(a)), np.ones(len(a)), b, np.zeros(len(b)), np.ones(len(b)))
    short = np.maximum(SHORT, SHORT_PART * np.maximum(_size(a), _size(b)))
    found: list[Hits] = []
    across: list[_Work] = []
    for turn in range(ROUNDS):
        work = work.keep(~_apart(work.a, work.b, tolerance))
        if turn == LOOK:
            work, ends = _without_shared(work, a, b, tolerance)
            found.append(ends)
        if not work.pair.size:
            break
        size_a, size_b = _size(work.a), _size(work.b)
        done = np.maximum(size_a, size_b) <= TINY * tolerance
        if done.any():
            found.append(_as_they_stand(work.keep(done), tolerance))
        bend_a, gentle_a = _bend(work.a)
        bend_b, gentle_b = _bend(work.b)
        gentle = gentle_a & gentle_b & ~done
        angle = _angle(work.a[:, 3] - work.a[:, 0], work.b[:, 3] - work.b[:, 0])
        is_across = gentle & (angle > 2 * (bend_a + bend_b))
        is_along = gentle & ~is_across & (np.maximum(size_a, size_b) <= short[work.pair])
        across.append(work.keep(is_across))
        if is_along.any():
            found.append(_run_along(work.keep(is_along), a, b, tolerance))
        left = ~(done | is_across | is_along)
        work = work.keep(left).halved(size_a[left], size_b[left])
    crossing = _Work._make(np.concatenate(parts) for parts in zip(*across, strict=True)) if across else work
    found.append(_run_across(crossing, a, b))
    return _thinned(_joined(found))


class _Work(NamedTuple):
    """Pairs of pieces: pair number, and for both spans the piece's controls, first parameter and width."""

    pair: Indices
    a: Array
    a0: Array
    aw: Array
    b: Array
    b0: Array
    bw: Array

    def keep(self, chosen: BoolArray) -> _Work:
        return _Work._make(column[chosen] for column in self)

    def middles(self) -> tuple[Array, Array]:
        return self.a0 + self.aw / 2, self.b0 + self.bw / 2

    def halved(self, size_a: Array, size_b: Array) -> _Work:
        """Both pieces halved, or only the larger where the other is less than a quarter of it."""
        split_b = size_b >= size_a / 4
        work, split_b = self._half_a(size_a >= size_b / 4, split_b)
        turned = _Work(work.pair, work.b, work.b0, work.bw, work.a, work.a0, work.aw)
        turned, _ = turned._half_a(split_b, split_b)
        return _Work(turned.pair, turned.b, turned.b0, turned.bw, turned.a, turned.a0, turned.aw)

    def _half_a(self, chosen: BoolArray, mark: BoolArray) -> tuple[_Work, BoolArray]:
        kept, cut = self.keep(~chosen), self.keep(chosen)
        left, right = halve(cut.a)
        width = cut.aw / 2
        first = cut._replace(a=left, aw=width)
        second = cut._replace(a=right, a0=cut.a0 + width, aw=width)
        marks = np.concatenate([mark[~chosen], mark[chosen], mark[chosen]])
        return _Work._make(np.concatenate(parts) for parts in zip(kept, first, second, strict=True)), marks


def _without_shared(work: _Work, a: Array, b: Array, tolerance: float) -> tuple[_Work, Hits]:
    """The work without pairs that share a stretch from end to end, and the two ends of each of these, as close hits."""
    left = np.ones(len(work.pair), dtype=np.bool_)
    pairs: list[int] = []
    ends: list[tuple[float, float]] = []
    for pair in np.flatnonzero(np.bincount(work.pair, minlength=1) >= FULL).tolist():
        shared = _shared(a[pair], b[pair], tolerance)
        if shared:
            left &= work.pair != pair
            pairs += [pair, pair]
            ends += shared
    t, s = np.array(ends, dtype=float).reshape(-1, 2).T
    return work.keep(left), Hits(np.array(pairs, dtype=np.intp), t, s, np.ones(len(pairs), dtype=np.bool_))


def _shared(a: Array, b: Array, tolerance: float) -> list[tuple[float, float]]:
    """The places (t, s) on two cubics (4, 2) at the ends of the stretch that both share within the tolerance, from an
    end of either to an end of either; none where there is no such stretch.

    Two cubics lie as near to each other as their controls do. Only of those that go forward along their chords: others
    may cross themselves.
    """
    for p in (a, b):
        way, chord = p[1:] - p[:-1], p[3] - p[0]
        if not (way @ chord > 0).all():
            return []
    places: list[tuple[float, float]] = []
    for one, other, turned in ((a, b, False), (b, a, True)):
        at, away = nearest(Curve(other[None], np.zeros(1, dtype=np.bool_)), one[[0, 3]])
        met = [(float(end), float(at[end])) for end in (0, 1) if away[end] <= tolerance]
        places += [(s, t) for t, s in met] if turned else met
    if len(places) < 2:
        return []
    (t0, s0), (t1, s1) = min(places), max(places)
    if t0 == t1 or s0 == s1:
        return []
    mine, its = _part(a, t0, t1), _part(b, min(s0, s1), max(s0, s1))
    gap = mine - (its if s0 < s1 else its[::-1])
    return [(t0, s0), (t1, s1)] if np.hypot(*gap.T).max() <= tolerance else []


def _part(p: Array, t0: float, t1: float) -> Array:
    """The controls of a cubic (4, 2) from t0 to t1."""
    head = split_spans(p[None], [t1])[0]
    return np.asarray(split_spans(head, [t0 / t1])[1][0])


def _size(p: Array) -> Array:
    """The larger side of the box round the controls (m, 4, 2)."""
    return np.asarray((p.max(axis=1) - p.min(axis=1)).max(axis=1))


def _apart(a: Array, b: Array, tolerance: float) -> BoolArray:
    """Whether a line square to or along either chord parts the controls (m, 4, 2) by more than `tolerance`."""
    apart = np.zeros(len(a), dtype=np.bool_)
    for p in (a, b):
        chord = p[:, 3] - p[:, 0]
        size = np.hypot(chord[:, 0], chord[:, 1])[:, None]
        axis = np.divide(chord, size, out=np.tile([1.0, 0.0], (len(p), 1)), where=size > 0)
        origin = p[:, :1]
        for direction in (np.stack([-axis[:, 1], axis[:, 0]], axis=1), axis):
            on_a = ((a - origin) * direction[:, None]).sum(axis=2)
            on_b = ((b - origin) * direction[:, None]).sum(axis=2)
            apart |= (on_a.min(axis=1) > on_b.max(axis=1) + tolerance) | (
                on_b.min(axis=1) > on_a.max(axis=1) + tolerance
            )
    return apart


def _bend(p: Array) -> tuple[Array, BoolArray]:
    """The largest angle between the pieces' handles and their chord, and whether the piece is gently bent and even."""
    d = p[:, 1:] - p[:, :-1]
    chord = p[:, 3:] - p[:, :1]
    angle = np.abs(np.arctan2(cross(chord, d), (chord * d).sum(axis=2))).max(axis=1)
    speed = np.hypot(d[..., 0], d[..., 1])
    even = speed.min(axis=1) > EVEN * speed.max(axis=1)
    return angle, np.asarray(even & (angle <= GENTLE))


def _angle(u: Array, v: Array) -> Array:
    """The angle between two directions (m, 2) taken as lines, 0 to a right angle."""
    return np.asarray(np.arctan2(np.abs(cross(u, v)), np.abs((u * v).sum(axis=1))))


def _turning_points(e: Array) -> Array:
    """Sorted parameters (m, 2) where cubics in Bernstein form (m, 4) turn; 0 where there is none inside."""
    f = np.diff(e, axis=1)
    a, half_b, c = f[:, 0] - 2 * f[:, 1] + f[:, 2], f[:, 1] - f[:, 0], f[:, 0]
    # a touch of rounding must not hide a double root, a point of inflection along the line
    disc = half_b * half_b - a * c
    disc = np.where((disc < 0) & (disc > -1e-14 * (half_b * half_b + np.abs(a * c))), 0.0, disc)
    real = disc >= 0
    q = -(half_b + np.copysign(np.sqrt(np.where(real, disc, 0.0)), half_b))
    first = np.divide(q, a, out=np.zeros_like(q), where=(a != 0) & real)
    second = np.divide(c, q, out=np.zeros_like(q), where=(q != 0) & real)
    turns = np.stack([first, second], axis=1)
    return np.sort(np.where((turns > 0) & (turns < 1), turns, 0.0), axis=1)


def _as_they_stand(work: _Work, tolerance: float) -> Hits:
    """The middles of tiny pieces that lie within the tolerance of each other."""
    gap = (work.a[:, 0] + work.a[:, 3] - work.b[:, 0] - work.b[:, 3]) / 2
    near = work.keep(np.hypot(gap[:, 0], gap[:, 1]) <= tolerance)
    return Hits(near.pair, *near.middles(), np.zeros(len(near.pair), dtype=np.bool_))


def _run_across(work: _Work, a: Array, b: Array) -> Hits:
    """The crossings of pieces that run across each other."""
    t, s, residual = _newton(a[work.pair], b[work.pair], *work.middles())
    slack_t, slack_s = LEVEL + 1e-6 * work.aw, LEVEL + 1e-6 * work.bw
    here = (t >= work.a0 - slack_t) & (t <= work.a0 + work.aw + slack_t)
    here &= (s >= work.b0 - slack_s) & (s <= work.b0 + work.bw + slack_s) & residual
    return _inside(work.pair[here], t[here], s[here], np.zeros(int(here.sum()), dtype=np.bool_))


def _run_along(work: _Work, a: Array, b: Array, tolerance: float) -> Hits:
    """Contacts and crossings of short pieces that run along each other.

    At the closest approach the tangents are parallel and the gap is square to them. Beside it the gap grows as
    gap + ½ (difference of curvature) x²: where the two terms have opposite signs, two crossings lie at ±x.
    """
    p, q = a[work.pair], b[work.pair]
    t0, s0 = work.middles()
    t, s = _closest_approach(p, q, t0, s0)
    t = np.clip(t, np.maximum(work.a0 - work.aw, 0), np.minimum(work.a0 + 2 * work.aw, 1))
    s = np.clip(s, np.maximum(work.b0 - work.bw, 0), np.minimum(work.b0 + 2 * work.bw, 1))
    here_a, va, wa = _expand(p, t)
    here_b, vb, wb = _expand(q, s)
    size_a, size_b = np.hypot(*va.T), np.hypot(*vb.T)
    gap = here_a - here_b
    near = np.hypot(*gap.T) <= tolerance
    contacts = Hits(work.pair[near], t[near], s[near], np.ones(int(near.sum()), dtype=np.bool_))
    with np.errstate(divide="ignore", invalid="ignore"):
        side = np.sign((va * vb).sum(axis=1))
        bend = side * cross(va, wa) / size_a**3 - cross(vb, wb) / size_b**3
        x = np.sqrt(-2 * cross(vb, gap) / size_b / bend)
        x = np.where(np.isfinite(x), x, 0.0)
        step_t, step_s = np.nan_to_num(side * x / size_a), np.nan_to_num(x / size_b)
    row = np.tile(np.arange(len(t)), 3)
    seeds_t = np.concatenate([t - step_t, t + step_t, t0])
    seeds_s = np.concatenate([s - step_s, s + step_s, s0])
    t, s, settled = _newton(p[row], q[row], seeds_t, seeds_s)
    kept = settled & (np.abs(t - t0[row]) <= 2 * work.aw[row]) & (np.abs(s - s0[row]) <= 2 * work.bw[row])
    row, t, s = row[kept], t[kept], s[kept]
    # of curves that share a stretch every common point is a solution, and the tangents there are parallel
    shared = _angle(_expand(p[row], t)[1], _expand(q[row], s)[1]) <= SHARED
    return _joined([contacts, _inside(work.pair[row], t, s, shared)])


def _thinned(hits: Hits) -> Hits:
    """The hits without most of the close ones of a pair that has very many, as along a shared stretch."""
    kept = ~hits.close
    for pair in np.unique(hits.pair[hits.close]):
        rows = np.flatnonzero(hits.close & (hits.pair == pair))
        rows = rows[np.argsort(hits.t[rows], kind="stable")]
        kept[rows[np.unique(np.linspace(0, len(rows) - 1, MANY).astype(int))]] = True
    return Hits._make(column[kept] for column in hits)


def _expand(p: Array, t: Array) -> tuple[Array, Array, Array]:
    """Points, first and second derivatives (m, 2) of cubics (m, 4, 2) at t (m,)."""
    s, t = 1 - t[:, None], t[:, None]
    d = 3 * (p[:, 1:] - p[:, :-1])
    e = 2 * (d[:, 1:] - d[:, :-1])
    place = s * s * s * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t * t * t * p[:, 3]
    return place, s * s * d[:, 0] + 2 * s * t * d[:, 1] + t * t * d[:, 2], s * e[:, 0] + t * e[:, 1]


def _newton(a: Array, b: Array, t: Array, s: Array) -> tuple[Array, Array, BoolArray]:
    """Newton's method for A(t) = B(s), with marks where it settled on a common point."""
    if not len(t):
        return t, s, np.zeros(0, dtype=np.bool_)
    scale = np.maximum(_size(a), _size(b)) + np.abs(a[:, 0]).max(axis=1)
    gap = np.zeros((len(t), 2))
    for _ in range(12):
        here_a, va, _ = _expand(a, t)
        here_b, vb, _ = _expand(b, s)
        gap = here_a - here_b
        turn = cross(va, vb)
        usable = np.abs(turn) > 1e-30
        dt = np.divide(-cross(gap, vb), turn, out=np.zeros_like(t), where=usable)
        ds = np.divide(cross(va, gap), turn, out=np.zeros_like(s), where=usable)
        t = np.clip(t + np.clip(dt, -0.25, 0.25), -0.25, 1.25)
        s = np.clip(s + np.clip(ds, -0.25, 0.25), -0.25, 1.25)
        if max(np.abs(dt).max(), np.abs(ds).max()) < 1e-15:
            break
    gap = _expand(a, t)[0] - _expand(b, s)[0]
    return t, s, np.asarray(np.hypot(*gap.T) <= 1e-12 * scale + 1e-12)


def _closest_approach(a: Array, b: Array, t: Array, s: Array) -> tuple[Array, Array]:
    """Newton's method for (A - B)·B' = 0 and A' × B' = 0; the start stands where the two are curved alike."""
    start_t, start_s = t, s
    for _ in range(8):
        here_a, va, wa = _expand(a, t)
        here_b, vb, wb = _expand(b, s)
        gap = here_a - here_b
        square, turn = (gap * vb).sum(axis=1), cross(va, vb)
        m11, m12 = (va * vb).sum(axis=1), (gap * wb).sum(axis=1) - (vb * vb).sum(axis=1)
        m21, m22 = cross(wa, vb), cross(va, wb)
        det = m11 * m22 - m12 * m21
        usable = np.abs(det) > 1e-12 * (np.abs(m11 * m22) + np.abs(m12 * m21))
        dt = np.divide(-square * m22 + m12 * turn, det, out=np.zeros_like(t), where=usable)
        ds = np.divide(-m11 * turn + m21 * square, det, out=np.zeros_like(s), where=usable)
        t, s = t + np.clip(dt, -0.05, 0.05), s + np.clip(ds, -0.05, 0.05)
    lost = (np.abs(t - start_t) > 0.2) | (np.abs(s - start_s) > 0.2)
    return np.where(lost, start_t, t), np.where(lost, start_s, s)


def _inside(pair: Indices, t: Array, s: Array, close: BoolArray) -> Hits:
    """The hits on both spans, those a hair outside moved onto the end."""
    kept = (t >= -LEVEL) & (t <= 1 + LEVEL) & (s >= -LEVEL) & (s <= 1 + LEVEL)
    return Hits(pair[kept], np.clip(t[kept], 0, 1), np.clip(s[kept], 0, 1), close[kept])


def _joined(hits: list[Hits]) -> Hits:
    return Hits._make(np.concatenate(parts) for parts in zip(*hits, strict=True))

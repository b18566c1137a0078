"""Outlines of many points, as a digitising table or a scanner gives them, made into few curves."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, cross
from flatcut.geometry.curves import Curve, chain, line, polyline, tangent
from flatcut.geometry.fit_points import fit_points
from flatcut.geometry.nearest import nearest
from flatcut.geometry.scatter import scatter
from flatcut.pattern.tracing import KINK, Traced, turns

WITHIN = 0.1
"""mm that the curves may stray from the points: a digitising table is no more exact than that."""
MANY = 12
"""Nodes inside edges from which straight spans are taken for samples of curves; with fewer they are what was meant."""
DENSE = 1.5
"""mm: where points lie nearer each other than this, their own roughness turns the outline as a corner would."""
ROUGH = 0.1
"""mm that a point may lie off the chord of its neighbours by roughness: each of the three may be off by half of it."""
BENT = 40.0
"""Degrees: points of a curve that turn by more than this are too few to tell it from a polygon."""
ALIKE = 2.5
"""How many times as much as its neighbours a point of a curve may turn; unevenly spaced points reach two."""
CORNERED, ABOUT, OUT = 5.0, 4, 2.5
"""A node that turns by at least so many degrees, and so many times as much as any of so many nodes on either side, is a
small corner and no sample of a curve: it is kept where it is."""


def is_sampled(ring: Curve, *, corner_angle: float) -> bool:
    """Whether an outline is points on curves: straight spans only, and many nodes that are no corner.

    >>> from flatcut.geometry.curves import polyline
    >>> t = np.linspace(0, 2 * np.pi, 60)
    >>> circle = polyline(100 * np.stack([np.cos(t), np.sin(t)], axis=1))
    >>> is_sampled(circle, corner_angle=15), is_sampled(polyline([(0, 0), (9, 0), (0, 9), (0, 0)]), corner_angle=15)
    (True, False)
    """
    return bool(ring.straight.all()) and int((np.abs(turns(ring)) <= corner_angle).sum()) >= MANY


def thinned(ring: Curve) -> Curve:
    """A sampled ring without the points that say nothing new, where they lie so near each other that it turns at every
    one of them: those within ROUGH of the chord of their neighbours (Douglas and Peucker 1973, from memory).

    >>> from flatcut.geometry.curves import polyline
    >>> side = np.linspace(0, 60, 61)
    >>> wavy = np.stack([side, 0.02 * (-1.0) ** np.arange(61)], axis=1)
    >>> len(thinned(polyline([*wavy, (60, 40), (0, 40), wavy[0]])))
    4
    """
    nodes = ring.nodes
    if np.median(np.hypot(*np.diff(nodes, axis=0).T)) >= DENSE:
        return ring
    far = int(np.argmax(np.hypot(*(nodes - nodes[0]).T)))
    keep = np.zeros(len(nodes), dtype=np.bool_)
    keep[[0, far, -1]] = True
    todo = [(0, far), (far, len(nodes) - 1)]
    while todo:
        a, b = todo.pop()
        if b - a < 2:
            continue
        away = _from_chord(nodes[a : b + 1])
        k = int(np.argmax(away))
        if away[k] > ROUGH:
            keep[a + k] = True
            todo += [(a, a + k), (a + k, b)]
    return polyline(nodes[keep])


def on_arcs(ring: Curve) -> BoolArray:
    """Which nodes of a sampled ring are points of a tight curve, (n,), though the ring turns there as at a corner.

    A corner turns by itself; on an arc three nodes in a row or more turn alike.

    >>> from flatcut.geometry.curves import polyline
    >>> t = np.radians([0, 20, 40, 60, 80, 90])
    >>> arc = 50 * np.stack([np.cos(t), np.sin(t)], axis=1)
    >>> on_arcs(polyline([*arc, (0, 0), (50, 0)])).tolist()
    [False, True, True, True, True, False, False]
    """
    turn = turns(ring)
    three = np.stack([np.roll(turn, 1), turn, np.roll(turn, -1)])
    size = np.abs(three)
    most = size.max(axis=0)
    alike = np.abs(three.sum(axis=0)) == size.sum(axis=0)
    alike &= (most <= BENT) & (most <= ALIKE * size.min(axis=0))
    return np.asarray(alike | np.roll(alike, 1) | np.roll(alike, -1))


def _from_chord(points: Array) -> Array:
    """How far points (n, 2) lie from the chord of the first and the last, mm."""
    chord = points[-1] - points[0]
    to = points - points[0]
    t = np.clip(to @ chord / max(float(chord @ chord), 1e-30), 0.0, 1.0)
    return np.asarray(np.hypot(*(to - t[:, None] * chord).T))


def _all_points(curve: Curve, ring: Curve, index: dict[tuple[float, float], int]) -> Curve:
    """A stretch of a thinned ring with the points of the full one put back in."""
    nodes, n = ring.nodes[:-1], len(ring)
    found = [curve.nodes[:1]]
    for p, q in pairwise(curve.nodes):
        i, j = index.get((p[0], p[1])), index.get((q[0], q[1]))
        if i is not None and j is not None and (j - i) % n > 1:
            between = nodes[[(i + k) % n for k in range((j - i) % n + 1)]]
            # over the mouth of a notch the full ring goes another way
            if _from_chord(between).max() <= ROUGH:
                found.append(between[1:-1])
        found.append(q[None])
    return polyline(np.concatenate(found))


STRAYING = 4.5
"""Standard deviations that a point may lie off the fitted line: of some hundred points one lies three off the line that
was meant, and the scatter itself is told from the points to a tenth or two."""
SURE = 8.0
"""Standard deviations of a turn's own error that a small corner among scattered points must turn by."""


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """traced: the same outline in curves; before, after: how many nodes it had and has; largest: mm from a point;
    scatter: mm, the standard deviation of the points about their line where they are followed no nearer for it, else 0.
    """

    traced: Traced
    before: int
    after: int
    largest: float
    scatter: float


def fitted(traced: Traced, ring: Curve, *, tolerance: float = WITHIN) -> Fitted:
    """Fit every stretch between corners, feet and points of darts by few curves, within `tolerance` mm of a ring.

    Points that scatter by more than that are followed no nearer than they scatter: the line that was meant has fewer
    curves than the one through them.
    """
    rough = scatter(ring.nodes)
    if STRAYING * rough <= tolerance:
        rough = 0.0
    tolerance = max(tolerance, STRAYING * rough)
    index = {(x, y): k for k, (x, y) in enumerate(ring.nodes[:-1].tolist())}
    whole_ring = len(traced.runs) == 1 and not traced.darts
    counts, away = [0, 0], 0.0

    def fit(curve: Curve, *, closed: bool = False) -> Curve:
        nonlocal away
        curve = _all_points(curve, ring, index)
        done = _fit(curve, tolerance, rough, closed=closed)
        counts[0] += len(curve)
        counts[1] += len(done)
        away = max(away, float(nearest(done, curve.nodes)[1].max()))
        return done

    runs = tuple(tuple(fit(part, closed=whole_ring) for part in parts) for parts in traced.runs)
    darts = {key: (fit(one), fit(two)) for key, (one, two) in traced.darts.items()}
    kinks = tuple((run, angle) for run, parts in enumerate(runs) for part in parts for angle in _kinks(part))
    return Fitted(traced=Traced(runs, darts, kinks), before=counts[0], after=counts[1], largest=away, scatter=rough)


def _fit(curve: Curve, tolerance: float, rough: float, *, closed: bool) -> Curve:
    cuts = [0, *(_turning_over(curve.nodes, rough) if rough > 0 else _standing_out(curve)), len(curve)]
    # corners are told by now; what is left inside a stretch is the roughness of the points
    if closed and len(cuts) == 2:
        return fit_points(curve.nodes[:-1], tolerance=tolerance, corner_angle=180.0, closed=True)
    return chain(_fit_smooth(curve.nodes[a : b + 1], tolerance) for a, b in pairwise(cuts))


def _fit_smooth(points: Array, tolerance: float) -> Curve:
    """A stretch without corners: straight where a straight line does."""
    if _from_chord(points).max() <= tolerance:
        return line(points[0], points[-1])
    return fit_points(points, tolerance=tolerance, corner_angle=180.0)


def _standing_out(curve: Curve) -> list[int]:
    """Nodes inside a polyline where it turns far more than about them: small corners, which no smooth curve keeps."""
    if len(curve) < 3:
        return []
    turn = np.abs(_turns(curve))
    found = []
    for k in np.flatnonzero(turn >= CORNERED).tolist():
        about = np.concatenate([turn[max(0, k - ABOUT) : k], turn[k + 1 : k + 1 + ABOUT]])
        if turn[k] >= OUT * about.max():
            found.append(k + 1)
    return found


def _turning_over(points: Array, rough: float) -> list[int]:
    """As `_standing_out` of points (m, 2) that scatter: where stretches before and after differ far more in direction
    than such stretches do beside them."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    # a stretch so long that the error of its direction, from both its ends, tells a small corner from scatter
    reach = max(SURE * rough * 2 / np.radians(CORNERED), 3 * float(np.median(np.diff(along))))
    turn = np.zeros(len(points))
    k = np.flatnonzero((along >= reach) & (along <= along[-1] - reach))
    one = _ways(points, np.searchsorted(along, along[k] - reach), k)
    two = _ways(points, k, np.searchsorted(along, along[k] + reach, side="right") - 1)
    turn[k] = np.abs(np.degrees(np.arctan2(cross(one, two), (one * two).sum(axis=1))))
    found = []
    for k in np.flatnonzero(turn >= CORNERED).tolist():
        far = np.abs(along - along[k])
        about = turn[(far >= reach) & (far <= 2 * reach)]
        if turn[k] >= turn[far < reach].max() and turn[k] >= OUT * about.max(initial=0.0):
            found.append(k)
    return found


def _ways(points: Array, first: Ints, last: Ints) -> Array:
    """Directions (m, 2) of the straight lines nearest to points number `first` to `last` (m,), from first to last."""
    p = points - points.mean(axis=0)
    sums = np.concatenate([p, p * p, p[:, :1] * p[:, 1:]], axis=1)
    sums = np.concatenate([np.zeros((1, 5)), np.cumsum(sums, axis=0)])
    x, y, xx, yy, xy = (sums[last + 1] - sums[first]).T
    count = last + 1 - first
    angle = np.arctan2(2 * (xy - x * y / count), xx - x * x / count - (yy - y * y / count)) / 2
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.asarray(np.where(((points[last] - points[first]) * way).sum(axis=1, keepdims=True) >= 0, way, -way))


def _turns(curve: Curve) -> Array:
    """Degrees that a curve turns at its inner nodes, (n - 1,)."""
    joints = np.arange(1, len(curve))
    into, out = tangent(curve, joints, before=True), tangent(curve, joints)
    return np.asarray(np.degrees(np.arctan2(cross(into, out), (into * out).sum(axis=-1))))


def _kinks(curve: Curve) -> list[float]:
    return [float(angle) for angle in _turns(curve) if abs(angle) > KINK] if len(curve) > 1 else []

"""Outlines of many points, as a digitising table or a scanner gives them, made into few curves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, cross
from flatcut.geometry.curves import Curve, polyline, tangent
from flatcut.geometry.fit_points import Fitted as FittedLine
from flatcut.geometry.fit_points import Sampled, fit_lines, joined
from flatcut.geometry.scatter import scatters
from flatcut.pattern.tracing import KINK, Traced, turns

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

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


def _with_all_points(curves: list[Curve], ring: Curve) -> list[Array]:
    """The points of stretches of a thinned ring, with those of the full one put back in."""
    if sum(map(len, curves)) == len(ring):
        return [curve.nodes for curve in curves]
    nodes, n = ring.nodes[:-1], len(ring)
    index = {(x, y): k for k, (x, y) in enumerate(nodes.tolist())}
    whole = []
    for curve in curves:
        own = curve.nodes
        found = [own[:1]]
        for k, (p, q) in enumerate(pairwise(own.tolist()), start=1):
            i, j = index.get((p[0], p[1])), index.get((q[0], q[1]))
            if i is not None and j is not None and (j - i) % n > 1:
                between = nodes[[(i + k) % n for k in range((j - i) % n + 1)]]
                # over the mouth of a notch the full ring goes another way
                if _from_chord(between).max() <= ROUGH:
                    found.append(between[1:-1])
            found.append(own[k : k + 1])
        whole.append(np.concatenate(found))
    return whole


STRAYING = 4.5
"""Standard deviations that a point may lie off the fitted line: of some hundred points one lies three off the line that
was meant, and the scatter itself is told from the points to a tenth or two."""
ASIDE = 3.0
"""Standard deviations that the ends of a stretch, which stay where they were taken, may themselves be off."""
SURE = 8.0
"""Standard deviations of a turn's own error that a small corner among scattered points must turn by."""
NEARLY, CELLS_ABOUT = 0.65, 4
"""The part of such a turn, and of how far it stands out, that shows in the means of cells of points; and how many cells
away it shows no more."""


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


def fitted(outlines: Sequence[tuple[Traced, Curve]], *, tolerance: float = WITHIN) -> list[Fitted]:
    """Fit every stretch between corners, feet and points of darts by few curves, within `tolerance` mm of the rings
    that outlines were traced from. All are fitted together, in a small part of the time that they take one by one.

    Points that scatter by more than the tolerance are followed no nearer than they scatter: the line that was meant has
    fewer curves than the one through them.
    """
    if not outlines:
        return []
    rough = scatters([ring.nodes for _, ring in outlines])
    rough[STRAYING * rough <= tolerance] = 0.0
    curves = [_curves(traced) for traced, _ in outlines]
    points = [nodes for mine, (_, ring) in zip(curves, outlines, strict=True) for nodes in _with_all_points(mine, ring)]
    own = [k for k, mine in enumerate(curves) for _ in mine]
    rings = [len(mine) == 1 for mine in curves]
    asked: list[Sampled] = []
    counts = []
    for nodes, k, cuts in zip(points, own, _cuts(points, rough[own]), strict=True):
        # corners are told by now; what is left inside a stretch is the roughness of the points
        within = max(tolerance, STRAYING * float(rough[k]))
        one = Sampled(nodes, within, corner_angle=180.0, straight=1.0, ends=ASIDE * float(rough[k]))
        first = len(asked)
        if rings[k] and not cuts:
            asked.append(one._replace(points=nodes[:-1], closed=True))
        elif len(nodes) > 2:
            asked += [one._replace(points=nodes[a : b + 1]) for a, b in pairwise([0, *cuts, len(nodes) - 1])]
        counts.append(len(asked) - first)
    made = iter(fit_lines(asked))
    # a single chord is the line that it is
    drawn = [curve for mine in curves for curve in mine]
    parts = [
        joined([next(made) for _ in range(count)]) if count else FittedLine(curve, 0.0)
        for curve, count in zip(drawn, counts, strict=True)
    ]
    found: list[Fitted] = []
    before, after = iter(points), iter(parts)
    for k, ((traced, _), mine) in enumerate(zip(outlines, curves, strict=True)):
        count = sum(len(next(before)) - 1 for _ in mine)
        fits = [next(after) for _ in mine]
        new = iter(fit.curve for fit in fits)
        runs = tuple(tuple(next(new) for _ in run) for run in traced.runs)
        darts = {key: (next(new), next(new)) for key in traced.darts}
        kinks = tuple((run, angle) for run, of in enumerate(runs) for part in of for angle in _kinks(part))
        found.append(
            Fitted(
                traced=Traced(runs, darts, kinks),
                before=count,
                after=sum(len(fit.curve) for fit in fits),
                largest=max(fit.away for fit in fits),
                scatter=float(rough[k]),
            )
        )
    return found


def _curves(traced: Traced) -> list[Curve]:
    """The parts of its runs and the legs of its darts, in order."""
    return [part for run in traced.runs for part in run] + [leg for legs in traced.darts.values() for leg in legs]


def _cuts(lines: list[Array], rough: Array) -> list[list[int]]:
    """Small corners inside polylines (m, 2), whose points scatter by so much, mm, or are exact."""
    cuts = [[] if scatter else _standing_out(points) for points, scatter in zip(lines, rough.tolist(), strict=True)]
    scattered = [k for k in np.flatnonzero(rough).tolist() if len(lines[k]) > 2]
    for k in (scattered[j] for j in _doubtful([lines[k] for k in scattered], rough[scattered])):
        cuts[k] = _turning_over(lines[k], float(rough[k]))
    return cuts


def _doubtful(lines: list[Array], rough: Array) -> list[int]:
    """Which of several scattered polylines may have a small corner: in cells of half the stretches that tell it, the
    means of the points turn there nearly as far as at one, and more than about it."""
    if not lines:
        return []
    count = np.array([len(points) for points in lines])
    own = np.repeat(np.arange(len(lines)), count)
    points = np.concatenate(lines)
    step = np.append(0.0, np.hypot(*np.diff(points, axis=0).T))
    step[(np.cumsum(count) - count)] = 0.0
    along = np.cumsum(step)
    mean = np.bincount(own, step) / (count - 1)
    cell = (along / (_reach(rough, mean) / 2)[own]).astype(np.intp)
    first = np.flatnonzero((np.diff(cell, prepend=-1) != 0) | (np.diff(own, prepend=-1) != 0))
    middles = np.add.reduceat(points, first) / np.diff(np.append(first, len(points)))[:, None]
    x, y = np.diff(middles, axis=0).T
    # chords before and after the cell between, with the like of cells that do not hold the corner
    turn = np.degrees(np.arctan2(x[:-3] * y[3:] - y[:-3] * x[3:], x[:-3] * x[3:] + y[:-3] * y[3:]))
    owner = own[first]
    turn = np.where(owner[:-4] == owner[4:], np.abs(turn), 0.0)
    about = np.zeros(len(turn) + 2 * CELLS_ABOUT)
    about[CELLS_ABOUT:-CELLS_ABOUT] = turn
    about = np.maximum(about[: -2 * CELLS_ABOUT], about[2 * CELLS_ABOUT :])
    found: list[int] = np.unique(owner[:-4][(turn >= NEARLY * CORNERED) & (turn >= NEARLY * OUT * about)]).tolist()
    return found


def _standing_out(points: Array) -> list[int]:
    """Points inside a polyline (m, 2) where it turns far more than about them: small corners, which no smooth curve
    keeps."""
    if len(points) < 4:
        return []
    (x, y), (u, v) = (chords.T for chords in (np.diff(points[:-1], axis=0), np.diff(points[1:], axis=0)))
    turn = np.abs(np.degrees(np.arctan2(x * v - y * u, x * u + y * v)))
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
    reach = float(_reach(rough, along[-1] / (len(points) - 1)))
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


def _reach(rough: ArrayLike, step: ArrayLike) -> Array:
    """mm of a stretch so long that the error of its direction, from both its ends, tells a small corner from scatter.
    step: mm between the points, which are three or more of it."""
    return np.asarray(np.maximum(SURE * 2 / np.radians(CORNERED) * np.asarray(rough), 3 * np.asarray(step)))


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

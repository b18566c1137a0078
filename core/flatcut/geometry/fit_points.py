"""Few cubics and lines through a digitised outline of many points.

The outline is cut at its corners, which stay where they are. Between corners, long straight stretches become straight
spans; what is left is followed by the smallest number of cubics that stays within the tolerance, with joints where the
fit wants them and one tangent on both sides of each. Every result is measured both ways before it is given.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, as_complex, cross, unit
from flatcut.geometry.beside import Walked, beside
from flatcut.geometry.curves import Curve, chain, line, point, polyline, section
from flatcut.geometry.following import Following
from flatcut.geometry.least_squares import Residuals
from flatcut.geometry.levenberg import levenberg_marquardt
from flatcut.geometry.nearest import nearest, nearest_place
from flatcut.geometry.straights import Straight, straights

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

TWIN = 1e-9
"""mm: points that lie closer together are one."""
REACH = 10.0
"""A corner's turn is measured between points this many tolerances before and after it, or the next points if farther:
the roughness of a digitised line makes no corners."""
AIM = 0.95
"""The part of the tolerance that a fit is meant to reach; the rest is for what lies between the samples."""
MAINLY, MORE = 1 / 3, 2
"""Straight spans are kept at the cost of two spans more where they are more than a third of the stretch."""
MOST_POINTS = 240
"""Points that a fit looks at; more are thinned for the fit and all of them measured after it."""
MOST_CUBICS = 8
"""A stretch that takes more is cut in two first."""
HOPEFUL = 1.7
"""A fit whose largest distance is beyond so many tolerances is not worth reweighting; that gains a third at most."""
HOPELESS = 30.0
"""Three cubics or more that leave the points by so many tolerances will not do with a few more: cut in two first."""
POINTS_EACH = 4
"""A cubic for fewer points than this is no saving."""
STUCK = 0.93
"""Where one cubic more, and yet one more, leave more than this part of the largest distance, single points stick out of
any smooth curve: the stretch is cut in two."""
STEPS = 14
"""Steps of the search for one fit. One that is not there by then is seldom within the tolerance in the end."""
BESIDE = 3
"""Chords on either side of the one between its neighbours' feet that a sample of a fit is held against first."""
DOUBTFUL = 0.25
"""A fit with more than this part of its samples away from those chords does not follow the points."""
TURN_EACH = np.radians(170.0)
"""The most that one cubic is asked to turn."""


HANDLE_REST = 0.1
"""Pull of handles back to a third of their cubic's length, in tolerances: smaller, and a handle shrinks to nothing to
follow the roughness of the points, which turns the end of the curve by degrees; larger, and curves get more cubics."""


def fit_points(points: ArrayLike, *, tolerance: float = 0.1, corner_angle: float = 15.0, closed: bool = False) -> Curve:
    """A curve of few cubics and lines within `tolerance` mm of a polyline of points (m, 2), and the polyline of it.

    Points on a curve stand apart: between two of them the fitted curve may leave their chord by the chord's own bulge
    (as the turns at its ends tell) besides the tolerance. Corners, where the polyline turns by more than `corner_angle`
    degrees, are kept exactly; elsewhere the curve is smooth. Straight stretches are marked as straight. Open curves
    keep their end points; of a closed one the last point need not repeat the first, and the curve starts at the first
    corner or, without corners, at the first point, where it is smooth too.

    Errors: GeometryError for too few points, a point that is not a number, or a tolerance that is not positive.

    >>> a = np.linspace(0, np.pi / 2, 60)
    >>> quarter = fit_points(np.stack([100 * np.cos(a), 100 * np.sin(a)], axis=1))
    >>> len(quarter), quarter.straight
    (1, array([False]))
    >>> square = fit_points([(0, 0), (50, 0), (100, 0), (100, 100), (0, 100)], closed=True)
    >>> len(square), bool(square.straight.all())
    (4, True)
    """
    if not tolerance > 0:
        raise GeometryError("the points can be followed to within more than 0 mm only; give a larger tolerance")
    nodes = _cleaned(points, closed)
    cuts = corners(nodes, angle=corner_angle, closed=closed, reach=REACH * tolerance)
    if closed and not cuts:
        return _ring(nodes, tolerance)
    if closed:
        nodes = np.roll(nodes, -cuts[0], axis=0)
        nodes = np.concatenate([nodes, nodes[:1]])
        cuts = [k - cuts[0] for k in cuts[1:]]
    ends = [0, *cuts, len(nodes) - 1]
    return chain([_stretch(nodes[a : b + 1], tolerance) for a, b in pairwise(ends)])


def corners(points: ArrayLike, *, angle: float = 15.0, closed: bool = False, reach: float = 1.0) -> list[int]:
    """Numbers of the points (m, 2) where a polyline turns by more than `angle` degrees, in order.

    The turn is taken between the points next to `reach` mm before and after, at least the neighbours, so that rough
    points make no corner; and at least half of it must lie in the point itself, so that a tight curve makes none. Ends
    of an open polyline are no corners.

    >>> corners([(0, 0), (50, 0), (100, 0), (100, 100), (0, 100)], closed=True)
    [0, 2, 3, 4]
    """
    nodes = np.asarray(points, dtype=float)
    m = len(nodes)
    if m < 3:
        return []
    ring = np.concatenate([nodes, nodes, nodes, nodes[:1]]) if closed else nodes
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    index = np.arange(m, 2 * m) if closed else np.arange(1, m - 1)
    own = _turn(ring[index] - ring[index - 1], ring[index + 1] - ring[index])
    before = np.minimum(np.searchsorted(along, along[index] - reach, side="right") - 1, index - 1)
    after = np.maximum(np.searchsorted(along, along[index] + reach), index + 1)
    before, after = np.maximum(before, 0), np.minimum(after, len(ring) - 1)
    wide = _turn(ring[index] - ring[before], ring[after] - ring[index])
    limit = np.radians(angle)
    found: list[int] = []
    for k in np.flatnonzero((wide > limit) & (own > limit / 2)):
        # of several within the reach the sharpest
        near = np.abs(along[index] - along[index[k]]) <= reach
        if own[k] >= own[near].max() or own[k] > limit:
            found.append(int(index[k] % m))
    return sorted(found)


def _turn(before: Array, after: Array) -> Array:
    return np.asarray(np.abs(np.arctan2(cross(before, after), (before * after).sum(axis=-1))))


def _cleaned(points: ArrayLike, closed: bool) -> Array:
    """The points (m, 2) without repeats."""
    nodes = np.asarray(points, dtype=float)
    if nodes.ndim != 2 or nodes.shape[1] != 2 or not np.isfinite(nodes).all():
        raise GeometryError("an outline needs points of two coordinates each, all of them numbers")
    kept = np.ones(len(nodes), dtype=np.bool_)
    kept[1:] = np.hypot(*np.diff(nodes, axis=0).T) > TWIN
    nodes = nodes[kept]
    if closed and len(nodes) > 1 and np.hypot(*(nodes[-1] - nodes[0])) <= TWIN:
        nodes = nodes[:-1]
    if len(nodes) < (3 if closed else 2):
        raise GeometryError("an outline needs at least two points apart from each other, a closed one three")
    return nodes


def _ring(nodes: Array, tolerance: float) -> Curve:
    """A smooth closed outline, from its first point round to it."""
    plain = _smooth(np.concatenate([nodes, nodes[:1]]), None, None, tolerance, ring=True)
    lines = straights(np.concatenate([nodes, nodes[:1]]), tolerance=tolerance)
    if not lines:
        return plain
    # begin with a straight stretch, so that the curve closes on to a known tangent
    turned = np.roll(nodes, -lines[0].first, axis=0)
    turned = np.concatenate([turned, turned[:1]])
    lines = straights(turned, tolerance=tolerance)
    if not lines or lines[0].first != 0:
        return plain
    mixed = _with_lines(turned, lines, tolerance, arriving=unit(lines[0].end - lines[0].start))
    if mixed is None or not _worth(mixed, plain, lines, turned):
        return plain
    place = nearest_place(mixed, nodes[0])[0]
    joint = round(place)
    if np.hypot(*(point(mixed, joint) - nodes[0])) <= tolerance:
        place = float(joint % len(mixed))
    return mixed if place == 0 else chain([section(mixed, place, len(mixed)), section(mixed, 0, place)])


def _stretch(nodes: Array, tolerance: float) -> Curve:
    """What lies between two corners."""
    whole = line(nodes[0], nodes[-1])
    if len(nodes) == 2 or float(nearest(whole, nodes)[1].max()) <= tolerance / 2:
        return whole
    plain = _smooth(nodes, None, None, tolerance)
    lines = straights(nodes, tolerance=tolerance)
    mixed = _with_lines(nodes, lines, tolerance) if lines else None
    return mixed if mixed is not None and _worth(mixed, plain, lines, nodes) else plain


def _worth(mixed: Curve, plain: Curve, lines: list[Straight], nodes: Array) -> bool:
    """Whether straight spans are worth the joints that they take."""
    straight = sum(float(np.hypot(*(part.end - part.start))) for part in lines)
    total = float(np.hypot(*np.diff(nodes, axis=0).T).sum())
    return len(mixed) <= len(plain) + (MORE if straight > MAINLY * total else 0)


def _with_lines(
    nodes: Array, lines: list[Straight], tolerance: float, *, arriving: Array | None = None
) -> Curve | None:
    """The stretch with given straight spans, the curves between them tangent to them."""
    nodes = nodes.copy()
    for part in lines:
        nodes[part.first], nodes[part.last] = part.start, part.end
    parts: list[Curve] = []
    at, leaving = 0, None
    for part in lines:
        along = unit(part.end - part.start)
        if part.first > at:
            parts.append(_smooth(nodes[at : part.first + 1], leaving, along, tolerance))
        elif leaving is not None:
            return None  # two lines that meet at an angle too small for a corner: one curve is better
        parts.append(line(part.start, part.end))
        at, leaving = part.last, along
    if at < len(nodes) - 1:
        parts.append(_smooth(nodes[at:], leaving, arriving, tolerance))
    elif arriving is not None:
        return None
    return chain(parts)


def _smooth(
    nodes: Array, leaving: Array | None, arriving: Array | None, tolerance: float, *, ring: bool = False
) -> Curve:
    """The fewest cubics along points, with given tangents at the ends or free ones."""
    if len(nodes) == 2 and leaving is None and arriving is None:
        return line(nodes[0], nodes[1])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(nodes, axis=0).T))])
    turned = _turned(nodes, along)
    least = max(3 if ring else 1, int(np.ceil(turned[-1] / TURN_EACH)))

    def tried(number: int) -> tuple[Curve | None, float]:
        curve, feet, away = _chain(nodes, along, turned, number, leaving, arriving, tolerance, ring)
        fits = away <= tolerance and _follows(curve, feet, nodes, tolerance, ring)
        return (curve if fits else None), away

    best: Curve | None = None
    failed, number = least - 1, least
    last, stuck = np.inf, 0
    most = min(MOST_CUBICS, max(1, len(nodes) // POINTS_EACH))
    while best is None and number <= most:
        best, away = tried(number)
        if best is None:
            failed = number
            stuck = stuck + 1 if away > STUCK * last else 0
            last = away
            if (number > 2 and away > HOPELESS * tolerance) or stuck > 1:
                break
            # the error falls with a high power of the number of pieces; the guess may overshoot and is taken back
            guess = int(number * min((away / tolerance) ** 0.25, 2.0))
            number = max(number + 1, min(guess, most))
    while best is not None and len(best) - failed > 1:
        number = (failed + len(best)) // 2
        fewer, _ = tried(number)
        best, failed = (fewer, failed) if fewer is not None else (best, number)
    if best is not None:
        return best
    if len(nodes) <= 4:
        return polyline(nodes)
    middle = int(np.clip(np.searchsorted(along, along[-1] / 2), 2, len(nodes) - 3))
    across = _direction(nodes, along, along[middle], along[-1] / (4 * MOST_CUBICS))
    if ring:
        seam = _seam(nodes, along)
        leaving = arriving = seam
    return chain(
        [
            _smooth(nodes[: middle + 1], leaving, across, tolerance),
            _smooth(nodes[middle:], across, arriving, tolerance),
        ]
    )


def _chain(
    nodes: Array,
    along: Array,
    turned: Array,
    number: int,
    leaving: Array | None,
    arriving: Array | None,
    tolerance: float,
    ring: bool,
) -> tuple[Curve, Array, float]:
    """A chain of so many cubics near the points, the places on it nearest to them, and the largest distance."""
    size = along[-1]
    # joints where length and turn together are shared out evenly
    effort = along / size + (turned / turned[-1] if turned[-1] > 0 else 0)
    knots = np.interp(np.linspace(0, effort[-1], number + 1), effort, along)
    window = size / (8 * number)
    guesses = np.stack([_at(nodes, along, s) for s in knots])
    directions = np.stack([_direction(nodes, along, s, window) for s in knots])
    turning = np.ones(number + 1, dtype=np.bool_)
    if ring:
        directions[0] = directions[-1] = _seam(nodes, along)
    for given, end in ((leaving, 0), (arriving, -1)):
        if given is not None:
            directions[end], turning[end] = given, False
    step = max(1, len(nodes) // MOST_POINTS)
    samples = nodes[1:-1][::step] if len(nodes) > 2 else nodes
    following = _Fit(
        samples,
        guesses,
        directions,
        np.diff(knots),
        turning,
        ring=ring,
        unit_of_distance=tolerance,
        handle_rest=HANDLE_REST,
    )
    following.share = (along[1:-1][::step] if len(nodes) > 2 else along) / size
    x = following.solve(None, np.zeros(following.unknowns), _search)
    if following.distances(x).max() <= HOPEFUL * tolerance:
        x, _ = following.minimax(None, x, within=AIM * tolerance, rounds=3, minimise=_search)
    curve = following.curve(x)
    feet, away = beside(as_complex(nodes), along / size, Walked(curve))
    if away.max() > AIM * tolerance:
        feet, away = nearest(curve, nodes)
    return curve, feet, float(away.max()) / AIM


class _Fit(Following):
    """A chain along points, whose feet are about where they are along the points, as parts (k,) of their length."""

    share: Array

    def _searched(self, curve: Curve) -> tuple[Array, Array]:
        return beside(self._flat[0], self.share, Walked(curve))


def _search(residuals: Residuals, x: Array) -> Array:
    return levenberg_marquardt(residuals, x, steps=STEPS)


def _follows(curve: Curve, feet: Array, nodes: Array, tolerance: float, ring: bool) -> bool:
    """Whether the curve stays within the tolerance, and the chords' own bulge, of the polyline. feet: of its points."""
    chords = np.diff(nodes, axis=0)
    size = np.hypot(*chords.T)
    turn = np.minimum(_turn(chords[:-1], chords[1:]), 1.0)
    bend = np.zeros(len(chords))
    bend[:-1] = turn
    bend[1:] = np.maximum(bend[1:], turn)
    if ring:
        seam = min(float(_turn(chords[-1], chords[0])), 1.0)
        bend[0], bend[-1] = max(bend[0], seam), max(bend[-1], seam)
    # an arc that turns by w between two points bulges by size · tan(w / 4) / 2; twice that is left for uneven points
    allowed = tolerance + size * bend / 4
    places = np.linspace(0, len(curve), max(64 * len(curve), 4 * len(chords)) + 1)
    samples = point(curve, places)
    # a sample lies beside the chords of the points whose feet are next to it; only where it does not is all searched
    home = np.searchsorted(np.maximum.accumulate(feet), places) - 1
    beside = np.clip(home[:, None] + np.arange(-BESIDE, BESIDE + 1), 0, len(chords) - 1)
    far = _from_chords(samples, nodes, beside)
    best = far.argmin(axis=1)
    row = np.arange(len(samples))
    doubtful = far[row, best] > allowed[beside[row, best]]
    if not doubtful.any():
        return True
    if doubtful.mean() > DOUBTFUL:
        return False
    found, away = nearest(polyline(nodes), samples[doubtful])
    chord = np.minimum(found.astype(np.intp), len(chords) - 1)
    return bool((away <= allowed[chord]).all())


def _from_chords(points: Array, nodes: Array, chord: Array) -> Array:
    """How far points (m, 2) are from chords of a polyline, given by their numbers (m, k); (m, k) mm."""
    start, along = nodes[chord], nodes[chord + 1] - nodes[chord]
    to = points[:, None] - start
    t = np.clip((to * along).sum(axis=-1) / np.maximum((along * along).sum(axis=-1), 1e-300), 0.0, 1.0)
    gap = to - t[..., None] * along
    return np.asarray(np.hypot(gap[..., 0], gap[..., 1]))


def _turned(nodes: Array, along: Array) -> Array:
    """How far the polyline has turned up to each point, radians, roughness left out."""
    cells = int(np.clip(len(nodes) - 1, 2, 32))
    s = np.linspace(0, along[-1], cells + 1)
    chords = np.diff(np.stack([_at(nodes, along, x) for x in s]), axis=0)
    turns = np.concatenate([[0.0], np.cumsum(_turn(chords[:-1], chords[1:]))])
    return np.asarray(np.interp(along, (s[1:] + s[:-1]) / 2, turns))


def _at(nodes: Array, along: Array, s: float) -> Array:
    return np.array([np.interp(s, along, nodes[:, 0]), np.interp(s, along, nodes[:, 1])])


def _direction(nodes: Array, along: Array, s: float, window: float) -> Array:
    """Direction of the polyline at length `s`, between points a window before and after it."""
    return np.asarray(unit(_at(nodes, along, s + window) - _at(nodes, along, s - window)))


def _seam(nodes: Array, along: Array) -> Array:
    """Direction of a closed polyline at its first point."""
    window = along[-1] / 64
    return np.asarray(unit(_at(nodes, along, window) - _at(nodes, along, along[-1] - window)))

"""Few cubics and lines through a digitised outline of many points.

The outline is cut at its corners, which stay where they are. Between corners, long straight stretches become straight
spans; what is left is followed by the smallest number of cubics that stays within the tolerance, with joints where the
fit wants them and one tangent on both sides of each. Every result is measured both ways before it is given.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.chains import Fit, Wanted, fit_chains
from flatcut.geometry.curves import Curve, chain, line, point, polyline, section
from flatcut.geometry.nearest import nearest_place
from flatcut.geometry.straights import Straight, straights, straights_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

TWIN = 1e-9
"""mm: points that lie closer together are one."""
REACH = 10.0
"""A corner's turn is measured between points this many tolerances before and after it, or the next points if farther:
the roughness of a digitised line makes no corners."""
MAINLY, MORE = 1 / 3, 2
"""Straight spans are kept at the cost of two spans more where they are more than a third of the stretch."""
MOST_CUBICS = 8
"""A stretch that takes more is cut in two first."""
HOPELESS = 30.0
"""Three cubics or more that leave the points by so many tolerances will not do with a few more: cut in two first."""
POINTS_EACH = 4
"""A cubic for fewer points than this is no saving."""
STUCK = 0.93
"""Where one cubic more, and yet one more, leave more than this part of the largest distance, single points stick out of
any smooth curve: the stretch is cut in two."""


class Sampled(NamedTuple):
    """Points (m, 2) of a line to be fitted within `tolerance` mm: see `fit_points`. A stretch between corners becomes
    straight where a straight line leaves its points by no more than the part `straight` of the tolerance. ends: mm that
    the ends of the line, which stay, may be off themselves: points beside them may be off the curve by as much more."""

    points: ArrayLike
    tolerance: float = 0.1
    corner_angle: float = 15.0
    closed: bool = False
    straight: float = 0.5
    ends: float = 0.0


class Fitted(NamedTuple):
    """A curve, and mm of the point farthest from it."""

    curve: Curve
    away: float


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
    return fit_lines([Sampled(points, tolerance, corner_angle, closed)])[0].curve


def fit_lines(lines: Sequence[Sampled]) -> list[Fitted]:
    """As `fit_points`, of many lines: what each stretch of them asks for next is done for all of them at once, in a
    small part of the time that they take one by one."""
    rings: list[Array | None] = []
    stretches: list[tuple[int, Array]] = []
    if not lines:
        return []
    if not all(one.tolerance > 0 for one in lines):
        raise GeometryError("the points can be followed to within more than 0 mm only; give a larger tolerance")
    for number, (line_, nodes) in enumerate(zip(lines, _cleaned(lines), strict=True)):
        cuts: list[int] = []
        if line_.corner_angle < 180:
            reach = REACH * line_.tolerance
            cuts = corners(nodes, angle=line_.corner_angle, closed=line_.closed, reach=reach)
        rings.append(nodes if line_.closed and not cuts else None)
        if rings[-1] is not None:
            stretches.append((number, np.concatenate([nodes, nodes[:1]])))
            continue
        if line_.closed:
            nodes = np.roll(nodes, -cuts[0], axis=0)
            nodes = np.concatenate([nodes, nodes[:1]])
            cuts = [k - cuts[0] for k in cuts[1:]]
        ends = [0, *cuts, len(nodes) - 1]
        stretches += [(number, nodes[a : b + 1]) for a, b in pairwise(ends)]
    own = [lines[number] for number, _ in stretches]
    bows = _bows([nodes for _, nodes in stretches]).tolist()
    done: list[Fitted | None] = [
        Fitted(line(nodes[0], nodes[-1]), bow)
        if rings[number] is None and bow <= one.straight * one.tolerance
        else None
        for (number, nodes), bow, one in zip(stretches, bows, own, strict=True)
    ]
    bent = [k for k, end in enumerate(done) if end is None]
    found = straights_of([stretches[k][1] for k in bent], np.array([own[k].tolerance for k in bent]))
    talks = [
        (_stretch if rings[stretches[k][0]] is None else _ring)(stretches[k][1], flat, own[k])
        for k, flat in zip(bent, found, strict=True)
    ]
    for k, fit in zip(bent, _together(talks), strict=True):
        done[k] = fit
    parts: list[list[Fitted]] = [[] for _ in lines]
    for (number, _), part in zip(stretches, done, strict=True):
        if part is not None:
            parts[number].append(part)
    return [joined(mine) for mine in parts]


Asking = Generator[Wanted, Fit, Fitted]
"""A stretch on its way to its curve: it asks for one chain after the other and looks at each."""
Mixed = Generator[Wanted, Fit, Fitted | None]


def _together(talks: Sequence[Asking]) -> list[Fitted]:
    """What each of several stretches comes to, the chains that they ask for made for all of them together."""
    ends: dict[int, Fitted] = {}
    asked: dict[int, Wanted] = {}

    def on(number: int, fit: Fit | None) -> None:
        try:
            asked[number] = talks[number].send(fit)  # type: ignore[arg-type]  # a generator begins with None
        except StopIteration as end:
            ends[number] = end.value

    for number in range(len(talks)):
        on(number, None)
    while asked:
        now, asked = asked, {}
        for number, fit in zip(now, fit_chains(list(now.values())), strict=True):
            on(number, fit)
    return [ends[number] for number in range(len(talks))]


def joined(parts: Sequence[Fitted]) -> Fitted:
    """Curves that follow each other as one."""
    if len(parts) == 1:
        return parts[0]
    return Fitted(chain([part.curve for part in parts]), max(part.away for part in parts))


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


def _cleaned(lines: Sequence[Sampled]) -> list[Array]:
    """The points (m, 2) of lines without repeats."""
    points = [np.asarray(one.points, dtype=float) for one in lines]
    if any(nodes.ndim != 2 or nodes.shape[1] != 2 for nodes in points):
        raise GeometryError("an outline needs points of two coordinates each, all of them numbers")
    every = np.concatenate(points)
    if not np.isfinite(every).all():
        raise GeometryError("an outline needs points of two coordinates each, all of them numbers")
    x, y = every.T
    apart = np.append(True, (x[1:] - x[:-1]) ** 2 + (y[1:] - y[:-1]) ** 2 > TWIN**2)
    first = 0
    for number, (one, nodes) in enumerate(zip(lines, points, strict=True)):
        kept = apart[first : first + len(nodes)]
        first += len(nodes)
        if len(nodes):
            kept[0] = True
            if not kept.all():
                nodes = nodes[kept]
            if one.closed and len(nodes) > 1 and np.hypot(*(nodes[-1] - nodes[0])) <= TWIN:
                nodes = nodes[:-1]
        if len(nodes) < (3 if one.closed else 2):
            raise GeometryError("an outline needs at least two points apart from each other, a closed one three")
        points[number] = nodes
    return points


def _ring(nodes: Array, lines: list[Straight], one: Sampled) -> Asking:
    """A smooth closed outline, from its first point round to it."""
    plain = yield from _smooth(nodes, None, None, one, ring=True)
    if not lines:
        return plain
    # begin with a straight stretch, so that the curve closes on to a known tangent
    turned = np.roll(nodes[:-1], -lines[0].first, axis=0)
    turned = np.concatenate([turned, turned[:1]])
    lines = straights(turned, tolerance=one.tolerance)
    if not lines or lines[0].first != 0:
        return plain
    mixed = yield from _with_lines(turned, lines, one, arriving=unit(lines[0].end - lines[0].start))
    if mixed is None or not _worth(mixed.curve, plain.curve, lines, turned):
        return plain
    curve = mixed.curve
    place = nearest_place(curve, nodes[0])[0]
    joint = round(place)
    if np.hypot(*(point(curve, joint) - nodes[0])) <= one.tolerance:
        place = float(joint % len(curve))
    if place == 0:
        return mixed
    return Fitted(chain([section(curve, place, len(curve)), section(curve, 0, place)]), mixed.away)


def _stretch(nodes: Array, lines: list[Straight], one: Sampled) -> Asking:
    """What lies between two corners."""
    if lines and (lines[0].first, lines[0].last) == (0, len(nodes) - 1):
        return Fitted(line(nodes[0], nodes[-1]), float(_bows([nodes])[0]))
    plain = yield from _smooth(nodes, None, None, one)
    mixed = (yield from _with_lines(nodes, lines, one)) if lines else None
    return mixed if mixed is not None and _worth(mixed.curve, plain.curve, lines, nodes) else plain


def _bows(lines: list[Array]) -> Array:
    """mm of the point farthest from the straight line between the ends, of each of some polylines (m, 2)."""
    count = np.array([len(nodes) for nodes in lines])
    first = np.cumsum(count) - count
    points = np.concatenate(lines).T
    start = points[:, first]
    along = points[:, first + count - 1] - start
    way = np.repeat(along / np.maximum((along * along).sum(axis=0), 1e-300), count, axis=1)
    to = points - np.repeat(start, count, axis=1)
    gap = to - np.clip((to * way).sum(axis=0), 0.0, 1.0) * np.repeat(along, count, axis=1)
    return np.asarray(np.sqrt(np.maximum.reduceat(gap[0] * gap[0] + gap[1] * gap[1], first)))


def _worth(mixed: Curve, plain: Curve, lines: list[Straight], nodes: Array) -> bool:
    """Whether straight spans are worth the joints that they take."""
    straight = sum(float(np.hypot(*(part.end - part.start))) for part in lines)
    total = float(np.hypot(*np.diff(nodes, axis=0).T).sum())
    return len(mixed) <= len(plain) + (MORE if straight > MAINLY * total else 0)


def _with_lines(nodes: Array, lines: list[Straight], one: Sampled, *, arriving: Array | None = None) -> Mixed:
    """The stretch with given straight spans, the curves between them tangent to them."""
    nodes, before = nodes.copy(), nodes
    for part in lines:
        nodes[part.first], nodes[part.last] = part.start, part.end
    parts: list[Fitted] = []
    at, leaving = 0, None
    for part in lines:
        along = unit(part.end - part.start)
        if part.first > at:
            parts.append((yield from _smooth(nodes[at : part.first + 1], leaving, along, one)))
        elif leaving is not None:
            return None  # two lines that meet at an angle too small for a corner: one curve is better
        own = np.concatenate([[part.start], before[part.first : part.last + 1], [part.end]])
        parts.append(Fitted(line(part.start, part.end), float(_bows([own])[0])))
        at, leaving = part.last, along
    if at < len(nodes) - 1:
        parts.append((yield from _smooth(nodes[at:], leaving, arriving, one)))
    elif arriving is not None:
        return None
    return joined(parts)


def _smooth(nodes: Array, leaving: Array | None, arriving: Array | None, one: Sampled, *, ring: bool = False) -> Asking:
    """The fewest cubics along points, with given tangents at the ends or free ones."""
    if len(nodes) == 2 and leaving is None and arriving is None:
        return Fitted(line(nodes[0], nodes[1]), 0.0)
    wanted = Wanted(nodes, one.tolerance, None, leaving, arriving, ring, one.ends)
    best: Fit | None = None
    failed, number = 0, None
    last, stuck = np.inf, 0
    most = min(MOST_CUBICS, max(1, len(nodes) // POINTS_EACH))
    while best is None and (number is None or number <= most):
        fit = yield wanted._replace(number=number)
        if number is None:
            number = len(fit.controls)
            failed = number - 1
        if fit.fits:
            best = fit
            continue
        failed = number
        stuck = stuck + 1 if fit.over > STUCK * last else 0
        last = fit.over
        if (number > 2 and fit.over > HOPELESS * one.tolerance) or stuck > 1:
            break
        # the error falls with a high power of the number of pieces; the guess may overshoot and is taken back
        guess = int(number * min((fit.over / one.tolerance) ** 0.25, 2.0))
        number = max(number + 1, min(guess, most))
    while best is not None and len(best.controls) - failed > 1:
        number = (failed + len(best.controls)) // 2
        fewer = yield wanted._replace(number=number)
        best, failed = (fewer, failed) if fewer.fits else (best, number)
    if best is not None:
        return Fitted(best.curve, best.away)
    if len(nodes) <= 4:
        return Fitted(polyline(nodes), 0.0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(nodes, axis=0).T))])
    middle = int(np.clip(np.searchsorted(along, along[-1] / 2), 2, len(nodes) - 3))
    across = _direction(nodes, along, along[middle], along[-1] / (4 * MOST_CUBICS))
    if ring:
        leaving = arriving = _seam(nodes, along)
    before = yield from _smooth(nodes[: middle + 1], leaving, across, one)
    after = yield from _smooth(nodes[middle:], across, arriving, one)
    return joined([before, after])


def _at(nodes: Array, along: Array, s: float) -> Array:
    return np.array([np.interp(s, along, nodes[:, 0]), np.interp(s, along, nodes[:, 1])])


def _direction(nodes: Array, along: Array, s: float, window: float) -> Array:
    """Direction of the polyline at length `s`, between points a window before and after it."""
    return np.asarray(unit(_at(nodes, along, s + window) - _at(nodes, along, s - window)))


def _seam(nodes: Array, along: Array) -> Array:
    """Direction of a closed polyline at its first point."""
    window = along[-1] / 64
    return np.asarray(unit(_at(nodes, along, window) - _at(nodes, along, along[-1] - window)))

"""Armholes: two cubics that touch an upright width line, of all such curves the one that bends most evenly."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np

from flatcut.blocks.fairing import curvature, unevenness, wavering
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.geometry.levenberg import least_squares

GENTLE = 40.0
"""mm: a sharper bend than of this radius makes an armhole boxy."""
LEAST, MOST = 0.01, 0.99
"""Shortest and longest handles, as parts of what keeps the curve from bending both ways."""
STARTS = 4
"""Places from which the search starts: with one it may end in a poorer valley."""
ROUNDS = 50
"""Steps of the rough search from each of them: then the best valley is found."""
FINE = 3e-6
"""How closely the numbers behind the handles are settled: far below a hundredth of a millimetre on any armhole."""
ASIDE = 1e-6
"""How far aside a number is tried for the slope of the curve's changes."""
_TRIED = (-1.7, -0.4, 0.9)


def touching(start: Array, along: Array, end: Array, into: Array, *, wall: float, levels: tuple[float, float]) -> Curve:
    """Two cubics with given ends and end directions that touch the upright line x = `wall` where they join.

    levels: how far up from `end` to `start` the line may be touched, as parts of the height. Curvature runs through at
    the joint (G2). Of all such curves the one whose curvature changes least. An armhole: from the shoulder, square to
    it, touching the width line, to the underarm. Errors: GeometryError when the line does not lie beyond both ends.

    >>> hole = touching(np.array([195., -180.]), np.array([-.4, .9165]), np.array([240., 0.]), np.array([1., 0.]),
    ...                 wall=177., levels=(0.3, 0.5))
    >>> len(hole), float(hole.controls[0, 3, 0]), bool(np.ptp(curvature(hole, np.array([0.999999999, 1.0]))) < 1e-7)
    (2, 177.0, True)
    """
    given = _given(start, along, end, into, wall, levels)

    def cost(at: Array) -> float:
        return float(unevenness(given.spans(at), gentle=GENTLE))

    def changes(x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
        if not slopes:
            return wavering(given.spans(x), gentle=GENTLE), np.empty((0, 0))
        asides = np.vstack([x, x + ASIDE * np.eye(4)])
        found = wavering(np.array([given.spans(one) for one in asides]), gentle=GENTLE)
        return found[0], (found[1:] - found[0]).T / ASIDE

    tried = [np.array([*three, level]) for three in product(_TRIED, repeat=3) for level in (-1.0, 1.0)]
    costs = unevenness(np.array([given.spans(at) for at in tried]), gentle=GENTLE)
    # there is more than one valley: a short way down from the best starts, and from the lowest place to its end
    starts = [tried[k] for k in np.argsort(costs, kind="stable")[:STARTS]]
    best = min((descended(cost, at, size=0.7, rounds=ROUNDS) for at in starts), key=cost)
    for _ in range(5):
        before, best = best, least_squares(changes, best, steps=60)
        if np.abs(best - before).max() < FINE:
            break
    hole = Curve(given.spans(best), np.zeros(2, dtype=np.bool_))
    if np.abs(curvature(hole, np.linspace(0.0, 2.0, 81))).max() > 1 / GENTLE:
        # what counts a sharp bend has no slope everywhere, and least squares may stop short
        best = descended(cost, descended(cost, best, size=0.3, rounds=120), size=0.1)
        hole = Curve(given.spans(best), np.zeros(2, dtype=np.bool_))
    return hole


@dataclass(frozen=True, kw_only=True)
class _Given:
    """A curve's ends, directions and line, as x and y.

    reach, reach_back: from the ends to where the end lines meet the upright line, at the levels `low` and `high`;
    lowest, highest: levels between which it may be touched.
    """

    start: tuple[float, float]
    along: tuple[float, float]
    end: tuple[float, float]
    into: tuple[float, float]
    wall: float
    reach: float
    reach_back: float
    low: float
    high: float
    lowest: float
    highest: float

    def spans(self, at: Array) -> Array:
        """The two cubics (2, 4, 2) for any four numbers (4,): three handles and the level of the touch."""
        near, to_wall, far, level = (_part(value) for value in at.tolist())
        wall, touch = self.wall, self.lowest + level * (self.highest - self.lowest)
        (x, y), (to_x, to_y), out, back = self.start, self.along, near * self.reach, far * self.reach_back
        first = x + out * to_x, y + out * to_y
        last = self.end[0] - back * self.into[0], self.end[1] - back * self.into[1]
        # curvature at the end of a handle h is 2/3 of the other control's distance from the tangent, over h²
        longer = math.sqrt((wall - last[0]) / (wall - first[0]))
        before = to_wall * min(touch - self.low, (self.high - touch) / longer)
        upper = [self.start, first, (wall, touch - before), (wall, touch)]
        return np.array([upper, [(wall, touch), (wall, touch + longer * before), last, self.end]])


def _part(value: float) -> float:
    """Any number as a part between LEAST and MOST."""
    return LEAST + (MOST - LEAST) / (1 + math.exp(-min(max(value, -30.0), 30.0)))


def _given(start: Array, along: Array, end: Array, into: Array, wall: float, levels: tuple[float, float]) -> _Given:
    side = 1.0 if wall > start[0] else -1.0
    if side * (wall - start[0]) <= 0 or side * (wall - end[0]) <= 0 or side * along[0] <= 0:
        raise GeometryError("the width line does not lie beyond both ends of the curve")
    # both end lines are drawn on to the upright line; handles that stop short of where they meet it bend one way only
    reach, reach_back = float((wall - start[0]) / along[0]), float((end[0] - wall) / into[0])
    if min(reach, reach_back) <= 0:
        raise GeometryError("the curve would bend both ways")
    low, high = float(start[1] + reach * along[1]), float(end[1] - reach_back * into[1])
    # between the two meetings, with some room for the handles
    height = float(end[1] - start[1])
    lowest = max(levels[0], float(end[1] - high) / height + 0.05)
    highest = min(levels[1], 0.98 * float(end[1] - low) / height)
    if highest <= lowest:
        raise GeometryError("no fair curve touches the width line where it should")
    return _Given(
        start=_pair(start),
        along=_pair(along),
        end=_pair(end),
        into=_pair(into),
        wall=wall,
        reach=reach,
        reach_back=reach_back,
        low=low,
        high=high,
        lowest=float(end[1]) - lowest * height,
        highest=float(end[1]) - highest * height,
    )


def _pair(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def descended(cost: Callable[[Array], float], start: Array, *, size: float = 0.04, rounds: int = 260) -> Array:
    """The place of least cost near `start`, by the downhill simplex (Nelder and Mead 1965); no chance is in it."""
    corners = [start, *(start + size * axis for axis in np.eye(len(start)))]
    costs = [cost(c) for c in corners]
    for _ in range(rounds):
        order = sorted(range(len(corners)), key=costs.__getitem__)
        corners, costs = [corners[k] for k in order], [costs[k] for k in order]
        if costs[-1] - costs[0] < 1e-8 * costs[0] and np.abs(corners[-1] - corners[0]).max() < FINE:
            break
        centre = sum(corners[:-1]) / (len(corners) - 1)
        step = centre - corners[-1]
        mirrored = centre + step
        found = cost(mirrored)
        if found < costs[0]:
            longer = centre + 2 * step
            beyond = cost(longer)
            corners[-1], costs[-1] = (longer, beyond) if beyond < found else (mirrored, found)
        elif found < costs[-2]:
            corners[-1], costs[-1] = mirrored, found
        else:
            inner = centre + (0.5 if found < costs[-1] else -0.5) * step
            found = cost(inner)
            if found < costs[-1]:
                corners[-1], costs[-1] = inner, found
            else:
                corners = [corners[0], *((corners[0] + c) / 2 for c in corners[1:])]
                costs = [costs[0], *(cost(c) for c in corners[1:])]
    return corners[int(np.argmin(costs))]

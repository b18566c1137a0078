"""Armholes: two cubics that touch an upright width line, of all such curves the one that bends most evenly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import numpy as np

from flatcut.blocks.fairing import curvature, unevenness
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.geometry.newton import valleys

GENTLE = 40.0
"""mm: a sharper bend than of this radius makes an armhole boxy."""
LEAST, MOST = 0.01, 0.99
"""Shortest and longest handles, as parts of what keeps the curve from bending both ways."""
STARTS, ROUGH = 10, 6
"""Places from which the search starts, since it may end in a poorer valley, and the steps from each of them: then it
goes on from the best."""
FINE = 1e-5
"""How closely the numbers behind the handles are settled: far below a hundredth of a millimetre on any armhole."""
_TRIED = np.array(list(product((0.25, 0.5, 0.7, 0.9), (0.65, 0.8, 0.95), (0.45, 0.55, 0.9), (0.4, 0.55, 0.7, 0.95))))
"""Parts of what handles and level may be, of which those with the most even curves are the starts."""


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

    def costs(at: Array) -> Array:
        return unevenness(given.spans(at), gentle=GENTLE)

    tried = given.numbers(_TRIED)
    ended = valleys(costs, tried[np.argsort(costs(tried), kind="stable")[:STARTS]], steps=ROUGH)
    best = valleys(costs, ended[[int(np.argmin(costs(ended)))]], settled=FINE)[0]
    hole = Curve(given.spans(best), np.zeros(2, dtype=np.bool_))
    if np.abs(curvature(hole, np.linspace(0.0, 2.0, 81))).max() > 1 / GENTLE:
        # what counts a sharp bend has no slope everywhere, and least squares may stop short
        def cost(at: Array) -> float:
            return float(costs(at))

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
        """The two cubics (..., 2, 4, 2) for any four numbers (..., 4).

        They are the handle at the start, the one above the touch, the one at the end, and the level of the touch. Ends
        and level are parts of what they may be; the handle at the touch is the logarithm of its mm, for what it may be
        has a crease where the best curves lie.
        """
        outer, touch, most, spans = self._outer(at[..., 0], at[..., 2], at[..., 3])
        before = np.minimum(np.maximum(np.exp(at[..., 1]), LEAST * most), MOST * most)
        spans[..., 0, 2, 1], spans[..., 1, 1, 1] = touch - before, touch + outer * before
        return spans

    def numbers(self, parts: Array) -> Array:
        """The numbers (k, 4) of parts (k, 4), each between LEAST and MOST, of what handles and level may be."""
        near, _, far, level = np.arcsin((2 * parts - LEAST - MOST) / (MOST - LEAST)).T
        return np.stack([near, np.log(parts[:, 1] * self._outer(near, far, level)[2]), far, level], axis=1)

    def _outer(self, near: Array, far: Array, level: Array) -> tuple[Array, Array, Array, Array]:
        """How much longer the handle below the touch is than that above, the level of the touch, the most that the
        handle above may be, and the cubics without these handles' levels."""
        out, back = _part(near) * self.reach, _part(far) * self.reach_back
        wall, touch = self.wall, self.lowest + _part(level) * (self.highest - self.lowest)
        spans = np.empty((*np.shape(near), 2, 4, 2))
        spans[..., 0, 0, :], spans[..., 1, 3, :] = self.start, self.end
        for k in (0, 1):
            spans[..., 0, 1, k] = self.start[k] + out * self.along[k]
            spans[..., 1, 2, k] = self.end[k] - back * self.into[k]
        # curvature at the end of a handle h is 2/3 of the other control's distance from the tangent, over h²
        longer = np.sqrt((wall - spans[..., 1, 2, 0]) / (wall - spans[..., 0, 1, 0]))
        spans[..., 0, 2:, 0] = spans[..., 1, :2, 0] = wall
        spans[..., 0, 3, 1] = spans[..., 1, 0, 1] = touch
        return longer, touch, np.minimum(touch - self.low, (self.high - touch) / longer), spans


def _part(value: Array) -> Array:
    """Any numbers as parts between LEAST and MOST: where a part is best at an end, its number has a valley there."""
    return np.asarray((LEAST + MOST) / 2 + (MOST - LEAST) / 2 * np.sin(value))


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

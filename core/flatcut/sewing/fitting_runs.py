"""How well two runs of edges fit each other as the two sides of a seam.

A cost is a sum of penalties, each the logarithm of 1 + (difference / scale)²: small differences count by their square,
large ones hardly more than half as large. Scales and weights are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.sewing.sewable import Mark, Sewable

LENGTH, LENGTH_WEIGHT, UNTOLD_WEIGHT = 1.5, 0.5, 0.8
"""mm of a difference in length that an unsteady hand makes; it weighs more where no notches speak for the seam."""
PLACE, PLACE_WEIGHT = 1.0, 0.8
"""mm that mates may miss each other by the same hand."""
ANGLE, ANGLE_WEIGHT, ANGLE_MOST = 5.0, 0.5, 1.8
"""Degrees by which the two angles at a seam end may miss 180, where the edges beyond run on; the most that an end
costs, since at the point of a neck or a dart they do not."""
ALIKE, FOLD, HEM = -0.3, 1.5, 0.5
"""For each end where both run into the same kind of edge that is no seam; where one alone runs into a fold; a hem."""
SHORT, SHORT_WEIGHT = 150.0, 0.5
"""mm: shorter runs are more often alike by chance."""
ODD = 1.5
"""For a notch without a mate."""
COUNTS = 1.0
"""For a double notch against a single one."""
AGREED = 1.0
"""Taken off for each pair of notches that agree, up to MOST_AGREED."""
MOST_AGREED = 2
NEAR = 3.0
"""mm: notches this near to each other speak for the seam."""
SEAM_AT = 12.0
"""mm: a notch this near to a seam that ends on the other run marks that seam."""

SAME, SAME_WEIGHT, SAME_MOST = 0.1, 1.0, 1.5
"""mm: edges that are drawn to one length are meant for each other, the longer the surer; the most that is taken off."""
STEEP, LEVEL = 0.7, 0.94
"""Sine of how steep an edge is that has an upper end (45°), cosine of how level one that is a lower edge (20°)."""
UPSIDE_DOWN = 2.2
"""For a seam that brings the upper end of one edge to the lower of the other: pieces are drawn upright."""
BOTH_LOW = 3.0
"""For the lower edges of two pieces: they are hems."""


@dataclass(frozen=True, kw_only=True)
class Fit:
    """cost: the less, the better; agreed: how many pairs of notches speak for it; difference: sewn b less a, mm."""

    cost: float
    agreed: int
    difference: float


def penalty(off: Array | float, scale: float, weight: float) -> Array:
    """What a difference costs.

    >>> float(penalty(0.0, 1.0, 1.0)), float(penalty(1.0, 1.0, 1.0)).__round__(3)
    (0.0, 0.693)
    """
    return np.asarray(weight * np.log1p((np.asarray(off, dtype=float) / scale) ** 2))


def rough_costs(runs: Sequence[Sewable]) -> tuple[Array, Array]:
    """What length and end angles cost, of each of n runs against each, (n, n): as they lie, and one turned over."""
    sewn = np.array([run.sewn for run in runs])
    angles = np.array([run.angles for run in runs]).reshape(-1, 2)
    long = penalty(sewn[:, None] - sewn, LENGTH, LENGTH_WEIGHT)

    def ends(other: Array) -> Array:
        off = angles[:, None] + other[None] - 180.0
        return _angle_costs(off)

    return long + ends(angles[:, ::-1]), long + ends(angles)


def _angle_costs(off: Array) -> Array:
    """What it costs that angles miss 180 by so many degrees, the two ends of a seam in the last axis."""
    return np.asarray(np.minimum(penalty(off, ANGLE, ANGLE_WEIGHT), ANGLE_MOST).sum(axis=-1))


def fit(a: Sewable, b: Sewable) -> Fit:
    """How well `b`, walked from its end, fits `a`."""
    back = b.turned_over()
    off = np.array([a.angles[k] + back.angles[k] - 180.0 for k in range(2)])
    cost = float(_angle_costs(off))
    cost += sum(_end(a.beyond[k], back.beyond[k]) for k in range(2))
    cost += SHORT_WEIGHT * math.log(max(1.0, SHORT / min(a.sewn, b.sewn)))
    one = _without_joints(a, back)
    two = _without_joints(back, a)
    marks, agreed = _marks(one, a.sewn, two, back.sewn)
    cost += float(penalty(b.sewn - a.sewn, LENGTH, LENGTH_WEIGHT if agreed else UNTOLD_WEIGHT))
    return Fit(cost=cost + marks, agreed=agreed, difference=b.sewn - a.sewn)


def as_drawn(a: Sewable, b: Sewable) -> float:
    """What it costs, where no notches speak, how `b`, walked from its end, lies to `a` on the drawing, and that two
    edges are of one length to a hair.

    It is for single edges; pieces are taken to be drawn upright, as most are.
    """
    cost = 0.0
    if abs(a.sewn - b.sewn) <= SAME:
        cost -= min(SAME_WEIGHT * math.log(max(1.0, min(a.sewn, b.sewn) / SHORT)), SAME_MOST)
    (x, y), (u, v) = a.course, b.course
    if min(abs(y), abs(v)) > STEEP and y * v > 0:
        cost += UPSIDE_DOWN
    if max(x, u) < -LEVEL:
        cost += BOTH_LOW
    return cost


def _end(one: str, two: str) -> float:
    """What it costs that the edges beyond the end of a seam are for this and that.

    >>> _end("hem", "hem"), _end("seam", "seam"), _end("fold", "seam"), _end("fold", "centre")
    (-0.3, 0.0, 1.5, -0.3)
    """
    one, two = ("fold" if use == "centre" else use for use in (one, two))
    if one == two:
        return 0.0 if one == "seam" else ALIKE
    return FOLD if "fold" in (one, two) else HEM if "hem" in (one, two) else 0.0


def _without_joints(run: Sewable, other: Sewable) -> list[Mark]:
    """The notches of a run without those that mark where a seam ends on the other run."""
    return [
        mark
        for mark in run.marks
        if all(abs(_across(mark.at, run.sewn, other.sewn) - joint) > SEAM_AT for joint in other.joints)
    ]


def _across(at: float, here: float, there: float) -> float:
    """A place counted from the nearer end, on the other run."""
    return at if at <= here / 2 else there - (here - at)


def _marks(one: Sequence[Mark], here: float, two: Sequence[Mark], there: float) -> tuple[float, int]:
    """What the notches cost, and how many pairs agree: pairs in order, the cheapest way of leaving some out."""
    # where neither end is clearly the nearer, either count is right
    wanted = [
        (mark.at, there - here + mark.at) if here / 3 < mark.at < 2 * here / 3 else (_across(mark.at, here, there),)
        for mark in one
    ]
    best = [[(0.0, 0)] * (len(two) + 1) for _ in range(len(one) + 1)]
    for i in range(len(one) + 1):
        for k in range(len(two) + 1):
            ways = []
            if i:
                ways.append((best[i - 1][k][0] + ODD, best[i - 1][k][1]))
            if k:
                ways.append((best[i][k - 1][0] + ODD, best[i][k - 1][1]))
            if i and k:
                away = min(abs(at - two[k - 1].at) for at in wanted[i - 1])
                pair = float(penalty(away, PLACE, PLACE_WEIGHT))
                pair += COUNTS if one[i - 1].count != two[k - 1].count else 0.0
                ways.append((best[i - 1][k - 1][0] + pair, best[i - 1][k - 1][1] + (away <= NEAR)))
            if ways:
                best[i][k] = min(ways)
    cost, agreed = best[-1][-1]
    return cost - AGREED * min(agreed, MOST_AGREED), agreed

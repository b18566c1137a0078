"""Chains of cubics asked for along stretches of points, many at a time, each made and measured.

A first chain is a piecewise cubic in the length of its stretch, by linear least squares, with joints where length and
turn together are shared out evenly; `chain_search` betters it. What comes back is measured both ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints
from flatcut.geometry.chain_search import Chains, assembled, products_of, searched, unknowns_of
from flatcut.geometry.curves import Curve, polyline
from flatcut.geometry.nearest import nearest

BLOCK = 4000
"""Points of chains that are measured together."""
AIM = 0.95
"""The part of the tolerance to which the largest distance is brought down among some of the points."""
HOPEFUL = 1.7
"""A fit whose largest distance is beyond so many tolerances is not worth reweighting; that gains a third at most."""
ROUNDS, STALLED = 3, 0.98
"""Rounds of reweighting; one that leaves more than this part of the largest distance is the last."""
BORDERLINE = 2.0
"""Where points are beyond the tolerance by less than this, the nearest place on the whole chain is asked for."""
MOST_POINTS = 240
"""Points of a stretch among which the largest distance is brought down."""
FEW_POINTS, FEW_EACH = 40, 16
"""Points of a stretch, and at each cubic, among which a fit is searched for; those stand for groups of all points."""
BOW = 0.2
"""The part of the tolerance by which the mean of a group may lie inside a curve, which it is moved by."""
CELLS, ROUGHEST = 32, 10.0
"""Parts of a stretch from which it is told where it turns; none is shorter than so many tolerances, for roughness is no
turn."""
TURN_EACH = np.radians(170.0)
"""The most that one cubic is asked to turn."""
PULL = 1e-3
"""Pull of the linear fit to the polyline itself: a cubic beside which hardly any points lie needs it."""
SPEEDS = (0.3, 3.0)
"""Range of the lengths of the handles that the linear fit gives, in thirds of their cubic's length."""
ENDS = 0.05
"""The part of a stretch beside an end in which points may be off for the end's sake, less and less."""
DOUBTFUL = 0.25
"""A fit that is too far from the polyline at more than this part of the places looked at does not follow it."""
LOOKED_AT = 64
"""Places on each cubic at which that is looked at, at least."""


class Wanted(NamedTuple):
    """A chain along points (m, 2), of so many cubics, or of as few as their turn allows; with given unit directions
    (2,) at the ends or free ones; of a ring the last point is the first one. tolerance: mm; ends: mm that the end
    points, which stay, may be off the line that is meant, and those beside them off the chain for it."""

    points: Array
    tolerance: float
    number: int | None = None
    leaving: Array | None = None
    arriving: Array | None = None
    ring: bool = False
    ends: float = 0.0


class Fit(NamedTuple):
    """The control points (n, 4, 2) of a chain; mm of the farthest of its points; the same without what may be off for
    the ends; and whether that is within the tolerance and all of the chain near the polyline."""

    controls: Array
    away: float
    over: float
    fits: bool

    @property
    def curve(self) -> Curve:
        """The chain."""
        return Curve(self.controls, np.zeros(len(self.controls), dtype=np.bool_))


def fit_chains(wanted: Sequence[Wanted]) -> list[Fit]:
    """The chains asked for, by least squares, or nearer to the least largest distance where that brings it into the
    tolerance."""
    stretches = _Stretches(wanted)
    chains, state, feet, some = _first_guess(stretches)
    state, feet = searched(chains, state, feet)
    feet, away = chains.distances(state, feet, steps=0)
    most = _most(away - stretches.slack[some], chains.own)
    found = [Fit(one, far, far, False) for one, far in zip(_controls(chains, state), most.tolist(), strict=True)]
    # what is out of reach is measured no further, and the rest in blocks that stay in the processor's own memory
    near = np.flatnonzero(most <= HOPEFUL * chains.tolerance)
    block = np.cumsum(stretches.count[near]) // BLOCK
    for numbers in np.split(near, np.flatnonzero(np.diff(block)) + 1) if len(near) else ():
        mine = np.zeros(len(most), dtype=np.bool_)
        mine[numbers] = True
        points = mine[chains.own]
        here, every = _Stretches([wanted[k] for k in numbers.tolist()]), chains.part(mine)
        at = (np.cumsum(mine[stretches.own]) - 1)[some[points]]
        guess = np.interp(here.axis, here.axis[at], feet[points] + every.base)
        every = every.near(here.points, here.own)
        guess = np.clip(guess - every.base, 0.0, every.high)
        fits = _measured(here, every, state[:, mine[chains.node_own]], guess)
        for k, fit in zip(numbers.tolist(), fits, strict=True):
            found[k] = fit
    return found


def _controls(chains: Chains, state: Array) -> list[Array]:
    controls = chains.controls(state).transpose(2, 0, 1)
    ends = np.cumsum(np.bincount(chains.span_own)).tolist()
    return [controls[a:b] for a, b in pairwise([0, *ends])]


class _Stretches:
    """The points (2, N) of all stretches, lengths up to them, and where each stretch begins and ends among them."""

    def __init__(self, wanted: Sequence[Wanted]) -> None:
        self.wanted = wanted
        self.count = np.array([len(one.points) for one in wanted])
        self.first = np.cumsum(self.count) - self.count
        self.last = self.first + self.count - 1
        self.own = np.repeat(np.arange(len(wanted)), self.count)
        self.points = np.ascontiguousarray(np.concatenate([one.points for one in wanted]).T)
        self.tolerance = np.array([one.tolerance for one in wanted])
        self.ring = np.array([one.ring for one in wanted])
        steps = np.diff(self.points)
        self.chord = np.zeros(len(self.own))
        self.chord[1:] = np.sqrt(steps[0] * steps[0] + steps[1] * steps[1])
        self.chord[self.first] = 0.0
        along = np.cumsum(self.chord)
        self.size = along[self.last] - along[self.first]
        # stretches stand apart on the one axis on which all lengths are looked up
        self.offset = along[self.first] + np.arange(len(wanted))
        self.along = along - along[self.first][self.own]
        self.axis = along + self.own
        ends = np.array([one.ends for one in wanted])
        self.slack = np.zeros(len(self.own))
        if ends.any():
            end = np.minimum(self.along, self.size[self.own] - self.along) / (ENDS * self.size)[self.own]
            self.slack = ends[self.own] * np.maximum(1 - end, 0.0)

    def at(self, own: Ints, along: Array) -> Array:
        """Points (2, k) of the polylines at lengths (k,), of the stretches given by their numbers."""
        where = self.offset[own] + np.clip(along, 0.0, self.size[own])
        return np.stack([np.interp(where, self.axis, row) for row in self.points])

    def some(self, most: Ints) -> Ints:
        """Which points to look at so that they are not many more than `most` (B,): both ends and some between."""
        position = np.arange(len(self.own)) - self.first[self.own]
        kept = position % np.maximum(1, self.count // most)[self.own] == 0
        kept[self.last] = True
        return np.flatnonzero(kept)

    def smoothed(self, most: Ints) -> tuple[Ints, Array]:
        """The ends, and between them points (2, k) that stand for groups of an odd number of points, so that they are
        about `most` (B,); and the numbers of the middle points of these groups.

        The mean of a group shows less of its roughness. It lies inside a curve, by a part of what the means beside it
        tell; where that is no small part of the tolerance the middle point itself stands for the group.
        """
        half = (self.count // most) // 2
        group = (np.arange(len(self.own)) - self.first[self.own] + half[self.own]) // (2 * half + 1)[self.own]
        begins = np.flatnonzero(np.diff(group, prepend=-1))
        own, number = self.own[begins], group[begins]
        last = np.cumsum(np.bincount(own)) - 1
        first = np.append(0, last[:-1] + 1)
        middle = begins + half[own]
        middle[first], middle[last] = self.first, self.last
        points = self.points[:, middle]
        if not half.any():
            return middle, points
        means = np.add.reduceat(self.points, begins, axis=1) / np.diff(np.append(begins, len(self.own)))
        k = np.arange(len(own))
        # groups at the ends are halves, and say nothing of the bow
        inner = np.clip(k, np.minimum(first + 2, len(k) - 2)[own], np.maximum(last - 2, 1)[own])
        bow = (means[:, inner - 1] - 2 * means[:, inner] + means[:, inner + 1]) / 24
        small = bow[0] * bow[0] + bow[1] * bow[1] <= (BOW * self.tolerance[own]) ** 2
        taken = small & (half > 0)[own] & (number > 0) & (k < last[own])
        return middle, np.where(taken, means - bow, points)

    def efforts(self) -> tuple[Array, Array, Array]:
        """Parts of the length (B, k), length and turn up to there in parts of the whole, 0 to 2, and the turns (B,)."""
        cells = np.clip(np.minimum(self.size / (ROUGHEST * self.tolerance), self.count - 1), 2, CELLS).astype(np.intp)
        part = np.minimum(np.arange(CELLS + 1) / cells[:, None], 1.0)
        every = np.repeat(np.arange(len(cells)), CELLS + 1)
        steps = np.diff(self.at(every, (part * self.size[:, None]).ravel()).reshape(2, len(cells), CELLS + 1))
        (x, y), (u, v) = steps[:, :, :-1], steps[:, :, 1:]
        turn = np.zeros_like(part)
        inside = np.arange(1, CELLS) < cells[:, None]
        turn[:, 1:-1] = np.where(inside, np.abs(np.arctan2(x * v - y * u, x * u + y * v)), 0.0)
        turned = np.cumsum(turn, axis=1)
        whole = turned[:, -1]
        turned -= turn / 2
        return part, part + turned / np.maximum(whole, 1e-300)[:, None], whole


def _first_guess(stretches: _Stretches) -> tuple[Chains, Array, Array, Ints]:
    """Chains near some points, their state, the feet of these points, and which of all (N,) they stand for."""
    part, effort, turn = stretches.efforts()
    least = np.maximum(np.where(stretches.ring, 3, 1), np.ceil(turn / TURN_EACH)).astype(np.intp)
    number = np.array([one.number or few for one, few in zip(stretches.wanted, least.tolist(), strict=True)])
    # joints where length and turn together are shared out evenly
    every = np.arange(len(number))
    span_own, knot_own = np.repeat(every, number), np.repeat(every, number + 1)
    knot_first = np.cumsum(number + 1) - (number + 1)
    share = (np.arange(len(knot_own)) - knot_first[knot_own]) / number[knot_own]
    wanted = 4.0 * knot_own + share * effort[knot_own, -1]
    knots = np.interp(wanted, (effort + 4.0 * every[:, None]).ravel(), part.ravel()) * stretches.size[knot_own]
    first_knots, last_knots = knot_first, knot_first + number
    knots[first_knots], knots[last_knots] = 0.0, stretches.size
    inner = np.ones(len(knots), dtype=np.bool_)
    inner[last_knots] = False
    spans = np.flatnonzero(inner)
    length = np.diff(knots)[spans]
    # the nodes are the knots, but for the last one of a ring, which is its first
    is_node = np.ones(len(knots), dtype=np.bool_)
    is_node[last_knots[stretches.ring]] = False
    node = np.cumsum(is_node) - 1
    node[last_knots[stretches.ring]] = node[first_knots[stretches.ring]]
    node_own, first, last = knot_own[is_node], node[first_knots], node[last_knots]
    place, way, free = _guessed_nodes(stretches, knots, knot_own, number, is_node, first, last)
    guess = np.zeros((7, len(node_own)))
    guess[:2], guess[2:4] = place, way
    some, points = stretches.smoothed(np.maximum(FEW_POINTS, FEW_EACH * number))
    own, along = stretches.own[some], stretches.along[some]
    chains = Chains(
        points,
        own,
        span_own,
        node_own,
        node[spans],
        node[spans + 1],
        length / 3,
        stretches.size,
        stretches.tolerance,
        np.ones(len(own)),
        free,
        guess,
    )
    # each point beside the cubic that has its length
    begin = knots[spans]
    at = np.searchsorted(begin + stretches.offset[span_own], stretches.axis[some], "right") - 1
    at = np.clip(at, chains.base, chains.base + chains.last)
    u = np.clip((along - begin[at]) / np.maximum(length[at], 1e-300), 0.0, 1.0)
    _linear(chains, at, u, length)
    return chains, guess.copy(), at - chains.base + u, some


def _guessed_nodes(
    stretches: _Stretches, knots: Array, knot_own: Ints, number: Ints, is_node: BoolArray, first: Ints, last: Ints
) -> tuple[Array, Array, BoolArray]:
    """Places (2, V) of nodes on the polylines, directions of these there, and which unknowns nodes have, (V, 5)."""
    own, knots = knot_own[is_node], knots[is_node]
    place = stretches.at(own, knots)
    window = (stretches.size / (8 * number))[own]
    before, after = knots - window, knots + window
    # a ring goes on at its seam
    around = first[stretches.ring]
    before[around] += stretches.size[stretches.ring]
    chord = stretches.at(own, after) - stretches.at(own, before)
    free = np.ones((len(own), 5), dtype=np.bool_)
    free[first, :2] = free[last, :2] = False
    open_ = ~stretches.ring
    free[first[open_], 4] = free[last[open_], 3] = False
    place[:, first], place[:, last] = stretches.points[:, stretches.first], stretches.points[:, stretches.last]
    for k, one in enumerate(stretches.wanted):
        for given, end in ((one.leaving, first[k]), (one.arriving, last[k])):
            if given is not None:
                chord[:, end], free[end, 2] = given, False
    size = np.sqrt(chord[0] * chord[0] + chord[1] * chord[1])
    way = np.where(size > 0, chord / np.maximum(size, 1e-300), [[1.0], [0.0]])
    return place, way, free


def _linear(chains: Chains, span: Ints, u: Array, length: Array) -> None:
    """The first guess bettered: the piecewise cubic in the length, one derivative at each joint, nearest to the points.

    Its values and derivatives (2, V) at the nodes are linear unknowns, about the guess; what is given stays.
    """
    guess, free = chains.first, chains.free
    s = 1 - u
    size = length[span]
    ahead, behind = u * s * s * size, -u * u * s * size
    near = s * s * (1 + 2 * u)
    a, b = chains.start[span], chains.end[span]
    rows = np.stack([near, ahead, 1 - near, behind, *chains.points])
    rows[4:] -= near * guess[:2, a] + (1 - near) * guess[:2, b] + ahead * guess[2:4, a] + behind * guess[2:4, b]
    blocks = chains.products(rows, span)
    room, of_nodes = unknowns_of(free[:, [0, 2]], chains.node_own)
    vector = np.concatenate([of_nodes[chains.start], of_nodes[chains.end]], axis=1)
    matrix, right = assembled(blocks, vector, products_of(vector, room), (len(chains.size), room))
    every = np.arange(room)
    own = matrix[:, every, every]
    matrix[:, every, every] = np.where(own > 0, own * (1 + PULL), 1.0)
    found = np.linalg.solve(matrix, right).reshape(-1, 2).T
    guess[:2] += found[:, of_nodes[:, 0]]
    speed = guess[2:4] + found[:, of_nodes[:, 1]]
    size = np.sqrt(speed[0] * speed[0] + speed[1] * speed[1])
    usable = size > SPEEDS[0]
    guess[2:4] = np.where(usable, speed / np.maximum(size, SPEEDS[0]), guess[2:4])
    guess[5:7] = np.where(free[:, 3:].T, np.log(np.clip(size, *SPEEDS)), 0.0)


def _reweighted(chains: Chains, state: Array, feet: Array, some: Ints, slack: Array) -> Array:
    """The state of chains of which some points (N,) are nearly within the tolerance, bettered: least squares lets
    single points stick out. Where they do, each is weighted by its distance again and again, which drives the largest
    distance down (C. L. Lawson's method for the minimax fit, 1961). slack: mm, excused of the distances of these points
    """
    state = state.copy()
    number = np.unique(chains.own[some])
    open_ = np.isin(np.arange(len(chains.size)), number)
    nodes = np.flatnonzero(open_[chains.node_own])
    now, at, places = chains.of_points(some, open_), state[:, nodes], feet[some]
    places, away = now.distances(at, places, steps=0)
    over = np.maximum(away - slack, 0.0)
    best = last = _most(over, now.own)
    for _ in range(ROUNDS):
        raised = now.weight * (over / last[now.own] + 1e-3)
        mean = np.bincount(now.own, raised) / np.bincount(now.own)
        now = now.weighted(raised / mean[now.own])
        at, places = searched(now, at, places)
        places, away = now.distances(at, places, steps=0)
        over = np.maximum(away - slack, 0.0)
        reached = _most(over, now.own)
        better = (reached < best)[now.node_own]
        state[:, nodes[better]] = at[:, better]
        best = np.minimum(best, reached)
        kept = (best > AIM * now.tolerance) & (reached <= STALLED * last)
        if not kept.any():
            break
        inner, points = kept[now.node_own], kept[now.own]
        at, nodes, places, over, slack = at[:, inner], nodes[inner], places[points], over[points], slack[points]
        now, best, last = now.part(kept), best[kept], reached[kept]
    return state


def _most(values: Array, own: Ints) -> Array:
    """The largest of each group's values, whose numbers (N,) come in order."""
    return np.asarray(np.maximum.reduceat(values, np.flatnonzero(np.diff(own, prepend=-1))))


def _measured(stretches: _Stretches, chains: Chains, state: Array, feet: Array) -> list[Fit]:
    """Chains near all points, with what is to be known of them."""
    feet, away = chains.distances(state, feet, steps=2)
    nearly = _most(away - stretches.slack, chains.own) > chains.tolerance
    if nearly.any():
        some = stretches.some(np.full(len(nearly), MOST_POINTS))
        some = some[nearly[stretches.own[some]]]
        state = _reweighted(chains, state, feet, some, stretches.slack[some])
        again = np.flatnonzero(nearly[stretches.own])
        now = chains.of_points(again, nearly)
        feet[again], away[again] = now.distances(state[:, nearly[chains.node_own]], feet[again], steps=4)
    controls, goal = _controls(chains, state), chains.tolerance
    over = away - stretches.slack
    most = _most(over, chains.own)
    for k in np.flatnonzero((most > goal) & (most <= BORDERLINE * goal)).tolist():
        own = slice(stretches.first[k], stretches.last[k] + 1)
        out = stretches.first[k] + np.flatnonzero(over[own] > goal[k])
        curve = Fit(controls[k], 0.0, 0.0, False).curve
        feet[out], away[out] = nearest(curve, stretches.points[:, out].T)
        most[k] = (away[own] - stretches.slack[own]).max()
    fits = most <= goal
    if fits.any():
        fits[fits] = _follow(stretches, chains, state, feet, fits)
    measured = zip(controls, _most(away, chains.own).tolist(), most.tolist(), fits.tolist(), strict=True)
    return [Fit(*one) for one in measured]


def _follow(stretches: _Stretches, chains: Chains, state: Array, feet: Array, asked: BoolArray) -> BoolArray:
    """Whether all of a chain is within the tolerance of the polyline and the chords' own bulge, of those asked for.

    Between the feet of two points that follow each other, a chain must lie beside their chord. Only where it does not
    is the whole polyline searched.
    """
    feet = feet.copy()
    feet[stretches.first], feet[stretches.last] = 0.0, chains.high[stretches.last]
    # numbers of cubics among all of them, so that feet run on from chain to chain
    feet = np.maximum.accumulate(feet + chains.base)
    looked_at = np.flatnonzero(asked[chains.span_own])
    place = (looked_at[:, None] + (np.arange(LOOKED_AT) + 0.5) / LOOKED_AT).ravel()
    k = np.repeat(looked_at, LOOKED_AT)
    own = chains.span_own[k]
    chord = np.clip(np.searchsorted(feet, place, "right") - 1, stretches.first[own], stretches.last[own] - 1)
    t = place - k
    s = 1 - t
    p0, p1, p2, p3 = chains.of_cubics(chains.controls(state), k)
    samples = s * s * (s * p0 + 3 * t * p1) + t * t * (3 * s * p2 + t * p3)
    start, end = stretches.points.take(chord, axis=1), stretches.points.take(chord + 1, axis=1)
    along, to = end - start, samples - start
    size = stretches.chord[chord + 1]
    reach = np.clip((to[0] * along[0] + to[1] * along[1]) / np.maximum(size * size, 1e-300), 0.0, 1.0)
    gap = to - reach * along
    far = np.sqrt(gap[0] * gap[0] + gap[1] * gap[1])
    doubtful = far > chains.tolerance[own] + stretches.slack[chord]
    doubtful[doubtful] = far[doubtful] > _allowed(stretches, chord[doubtful])
    wrong = np.bincount(own[doubtful], minlength=len(asked))
    looked_at = np.bincount(own, minlength=len(asked))
    fits = wrong <= DOUBTFUL * looked_at
    for number in np.flatnonzero(asked & fits & (wrong > 0)).tolist():
        one = doubtful & (own == number)
        found, beside = nearest(polyline(stretches.wanted[number].points), samples[:, one].T)
        at = stretches.first[number] + np.minimum(found.astype(np.intp), stretches.count[number] - 2)
        fits[number] = (beside <= _allowed(stretches, at)).all()
    return np.asarray(fits[asked])


def _allowed(stretches: _Stretches, chord: Ints) -> Array:
    """How far a chain may be from chords, given by the numbers (k,) of their first points, mm.

    An arc that turns by w between two points bulges by size · tan(w / 4) / 2; twice that is left for uneven points.
    """
    own = stretches.own[chord]
    first, last, ring = stretches.first[own], stretches.last[own], stretches.ring[own]
    bend = np.zeros(len(chord))
    for middle, before in ((chord, chord - 1), (chord + 1, chord)):
        after = middle + 1
        # at the seam of a ring the last chord meets the first
        before = np.where((middle == first) & ring, last - 1, before)
        after = np.where((middle == last) & ring, first + 1, after)
        middle_here = np.where((middle == last) & ring, first, middle)
        inside = ((middle > first) & (middle < last)) | ring
        into = stretches.points[:, middle] - stretches.points[:, before]
        out = stretches.points[:, np.minimum(after, last)] - stretches.points[:, middle_here]
        turn = np.abs(np.arctan2(into[0] * out[1] - into[1] * out[0], into[0] * out[0] + into[1] * out[1]))
        bend = np.maximum(bend, np.where(inside, np.minimum(turn, 1.0), 0.0))
    return np.asarray(stretches.tolerance[own] + stretches.slack[chord] + stretches.chord[chord + 1] * bend / 4)

"""The search for the stiffest curve near a source, of one number of cubics, for one distance after another.

How far a curve leaves the source rises with its stiffness: it is followed by secants on both logarithms. Stiffness
times the square of the distance is what decides the curve, so that what was tried for one distance is a start for the
next, and between two tries the unknowns are guessed from both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain as chained
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.beside import Walked
from flatcut.geometry.curves import Curve, chain, section
from flatcut.geometry.fair_problem import SMOOTH_JOINT, Problem
from flatcut.geometry.fairness import Fairness, fairness
from flatcut.geometry.following import STALLED, Minimiser
from flatcut.geometry.least_squares import Residuals
from flatcut.geometry.length import span_lengths

LOOSEST, STIFFEST = -10.0, 1.0
"""Decimal logarithms of the stiffness: from a curve that only follows the edges to one that only is fair."""
RISE, LONGEST_STRIDE = 0.5, 3.0
"""How much the logarithm of the distance mostly rises with that of the stiffness: with one try it says where the next
one is; where that lies on the same side of the distance, half of it is taken, and so on."""
MOST_TRIES, HALVED = 14, 4
"""Tries in all, and those after which every other one halves."""
CLOSE, NARROW = 0.02, 0.05
"""The search ends this near to the distance, as a part of it, or to the best stiffness."""
AIM = 0.4 * CLOSE
"""It aims below the distance by this part of it: a curve that leaves the source by a hair too much is none."""
HOPELESS = -5.0
"""A curve less stiff than this that still is too far off, and no nearer than the last, will come no nearer."""
SLOW, WEIGHED = 0.1, 3
"""Where a tenth of the stiffness brings the logarithm of the distance down by less than this, single places stick out:
the search begins again, and gives such places more weight in so many rounds a try."""
REWEIGHTINGS = 8
"""Rounds of giving far places more weight, before a number of cubics is given up."""
MARGIN = 0.004
"""The largest distance of all places is taken to be larger than that of the samples by this part."""
SAME = 0.01
"""Two starts whose curves have unknowns closer than this have met in one minimum."""
MEETING = 0.1
"""... and a start is given up that comes this near to where another one has ended."""
BESIDE = 1 / 500
"""Unknowns whose curve leaves the source by less than this part of its length, in the mean, are in the valley beside
it: other starts lead there too, or away from it."""
HOPEFUL = 1.5
"""A curve that leaves the source by more than so many times the distance is not worth reweighting."""
SHARP, BLIND = 1000.0, 3.0
"""A curve beyond the distance whose curvature changes by more than the first, and in truth so many times as much as at
the places where the search looks, has a spike between them: nearer ones have a sharper one, and the search ends."""
ONE_VALLEY = 0.5
"""Unknowns of two tries that differ by more do not lie in one valley, so that there is nothing between them."""


def uneven(measured: Fairness) -> float:
    """What the search makes least: the change of curvature along the curve and, as heavy as there, its jumps."""
    return measured.mvc + SMOOTH_JOINT * measured.jump**2


class Found(NamedTuple):
    """A curve within the distance, how far it leaves the source (or a hair more), mm, and its fairness."""

    curve: Curve
    away: float
    after: Fairness


class Tried(NamedTuple):
    """The unknowns at a stiffness (its decimal logarithm), and the logarithm of their distance over what may be."""

    at: float
    off: float
    x: Array


class FairSearch:
    """Stiffest curves of so many cubics near a source, which ask no more of each other than they must."""

    def __init__(self, problem: Problem, source: Walked, minimise: Minimiser) -> None:
        self.problem, self._source, self._minimise = problem, source, minimise
        self._nearest = _Nearest(problem, minimise)
        self._known: dict[bool, list[Tried]] = {True: [], False: []}
        self.at, self.is_beaten = 0.0, False

    def aim(self, within: float, *, hold_length: bool) -> None:
        """What is sought from now on."""
        if hold_length or self.problem.hold_length:
            self._known = {True: [], False: []}
        self.problem.within, self.problem.hold_length = within, hold_length

    def from_fewer(self, curve: Curve, at: float | None, *, below: float = np.inf) -> Found | None:
        """The stiffest curve next to a smooth one of one cubic less, whose stiffness was `at`; None where it cannot be
        less `uneven` than `below`."""
        self.problem.weigh(None)
        known = self._known[True]
        start = with_one_more(curve)
        if not known and len(start) != self.problem.parts:
            return None  # the smooth curve has two cubics less, since there is none of one less
        x = known[0].x if known else self.problem.unknowns_of(start)
        return self._stiffest(x, np.inf, at, known, below)

    def from_nearest(self, *, below: float = np.inf) -> tuple[Found | None, Array, float]:
        """The stiffest curve next to the nearest one, and that one's unknowns and distance; None where it is too far
        away, or cannot be less `uneven` than `below`."""
        problem = self.problem
        target = problem.within * (1 - MARGIN)
        x, reached = self._nearest.within(target)
        if reached > problem.within:
            return None, x, reached
        return self._stiffest(x, reached, None, self._known[False], below), x, reached

    def _stiffest(self, x: Array, reached: float, at: float | None, known: list[Tried], below: float) -> Found | None:
        walk = _Walk(self.problem, self._source, x, self._minimise, reached=reached, known=known)
        found = walk.stiffest(at, below=below)
        self.at, self.is_beaten = walk.at, walk.is_beaten
        return found


class _Nearest:
    """Unknowns near the source, start by start, in the order in which they are found; no more are sought than are asked
    for."""

    def __init__(self, problem: Problem, minimise: Minimiser) -> None:
        self.problem, self._minimise = problem, minimise
        self._begun: list[_Rounds] = []
        self._firsts: list[Array] = []
        self._starts = iter(problem.starts())

    def within(self, target: float) -> tuple[Array, float]:
        """Unknowns and their largest distance from the source: the first within the distance, else the least."""
        least: _Near | None = None
        for rounds in chained(tuple(self._begun), self._more()):
            for near in rounds:
                if least is None or near.reached < least.reached:
                    least = near
                # nothing about here brings the largest distance below the least that a weighted mean can have
                if near.reached <= target or near.mean > target:
                    break
            assert least is not None
            if least.reached <= target or least.mean < BESIDE * self.problem.size:
                break
        assert least is not None
        self.problem.weights = least.weights
        return least.x, least.reached

    def _more(self) -> Iterator[_Rounds]:
        problem = self.problem
        for start in self._starts:
            problem.weigh(None)
            try:
                x = problem.solve(None, start, self._until_met)
            except _MetError:
                continue
            if any(np.abs(x - other).max() < SAME for other in self._firsts):
                continue
            self._firsts.append(x)
            self._begun.append(_Rounds(problem, x, self._minimise))
            yield self._begun[-1]

    def _until_met(self, residuals: Residuals, start: Array) -> Array:
        """As the minimiser does, but given up where it is on the way to a place that is known."""

        def watched(x: Array, *, slopes: bool = True) -> tuple[Array, Array, Array]:
            if any(np.abs(x - other).max() < MEETING for other in self._firsts):
                raise _MetError
            return residuals(x, slopes=slopes)

        return self._minimise(watched, start)


class _MetError(Exception):
    """A search has come to where another one has ended."""


class _Near(NamedTuple):
    """Unknowns near the source, their largest distance from it and the root of the mean square of all as they are
    weighted, mm, and the weights."""

    x: Array
    reached: float
    mean: float
    weights: Array


class _Rounds:
    """What unknowns at the least distance become as single places that stick out are given more weight, round by round:
    see `Following.minimax`."""

    def __init__(self, problem: Problem, x: Array, minimise: Minimiser) -> None:
        self._found: list[_Near] = []
        self._more = self._sought(problem, x, minimise)

    def __iter__(self) -> Iterator[_Near]:
        yield from tuple(self._found)
        for near in self._more:
            self._found.append(near)
            yield near

    def _sought(self, problem: Problem, x: Array, minimise: Minimiser) -> Iterator[_Near]:
        weights, last = np.ones(len(problem.samples)), np.inf
        for left in range(REWEIGHTINGS, -1, -1):
            problem.weights = weights
            away = problem.distances(x)
            reached = float(away.max())
            yield _Near(x, reached, float(np.sqrt((weights * away * away).mean())), weights)
            if left == 0 or reached > STALLED * last:
                break
            last = reached
            problem.weights = weights
            problem.weigh(away)
            weights = problem.weights
            x = problem.solve(None, x, minimise)


class _Walk:
    """One search, from unknowns `x` or from what is known of other distances, to which it adds what it tries."""

    def __init__(
        self, problem: Problem, source: Walked, x: Array, minimise: Minimiser, *, reached: float, known: list[Tried]
    ) -> None:
        self._problem, self._source, self._minimise, self._known = problem, source, minimise, known
        self._target = problem.within * (1 - MARGIN)
        self._accepted = [x] if reached <= self._target else []
        self._low = Tried(LOOSEST, math.log(reached / self._target) if self._accepted else -np.inf, x)
        self._high = Tried(STIFFEST, np.inf, x)
        self.at, self.is_beaten = 0.0, False
        self._rounds = 2 if problem.is_weighted else 0
        if known and not problem.is_weighted:
            shift, scale = 2 * math.log10(problem.within), math.log(self._target)
            tries = sorted((Tried(t.at - shift, t.off - scale, t.x) for t in known), key=lambda t: t[:2])
            inside = [t for t in tries if t.off <= 0]
            self._accepted += [t.x for t in inside]
            self._low = inside[-1] if inside else self._low._replace(x=tries[0].x)
            beyond = [t for t in tries if t.off > 0 and t.at > self._low.at]
            self._high = beyond[0] if beyond else self._high._replace(x=tries[-1].x)

    def stiffest(self, at: float | None, *, below: float) -> Found | None:
        """The curve, from a first guess of its stiffness; None where the search meets none within the distance, or
        where a curve beyond it is `below` no less uneven: nearer ones are more so."""
        problem, rise, last = self._problem, RISE, self._high._replace(off=np.inf)
        if self._low.at > LOOSEST:
            self.at = self._next(self._low, 0, rise)
        elif self._high.off < np.inf:
            self.at = self._next(self._high, 0, rise)
        else:
            self.at = problem.likely_stiffness(self._low.x) if at is None else at
        first = self.at
        for tries in range(MOST_TRIES):
            if self._is_there(self._low.off):
                break
            low, high, new = self._low, self._high, self._tried()
            if new.off <= 0:
                self._accepted.append(new.x)
                self._low, self._high = new, high if high.off < np.inf else high._replace(x=new.x)
            else:
                self._low, self._high = low if self._accepted else low._replace(x=new.x), new
                if not self._accepted and self.at < HOPELESS and new.off > last.off - CLOSE:
                    break
                if self._is_slow(last, new):
                    self._rounds, self._high, self.at, rise = WEIGHED, Tried(STIFFEST, np.inf, new.x), first, RISE
                    continue
                last = new
                seen = problem.change_of_curvature(new.x)
                if seen > SHARP and fairness(problem.curve(new.x)).mvc > BLIND * seen:
                    break
                if below < np.inf and uneven(fairness(problem.curve(new.x))) >= below:
                    self.is_beaten = True
                    return None
            if self._is_there(new.off):
                break
            self.at = self._next(new, tries, rise)
            rise /= 2
        return self._checked()

    def _is_slow(self, last: Tried, new: Tried) -> bool:
        if self._accepted or self._rounds or not 0 < new.off < math.log(HOPEFUL):
            return False
        return last.off < np.inf and last.off - new.off < SLOW * (last.at - new.at)

    def _is_there(self, off: float) -> bool:
        return -CLOSE <= off <= 0 or self._high.at - self._low.at <= NARROW

    def _next(self, new: Tried, tries: int, rise: float) -> float:
        """The stiffness to be tried next."""
        low, high = self._low, self._high
        if low.at > LOOSEST and high.off < np.inf:
            share = 0.5 if tries > HALVED and tries % 2 else (-AIM - low.off) / (high.off - low.off)
            return low.at + (high.at - low.at) * min(max(share, 0.1), 0.9)
        stride = min(max((-AIM - new.off) / rise, -LONGEST_STRIDE), LONGEST_STRIDE)
        return min(max(new.at + stride, LOOSEST), STIFFEST)

    def _tried(self) -> Tried:
        problem, minimise, weights = self._problem, self._minimise, self._problem.weights
        x = problem.solve(self.at, self._between(), minimise)
        x, reached = problem.minimax(self.at, x, within=self._target, rounds=self._rounds, minimise=minimise)
        if reached > self._target:
            problem.weights = weights
        if not self._rounds:
            shift = 2 * math.log10(problem.within)
            self._known.append(Tried(self.at + shift, math.log(max(reached, 1e-12)), x))
        return Tried(self.at, math.log(max(reached / self._target, 1e-12)), x)

    def _between(self) -> Array:
        """A guess of the unknowns at the stiffness to be tried."""
        low, high = self._low, self._high
        apart = high.x - low.x
        if low.at > LOOSEST and high.off < np.inf and np.abs(apart).max() < ONE_VALLEY:
            return np.asarray(low.x + (self.at - low.at) / (high.at - low.at) * apart)
        return low.x if self.at - low.at < high.at - self.at else high.x

    def _checked(self) -> Found | None:
        # so far only samples of the source were looked at; both ways and denser the distance may be a hair larger
        for x in reversed(self._accepted):
            curve = self._problem.curve(x)
            away = self._source.apart(curve, within=self._problem.within)
            if away <= self._problem.within:
                return Found(curve, away, fairness(curve))
        return None


def with_one_more(curve: Curve) -> Curve:
    """The same curve of one cubic more: the longest is halved."""
    k = int(np.argmax(span_lengths(curve)))
    return chain([section(curve, a, b) for a, b in pairwise([0, k, k + 0.5, k + 1, len(curve)]) if b > a])

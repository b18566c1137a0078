"""One fair curve through joined edges: the curve of `true`.

Of all G1 curves of one, two or three cubics that keep the end points and end tangents of the joined edges and stay
within a stated distance of them, that one is sought whose curvature changes least, by length³ · ∫ (dk/ds)² ds. It is
the minimum of

    mean of (distance / within)²  +  stiffness · (length³ · ∫ (dk/ds)² ds + 3000 · (length · jumps of k at joints)²)

for the largest stiffness that keeps the curve within the distance; the stiffness is found by secants on its logarithm.
The unknowns are the handle lengths (as logarithms, so that no handle turns back), and at each inner joint its place and
its direction, which both handles there share: the curve is G1 by construction. All derivatives are analytic.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import chain as chained
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError, Option
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, line, point, section
from flatcut.geometry.fair_problem import Problem
from flatcut.geometry.fairness import Fairness, fairness
from flatcut.geometry.following import STALLED, Minimiser
from flatcut.geometry.least_squares import least_squares
from flatcut.geometry.length import length, span_lengths
from flatcut.geometry.nearest import nearest

CHECKED = 400
"""Places on either curve at which the deviation is measured in the end."""
MOST_PARTS = 3
"""Cubics tried: one is enough for waistlines, two for armholes."""
LOOSEST, STIFFEST = -10.0, 1.0
"""Decimal logarithms of the stiffness: from a curve that only follows the edges to one that only is fair."""
FIRST_STRIDE = 1.0
"""The first step on that scale, doubled until the distance lies between two tries."""
MOST_TRIES, HALVED = 14, 4
"""Tries in all, and those after which every other one halves."""
CLOSE, NARROW = 0.02, 0.05
"""The search ends this near to the distance, as a part of it, or to the best stiffness."""
HOPELESS = -5.0
"""A curve less stiff than this that still is too far off, and no nearer than the last, will come no nearer."""
NEARLY = 0.9
"""A curve that uses less than this part of the distance may be in the wrong valley: it is looked for from the nearest
one too, and so is one of more than FEW_PARTS cubics, which have more valleys."""
FEW_PARTS = 2
REWEIGHTINGS = 8
"""Rounds of giving far places more weight, before a number of cubics is given up."""
MARGIN = 0.004
"""The largest distance of all places is taken to be larger than that of the samples by this part."""
SAME = 0.01
"""Two starts whose curves have unknowns closer than this have met in one minimum."""
FAIR_ENOUGH = 50.0
"""A change of curvature (mvc) above this and above the source's makes it worth trying one cubic more: garment curves
have 1 to 20, rounded corners more."""
FAIRER = 4.0
"""... and kept where it divides that by this much: fewer handles are easier to edit."""
KEPT = 0.05
"""mm: a length that changes by no more counts as held."""


class UnfairError(GeometryError):
    """No fair curve stays that near; `least`: mm by which the nearest leaves the lines."""

    def __init__(self, *parts: str | Option, least: float = math.inf) -> None:
        super().__init__(*parts)
        self.least = least


class Fairing(NamedTuple):
    """The fair curve; its largest distance from the joined edges (both ways) and its change of length, mm; fairness."""

    curve: Curve
    deviation: float
    length_change: float
    before: Fairness
    after: Fairness


def fair(curves: Sequence[Curve], *, within: float, hold_length: bool = False, weld: float = 0.01) -> Fairing:
    """One fair curve that stays within `within` mm of the curves, which are joined end to start.

    End points and end tangents are kept. With `hold_length` the curve is asked to keep the length as well, with more
    cubics if need be; what is left is in `length_change`. Gaps between the curves up to `weld` mm are closed.

    Errors: GeometryError when the curves do not meet or `within` is not positive; UnfairError when no curve of up to
    three cubics stays that near, which several starts and minimax reweighting could not better.

    >>> from flatcut.geometry.curves import cubic
    >>> waist = [cubic((0, 0), (40, 2), (80, 6), (120, 14)), cubic((120, 14), (160, 26), (200, 30), (240, 30))]
    >>> f = fair(waist, within=1.0)
    >>> round(f.before.kink, 1), f.after.kink, f.deviation <= 1.0, len(f.curve)
    (5.4, 0.0, True, 1)
    """
    return _fair(curves, within=within, hold_length=hold_length, weld=weld, minimise=least_squares)


def _fair(curves: Sequence[Curve], *, within: float, hold_length: bool, weld: float, minimise: Minimiser) -> Fairing:
    """As `fair`, by a given minimiser (the benchmark brings its own)."""
    return Fairer(curves, weld=weld, minimise=minimise).within(within, hold_length=hold_length)


class Fairer:
    """`fair` of the same curves for one distance after another: what does not hang on the distance is found once."""

    def __init__(self, curves: Sequence[Curve], *, weld: float = 0.01, minimise: Minimiser = least_squares) -> None:
        self._source = chain(curves, within=weld)
        self._size = length(self._source)
        self._minimise = minimise
        self._nearest: dict[int, _Nearest] = {}
        if not self._size > 0:
            raise GeometryError("a line of no length cannot be made fair; choose another line")

    def within(self, within: float, *, hold_length: bool = False) -> Fairing:
        """The fair curve within `within` mm; errors as for `fair`."""
        if not within > 0:
            raise GeometryError("a fair curve needs a distance of more than 0 mm within which it may move")
        source, size, minimise = self._source, self._size, self._minimise
        chord = source.end - source.start
        off_chord = np.abs(cross(unit(chord), source.controls - source.start)).max()
        if off_chord <= 1e-9 * size and size - float(np.hypot(*chord)) <= 1e-9 * size:
            straight = line(source.start, source.end)
            change = length(straight) - size
            return Fairing(straight, _apart(source, straight), change, fairness(source), fairness(straight))
        least = np.inf
        best: Fairing | None = None
        smoothest: Curve | None = None
        at: float | None = None
        for parts in range(1, MOST_PARTS + 1):
            if parts not in self._nearest:
                self._nearest[parts] = _Nearest(Problem(source, size, parts, within, hold_length), minimise)
            problem = self._nearest[parts].problem
            problem.within, problem.hold_length = within, hold_length
            found = None
            if smoothest is not None:
                # what fewer cubics come to is smooth already, which the nearest curve of more is not
                problem.weigh(None)
                search = _Search(problem, problem.unknowns_of(_with_one_more(smoothest)), minimise)
                found = search.stiffest(at)
            if found is None or found.deviation < NEARLY * within or parts > FEW_PARTS:
                x, reached = self._nearest[parts].within(within * (1 - MARGIN))
                if reached <= within:
                    search = _Search(problem, x, minimise, reached=reached)
                    other = search.stiffest(None)
                    if other is not None and (found is None or other.after.mvc < found.after.mvc):
                        found = other
                elif found is None:
                    least = min(least, max(reached, _apart(source, problem.curve(x))))
                    smoothest, at = problem.curve(x), None
            if found is not None:
                smoothest, at = found.curve, search.at
            if found is not None and (best is None or _better(found, best, hold_length)):
                best = found
            if best is None:
                continue
            plain = best.after.mvc <= max(FAIR_ENOUGH, best.before.mvc)
            if len(best.curve) < parts or (plain and not (hold_length and abs(best.length_change) > KEPT)):
                break
        if best is None:
            raise UnfairError(
                f"no fair curve of up to {MOST_PARTS} cubics stays within {within:.2f} mm of these lines: the nearest "
                f"leaves them by {least:.2f} mm; allow more, or move the lines",
                least=least,
            )
        return best


def _better(found: Fairing, best: Fairing, hold_length: bool) -> bool:
    """Whether a curve of more cubics is worth them."""
    if hold_length and abs(abs(found.length_change) - abs(best.length_change)) > KEPT:
        return abs(found.length_change) < abs(best.length_change)
    return found.after.mvc < best.after.mvc / FAIRER


class _Nearest:
    """Unknowns near the source, in the order in which they are found; no more are sought than are asked for."""

    def __init__(self, problem: Problem, minimise: Minimiser) -> None:
        self.problem = problem
        self._found: list[tuple[Array, float, Array]] = []
        self._more = self._sought(minimise)

    def within(self, target: float) -> tuple[Array, float]:
        """Unknowns and their largest distance from the source: the first within the distance, else the least."""
        known = len(self._found)
        for k, (x, reached, weights) in enumerate(chained(self._found[:known], self._more)):
            if k >= known:
                self._found.append((x, reached, weights))
            if reached <= target:
                self.problem.weights = weights
                return x, reached
        x, reached, self.problem.weights = min(self._found, key=lambda item: item[1])
        return x, reached

    def _sought(self, minimise: Minimiser) -> Iterator[tuple[Array, float, Array]]:
        problem = self.problem
        tried: list[Array] = []
        for start in problem.starts():
            problem.weigh(None)
            x = problem.solve(None, start, minimise)
            if any(np.abs(x - other).max() < SAME for other in tried):
                continue
            tried.append(x)
            weights, last = problem.weights, np.inf
            # single places that stick out are given more weight: see `Following.minimax`
            for left in range(REWEIGHTINGS, -1, -1):
                away = problem.distances(x)
                reached = float(away.max())
                yield x, reached, weights
                if left == 0 or reached > STALLED * last:
                    break
                problem.weights, last = weights, reached
                problem.weigh(away)
                weights = problem.weights
                x = problem.solve(None, x, minimise)


class _Search:
    """The search for the stiffest curve within the distance, from unknowns `x`.

    How far a curve leaves the source rises with its stiffness: it is followed by secants on both logarithms, each curve
    found from the one whose stiffness is nearest.
    """

    def __init__(self, problem: Problem, x: Array, minimise: Minimiser, *, reached: float = np.inf) -> None:
        self._problem, self._minimise = problem, minimise
        self._target = problem.within * (1 - MARGIN)
        self._accepted = [x] if reached <= self._target else []
        self._low = _Tried(LOOSEST, math.log(reached / self._target) if self._accepted else -np.inf, x)
        self._high = _Tried(STIFFEST, np.inf, x)
        self.at = 0.0

    def stiffest(self, at: float | None) -> Fairing | None:
        """The curve, from a first guess of its stiffness; None where the search meets none within the distance."""
        problem, stride, last = self._problem, FIRST_STRIDE, np.inf
        self.at = problem.likely_stiffness(self._low.x) if at is None else at
        for tries in range(MOST_TRIES):
            low, high, new = self._low, self._high, self._tried()
            if new.off <= 0:
                self._accepted.append(new.x)
                self._low, self._high = new, high if high.off < np.inf else high._replace(x=new.x)
            else:
                self._low, self._high = low if self._accepted else low._replace(x=new.x), new
                if not self._accepted and self.at < HOPELESS and new.off > last - CLOSE:
                    break
                last = new.off
            low, high = self._low, self._high
            if -CLOSE <= new.off <= 0 or high.at - low.at <= NARROW:
                break
            if low.at > LOOSEST and high.off < np.inf:
                share = 0.5 if tries > HALVED and tries % 2 else -low.off / (high.off - low.off)
                self.at = low.at + (high.at - low.at) * min(max(share, 0.1), 0.9)
            else:
                self.at = min(max(self.at + math.copysign(stride, -new.off), LOOSEST), STIFFEST)
                stride *= 2
        return self._checked()

    def _tried(self) -> _Tried:
        problem, minimise, weights = self._problem, self._minimise, self._problem.weights
        nearer = self._low if self.at - self._low.at < self._high.at - self.at else self._high
        x = problem.solve(self.at, nearer.x, minimise)
        rounds = 2 if problem.is_weighted else 0
        x, reached = problem.minimax(self.at, x, within=self._target, rounds=rounds, minimise=minimise)
        if reached > self._target:
            problem.weights = weights
        return _Tried(self.at, math.log(max(reached / self._target, 1e-12)), x)

    def _checked(self) -> Fairing | None:
        # so far only samples of the source were looked at; both ways and denser the distance may be a hair larger
        source = self._problem.source
        for x in reversed(self._accepted):
            curve = self._problem.curve(x)
            away = _apart(source, curve)
            if away <= self._problem.within:
                return Fairing(curve, away, length(curve) - length(source), fairness(source), fairness(curve))
        return None


class _Tried(NamedTuple):
    """The unknowns at a stiffness (its decimal logarithm), and the logarithm of their distance over what may be."""

    at: float
    off: float
    x: Array


def _with_one_more(curve: Curve) -> Curve:
    """The same curve of one cubic more: the longest is halved."""
    k = int(np.argmax(span_lengths(curve)))
    return chain([section(curve, a, b) for a, b in pairwise([0, k, k + 0.5, k + 1, len(curve)]) if b > a])


def _apart(a: Curve, b: Curve) -> float:
    """The largest distance of places on either curve from the other."""
    away = 0.0
    for p, q in ((a, b), (b, a)):
        places = np.union1d(np.linspace(0, len(p), CHECKED + 1), np.arange(len(p) + 1))
        away = max(away, float(nearest(q, point(p, places))[1].max()))
    return away

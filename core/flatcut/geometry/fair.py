"""One fair curve through joined edges: the curve of `true`.

Of all G1 curves of one, two or three cubics that keep the end points and end tangents of the joined edges and stay
within a stated distance of them, that one is sought whose curvature changes least, by length³ · ∫ (dk/ds)² ds. It is
the minimum of

    mean of (distance / within)²  +  stiffness · (length³ · ∫ (dk/ds)² ds + 3000 · (length · jumps of k at joints)²)

for the largest stiffness that keeps the curve within the distance; the stiffness is found by halving on its logarithm.
The unknowns are the handle lengths (as logarithms, so that no handle turns back), and at each inner joint its place and
its direction, which both handles there share: the curve is G1 by construction. All derivatives are analytic.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import chain as chained
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError, Option
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, line, point
from flatcut.geometry.fair_problem import Problem
from flatcut.geometry.fairness import Fairness, fairness
from flatcut.geometry.following import STALLED, Minimiser
from flatcut.geometry.length import length
from flatcut.geometry.levenberg import least_squares
from flatcut.geometry.nearest import nearest

CHECKED = 400
"""Places on either curve at which the deviation is measured in the end."""
MOST_PARTS = 3
"""Cubics tried: one is enough for waistlines, two for armholes."""
LOOSEST, STIFFEST = -10.0, 1.0
"""Decimal logarithms of the stiffness: from a curve that only follows the edges to one that only is fair."""
HALVINGS = 7
"""Halvings of that range: the stiffness comes within a factor of 1.3 of the best."""
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
            return _reported(source, line(source.start, source.end))
        least = np.inf
        best: Fairing | None = None
        for parts in range(1, MOST_PARTS + 1):
            if parts not in self._nearest:
                self._nearest[parts] = _Nearest(Problem(source, size, parts, within, hold_length), minimise)
            problem = self._nearest[parts].problem
            problem.within, problem.hold_length = within, hold_length
            x, reached = self._nearest[parts].within(within * (1 - MARGIN))
            found = _fairest(problem, x, minimise) if reached <= within else None
            if found is None:
                least = min(least, max(reached, _apart(source, problem.curve(x))))
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


def _fairest(problem: Problem, x: Array, minimise: Minimiser) -> Fairing | None:
    """The stiffest curve within the distance, from unknowns `x` that are within it."""
    low, high = LOOSEST, STIFFEST
    rounds = 2 if problem.is_weighted else 0
    accepted = [x]
    target = problem.within * (1 - MARGIN)
    for halving in range(HALVINGS + 1):
        middle = (low + high) / 2 if halving else high
        weights = problem.weights
        trial = problem.solve(middle, accepted[-1], minimise)
        trial, reached = problem.minimax(middle, trial, within=target, rounds=rounds, minimise=minimise)
        if reached <= target:
            accepted.append(trial)
            low = middle
            if halving == 0:
                break
        else:
            high, problem.weights = middle, weights
    # so far only samples of the source were looked at; both ways and denser the distance may be a hair larger
    for x in reversed(accepted):
        if _apart(problem.source, problem.curve(x)) <= problem.within:
            return _reported(problem.source, problem.curve(x))
    return None


def _reported(source: Curve, found: Curve) -> Fairing:
    change = length(found) - length(source)
    return Fairing(found, _apart(source, found), change, fairness(source), fairness(found))


def _apart(a: Curve, b: Curve) -> float:
    """The largest distance of places on either curve from the other."""
    away = 0.0
    for p, q in ((a, b), (b, a)):
        places = np.union1d(np.linspace(0, len(p), CHECKED + 1), np.arange(len(p) + 1))
        away = max(away, float(nearest(q, point(p, places))[1].max()))
    return away

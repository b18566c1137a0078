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
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError, Option
from flatcut.geometry.arrays import cross, unit
from flatcut.geometry.beside import apart
from flatcut.geometry.curves import Curve, chain, line
from flatcut.geometry.fair_problem import Problem, Source
from flatcut.geometry.fair_search import FairSearch, Found, uneven
from flatcut.geometry.fairness import Fairness, fairness
from flatcut.geometry.following import Minimiser
from flatcut.geometry.least_squares import least_squares
from flatcut.geometry.length import length

MOST_PARTS = 3
"""Cubics tried: one is enough for waistlines, two for armholes."""
NEARLY = 0.9
"""A curve that uses less than this part of the distance may be in the wrong valley: it is looked for from the nearest
one too, and so is one of more than FEW_PARTS cubics, which have more valleys."""
FEW_PARTS = 2
TOO_FAR = 20.0
"""... and so is one of more cubics where the curve of fewer leaves the lines by more than so many times the distance:
it says nothing about one that stays beside them."""
FAIR_ENOUGH = 50.0
"""A change of curvature (mvc) above this and above the source's makes it worth trying one cubic more: garment curves
have 1 to 20, rounded corners more."""
FAIRER = 4.0
"""... and kept where it divides that by this much: fewer handles are easier to edit."""
KINK = 0.1
"""Degrees: a smaller kink of the source is none."""
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
        source = chain(curves, within=weld)
        self._source = Source(source, length(source))
        self._minimise = minimise
        self._searches: dict[int, FairSearch] = {}
        if not self._source.size > 0:
            raise GeometryError("a line of no length cannot be made fair; choose another line")
        self._before = fairness(source)
        # the jump of curvature at a kink is a part of the kink
        self._was = uneven(self._before) if self._before.kink < KINK else self._before.mvc

    def within(self, within: float, *, hold_length: bool = False) -> Fairing:
        """The fair curve within `within` mm; errors as for `fair`."""
        if not within > 0:
            raise GeometryError("a fair curve needs a distance of more than 0 mm within which it may move")
        source, size = self._source.curve, self._source.size
        chord = source.end - source.start
        off_chord = np.abs(cross(unit(chord), source.controls - source.start)).max()
        if off_chord <= 1e-9 * size and size - float(np.hypot(*chord)) <= 1e-9 * size:
            straight = line(source.start, source.end)
            return self._fairing(Found(straight, apart(source, straight), fairness(straight)))
        least = np.inf
        best: Found | None = None
        smoothest: Curve | None = None
        at: float | None = None
        far = 0.0
        for parts in range(1, MOST_PARTS + 1):
            search = self._search(parts)
            search.aim(within, hold_length=hold_length)
            found = None
            below = np.inf if best is None or hold_length else uneven(best.after) / FAIRER
            if smoothest is not None and far <= TOO_FAR * within:
                # what fewer cubics come to is smooth already, which the nearest curve of more is not
                found = search.from_fewer(smoothest, at, below=below)
                if search.is_beaten and parts <= FEW_PARTS:
                    break
            if found is None or found.away < NEARLY * within or parts > FEW_PARTS:
                other, x, reached = search.from_nearest(below=below)
                if other is not None and (found is None or uneven(other.after) < uneven(found.after)):
                    found = other
                elif found is None and reached > within:
                    nearest = search.problem.curve(x)
                    far = max(reached, apart(source, nearest))
                    least = min(least, far)
                    smoothest, at = nearest, None
            if found is not None:
                smoothest, at, far = found.curve, search.at, found.away
            if found is not None and (best is None or self._is_worth_more(found, best, hold_length)):
                best = found
            if best is None:
                continue
            plain = uneven(best.after) <= max(FAIR_ENOUGH, self._was)
            if len(best.curve) < parts or (plain and not (hold_length and abs(self._longer(best)) > KEPT)):
                break
        if best is None:
            raise UnfairError(
                f"no fair curve of up to {MOST_PARTS} cubics stays within {within:.2f} mm of these lines: the nearest "
                f"leaves them by {least:.2f} mm; allow more, or move the lines",
                least=least,
            )
        return self._fairing(best)

    def _search(self, parts: int) -> FairSearch:
        if parts not in self._searches:
            problem = Problem(self._source, parts, 1.0, hold_length=False)
            self._searches[parts] = FairSearch(problem, self._source.walked, self._minimise)
        return self._searches[parts]

    def _fairing(self, found: Found) -> Fairing:
        return Fairing(found.curve, found.away, self._longer(found), self._before, found.after)

    def _longer(self, found: Found) -> float:
        return length(found.curve) - self._source.size

    def _is_worth_more(self, found: Found, best: Found, hold_length: bool) -> bool:
        """Whether a curve of more cubics is worth them."""
        if hold_length:
            now, before = abs(self._longer(found)), abs(self._longer(best))
            if abs(now - before) > KEPT:
                return now < before
        return uneven(found.after) < uneven(best.after) / FAIRER

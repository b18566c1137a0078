"""Seams with darts, drawn with the darts closed and then opened: the sewn seam is one curve, the legs are equal."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple, TypeVar

import numpy as np

from flatcut.blocks.fairing import about, fair, handles
from flatcut.errors import GeometryError
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.bernstein import rising
from flatcut.geometry.curves import Curve, section, transform

ROUNDS, SETTLED = 20, 1e-10
"""The angle of a dart follows from its leg, and the leg from all angles: by C. G. Broyden's method (A class of methods
for solving nonlinear simultaneous equations, 1965) a few rounds settle it, until a leg changes by less than SETTLED
mm."""


COMES_OUT, MOST_ROUNDS = 1e-7, 40
"""mm within which a waist comes out at its girth, and the rounds that may take."""
_Waist = TypeVar("_Waist")


@dataclass(frozen=True, kw_only=True)
class Wedge:
    """A dart to be opened: its point (2,), the unit vector of its axis toward the edge, its intake in mm, its name."""

    name: str
    apex: Array
    axis: Array
    intake: float


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A seam with its darts open. angles: radians; closed: the seam as it is sewn, one curve in the frame of its first
    part; bounds: the places on it where the darts stand, and its ends; motions: where each part goes."""

    angles: tuple[float, ...]
    closed: Curve
    bounds: tuple[float, ...]
    motions: tuple[Affine, ...]

    @cached_property
    def parts(self) -> tuple[Curve, ...]:
        """The curves between the darts in walking order."""
        if len(self.motions) == 1:
            return (self.closed,)
        ways = zip(pairwise(self.bounds), self.motions, strict=True)
        return tuple(transform(section(self.closed, a, b), motion) for (a, b), motion in ways)

    @cached_property
    def feet(self) -> tuple[Array, ...]:
        """The ends of each dart, (2, 2)."""
        return tuple(np.array([one.end, two.start]) for one, two in pairwise(self.parts))


def opened(
    start: Array,
    along: Array,
    end: Array,
    into: Array,
    wedges: Sequence[Wedge],
) -> Opened:
    """A seam from `start` to `end` (both as they lie with the darts open) with darts in it, in walking order.

    along, into: directions of the walk at both ends, as drawn open. The closed seam is drawn by `fair`.
    Errors: GeometryError when a dart misses the seam or two darts overlap.
    """
    if not wedges:
        curve = fair(start, along, end, into)
        return Opened(angles=(), closed=curve, bounds=(0.0, float(len(curve))), motions=(IDENTITY,))
    walk = end - start
    signs = [1.0 if float(np.array([-w.axis[1], w.axis[0]]) @ walk) > 0 else -1.0 for w in wedges]
    ends = _Ends(*(complex(*v.tolist()) for v in (start, along, end, into)))
    reach = np.array([_away(start, end, w) for w in wedges])
    slope, before = -np.eye(len(wedges)), (reach, reach)
    for k in range(ROUNDS):
        angles = [2 * math.asin(min(0.9, w.intake / 2 / r)) for w, r in zip(wedges, reach.tolist(), strict=True)]
        places, found = _placed(ends, wedges, signs, angles)
        more = np.array(found) - reach
        if k:
            step, change = reach - before[0], more - before[1]
            slope += np.outer(change - slope @ step, step) / float(step @ step)
        before = reach, more
        if float(np.abs(more).max()) < SETTLED:
            break
        reach = reach - np.linalg.solve(slope, more)
    motions = _motions(wedges, signs, angles)
    back = motions[-1].inverse()
    closed = fair(start, along, back.apply(end), back.apply(into) - back.apply(np.zeros(2)))
    bounds = [0.0, *places, float(len(closed))]
    if any(b - a < 1e-6 for a, b in pairwise(bounds)):
        raise GeometryError(f"the darts {', '.join(w.name for w in wedges)} overlap")
    return Opened(angles=tuple(angles), closed=closed, bounds=tuple(bounds), motions=tuple(motions))


def come_out(drawn: Callable[[float], tuple[_Waist, float]], taken: float) -> tuple[_Waist, float]:
    """A waist that comes out at its girth, and the mm that each side edge takes off for that.

    drawn: the waist for so many mm, and by how many mm it is too long then; taken: where to begin. By the secant
    method. Errors: GeometryError where it does not come out.

    >>> [round(x, 6) for x in come_out(lambda taken: (taken, 30.0 - 2.2 * taken), 10.0)]
    [13.636364, 13.636364]
    """
    # at first each side edge takes what is too much by half; from the second round on it is known how it is taken
    slope, before, step = -2.0, 0.0, 0.0
    for k in range(MOST_ROUNDS):
        waist, excess = drawn(taken)
        if abs(excess) < COMES_OUT:
            return waist, taken
        slope = min((excess - before) / step, -0.5) if k else slope
        before, step = excess, -excess / slope
        taken += step
    raise GeometryError("the waist does not come out with these darts")


def _away(start: Array, end: Array, wedge: Wedge) -> float:
    """mm from the dart's point along its axis to the straight line between the seam's ends."""
    chord = end - start
    return max(1.0, float(abs(cross(start - wedge.apex, chord) / cross(wedge.axis, chord))))


def _motions(wedges: Sequence[Wedge], signs: Sequence[float], angles: Sequence[float]) -> list[Affine]:
    """Where each part goes when the darts before it are opened, the first part staying."""
    motions = [IDENTITY]
    for wedge, sign, theta in zip(wedges, signs, angles, strict=True):
        motions.append(about(wedge.apex, sign * theta) @ motions[-1])
    return motions


class _Ends(NamedTuple):
    """Ends of a seam and directions there, as complex numbers."""

    start: complex
    along: complex
    end: complex
    into: complex


def _placed(
    ends: _Ends, wedges: Sequence[Wedge], signs: Sequence[float], angles: Sequence[float]
) -> tuple[list[float], list[float]]:
    """Where on the closed seam, a curve of one span, each dart stands, and how long its legs are then, mm.

    Points are complex numbers here, a motion takes z to turn · z + shift.
    """
    apexes = [complex(*w.apex.tolist()) for w in wedges]
    motions = [(1.0 + 0.0j, 0.0j)]
    for apex, sign, theta in zip(apexes, signs, angles, strict=True):
        own = cmath.rect(1.0, sign * theta)
        turn, shift = motions[-1]
        motions.append((own * turn, own * (shift - apex) + apex))
    turn, shift = motions[-1]
    end = (ends.end - shift) / turn
    first, last, _ = handles(ends.start, ends.along, end, ends.into / turn)
    places: list[float] = []
    reach: list[float] = []
    for wedge, apex, sign, theta, (turn, shift) in zip(wedges, apexes, signs, angles, motions, strict=False):
        leg = complex(*wedge.axis.tolist()) * cmath.rect(1.0, -sign * theta / 2)
        drawn = [(turn * q + shift - apex) / leg for q in (ends.start, first, last, end)]
        u = rising([sign * q.imag for q in drawn], places[-1] if places else 0.0)
        if u is None:
            raise GeometryError(f"{wedge.name} does not fit on its seam")
        places.append(u)
        v = 1 - u
        reach.append(
            abs(v * v * v * drawn[0] + 3 * v * v * u * drawn[1] + 3 * v * u * u * drawn[2] + u * u * u * drawn[3])
        )
    return places, reach

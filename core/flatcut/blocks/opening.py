"""Seams with darts, drawn with the darts closed and then opened: the sewn seam is one curve, the legs are equal."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.blocks.fairing import about, fair, rotated
from flatcut.errors import GeometryError
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, point, section, transform

ROUNDS, SETTLED = 20, 1e-10
"""The angle of a dart follows from its leg, and the leg from all angles: each round gains about two digits
until a leg changes by less than SETTLED mm."""


@dataclass(frozen=True, kw_only=True)
class Wedge:
    """A dart to be opened: its point (2,), the unit vector of its axis toward the edge, its intake in mm, its name."""

    name: str
    apex: Array
    axis: Array
    intake: float


@dataclass(frozen=True, kw_only=True)
class Opened:
    """A seam with its darts open. parts: the curves between the darts in walking order; feet: per dart (2, 2);
    angles: radians; closed: the seam as it is sewn, one curve in the frame of its first part."""

    parts: tuple[Curve, ...]
    feet: tuple[Array, ...]
    angles: tuple[float, ...]
    closed: Curve


def opened(
    start: Array,
    along: Array,
    end: Array,
    into: Array,
    wedges: Sequence[Wedge],
    *,
    draw: Callable[[Array, Array, Array, Array], Curve] = fair,
) -> Opened:
    """A seam from `start` to `end` (both as they lie with the darts open) with darts in it, in walking order.

    along, into: directions of the walk at both ends, as drawn open. draw: the curve of the closed seam.
    Errors: GeometryError when a dart misses the seam or two darts overlap.
    """
    if not wedges:
        curve = draw(start, along, end, into)
        return Opened(parts=(curve,), feet=(), angles=(), closed=curve)
    walk = end - start
    signs = [1.0 if float(np.array([-w.axis[1], w.axis[0]]) @ walk) > 0 else -1.0 for w in wedges]
    reach = [_away(start, end, w) for w in wedges]
    for _ in range(ROUNDS):
        angles = [2 * math.asin(min(0.9, w.intake / 2 / r)) for w, r in zip(wedges, reach, strict=True)]
        motions = _motions(wedges, signs, angles)
        back = motions[-1].inverse()
        closed = draw(start, along, back.apply(end), back.apply(into) - back.apply(np.zeros(2)))
        places = _places(closed, wedges, signs, angles, motions)
        feet = [m.apply(point(closed, u)) for m, u in zip(motions, places, strict=False)]
        before = reach
        reach = [float(np.linalg.norm(f - w.apex)) for f, w in zip(feet, wedges, strict=True)]
        if max(abs(a - b) for a, b in zip(before, reach, strict=True)) < SETTLED:
            break
    bounds = [0.0, *places, float(len(closed))]
    if any(b - a < 1e-6 for a, b in pairwise(bounds)):
        raise GeometryError(f"the darts {', '.join(w.name for w in wedges)} overlap")
    parts = tuple(transform(section(closed, a, b), m) for (a, b), m in zip(pairwise(bounds), motions, strict=True))
    pairs = tuple(np.array([parts[k].end, parts[k + 1].start]) for k in range(len(wedges)))
    return Opened(parts=parts, feet=pairs, angles=tuple(angles), closed=closed)


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


def _places(
    closed: Curve, wedges: Sequence[Wedge], signs: Sequence[float], angles: Sequence[float], motions: Sequence[Affine]
) -> list[float]:
    """Where on the closed seam, a curve of one span, each dart stands."""
    found: list[float] = []
    low = 0.0
    for wedge, sign, theta, motion in zip(wedges, signs, angles, motions, strict=False):
        leg = rotated(wedge.axis, -sign * theta / 2)
        drawn = transform(closed, motion)

        c = [sign * float(cross(leg, q - wedge.apex)) for q in drawn.controls[0]]
        a, b = low, 1.0
        if _bernstein(c, a) >= 0 or _bernstein(c, b) <= 0:
            raise GeometryError(f"{wedge.name} does not fit on its seam")
        for _ in range(52):
            middle = (a + b) / 2
            a, b = (middle, b) if _bernstein(c, middle) < 0 else (a, middle)
        low = (a + b) / 2
        found.append(low)
    return found


def _bernstein(c: Sequence[float], t: float) -> float:
    s = 1 - t
    return s * s * s * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t * t * t * c[3]

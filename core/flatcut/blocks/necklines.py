"""The necklines of back and front as one line over the shoulder: one direction and one bend where both cubics meet.

A back neckline rises little over its width. Were it squared to the shoulder it would hook up in the last centimetre;
so where both meet, they leave the square together, the one by as much as the other, and the bend runs through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import SHORT, derivatives, rotated
from flatcut.blocks.touching import descended
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, cubic

GENTLE, REACH = 29.0, 22.0
"""mm: no sharper bend than of the first radius within the second from the shoulder. The trade asks for 25 mm within
20 mm (common practice, no source); something is kept in hand."""
JUMP = 2.0
"""mm over which a jump of bend at the shoulder counts as spread: the less, the heavier it weighs."""
UPRIGHT = math.radians(2)
"""The front neckline leaves the shoulder so far at least inside the upright: it never runs out toward the arm."""
LEAST_TURN = math.radians(6)
"""The least that the back may leave the square at the shoulder, where the shoulders slope little."""
STARTS = ((0.65, (0.8, 0.8, 0.3, 1.0)), (0.9, (1.5, -0.3, 0.3, 1.0)))
"""Where the search starts: a part of the most turn, and numbers behind the four handles."""


@dataclass(frozen=True, kw_only=True)
class _Neck:
    """Ends of both lines, the directions square to the shoulder there, and the level direction at both centres."""

    nape: Array
    back: Array
    back_square: Array
    front: Array
    front_square: Array
    flat: Array

    @property
    def most(self) -> float:
        """Radians that the back may leave the square at the shoulder, and the front with it."""
        return max(LEAST_TURN, math.atan2(float(self.front_square[0]), float(self.front_square[1])) - UPRIGHT)

    def spans(self, x: Array) -> Array | None:
        """Both cubics (2, 4, 2) for five free numbers: the turn and four handles; None where they would not bend one
        way only."""
        turn = self.most * _part(float(x[0]))
        right = np.array([1.0, 0.0])
        ends = (
            (self.nape, right, self.back, rotated(self.back_square, turn)),
            (self.front, rotated(self.front_square, turn), self.flat, right),
        )
        found = []
        for k, (start, along, end, into) in enumerate(ends):
            bend = float(cross(along, into))
            if abs(bend) < 1e-6:
                return None
            near, far = float(cross(end - start, into)) / bend, float(cross(along, end - start)) / bend
            if min(near, far) <= 1.0:
                return None
            near, far = (SHORT * m * _part(float(v)) for m, v in ((near, x[1 + 2 * k]), (far, x[2 + 2 * k])))
            found.append([start, start + near * along, end - far * into, end])
        return np.array(found)


def necklines(
    nape: Array, back: Array, back_square: Array, front: Array, front_square: Array, flat: Array
) -> tuple[Curve, Curve]:
    """The back neckline from `nape`, level there, to `back`, and the front's from `front` to `flat`, level there.

    back_square, front_square: unit vectors of the walk square to the shoulder at both neck points, darts closed.
    Of all pairs whose bend runs on over the shoulder, the one that bends most evenly.
    """
    neck = _Neck(nape=nape, back=back, back_square=back_square, front=front, front_square=front_square, flat=flat)

    def cost(x: Array) -> float:
        spans = neck.spans(x)
        return math.inf if spans is None else _uneven(spans)

    starts = [np.array([_free(part), *row]) for part, row in STARTS]
    best = min((descended(cost, at, size=0.6, rounds=60) for at in starts), key=cost)
    best = descended(cost, descended(cost, best, size=0.25, rounds=160), size=0.05, rounds=160)
    spans = neck.spans(best)
    assert spans is not None
    return cubic(*spans[0]), cubic(*spans[1])


def _uneven(spans: Array) -> float:
    """How unevenly the joined line bends, its jump of bend at the shoulder and what is too sharp there weighed in."""
    first, second = derivatives(spans)
    speed = np.hypot(first[..., 0], first[..., 1])
    bend = (first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]) / speed**3
    step = (speed[:, 1:] + speed[:, :-1]) / 2 / (speed.shape[1] - 1)
    length = step.sum()
    away = np.stack([np.append(np.cumsum(step[0][::-1])[::-1], 0.0), np.insert(np.cumsum(step[1]), 0, 0.0)])
    sharp = np.maximum(0.0, GENTLE * np.abs(bend) - 1)[away <= REACH]
    jump = float(bend[0, -1] - bend[1, 0])
    changes = ((bend[:, 1:] - bend[:, :-1]) ** 2 / step).sum()
    return float(length**3 * (changes + jump**2 / JUMP) + 4e3 * (sharp**2).sum())


def _part(value: float) -> float:
    """Any number as a part of 1."""
    return 0.02 + 0.97 / (1 + math.exp(-min(max(value, -30.0), 30.0)))


def _free(part: float) -> float:
    inner = min(max((part - 0.02) / 0.97, 1e-3), 1 - 1e-3)
    return math.log(inner / (1 - inner))

"""The necklines of back and front as one line over the shoulder: one direction and one bend where both cubics meet.

A back neckline rises little over its width. Were it squared to the shoulder it would hook up in the last centimetre;
so where both meet, they leave the square together, the one by as much as the other, and the bend runs through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import SHORT, derivatives
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, cubic
from flatcut.geometry.levenberg import least_squares

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
ASIDE = 1e-6
"""How far aside a number is tried for the slope of what is uneven."""
STEPS, FINE, AGAIN = 60, 1e-5, 4
"""Steps of a search, and how closely the numbers are settled by searching again from where it ended, at most so often:
far below a hundredth of a millimetre on any neckline."""
SHARP = math.sqrt(4e3)
"""How heavily a bend sharper than GENTLE weighs."""


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
        found = []
        for k, (start, along, end, into) in enumerate(
            (
                (self.nape, (1.0, 0.0), self.back, _turned(self.back_square, turn)),
                (self.front, _turned(self.front_square, turn), self.flat, (1.0, 0.0)),
            )
        ):
            (x0, y0), (x3, y3) = start.tolist(), end.tolist()
            across, down = x3 - x0, y3 - y0
            bend = along[0] * into[1] - along[1] * into[0]
            if abs(bend) < 1e-6:
                return None
            near, far = (across * into[1] - down * into[0]) / bend, (along[0] * down - along[1] * across) / bend
            if min(near, far) <= 1.0:
                return None
            near, far = SHORT * near * _part(float(x[1 + 2 * k])), SHORT * far * _part(float(x[2 + 2 * k]))
            first = x0 + near * along[0], y0 + near * along[1]
            last = x3 - far * into[0], y3 - far * into[1]
            found.append(((x0, y0), first, last, (x3, y3)))
        return np.array(found)

    def uneven(self, x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
        """What `uneven` gives for five free numbers, and its slopes; far too much where there are no such lines."""
        tried = [self.spans(one) for one in ([x, *(x + ASIDE * np.eye(5))] if slopes else [x])]
        there = [spans for spans in tried if spans is not None]
        if len(there) < len(tried):
            return np.full(RESIDUALS, 1e9), np.zeros((RESIDUALS, 5))
        found = uneven(np.array(there))
        return found[0], (found[1:] - found[0]).T / ASIDE


def necklines(
    nape: Array, back: Array, back_square: Array, front: Array, front_square: Array, flat: Array
) -> tuple[Curve, Curve]:
    """The back neckline from `nape`, level there, to `back`, and the front's from `front` to `flat`, level there.

    back_square, front_square: unit vectors of the walk square to the shoulder at both neck points, darts closed.
    Of all pairs whose bend runs on over the shoulder, the one that bends most evenly. Errors: GeometryError where the
    neck points lie so that no such pair bends one way only.
    """
    neck = _Neck(nape=nape, back=back, back_square=back_square, front=front, front_square=front_square, flat=flat)
    ended = [least_squares(neck.uneven, np.array([_free(part), *row]), steps=STEPS) for part, row in STARTS]
    best = min(ended, key=lambda x: float((neck.uneven(x, slopes=False)[0] ** 2).sum()))
    for _ in range(AGAIN):
        before, best = best, least_squares(neck.uneven, best, steps=STEPS)
        if np.abs(best - before).max() < FINE:
            break
    spans = neck.spans(best)
    if spans is None:
        raise GeometryError("no neckline runs on over these shoulders; check neck, shoulder and front-waist-length")
    return cubic(*spans[0]), cubic(*spans[1])


def uneven(spans: Array) -> Array:
    """How unevenly joined lines (..., 2, 4, 2) bend, as numbers (..., RESIDUALS) whose squares add up: the changes of
    bend along both, the jump of bend at the shoulder, and what is too sharp there."""
    first, second = derivatives(spans)
    speed = np.hypot(first[..., 0], first[..., 1])
    bend = (first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]) / speed**3
    step = (speed[..., 1:] + speed[..., :-1]) / 2 / (speed.shape[-1] - 1)
    weight = step.sum(axis=(-2, -1)) ** 1.5
    away = np.zeros_like(speed)
    away[..., 0, :-1] = np.cumsum(step[..., 0, ::-1], axis=-1)[..., ::-1]
    away[..., 1, 1:] = np.cumsum(step[..., 1, :], axis=-1)
    sharp = np.where(away <= REACH, np.maximum(0.0, GENTLE * np.abs(bend) - 1), 0.0)
    changes = (bend[..., 1:] - bend[..., :-1]) / np.sqrt(step)
    jump = (bend[..., 0, -1] - bend[..., 1, 0]) / math.sqrt(JUMP)
    flat = (*weight.shape, -1)
    parts = [weight[..., None] * changes.reshape(flat), (weight * jump)[..., None], SHARP * sharp.reshape(flat)]
    return np.concatenate(parts, axis=-1)


RESIDUALS = uneven(np.arange(16.0).reshape(2, 4, 2) ** 2).shape[-1]


def _turned(way: Array, radians: float) -> tuple[float, float]:
    cos, sin = math.cos(radians), math.sin(radians)
    x, y = way.tolist()
    return cos * x - sin * y, sin * x + cos * y


def _part(value: float) -> float:
    """Any number as a part of 1."""
    return 0.02 + 0.97 / (1 + math.exp(-min(max(value, -30.0), 30.0)))


def _free(part: float) -> float:
    inner = min(max((part - 0.02) / 0.97, 1e-3), 1 - 1e-3)
    return math.log(inner / (1 - inner))

"""The necklines of back and front as one line over the shoulder: one direction and one bend where both cubics meet.

A back neckline rises little over its width. Were it squared to the shoulder it would hook up in the last centimetre;
so where both meet, they leave the square together, the one by as much as the other, and the bend runs through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import SHORT, bends
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.curves import Curve, cubic
from flatcut.geometry.newton import valleys

GENTLE, REACH = 29.0, 22.0
"""mm: no sharper bend than of the first radius within the second from the shoulder. The trade asks for 25 mm within
20 mm (common practice, no source); something is kept in hand."""
JUMP = 2.0
"""mm over which a jump of bend at the shoulder counts as spread: the less, the heavier it weighs."""
UPRIGHT = math.radians(2)
"""The front neckline leaves the shoulder so far at least inside the upright: it never runs out toward the arm."""
LEAST_TURN = math.radians(6)
"""The least that the back may leave the square at the shoulder, where the shoulders slope little."""
LEAST, MOST = 0.02, 0.99
"""Least and most of the turn and of each handle, as parts of what they may be."""
_STARTS = np.arcsin(
    (2 * np.array([[0.65, 0.7, 0.7, 0.6, 0.75], [0.9, 0.8, 0.4, 0.6, 0.75]]) - LEAST - MOST) / (MOST - LEAST)
)
"""Where the search starts: parts for the turn and the four handles."""
ROUGH = 8
"""Steps from each of the starts: then the search goes on from the best."""
FINE = 1e-5
"""How closely the numbers are settled: far below a hundredth of a millimetre on any neckline."""
FAR_TOO_MUCH = 1e18
_LEVEL = (1.0, 0.0)
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

    def spans(self, x: Array) -> tuple[Array, BoolArray]:
        """Both cubics (..., 2, 4, 2) for five free numbers (..., 5), the turn and four handles, and whether they bend
        one way only."""
        part = _part(x)
        turn = self.most * part[..., 0]
        cos, sin = np.cos(turn), np.sin(turn)
        spans = np.empty((*turn.shape, 2, 4, 2))
        sound = np.ones(turn.shape, dtype=np.bool_)
        back, front = (
            (cos * x - sin * y, sin * x + cos * y) for x, y in (self.back_square.tolist(), self.front_square.tolist())
        )
        for k, (start, along, end, into) in enumerate(
            ((self.nape, _LEVEL, self.back, back), (self.front, front, self.flat, _LEVEL))
        ):
            across, down = (end - start).tolist()
            bend = along[0] * into[1] - along[1] * into[0]
            meets = np.abs(bend) >= 1e-6
            bend = np.where(meets, bend, 1.0)
            near, far = (across * into[1] - down * into[0]) / bend, (along[0] * down - along[1] * across) / bend
            sound &= meets & (near > 1.0) & (far > 1.0)
            near, far = SHORT * near * part[..., 1 + 2 * k], SHORT * far * part[..., 2 + 2 * k]
            spans[..., k, 0, :], spans[..., k, 3, :] = start, end
            for axis in (0, 1):
                spans[..., k, 1, axis] = start[axis] + near * along[axis]
                spans[..., k, 2, axis] = end[axis] - far * into[axis]
        return spans, sound

    def uneven(self, x: Array) -> Array:
        """How unevenly the lines of free numbers (k, 5) bend, (k,); far too much where there are no such lines."""
        spans, sound = self.spans(x)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            return np.where(sound, (uneven(spans) ** 2).sum(axis=-1), FAR_TOO_MUCH)


def necklines(
    nape: Array, back: Array, back_square: Array, front: Array, front_square: Array, flat: Array
) -> tuple[Curve, Curve]:
    """The back neckline from `nape`, level there, to `back`, and the front's from `front` to `flat`, level there.

    back_square, front_square: unit vectors of the walk square to the shoulder at both neck points, darts closed.
    Of all pairs whose bend runs on over the shoulder, the one that bends most evenly. Errors: GeometryError where the
    neck points lie so that no such pair bends one way only.
    """
    neck = _Neck(nape=nape, back=back, back_square=back_square, front=front, front_square=front_square, flat=flat)
    best = valleys(neck.uneven, _STARTS, steps=ROUGH)
    best = valleys(neck.uneven, best[[int(np.argmin(neck.uneven(best)))]], settled=FINE)[0]
    spans, sound = neck.spans(best)
    if not sound:
        raise GeometryError("no neckline runs on over these shoulders; check neck, shoulder and front-waist-length")
    return cubic(*spans[0]), cubic(*spans[1])


def uneven(spans: Array) -> Array:
    """How unevenly joined lines (..., 2, 4, 2) bend, as numbers (..., m) whose squares add up: the changes of bend
    along both, the jump of bend at the shoulder, and what is too sharp there."""
    speed, bend = bends(spans)
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


def _part(value: Array) -> Array:
    """Any numbers as parts of 1: where a part is best at an end of its range, its number has a valley there."""
    return np.asarray((LEAST + MOST) / 2 + (MOST - LEAST) / 2 * np.sin(value))

"""Where words stand on a picture: beside what they speak of, on no line and on no other words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from flatcut.drawing.ink import Stroke, Words
from flatcut.drawing.roles import LEADER, WORDS, Role
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, flatten, line
from flatcut.marking.labels import block

LETTER = 2.4
"""mm of the page: the height of letters on a picture."""
DENSE = 0.7
"""mm of the page between the points by which lines are known."""
WAYS = np.array([[math.cos(a), math.sin(a)] for a in np.arange(16) * math.pi / 8])
FAR = (0.9, 1.4, 2.1, 3.0, 4.2, 5.6, 7.5)
"""How far words may stand from what they speak of, in letters, the nearest first."""
FARTHER = (9.5, 12.0, 15.0)
"""The same where all of these are taken: there words stand on no line at all."""
LED = 2.5
"""So many letters away a thin line leads to them."""
CROWDED = 5
"""Points of lines that words may cover where there is no other place."""


class Room:
    """A picture of that size, mm of the page, with the lines drawn on it and the words that stand there so far."""

    def __init__(self, size: tuple[float, float], strokes: Iterable[Stroke]) -> None:
        self._size = np.array(size)
        curves = [curve for stroke in strokes for curve in stroke.curves if not stroke.role.fill]
        self._points = np.concatenate([_dense(flatten(curve, tolerance=0.1)) for curve in curves] or [np.zeros((0, 2))])
        self._boxes = np.zeros((0, 4))

    def kept(self, items: Sequence[Stroke | Words]) -> Sequence[Stroke | Words]:
        """What stands somewhere already: no words are put on it."""
        boxes = [item.box if isinstance(item, Stroke) else bounds(item.outline) for item in items]
        self._boxes = np.concatenate([self._boxes, np.array(boxes).reshape(-1, 4)])
        return items

    def put(
        self,
        lines: tuple[str, ...],
        at: Array,
        *,
        role: Role = WORDS,
        letter: float = LETTER,
        inside: bool = False,
        most: int = CROWDED,
        upright: bool = False,
        along: Array | None = None,
    ) -> list[Stroke | Words]:
        """Words beside a place (2,), or on it where `inside`; nothing where there is no room for them.

        most: points of lines that they may cover where there is no other place; where none, they stay near.
        upright: turned, to be read from the right. along: points (n, 2) that a line which leads to the words may begin
        at, by default the place.
        """
        half = np.array(block(lines, letter))[:: -1 if upright else 1] / 2 + 0.25
        near = FAR[:3] if inside and most < CROWDED else FAR
        centre = self._free(at, near, half, letter, most=most, inside=inside)
        if centre is None and not inside:
            centre = self._free(at, FARTHER, half, letter, most=0)
        if centre is None:
            return []
        if along is not None:
            at = _dense(along)[np.linalg.norm(_dense(along) - centre, axis=1).argmin()]
        return self._set(lines, at, centre, half, letter, role, upright)

    def _free(
        self, at: Array, steps: Sequence[float], half: Array, letter: float, *, most: int, inside: bool = False
    ) -> Array | None:
        """Where the middle of words may lie (2,), so many letters away from a place; None where there is no room."""
        centres = [at[None]] if inside else []
        centres += [at + WAYS * (half * [0.9, 1.0] + far * letter * 0.55) for far in steps]
        places = np.concatenate(centres)
        low, high = places - half, places + half
        fits = (low >= 0.2).all(axis=1) & (high <= self._size - 0.2).all(axis=1)
        for x0, y0, x1, y1 in self._boxes:
            fits &= (high[:, 0] < x0) | (low[:, 0] > x1) | (high[:, 1] < y0) | (low[:, 1] > y1)
        if not fits.any():
            return None
        p = self._points
        on = ((p[None] >= low[:, None]) & (p[None] <= high[:, None])).all(axis=2).sum(axis=1)
        on = np.where(fits, on, 10**6)
        best = int(np.argmax(on == 0)) if (on == 0).any() else int(np.argmin(on))
        return None if on[best] > most else np.asarray(places[best])

    def _set(
        self, lines: tuple[str, ...], at: Array, centre: Array, half: Array, letter: float, role: Role, upright: bool
    ) -> list[Stroke | Words]:
        """The words there, and a line that leads to them."""
        low, high = centre - half, centre + half
        self._boxes = np.concatenate([self._boxes, [[*low, *high]]])
        items: list[Stroke | Words] = []
        off = centre - at
        gap = np.maximum(np.abs(off) - half, 0.0)
        if math.hypot(*gap) > LED * letter * 0.8:
            foot = np.clip(at, low, high)
            items.append(Stroke(role=LEADER, curves=(line(at, foot),)))
        items.append(Words(lines=lines, at=centre, height=letter, role=role, angle=-90.0 if upright else 0.0))
        return items


def _dense(points: Array) -> Array:
    """Points along a line, hardly farther apart than DENSE."""
    if len(points) < 2:
        return points
    steps = np.hypot(*np.diff(points, axis=0).T)
    count = np.maximum(np.ceil(steps / DENSE).astype(int), 1)
    along = np.concatenate([np.arange(n) / n for n in count])[:, None]
    return np.asarray(
        np.repeat(points[:-1], count, axis=0) * (1 - along) + np.repeat(points[1:], count, axis=0) * along
    )

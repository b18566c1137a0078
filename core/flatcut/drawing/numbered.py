"""Numbered marks of findings: a filled square for a fault, a triangle for a warning, so that colour is never alone."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from flatcut.drawing.ink import Stroke, Words
from flatcut.drawing.roles import BLACK, WHITE, Role
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line, polyline

SIZE = 9.0
"""mm: side of the square of a fault."""
AWAY = 17.0
"""mm from what is marked to the middle of its mark, so that the mark does not hide it."""
RED = "#b3001b"
"""The one colour: 7:1 against white, so that white figures on it are read with ease."""
FAULT_LEADER = Role(name="fault-leader", width=0.5, colour=RED)
FAULT = Role(name="fault", width=0.6, fill=RED)
FAULT_NUMBER = Role(name="fault-number", colour=WHITE, bold=True)
WARNING_LEADER = Role(name="warning-leader", width=0.5)
WARNING = Role(name="warning", width=0.6, fill=WHITE)
WARNING_NUMBER = Role(name="warning-number", colour=BLACK, bold=True)
_UP, _DOWN = np.array([0.7, -0.7]), np.array([0.7, 0.7])


class Marks:
    """Marks of findings, each beside those that were made before it."""

    def __init__(self) -> None:
        self._taken: list[Array] = []

    def mark(
        self, at: Array, number: int, *, fault: bool, size: float = SIZE, down: bool = False
    ) -> Iterator[Stroke | Words]:
        """One mark with a line to what it marks, above it or below. at: (2,) mm."""
        centre = at + AWAY * size / SIZE * (_DOWN if down else _UP)
        while any(np.abs(centre - other).max() < 1.7 * size for other in self._taken):
            centre = centre + np.array([1.8 * size, 0.0])
        self._taken.append(centre)
        yield Stroke(role=FAULT_LEADER if fault else WARNING_LEADER, curves=(line(at, centre),))
        half = size / 2
        if fault:
            corners = np.array([(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)])
        else:
            corners = np.array([(-1.6 * half, half), (0, -1.9 * half), (1.6 * half, half), (-1.6 * half, half)])
        yield Stroke(role=FAULT if fault else WARNING, curves=(polyline(corners + centre),), closed=True)
        low = 0.0 if fault else 0.08 * size
        yield Words(
            role=FAULT_NUMBER if fault else WARNING_NUMBER,
            lines=(str(number),),
            at=centre + np.array([0.0, low]),
            height=size * (0.62 if number < 100 else 0.45),
        )

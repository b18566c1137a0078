"""Numbered marks of findings: a filled square for a fault, a triangle for a warning, so that colour is never alone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from lxml import etree

from flatcut.checks.check import FAULT, Finding
from flatcut.formats.svg.draw import Ink
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line, polyline
from flatcut.pattern.pointing import pointed
from flatcut.pattern.values import Pattern

SIZE = 9.0
"""mm: side of the square of a fault."""
AWAY = 17.0
"""mm from what is marked to the middle of its mark, so that the mark does not hide it."""
RED = "#b3001b"
"""The one colour: 7:1 against white, so that white figures on it are read with ease."""
_UP, _DOWN = np.array([0.7, -0.7]), np.array([0.7, 0.7])


class Marks:
    """Draws marks into a group, each beside those that are there already."""

    def __init__(self, group: etree._Element, ink: Ink) -> None:
        self._group, self._ink = group, ink
        self._taken: list[Array] = []

    def finding(self, pattern: Pattern, number: int, finding: Finding, *, pieces: Sequence[str] = ()) -> None:
        """Mark every place of a finding with its number; on some pieces only, where they are named."""
        for text in finding.where:
            for piece, at in pointed(pattern, text):
                if not pieces or piece in pieces:
                    self.mark(at, number, fault=finding.severity == FAULT)

    def mark(self, at: Array, number: int, *, fault: bool, size: float = SIZE, down: bool = False) -> None:
        """One mark with a line to what it marks, above it or below. at: (2,) mm."""
        centre = at + AWAY * size / SIZE * (_DOWN if down else _UP)
        while any(np.abs(centre - other).max() < 1.7 * size for other in self._taken):
            centre = centre + np.array([1.8 * size, 0.0])
        self._taken.append(centre)
        leader = self._ink.path(self._group, [line(at, centre)], 0.5)
        leader.set("style", leader.get("style", "").replace("#000000", RED if fault else "#000000"))
        half = size / 2
        if fault:
            corners = np.array([(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)])
        else:
            corners = np.array([(-1.6 * half, half), (0, -1.9 * half), (1.6 * half, half), (-1.6 * half, half)])
        shape = self._ink.path(self._group, [polyline(corners + centre)], 0.6, closed=True)
        shape.set("style", shape.get("style", "").replace("fill:none", f"fill:{RED if fault else '#ffffff'}"))
        low = 0.0 if fault else 0.08 * size
        text = self._ink.text(
            self._group, [str(number)], centre + np.array([0.0, low]), height=size * (0.62 if number < 100 else 0.45)
        )
        weight = "fill:#ffffff;font-weight:bold" if fault else "fill:#000000;font-weight:bold"
        text.set("style", text.get("style", "").replace("fill:#000000", weight))

"""Boxes laid side by side in rows."""

from __future__ import annotations

from collections.abc import Sequence


def rows(boxes: Sequence[tuple[float, float, float, float]], width: float, gap: float) -> list[tuple[float, float]]:
    """Where the upper left corner of each box goes, from (0, 0) on: side by side, a new row where one is full.

    >>> rows([(0, 0, 40, 90), (0, 0, 50, 20), (0, 0, 30, 30)], 100, 5)
    [(0.0, 0.0), (45.0, 0.0), (0.0, 95.0)]
    """
    x = y = tall = 0.0
    found = []
    for x0, y0, x1, y1 in boxes:
        if x > 0 and x + (x1 - x0) > width:
            x, y, tall = 0.0, y + tall + gap, 0.0
        found.append((x, y))
        x, tall = x + (x1 - x0) + gap, max(tall, y1 - y0)
    return found

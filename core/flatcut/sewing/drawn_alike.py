"""Whether a seam brings the upper end of one edge to the lower end of the other, as the pieces are drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence

from flatcut.pattern.runs import Walked, walk
from flatcut.pattern.values import Pattern, Seam

STEEP = 0.7
"""Sine of how steep an edge is that has an upper end (45°)."""


def upside_down(pattern: Pattern, seam: Seam) -> bool:
    """Whether the two edges of a seam are steep and its walk goes down one and up the other.

    So it is where two pieces are drawn alike, not as they lie when they are sewn. Runs of several edges say nothing.
    """
    one = _down(walk(pattern, seam.a))
    other = _down(walk(pattern, seam.b, reversed=seam.reversed))
    return min(abs(one), abs(other)) > STEEP and one * other < 0


def _down(run: Sequence[Walked]) -> float:
    """How steeply a run goes down, from -1 (up) to 1; 0 for several edges."""
    if len(run) > 1:
        return 0.0
    (step,) = run
    x, y = (float(v) for v in step.edge.parts[-1].end - step.edge.parts[0].start)
    return (y if step.forward else -y) / (math.hypot(x, y) or 1.0)

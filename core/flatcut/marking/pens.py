"""Widths and dashes of each kind of line, and the heads of the grain arrow: the same on screen and on paper.

Black ink on white; widths and dashes in mm.
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import unit
from flatcut.geometry.curves import Curve, polyline
from flatcut.pattern.values import Grain

STITCH, CUT, TICK, INNER, GRAIN = 0.25, 0.45, 0.35, 0.25, 0.3
"""The cut line is the one that scissors follow, so it is the boldest."""
STITCH_DASHES, CAP_DASHES = (4.0, 2.0), (3.0, 1.5)
ARROW = 5.0
"""mm: length of an arrow head on the grain line."""
POINT = 1.5
"""mm: arm of the cross on a named point."""


def arrow_heads(grain: Grain) -> list[Curve]:
    """The arrow heads of a grain line: at both ends, or at its end alone when the cloth runs one way.

    >>> [head.nodes[1].tolist() for head in arrow_heads(Grain(start=np.array([0.0, 0.0]), end=np.array([0.0, 90.0])))]
    [[0.0, 90.0], [0.0, 0.0]]
    """
    along = unit(grain.end - grain.start)
    across = np.array([-along[1], along[0]])
    ends = [(grain.end, along)] + ([(grain.start, -along)] if grain.ways == "both" else [])
    return [
        polyline([tip - ARROW * way + 0.35 * ARROW * across, tip, tip - ARROW * way - 0.35 * ARROW * across])
        for tip, way in ends
    ]

"""The symbol of a button or buttonhole."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import unit
from flatcut.geometry.curves import Curve, line
from flatcut.marking.symbols.shapes import circle, cross
from flatcut.pattern.values import Button, Piece

ARM = 1.5
"""mm: arm of the cross of a button, and half the bar at each end of a buttonhole."""


def drawn(piece: Piece, button: Button) -> list[Curve]:
    """A button as a circle of its size with a cross, a buttonhole as its slit with a bar at each end."""
    if button.slit is None:
        return [circle(button.at, button.size / 2), *cross(button.at, ARM)]
    start, end = button.slit
    way = unit(end - start)
    bar = ARM * np.array([-way[1], way[0]])
    return [line(start, end), line(start - bar, start + bar), line(end - bar, end + bar)]

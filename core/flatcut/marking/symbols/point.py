"""The symbol of a named point."""

from __future__ import annotations

from flatcut.geometry.curves import Curve
from flatcut.marking.symbols.shapes import cross
from flatcut.pattern.values import NamedPoint, Piece

ARM = 1.5
"""mm: arm of the cross."""


def drawn(piece: Piece, point: NamedPoint) -> list[Curve]:
    """A cross."""
    return cross(point.at, ARM)

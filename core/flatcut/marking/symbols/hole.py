"""The symbol of a drill hole."""

from __future__ import annotations

from flatcut.geometry.curves import Curve
from flatcut.marking.symbols.shapes import circle, cross
from flatcut.pattern.values import Hole, Piece


def drawn(piece: Piece, hole: Hole) -> list[Curve]:
    """A circle of the hole's size with a cross; nothing where its dart is gone."""
    at = hole.place(piece)
    return [] if at is None else [circle(at, hole.diameter / 2), *cross(at, hole.diameter)]

"""Outlines that would lie over themselves are refused."""

from __future__ import annotations

from flatcut.errors import GeometryError
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.values import Piece


def refuse_overlap(piece: Piece, *, advice: str) -> None:
    """GeometryError with advice when the outline crosses itself. Darts and slashes that share a point just touch."""
    where = outline_crossing(piece)
    if where is not None:
        raise GeometryError(f"{piece.name} would lie over itself near x {where[0]:.1f}, y {where[1]:.1f} mm; {advice}")

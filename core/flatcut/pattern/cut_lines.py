"""The cut line of a piece as a value; `marking/cutline.py` makes it."""

from __future__ import annotations

from typing import NamedTuple

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, transform


class CutLine(NamedTuple):
    """curve: a closed ring; edges: per span the uid of the edge it belongs to, '' at a corner or where none is near.

    shaped: those of the warnings that tell of its shape, not of what is left open or was drawn by hand.
    """

    curve: Curve
    edges: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    shaped: tuple[str, ...] = ()

    def moved(self, matrix: Affine) -> CutLine:
        """The cut line of the piece moved as a whole."""
        return self._replace(curve=transform(self.curve, matrix))

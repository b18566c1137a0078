"""`arrange`: pieces side by side, grain upright."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import length
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import bounds, chain
from flatcut.geometry.rows import rows
from flatcut.marking.derived import derive
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Figure, Pattern, Piece, outline


@operation(menu="Prepare")
@dataclass(frozen=True, kw_only=True)
class Arrange(Operation):
    """Lay the pieces side by side in rows, each with its grain line upright.

    The first piece keeps its upper left corner, unless that lies off the page; the others follow in their order.
    """

    width: float = length(1500.0, "width of a row", low=50)
    gap: float = length(20.0, "space between pieces", high=500)

    def _apply(self, pattern: Pattern) -> Outcome:
        if not pattern.pieces:
            return Outcome(pattern=pattern)
        turned = [upright(piece) for piece in pattern.pieces]
        boxes = [box(piece) for piece in turned]
        left, top = (corner if corner >= 0 else self.gap for corner in box(pattern.pieces[0])[:2])
        laid = [
            moved(piece, Affine.translation(left + x - x0, top + y - y0))
            for piece, (x0, y0, _, _), (x, y) in zip(turned, boxes, rows(boxes, self.width, self.gap), strict=True)
        ]
        corners = np.array([box(piece) for piece in laid])
        figures = (
            Figure("width", float(corners[:, 2].max() - left)),
            Figure("height", float(corners[:, 3].max() - top)),
        )
        return Outcome(pattern=replace(pattern, pieces=tuple(laid)), figures=figures)


def upright(piece: Piece) -> Piece:
    """The piece turned so that its grain line is upright."""
    return moved(piece, _upright(piece))


def box(piece: Piece) -> tuple[float, float, float, float]:
    """Smallest x, y and largest x, y of a piece with its cut line, in mm."""
    derived = derive(piece)
    whole = derived.cut.curve if derived.cut is not None else chain(outline(piece), within=1e-6)
    return bounds(whole)


def _upright(piece: Piece) -> Affine:
    """The turn that sets the grain line upright, the way it points kept to the nearer end."""
    if piece.grain is None:
        return Affine()
    dx, dy = piece.grain.end - piece.grain.start
    turn = math.pi / 2 - math.atan2(dy, dx)
    if piece.grain.ways == "both":
        turn = (turn + math.pi / 2) % math.pi - math.pi / 2
    else:
        turn -= math.pi  # one way: the arrow points up
    return Affine.rotation(turn) if abs(math.remainder(turn, 2 * math.pi)) > 1e-12 else Affine()

"""A piece moved as a whole."""

from __future__ import annotations

from dataclasses import replace

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import transform
from flatcut.pattern.values import Piece


def moved(piece: Piece, matrix: Affine) -> Piece:
    """The piece under a rigid motion or a mirror image; a mirrored piece keeps the direction of its edges.

    >>> from flatcut.geometry.curves import polyline
    >>> from flatcut.pattern.values import Edge, area
    >>> ring = polyline([(0, 0), (9, 0), (0, 9), (0, 0)])
    >>> piece = Piece(uid="p", name="a", edges=(Edge(uid="e", name="e1", parts=(ring,)),))
    >>> round(area(moved(piece, Affine.scaling(-1, 1))), 6)
    -40.5
    """
    return replace(
        piece.with_marks(lambda mark: mark.moved(matrix)),
        edges=tuple(replace(e, parts=tuple(transform(part, matrix) for part in e.parts)) for e in piece.edges),
        darts=tuple(replace(d, legs=(transform(d.legs[0], matrix), transform(d.legs[1], matrix))) for d in piece.darts),
        cut_by_hand=None if piece.cut_by_hand is None else transform(piece.cut_by_hand, matrix),
    )

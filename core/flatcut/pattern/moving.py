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
    grain = piece.grain
    return replace(
        piece,
        edges=tuple(replace(e, parts=tuple(transform(part, matrix) for part in e.parts)) for e in piece.edges),
        darts=tuple(replace(d, legs=(transform(d.legs[0], matrix), transform(d.legs[1], matrix))) for d in piece.darts),
        lines=tuple(replace(line, curve=transform(line.curve, matrix)) for line in piece.lines),
        points=tuple(replace(point, at=matrix.apply(point.at)) for point in piece.points),
        grain=None if grain is None else replace(grain, start=matrix.apply(grain.start), end=matrix.apply(grain.end)),
    )

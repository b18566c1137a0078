"""A piece moved as a whole."""

from __future__ import annotations

from dataclasses import replace

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import transform
from flatcut.pattern.values import Button, Hole, Piece


def moved(piece: Piece, matrix: Affine) -> Piece:
    """The piece under a rigid motion or a mirror image; a mirrored piece keeps the direction of its edges.

    >>> from flatcut.geometry.curves import polyline
    >>> from flatcut.pattern.values import Edge, area
    >>> ring = polyline([(0, 0), (9, 0), (0, 9), (0, 0)])
    >>> piece = Piece(uid="p", name="a", edges=(Edge(uid="e", name="e1", parts=(ring,)),))
    >>> round(area(moved(piece, Affine.scaling(-1, 1))), 6)
    -40.5
    """
    grain, caption = piece.grain, piece.caption
    return replace(
        piece,
        edges=tuple(replace(e, parts=tuple(transform(part, matrix) for part in e.parts)) for e in piece.edges),
        darts=tuple(replace(d, legs=(transform(d.legs[0], matrix), transform(d.legs[1], matrix))) for d in piece.darts),
        lines=tuple(replace(line, curve=transform(line.curve, matrix)) for line in piece.lines),
        points=tuple(replace(point, at=matrix.apply(point.at)) for point in piece.points),
        holes=tuple(moved_hole(hole, matrix) for hole in piece.holes),
        buttons=tuple(moved_button(button, matrix) for button in piece.buttons),
        grain=None if grain is None else replace(grain, start=matrix.apply(grain.start), end=matrix.apply(grain.end)),
        cut_by_hand=None if piece.cut_by_hand is None else transform(piece.cut_by_hand, matrix),
        caption=caption if caption.at is None else replace(caption, at=matrix.apply(caption.at)),
    )


def moved_hole(hole: Hole, matrix: Affine) -> Hole:
    """A drill hole under a motion; one that is bound to a dart goes with the dart by itself."""
    return hole if hole.at is None else replace(hole, at=matrix.apply(hole.at))


def moved_button(button: Button, matrix: Affine) -> Button:
    """A button or buttonhole under a motion."""
    return replace(button, at=matrix.apply(button.at), slit=None if button.slit is None else matrix.apply(button.slit))

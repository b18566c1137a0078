"""Paper that a step adds to a piece or takes from it, as motions: what comes from under it, what goes elsewhere."""

from __future__ import annotations

import math

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.region import ring_area, subtracted
from flatcut.pattern.motions import Motion
from flatcut.pattern.values import Dart, Piece, outline

SLIVER = 0.1
"""A part this small, as a share of the largest, is an edge drawn a little otherwise, and no paper that moves."""
LEAST = 25.0
"""mm²: what is smaller cannot be seen to move."""


def carried(before: Piece, after: Piece, way: Array) -> tuple[Motion, ...]:
    """An edge carried by `way`, (2,) mm: what is new comes from under the piece, what is gone goes back over it.

    >>> from flatcut.geometry.curves import line
    >>> from flatcut.pattern.values import Edge
    >>> def sheet(deep):
    ...     corners = [(0, 0), (90, 0), (90, deep), (0, deep), (0, 0)]
    ...     sides = (Edge(uid=f"e{k}", name=f"e{k}", parts=(line(corners[k], corners[k + 1]),)) for k in range(4))
    ...     return Piece(uid="p", name="front", edges=tuple(sides))
    >>> (longer,) = carried(sheet(60.0), sheet(80.0), np.array([0.0, 20.0]))
    >>> longer.new, float(longer.ring[:, 1].min()), longer.shift
    (True, 40.0, array([ 0., 20.]))
    >>> (shorter,) = carried(sheet(80.0), sheet(60.0), np.array([0.0, -20.0]))
    >>> shorter.new, float(shorter.ring[:, 1].min()), shorter.shift
    (False, 60.0, array([  0., -20.]))
    """
    was, now = _paper(before), _paper(after)
    came = [
        Motion(piece=before.uid, ring=ring - way, about=_middle(ring), shift=way, new=True) for ring in _off(now, was)
    ]
    went = [Motion(piece=before.uid, ring=ring, about=_middle(ring), shift=way) for ring in _off(was, now)]
    return tuple(max((came, went), key=lambda some: sum(abs(ring_area(motion.ring)) for motion in some)))


def unfolded_wedge(before: Piece, dart: Dart, after: Piece) -> tuple[Motion, ...]:
    """What a cut-in dart took up comes from under the paper beside it, turned about the dart's point like a fan."""
    wedges = _off(_paper(after), _paper(before))
    one, two = (foot - dart.points[0] for foot in dart.feet)
    turn = math.atan2(one[0] * two[1] - one[1] * two[0], float(one @ two))
    if not wedges or abs(turn) < 1e-6:
        return ()
    about = dart.points[0]
    hidden = Affine.rotation(-turn, (float(about[0]), float(about[1]))).apply(wedges[0])
    return (
        Motion(piece=before.uid, ring=hidden, about=about, degrees=math.degrees(turn), shift=np.zeros(2), new=True),
    )


def turned_over(piece: Piece, start: Array, end: Array) -> Motion:
    """The other half of a piece, which lies folded under it, turned over the fold from start to end, (2,) mm each."""
    return Motion(piece=piece.uid, ring=_paper(piece), about=start, shift=np.zeros(2), over=end - start, new=True)


def handed_over(before: Piece, after: Piece, matrix: Affine) -> tuple[Motion, ...]:
    """What a piece loses, laid against another by a rigid map."""
    return tuple(Motion.of(before.uid, ring, matrix) for ring in _off(_paper(before), _paper(after))[:1])


def _paper(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.02)


def _off(ring: Array, other: Array) -> list[Array]:
    """What of a ring lies outside another, the largest part first, without what is too small to be seen."""
    parts = sorted((part.ring for part in subtracted(ring, [other])), key=lambda one: -abs(ring_area(one)))
    sizes = [abs(ring_area(part)) for part in parts]
    return [part for part, size in zip(parts, sizes, strict=True) if size > max(LEAST, SLIVER * sizes[0])]


def _middle(ring: Array) -> Array:
    middle: Array = (ring.min(axis=0) + ring.max(axis=0)) / 2
    return middle

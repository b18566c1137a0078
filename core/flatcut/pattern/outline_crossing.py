"""Where an outline crosses itself; darts that share one point only touch there, and do not cross."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, line
from flatcut.geometry.region import crossing_place
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.values import Dart, Piece

JOINED = 1e-6
"""mm: ends of spans, and points of a ring, closer than this are one."""
ONE_POINT = 0.01
"""mm: points of two darts closer than this are one, and a dart whose feet are closer has no width."""
SHORT = 0.002
"""The part of a dart's length by which it ends short of a shared point: far less than a pencil's width."""


def outline_crossing(piece: Piece, *, tolerance: float = 0.02) -> Array | None:
    """A place (2,) where the outline of a piece crosses itself, judged on chords within `tolerance` mm, or None.

    Points that several darts share are no crossing, nor is a dart of no width.

    >>> nodes = [(0, 0), (9, 0), (0, 9), (9, 9)]
    >>> sides = [line(nodes[k], nodes[(k + 1) % 4]) for k in range(4)]
    >>> from flatcut.pattern.values import Edge
    >>> edges = tuple(Edge(uid=str(k), name=f"e{k}", parts=(side,)) for k, side in enumerate(sides))
    >>> outline_crossing(Piece(uid="p", name="p", edges=edges))
    array([4.5, 4.5])
    """
    ring: list[Curve] = []
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            ring.append(part)
            dart = piece.cut_in(edge, k)
            if dart is not None:
                ring += _legs(piece, dart)
    points = flatten(chain(ring, within=JOINED), tolerance=tolerance)[:-1]
    # two of one place differ by the rounding of their figures, which would look like a turn back
    apart = np.hypot(*(points - np.roll(points, 1, axis=0)).T) > JOINED
    return crossing_place(points[apart]) if apart.sum() > 2 else None


def _legs(piece: Piece, dart: Dart) -> list[Curve]:
    """The legs of a cut-in dart, a hair shorter where another dart has the same point."""
    apex = dart.points[0]
    if float(np.hypot(*(dart.feet[1] - dart.feet[0]))) < ONE_POINT:
        return [line(dart.feet[0], dart.feet[1])]
    others = [d for d in piece.darts if d.uid != dart.uid and d.form == "cut"]
    if not any(np.hypot(*(other.points - apex).T).min() < ONE_POINT for other in others):
        return list(dart.legs)
    short = apex + SHORT * (dart.feet.mean(axis=0) - apex)
    return [ending_at(dart.legs[0], short), starting_at(dart.legs[1], short)]

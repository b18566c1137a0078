"""Notch ticks: on the stitch line's normal at the notch's place, out to the cut line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, point
from flatcut.geometry.intersect import crossings
from flatcut.geometry.nearest import nearest
from flatcut.pattern.spots import on_edge
from flatcut.pattern.values import Notch, Piece, area
from flatcut.pattern.walking import sewn_at

APART = 8.0
"""mm between the ticks of a double or triple notch (common practice 6 to 10 mm, no source)."""
REACH = 400.0
"""mm: no allowance is wider."""


@dataclass(frozen=True, kw_only=True)
class Tick:
    """One drawn tick, from stitch line (foot) to cut line (tip); straight is false when the normal missed it."""

    notch: Notch
    foot: Array
    tip: Array
    straight: bool = True


def outward(piece: Piece, tangent: Array) -> Array:
    """The unit normal that points out of the piece, to the left of a clockwise walker."""
    left = np.array([tangent[1], -tangent[0]])
    return left if area(piece) > 0 else -left


def ticks(piece: Piece, notch: Notch, cut: Curve | None) -> list[Tick]:
    """The ticks of a notch; without a cut line each is the notch's depth long, inward.

    Errors: UsageError when the notch lies beyond its edge.
    """
    edge = piece.edge_of(notch.edge)
    middle = sewn_at(edge, notch.at)
    found = []
    for k in range(notch.count):
        spot = on_edge(piece, edge, middle + (k - (notch.count - 1) / 2) * APART)
        assert spot.tangent is not None
        normal = outward(piece, spot.tangent)
        if cut is None:
            found.append(Tick(notch=notch, foot=spot.point, tip=spot.point - notch.depth * normal))
            continue
        found.append(_out_to(notch, spot.point, normal, cut))
    return found


def _out_to(notch: Notch, foot: Array, normal: Array, cut: Curve) -> Tick:
    ray = line(foot - 1e-3 * normal, foot + REACH * normal)
    met = crossings(ray, cut)
    nearest_u, _ = nearest(cut, foot)
    close = point(cut, nearest_u)
    if met:
        tip = min((c.point for c in met), key=lambda p: float(np.linalg.norm(p - foot)))
        # past a sharp corner the normal can miss the near cut line and meet the far side of the piece
        if np.linalg.norm(tip - foot) <= 3 * np.linalg.norm(close - foot) + 1.0:
            return Tick(notch=notch, foot=foot, tip=np.asarray(tip))
    return Tick(notch=notch, foot=foot, tip=np.asarray(close), straight=False)

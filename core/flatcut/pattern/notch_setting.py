"""Notches that an operation sets by itself, with their mates on the other side of the seam."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from flatcut.pattern.mating import mates
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Notch, Pattern, Piece, Position
from flatcut.pattern.walking import sewn_at, sewn_length, to_drawn
from flatcut.pattern.widths import width_at

DEPTH = 3.0
"""mm, and never over half the allowance (common practice: slits 2 to 3 mm, no source)."""
SAME = 1.0
"""mm: a notch this near to another is in its place."""


def nearer_end(edge: Edge, sewn: float) -> Position:
    """A place (sewn mm) counted from the nearer end of its edge."""
    total = sewn_length(edge)
    return Position(mode="start", value=sewn) if sewn <= total / 2 else Position(mode="end", value=total - sewn)


def usual_depth(edge: Edge, sewn: float) -> float:
    """mm that a notch is cut at a place of an edge."""
    allowance = width_at(edge, to_drawn(edge, sewn))
    return min(DEPTH, allowance / 2) if allowance > 0 else DEPTH


def with_notches(pattern: Pattern, edge: str, places: Iterable[float], what: str) -> tuple[Pattern, list[Figure]]:
    """The pattern with a notch at each place (sewn mm) of an edge (uid) and at its mates, where none stands yet.

    At an end of the edge there is none: the corner is mark enough. what: what the figures call them.
    """
    uids = Uids(pattern.uids())
    figures = []
    for sewn in places:
        host = next(p for p in pattern.pieces if any(e.uid == edge for e in p.edges))
        here = host.edge_of(edge)
        if not SAME < sewn < sewn_length(here) - SAME:
            continue
        spots = [(host, here, sewn), *((m.piece, m.edge, m.sewn) for m in mates(pattern, edge, sewn))]
        for piece, on, at in spots:
            if not SAME < at < sewn_length(on) - SAME:
                continue
            pattern, new = _put(pattern, piece, on, at, uids)
            if new:
                figures.append(Figure(f"{piece.name}.{on.name} {what}", at))
    return pattern, figures


def _put(pattern: Pattern, piece: Piece, edge: Edge, sewn: float, uids: Uids) -> tuple[Pattern, bool]:
    piece = pattern.piece_of(piece.uid)
    if any(n.edge == edge.uid and abs(sewn_at(edge, n.at) - sewn) <= SAME for n in piece.notches):
        return pattern, False
    uid = uids.fresh("notch", edge.uid, f"{sewn:.3f}")
    notch = Notch(uid=uid, edge=edge.uid, at=nearer_end(edge, sewn), depth=usual_depth(edge, sewn))
    changed = replace(piece, notches=(*piece.notches, notch))
    return pattern.with_piece(changed), True

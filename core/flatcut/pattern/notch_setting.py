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


def twin_of(uid: str) -> str:
    """The uid of the notch that a cut puts in the corner of the other part, where one stood on the cut itself.

    >>> twin_of("a1b2c3d4") == twin_of("a1b2c3d4") != twin_of("a1b2c3d5")
    True
    """
    return Uids().fresh("notch on both parts", uid)


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

    At an end of the edge there is none: the corner is mark enough. what: what the figures call them; of one that
    stands there already they tell how far it is off.
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
            there = _standing(pattern.piece_of(piece.uid), on, at)
            if there is not None:
                figures.append(Figure(f"{piece.name}.{on.name} {what}: the one that stands there is off it by", there))
                continue
            pattern = _put(pattern, piece, on, at, uids)
            figures.append(Figure(f"{piece.name}.{on.name} {what}", at))
    return pattern, figures


def without_notches(pattern: Pattern, edge: str, places: Iterable[float]) -> Pattern:
    """The pattern without the single notches at places (sewn mm) of an edge (uid) and at their mates."""
    for sewn in places:
        host = next(p for p in pattern.pieces if any(e.uid == edge for e in p.edges))
        spots = [(host, host.edge_of(edge), sewn), *((m.piece, m.edge, m.sewn) for m in mates(pattern, edge, sewn))]
        for piece, on, at in spots:
            now = pattern.piece_of(piece.uid)
            kept = tuple(
                n for n in now.notches if n.edge != on.uid or n.count > 1 or abs(sewn_at(on, n.at) - at) > SAME
            )
            if len(kept) < len(now.notches):
                pattern = pattern.with_piece(replace(now, notches=kept))
    return pattern


def with_mated_notches(pattern: Pattern, piece: str, edges: Iterable[str]) -> Pattern:
    """The pattern with a notch on a piece (uid) where one stands on edges (uids) that it is sewn to, and it has none.

    On a binding or band all that it meets is marked: darts' feet, pleats, where gathers end. At its ends there is none.
    """
    uids = Uids(pattern.uids())
    for edge in dict.fromkeys(edges):
        host = next(p for p in pattern.pieces if any(e.uid == edge for e in p.edges))
        here = host.edge_of(edge)
        for notch in host.notches:
            if notch.edge != edge:
                continue
            for mate in mates(pattern, edge, sewn_at(here, notch.at)):
                if mate.piece.uid != piece or not SAME < mate.sewn < sewn_length(mate.edge) - SAME:
                    continue
                if _standing(pattern.piece_of(piece), mate.edge, mate.sewn) is None:
                    pattern = _put(pattern, mate.piece, mate.edge, mate.sewn, uids)
    return pattern


def _standing(piece: Piece, edge: Edge, sewn: float) -> float | None:
    """mm by which a notch that stands at a place already is off it; None for none."""
    away = [abs(sewn_at(edge, n.at) - sewn) for n in piece.notches if n.edge == edge.uid]
    return min((far for far in away if far <= SAME), default=None)


def _put(pattern: Pattern, piece: Piece, edge: Edge, sewn: float, uids: Uids) -> Pattern:
    piece = pattern.piece_of(piece.uid)
    uid = uids.fresh("notch", edge.uid, f"{sewn:.3f}")
    notch = Notch(uid=uid, edge=edge.uid, at=nearer_end(edge, sewn), depth=usual_depth(edge, sewn))
    changed = replace(piece, notches=(*piece.notches, notch))
    return pattern.with_piece(changed)

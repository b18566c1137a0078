"""Which part of a piece is held still when it is parted."""

from __future__ import annotations

from collections.abc import Collection

from flatcut.errors import UsageError
from flatcut.pattern.values import Edge, Piece

KEPT = ("fold", "centre")
"""Uses of edges that are not bent, in the order in which they are held still."""


def held(piece: Piece, parted: Collection[str], hold: str, *, by: str) -> tuple[Edge | None, str]:
    """The edge whose part stays still, and why: the one to be held, a fold edge, a centre edge; None for the largest.

    parted: uids of edges that have a part on both sides; hold: uid of the edge that is wanted still, or ''; by: what
    parts them. Errors: UsageError when that edge is parted.
    """
    if hold:
        edge = piece.edge_of(hold)
        if hold in parted:
            raise UsageError(f"{piece.name}.{edge.name} has a part on both sides of {by}; hold another edge")
        return edge, f"{edge.name} is to be held"
    for use in KEPT:
        for edge in piece.edges:
            if edge.use == use and edge.uid not in parted:
                return edge, f"{edge.name} is a {use} edge"
    for edge in piece.edges:
        if edge.middle and edge.uid not in parted:
            return edge, f"{edge.name} lies on the centre line"
    return None, ""

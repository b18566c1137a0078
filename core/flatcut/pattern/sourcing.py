"""Questions about what pieces were derived from, and that carried along where pieces become others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from flatcut.pattern.edges import Edge
from flatcut.pattern.sources import changes
from flatcut.pattern.values import Pattern, Piece


def with_sources(pieces: Iterable[Piece], became: Mapping[str, tuple[str, ...]]) -> tuple[Piece, ...]:
    """The pieces where those that some were derived from have become others: uid to uids, to none where one is gone.

    >>> from flatcut.pattern.sources import Source
    >>> facing = Piece(uid="f", name="facing", edges=(), source=Source(kind="facing", of=("p",)))
    >>> with_sources([facing], {"p": ()})[0].source is None
    True
    """
    found = []
    for piece in pieces:
        source = None if piece.source is None else piece.source.followed(became)
        found.append(
            piece if source is piece.source else replace(piece, source=source if source and source.of else None)
        )
    return tuple(found)


def sources_of(pattern: Pattern, piece: Piece) -> list[Piece]:
    """The pieces that a piece was derived from, as far as they are there."""
    of = () if piece.source is None else piece.source.of
    return [one for one in pattern.pieces if one.uid in of]


def derived_from(pattern: Pattern, piece: Piece, *kinds: str) -> list[Piece]:
    """The pieces that were derived from a piece, those of some kinds where any are named."""
    found = [p for p in pattern.pieces if p.source is not None and piece.uid in p.source.of]
    return [p for p in found if p.source is not None and (not kinds or p.source.kind in kinds)]


def edges_by_uid(pattern: Pattern) -> dict[str, tuple[str, Edge]]:
    """All edges by uid, with the uid of their piece."""
    return {edge.uid: (piece.uid, edge) for piece in pattern.pieces for edge in piece.edges}


def changed(pattern: Pattern, piece: Piece) -> dict[str, float]:
    """By how many mm what a derived piece was made of has moved since, by uid of the edge; inf for one that is gone."""
    return {} if piece.source is None else changes(piece.source, edges_by_uid(pattern))

"""What is needed beside cloth, as far as a pattern tells: buttons, openings, edges that are finished."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flatcut.pattern.values import Edge, Pattern, Piece, RunPart
from flatcut.pattern.walking import sewn_at, sewn_length


@dataclass(frozen=True, kw_only=True)
class Notion:
    """Something that is needed. what: 'button', 'buttonhole', 'opening' or 'finished edge'; where: an edge or a piece.

    count: how many; size: mm across a button, or mm of each opening or edge.
    """

    what: str
    where: str
    count: int
    size: float


def notions(pattern: Pattern) -> list[Notion]:
    """What the pieces tell, those of one kind and size on a piece together."""
    return [found for piece in pattern.pieces for found in (*_buttons(piece), *_edges(pattern, piece))]


def _buttons(piece: Piece) -> Iterator[Notion]:
    """Buttons and buttonholes of a piece; a pair that has both has the one on one side and the other on the other."""
    kinds = {button.kind for button in piece.buttons}
    times = piece.quantity // 2 if piece.cut_as == "pair" and len(kinds) == 2 else piece.quantity
    counts: dict[tuple[str, float], int] = {}
    for button in piece.buttons:
        key = (button.kind, round(button.size, 2))
        counts[key] = counts.get(key, 0) + 1
    for (kind, size), count in counts.items():
        yield Notion(what=kind, where=piece.name, count=count * times, size=size)


def _edges(pattern: Pattern, piece: Piece) -> Iterator[Notion]:
    for edge in piece.edges:
        where = f"{piece.name}.{edge.name}"
        if edge.use == "opening" and not _told_before(pattern, piece, edge):
            sides = 2 if _both_sides(pattern, piece, edge) else 1
            yield Notion(what="opening", where=where, count=max(1, piece.quantity // sides), size=_open(piece, edge))
        elif edge.use == "finished":
            # a piece on the fold has each edge twice, but one that goes over the fold is one of double the length
            times = piece.quantity * (2 if piece.cut_as == "fold" else 1)
            yield Notion(what="finished edge", where=where, count=times, size=sewn_length(edge))


def _open(piece: Piece, edge: Edge) -> float:
    """mm of an opening: from the end of the edge to its notch, where it has one, as a zip ends there."""
    total = sewn_length(edge)
    places = [sewn_at(edge, notch.at) for notch in piece.notches if notch.edge == edge.uid]
    inside = [place for place in places if 1.0 < place < total - 1.0]
    return min((min(place, total - place) for place in inside), default=total)


def _mates(pattern: Pattern, piece: Piece, edge: Edge) -> list[RunPart]:
    """What an edge is sewn to."""
    found: list[RunPart] = []
    for seam in pattern.seams:
        for mine, other in ((seam.a, seam.b), (seam.b, seam.a)):
            if any(part.piece == piece.uid and part.of == edge.uid for part in mine):
                found += other
    return found


def _told_before(pattern: Pattern, piece: Piece, edge: Edge) -> bool:
    """Whether an opening lies between this edge and one of a piece before it, and was told of with that."""
    order = [one.uid for one in pattern.pieces]
    here = order.index(piece.uid)
    return any(
        order.index(part.piece) < here and pattern.piece_of(part.piece).edge_of(part.of).use == "opening"
        for part in _mates(pattern, piece, edge)
        if any(e.uid == part.of for e in pattern.piece_of(part.piece).edges)
    )


def _both_sides(pattern: Pattern, piece: Piece, edge: Edge) -> bool:
    """Whether both sides of an opening are this edge: of a pair that meets in it, as at a centre back."""
    mates = _mates(pattern, piece, edge)
    return piece.cut_as == "pair" and all(part.piece == piece.uid for part in mates)

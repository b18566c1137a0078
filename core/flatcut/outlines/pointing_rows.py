"""What rows of a table say of the edges that their lines cross."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from flatcut.errors import InputError, UsageError
from flatcut.outlines.piece_table import Row
from flatcut.pattern.crossing_lines import crossed
from flatcut.pattern.values import Allowance, DrawnPath, Edge, Figure, Piece


def pointed_at(
    pieces: Sequence[Piece], pointers: Sequence[tuple[Row, tuple[DrawnPath, ...]]]
) -> tuple[list[Piece], list[Figure]]:
    """The pieces with what rows of a table say of the edges that their lines cross.

    Errors: InputError for a line that crosses no edge, and for a name that a piece has already.
    """
    changed = list(pieces)
    figures = []
    for row, lines in pointers:
        for line in lines:
            found = list(crossed(changed, [line]))
            if not found:
                raise InputError(
                    f"the line '{row.drawn}' of row {row.number} crosses no edge; draw it across one, or close it "
                    "if it is an outline"
                )
            for piece, edge in found:
                k = next(i for i, other in enumerate(changed) if other.uid == piece.uid)
                changed[k] = _with(changed[k], edge, row)
                if row.width is not None:
                    name = row.name or edge.name
                    figures.append(Figure(f"{piece.name}.{name} allowance", row.width))
    return changed, figures


def _with(piece: Piece, edge: Edge, row: Row) -> Piece:
    new = replace(edge, name=row.name or edge.name, use=row.use or edge.use)
    if new.name in piece.names() - {edge.name}:
        raise UsageError(f"row {row.number} of the table: {piece.name} has a '{row.name}' already; give another name")
    if row.width is not None:
        new = replace(new, allowance=Allowance(width=row.width))
    return replace(piece, edges=tuple(new if other.uid == edge.uid else other for other in piece.edges))

"""Edges that drawn lines cross: a short line across an edge points at it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from flatcut.errors import InputError, UsageError
from flatcut.geometry.curves import Curve, bounds
from flatcut.geometry.intersect import crossings
from flatcut.outlines.piece_table import Row
from flatcut.pattern.values import Allowance, DrawnPath, Edge, Figure, Piece
from flatcut.pattern.walking import drawn_of


def crossed(pieces: Sequence[Piece], lines: Sequence[DrawnPath]) -> Iterator[tuple[Piece, Edge]]:
    """The edges that lines cross, in the order of lines and pieces; boxes tell most of them apart."""
    boxes = [[_box(edge.parts) for edge in piece.edges] for piece in pieces if lines]
    for line in lines:
        mine = _box(line.curves)
        for piece, edge_boxes in zip(pieces, boxes, strict=True):
            for edge, box in zip(piece.edges, edge_boxes, strict=True):
                apart = mine[0] > box[2] or mine[2] < box[0] or mine[1] > box[3] or mine[3] < box[1]
                if not apart and any(crossings(part, curve) for part in edge.parts for curve in line.curves):
                    yield piece, edge


def crossed_at(pieces: Sequence[Piece], lines: Sequence[DrawnPath]) -> Iterator[tuple[Piece, Edge, float]]:
    """The same with where on the edge each crossing is, in mm of its drawn length."""
    for line in lines:
        for piece, edge in crossed(pieces, [line]):
            for k, part in enumerate(edge.parts):
                for hit in (hit for curve in line.curves for hit in crossings(part, curve)):
                    yield piece, edge, drawn_of(edge, k, hit.u)


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


def _box(curves: Sequence[Curve]) -> tuple[float, float, float, float]:
    boxes = [bounds(curve) for curve in curves]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))

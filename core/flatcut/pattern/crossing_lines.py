"""Edges that drawn lines cross: a short line across an edge points at it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from flatcut.geometry.curves import Curve
from flatcut.geometry.intersect import crossings
from flatcut.pattern.values import DrawnPath, Edge, Piece
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


def _box(curves: Sequence[Curve]) -> tuple[float, float, float, float]:
    """Smallest x, y and largest x, y of nodes and handles, within which the curves lie: wide, and quickly told."""
    points = np.concatenate([curve.controls.reshape(-1, 2) for curve in curves])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)

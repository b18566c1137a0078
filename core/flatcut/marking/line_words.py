"""Words along lines: the names of balance lines, and what is written along edges, such as CF."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point, polyline, tangent
from flatcut.geometry.length import length, places_at
from flatcut.marking.folds import FoldMark
from flatcut.marking.labels import block
from flatcut.marking.room import as_ring, frame, readable, rooms_at, segments
from flatcut.pattern.values import Edge, Piece, outline
from flatcut.pattern.walking import drawn_length, point_at

NAMED = "balance"
"""The kind of line whose name is written on it."""
HEIGHTS = (4.0, 3.5, 3.0)
"""mm: letter heights that are tried in this order (common practice, no source)."""
TRIED = (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78, 0.15, 0.85)
"""Where along the line the words may stand, in this order."""
OFF = 0.85
"""How far the middle of the letters stands off their line, as a part of their height."""


class LineWords(NamedTuple):
    """Words about a centre (2,), turned by `angle` degrees; of: uid of the line or edge."""

    words: str
    centre: Array
    angle: float
    height: float
    of: str

    def box(self) -> Curve:
        """The outline of the words, for what must not cross them."""
        x, y = np.array(block((self.words,), self.height)) / 2
        corners = np.array([[-x, -y], [x, -y], [x, y], [-x, y], [-x, -y]])
        return polyline(corners @ frame(self.angle).T + self.centre)


def line_words(piece: Piece, folds: tuple[FoldMark, ...], walls: Array) -> tuple[LineWords, ...]:
    """All words along lines and edges of a piece; what finds no room is left out.

    folds: marks that say the words of their edges; walls: (n, 2, 2) chords that the words keep clear of.
    """
    ring = as_ring(outline(piece))
    found: list[LineWords] = []
    for words, of, places in _wanted(piece, {fold.edge for fold in folds if fold.centre is not None}):
        made = _placed(words, of, places, ring, walls)
        if made is not None:
            found.append(made)
            walls = np.concatenate([walls, segments([made.box()])])
    return tuple(found)


Places = tuple[Array, Array]
"""Points and unit tangents, (n, 2) each, where words are tried."""


def _wanted(piece: Piece, said: set[str]) -> Iterator[tuple[str, str, Places]]:
    for edge in piece.edges:
        if edge.words and edge.uid not in said:
            yield edge.words, edge.uid, _along_edge(edge)
    for inner in piece.lines:
        if inner.kind == NAMED:
            yield inner.name.replace("-", " ").replace("_", " "), inner.uid, _along(inner.curve)


def _along_edge(edge: Edge) -> Places:
    whole = drawn_length(edge)
    points, tangents = zip(*(point_at(edge, share * whole) for share in TRIED), strict=True)
    return np.stack(points), np.stack(tangents)


def _along(curve: Curve) -> Places:
    places = places_at(curve, length(curve) * np.array(TRIED))
    return point(curve, places), tangent(curve, places)


def _placed(words: str, of: str, places: Places, ring: Array, walls: Array) -> LineWords | None:
    angles = [readable(math.degrees(math.atan2(y, x))) for x, y in places[1].tolist() for _ in (1, -1)]
    above = [
        side * (frame(angle) @ np.array([0.0, -1.0])) for angle, side in zip(angles, (1, -1) * len(TRIED), strict=True)
    ]
    for height in HEIGHTS:
        centres = np.repeat(places[0], 2, axis=0) + OFF * height * np.array(above)
        rooms = rooms_at(centres, block((words,), height), angles, ring, walls)
        found = np.flatnonzero(rooms >= 1.0)
        if len(found):
            k = int(found[0])
            return LineWords(words=words, centre=centres[k], angle=angles[k], height=height, of=of)
    return None

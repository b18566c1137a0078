"""The mark on an edge that lies on the fold of the cloth: a bracket with two arrows onto the edge, and words."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, polyline
from flatcut.marking.room import as_ring, frame, readable, rooms_at
from flatcut.pattern.graining import fold_brackets
from flatcut.pattern.values import Edge, Piece, outline

WORDS = "cut on fold"
HEAD = 4.0
"""mm: length of an arrow head."""
HEIGHT = 4.0
"""mm: letter height of the words."""
LETTER = 0.62
"""Width of a letter as a part of its height, on the wide side."""
TRIED = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
"""Where along the bracket the words may stand, in this order."""


class FoldMark(NamedTuple):
    """bracket: lines and arrow heads; words stand about `centre` at `angle` degrees; centre is None without room."""

    edge: str
    bracket: tuple[Curve, ...]
    centre: Array | None
    angle: float
    height: float = HEIGHT
    words: str = WORDS

    def box(self) -> tuple[Curve, ...]:
        """The outline of the words, for what must not cross them."""
        if self.centre is None:
            return ()
        x, y = len(self.words) * LETTER * self.height / 2, self.height / 2
        corners = np.array([[-x, -y], [x, -y], [x, y], [-x, y], [-x, -y]]) @ frame(self.angle).T
        return (polyline(self.centre + corners),)


def fold_marks(piece: Piece, lines: Array) -> list[FoldMark]:
    """The marks of all straight edges on the fold; lines: (n, 2, 2) chords that the words keep clear of."""
    return [_mark(piece, edge, corners, lines) for edge, corners in fold_brackets(piece)]


def _mark(piece: Piece, edge: Edge, corners: Array, lines: Array) -> FoldMark:
    first, last = corners[0], corners[3]
    way, into = unit(last - first), unit(corners[1] - first)
    deep = float(np.linalg.norm(corners[1] - first))
    head = min(HEAD, deep / 2)
    heads = [
        polyline([p + head * into - 0.35 * head * way, p, p + head * into + 0.35 * head * way]) for p in (first, last)
    ]
    bracket = (polyline(corners), *heads)
    angle = readable(math.degrees(math.atan2(way[1], way[0])))
    words = f"{edge.words}, {WORDS}" if edge.words else WORDS
    size = (len(words) * LETTER * HEIGHT, HEIGHT)
    centres = first + np.array(TRIED)[:, None] * (last - first) + (deep + 1.2 * HEIGHT) * into
    rooms = rooms_at(centres, size, [angle] * len(centres), as_ring(outline(piece)), lines)
    centre = next((centre for centre, room in zip(centres, rooms, strict=True) if room >= 1.0), None)
    return FoldMark(edge=edge.uid, bracket=bracket, centre=centre, angle=angle, words=words)

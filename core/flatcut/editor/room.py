"""Room on the page for what a press has drafted: what lies beyond it is not seen where the page fits the window."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.formats.svg.document import Document
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import boxes
from flatcut.pattern.values import Pattern, Piece
from flatcut.units import plain

MARGIN = 20.0
"""mm of page beyond a piece and its allowances."""
OFF = 1.0
"""mm that a piece may reach beyond the page before that is worth a word."""


def make_room(document: Document, before: Pattern, after: Pattern) -> list[str]:
    """Make the page as large as new and changed pieces want; what is to be said of that, and of those that lie off it
    still.

    Pieces that were made of what a hand has drawn are seen already, and so is what lies where others lay. A page that
    the step itself has made larger is its own figure.
    """
    old = {id(piece) for piece in before.pieces}
    drafted = [piece for piece in after.pieces if id(piece) not in old and not piece.origin]
    document.grow(after.page)
    new = dict(zip([piece.name for piece in drafted], _boxes(drafted), strict=True))
    if all((box[:2] >= -OFF).all() and (box[2:] <= np.add(document.page, OFF)).all() for box in new.values()):
        return []  # most presses: then nothing of what has not changed is measured
    seen = np.concatenate([[(0.0, 0.0, *document.page)], _boxes(before.pieces)])
    low, high = seen[:, :2].min(axis=0) - OFF, seen[:, 2:].max(axis=0) + OFF
    beyond = {name: box for name, box in new.items() if (box[:2] < low).any() or (box[2:] > high).any()}
    if not beyond:
        return []
    had, said = document.page, []
    wide, high = np.maximum(np.ceil(np.max([box[2:] for box in beyond.values()], axis=0) + MARGIN), had).tolist()
    document.grow((wide, high))
    if document.page != had:
        size = " × ".join(plain(round(side)) for side in document.page)
        said.append(f"the page is {size} mm now; the key 5 shows all of it")
    page = np.add(document.page, OFF)
    off = [name for name, box in beyond.items() if (box[:2] < -OFF).any() or (box[2:] > page).any()]
    if off:
        lie = "lies" if len(off) == 1 else "lie"
        said.append(f"{' and '.join(off)} {lie} beyond the page; the key 4 shows all that is drawn")
    return said


def _boxes(pieces: Sequence[Piece]) -> Array:
    """Left, top, right and bottom of pieces, each edge with its allowance beside it, mm, (n, 4)."""
    if not pieces:
        return np.zeros((0, 4))
    edges = [edge for piece in pieces for edge in piece.edges]
    width = np.array([[0.0 if edge.allowance is None else edge.allowance.width] for edge in edges])
    each = boxes([edge.parts for edge in edges]) + width * (-1.0, -1.0, 1.0, 1.0)
    first = np.cumsum([0, *(len(piece.edges) for piece in pieces[:-1])])
    low, high = np.minimum.reduceat(each[:, :2], first), np.maximum.reduceat(each[:, 2:], first)
    return np.concatenate([low, high], axis=1)

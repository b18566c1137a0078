"""Room on the page for what a press has drafted: what lies beyond it is not seen where the page fits the window."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.formats.svg.document import Document
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import boxes
from flatcut.pattern.values import Pattern, Piece, outline
from flatcut.units import plain

MARGIN = 20.0
"""mm of page beyond a piece and its allowances."""


def make_room(document: Document, before: Pattern, after: Pattern) -> list[str]:
    """Make the page as large as new and changed pieces want; what is to be said of that, and of those that lie off it
    still.

    Pieces that were made of what a hand has drawn are seen already, and so is what lies where others lay.
    """
    old = {id(piece) for piece in before.pieces}
    drafted = [piece for piece in after.pieces if id(piece) not in old and not piece.origin]
    new = dict(zip([piece.name for piece in drafted], _boxes(drafted), strict=True))
    if all((box[:2] >= 0).all() and (box[2:] <= document.page).all() for box in new.values()):
        return []  # most presses: then nothing of what has not changed is measured
    seen = np.concatenate([[(0.0, 0.0, *document.page)], _boxes(before.pieces)])
    low, high = seen[:, :2].min(axis=0), seen[:, 2:].max(axis=0)
    beyond = {name: box for name, box in new.items() if (box[:2] < low).any() or (box[2:] > high).any()}
    if not beyond:
        return []
    had, said = document.page, []
    wide, high = np.maximum(np.ceil(np.max([box[2:] for box in beyond.values()], axis=0) + MARGIN), had).tolist()
    document.grow((wide, high))
    if document.page != had:
        size = " × ".join(plain(round(side)) for side in document.page)
        said.append(f"the page is {size} mm now; the key 5 shows all of it")
    off = [name for name, box in beyond.items() if (box[:2] < 0).any() or (box[2:] > document.page).any()]
    if off:
        lie = "lies" if len(off) == 1 else "lie"
        said.append(f"{' and '.join(off)} {lie} beyond the page; the key 4 shows all that is drawn")
    return said


def _boxes(pieces: Sequence[Piece]) -> Array:
    """Left, top, right and bottom of pieces with their allowances, mm, (n, 4)."""
    room = np.array(
        [max((e.allowance.width for e in one.edges if e.allowance is not None), default=0) for one in pieces]
    )
    return boxes([outline(piece) for piece in pieces]) + room[:, None] * (-1.0, -1.0, 1.0, 1.0)

"""Room on the page for what a press has drafted: what lies beyond it is not seen where the page fits the window."""

from __future__ import annotations

import numpy as np

from flatcut.formats.svg.document import Document
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, chain
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
    new = {p.name: _box(p) for p in after.pieces if id(p) not in old and not p.origin}
    seen = np.array([(0.0, 0.0, *document.page), *map(_box, before.pieces)])
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


def _box(piece: Piece) -> Array:
    """Left, top, right and bottom of a piece with its allowances, mm, (4,)."""
    room = max((edge.allowance.width for edge in piece.edges if edge.allowance is not None), default=0.0)
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-6))
    return np.array([x0 - room, y0 - room, x1 + room, y1 + room])

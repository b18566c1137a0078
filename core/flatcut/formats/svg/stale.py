"""Cut lines in a document that are not those that its pieces have now."""

from __future__ import annotations

import numpy as np

from flatcut.derive.cutline import CutLine, cut_lines
from flatcut.derive.rims import Rim, rims
from flatcut.errors import GeometryError, InputError
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.drawing import Drawing, Held
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.curves import Curve, point, transform
from flatcut.geometry.nearest import nearest
from flatcut.pattern.values import Piece

OLDER = 0.1
"""mm: cut lines nearer to each other than this are the same; a change of an edge that matters is larger."""


def stale(drawing: Drawing) -> list[str]:
    """A sentence for each piece whose cut line in the document is not the one that it has now.

    An outline whose nodes were moved, or a cut line moved or edited by hand: what is derived afresh differs from both.
    """
    held = list(drawing.held.values())
    found: list[tuple[Piece, list[Rim]]] = []
    for one in held:
        try:
            found.append((one.piece, rims(one.piece)))
        except GeometryError:
            found.append((one.piece, []))
    return [
        f"the cut line drawn for {one.piece.name} is older than the piece; it was made anew for the print"
        for one, cut in zip(held, cut_lines(found), strict=True)
        if isinstance(cut, CutLine) and not _drawn(drawing.document, one, cut.curve)
    ]


def _drawn(document: Document, held: Held, cut: Curve) -> bool:
    """Whether the document shows this cut line."""
    for element in (e for group in held.derived for e in group.iter() if e.get(own("drawn")) == "cut"):
        try:
            shown = [sub.curve for sub in parse(element.get("d", ""))]
            matrix = document.matrix_of(element)
        except InputError:
            return False
        return len(shown) == 1 and _close(transform(shown[0], matrix), cut)
    return False


def _close(one: Curve, other: Curve) -> bool:
    pairs = ((one, other), (other, one))
    return all(float(nearest(b, point(a, np.arange(2 * len(a)) / 2))[1].max()) < OLDER for a, b in pairs)

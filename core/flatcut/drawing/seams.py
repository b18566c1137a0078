"""A seam as strokes: its pieces laid along each other as they are walked, the seam itself bold."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from flatcut.drawing.ink import Stroke
from flatcut.drawing.laying import Laid, Side, laid
from flatcut.drawing.pieces import outlines
from flatcut.drawing.roles import FOLD_LINE, GRAIN, LINE, OUTLINE, PLACEMENT, STITCH, Role
from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import transform
from flatcut.marking.cutline import cut_line
from flatcut.pattern.runs import run_curves
from flatcut.pattern.seam_ends import before
from flatcut.pattern.values import Pattern, Piece, Seam

SEAM = Role(name="seam", width=1.0)
"""The stitch line of the seam, bold."""
NEAR_END = 0.05
"""mm: a leg of a dart this near to the end of a stretch bounds it."""
INNER = (LINE, FOLD_LINE, PLACEMENT)
"""Lines inside pieces, which no picture of a seam needs."""


def seam_strokes(pattern: Pattern, seam: Seam, *, cut: bool = False) -> tuple[list[Stroke], Side, Side]:
    """The strokes of both sides, and the sides as they lie. cut: with cut lines, where there are some."""
    one, two = laid(pattern, seam)
    strokes: list[Stroke] = []
    for part in (*one.parts, *two.parts):
        if part.broken:
            strokes += _beside(part)
        else:
            strokes += piece_strokes(part.step.piece, part.to, cut=cut, without=(*INNER, GRAIN))
        curves = tuple(transform(curve, part.to) for curve in run_curves(part.step))
        strokes.append(Stroke(role=SEAM, curves=curves, of=part.step.edge.uid))
    return strokes, one, two


def piece_strokes(
    piece: Piece, to: Affine, *, cut: bool = False, without: tuple[Role, ...] = INNER
) -> Iterator[Stroke]:
    """The lines of a piece, but for some roles; cut: with its cut line, where there is one."""
    try:
        made = cut_line(piece) if cut else None
    except GeometryError:
        made = None  # the finding says so
    lines = outlines(piece, None if made is None else made.curve)
    yield from (stroke.under(to) for stroke in lines if stroke.role not in without)


def _beside(part: Laid) -> Iterator[Stroke]:
    """What bounds a stretch between darts or pleats: legs of the darts, and the edges that it runs into.

    The whole piece cannot be drawn, for it does not lie flat once they are closed.
    """
    piece, edge = part.step.piece, part.step.edge
    ends = [end for curve in run_curves(part.step) for end in (curve.start, curve.end)]
    bounds = [(STITCH, leg) for dart in piece.darts for leg in dart.legs]
    if edge in piece.edges:
        bounds += [(OUTLINE, piece.after(edge).parts[0]), (OUTLINE, before(piece, edge).parts[-1])]
    for role, curve in bounds:
        if any(min(np.linalg.norm(curve.start - at), np.linalg.norm(curve.end - at)) < NEAR_END for at in ends):
            yield Stroke(role=role, curves=(transform(curve, part.to),))

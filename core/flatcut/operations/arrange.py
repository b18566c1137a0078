"""`arrange`: pieces side by side, grain upright, or laid together along edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import length, refs
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, chain, flatten
from flatcut.geometry.rows import rows
from flatcut.marking.cutline import Made, cut_lines_of
from flatcut.marking.derived import derive_all
from flatcut.marking.room import frame
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.cut_lines import CutLine
from flatcut.pattern.motions import Motion
from flatcut.pattern.moving import moved
from flatcut.pattern.places import Place
from flatcut.pattern.values import Figure, Pattern, Piece, Style, area, outline
from flatcut.sewing.joining import laid_beside
from flatcut.sewing.opened import named_side

WIDTH = 1500.0
"""mm: width of a row where there is no page."""
NARROW = 80.0
"""mm: a piece that is wider, as a strip of its area and outline would be, has room for its label."""


@operation(menu="Prepare", title="Arrange pieces")
@dataclass(frozen=True, kw_only=True)
class Arrange(Operation):
    """Lay the pieces side by side in rows, each with its grain line upright.

    A label that stands beside its piece has its room there. The first piece keeps its upper left corner, unless that
    lies off the page or leaves no room for the widest piece; the others follow in their order. The page grows where
    they would lie off it. With --against pieces are laid together instead, as for a line that runs on over a seam:
    the piece of every second edge, or stretch, is turned and moved so that it lies along the first one; the others
    stay where they are.
    """

    width: float | None = length(None, ("width of a row", "", "that of the page"), low=50)
    gap: float = length(20.0, "space between pieces", high=500)
    against: tuple[Place, ...] = refs(
        ("edge", "stretch"),
        ("edges laid along each other", "in pairs, the one that stays first", "all pieces side by side"),
        filled=False,
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        if not pattern.pieces:
            return Outcome(pattern=pattern)
        if self.against:
            return self._laid_together(pattern)
        turns = [_upright(piece) for piece in pattern.pieces]
        turned = [moved(piece, turn) for piece, turn in zip(pattern.pieces, turns, strict=True)]
        cuts = _cuts(pattern.pieces, pattern.cuts)
        lines = [cut and cut.moved(turn) for cut, turn in zip(cuts, turns, strict=True)]
        boxes = [_with_label(piece, cut, pattern.style) for piece, cut in zip(turned, lines, strict=True)]
        first = boxes[0] if turns[0] == Affine() else box(pattern.pieces[0])
        left, top = (corner if corner >= 0 else self.gap for corner in first[:2])
        widest = max(x1 - x0 for x0, _, x1, _ in boxes)
        if self.width is None and left + widest + self.gap > pattern.page[0]:
            left = min(left, self.gap)
        across = self.width or (pattern.page[0] - left - self.gap if pattern.page[0] else WIDTH)
        places = rows(boxes, across, self.gap)
        shifts = [
            Affine.translation(left + x - x0, top + y - y0)
            for (x0, y0, _, _), (x, y) in zip(boxes, places, strict=True)
        ]
        laid = [moved(piece, shift) for piece, shift in zip(turned, shifts, strict=True)]
        onward = {
            piece.uid: (piece, cut and cut.moved(shift @ turn))
            for piece, cut, shift, turn in zip(laid, cuts, shifts, turns, strict=True)
        }
        motions = tuple(
            Motion.of(piece.uid, _ring(piece), shift @ turn)
            for piece, shift, turn in zip(pattern.pieces, shifts, turns, strict=True)
        )
        ends = np.array([(x + x1 - x0, y + y1 - y0) for (x0, y0, x1, y1), (x, y) in zip(boxes, places, strict=True)])
        width, height = map(float, ends.max(axis=0))
        wide, high = left + width + self.gap, top + height + self.gap
        page = (max(pattern.page[0], wide), max(pattern.page[1], high)) if any(pattern.page) else pattern.page
        figures: tuple[Figure, ...] = (
            Figure("width", width),
            Figure("height", height),
        )
        if page != pattern.page:
            figures = (*figures, Figure("page width", page[0]), Figure("page height", page[1]))
        after = replace(pattern, pieces=tuple(laid), page=page, cuts=onward)
        return Outcome(pattern=after, figures=figures, motions=motions)

    def _laid_together(self, pattern: Pattern) -> Outcome:
        if len(self.against) % 2:
            raise UsageError(
                Option("against"),
                f" takes edges in pairs, and {len(self.against)} are given; name one more or one less",
            )
        figures, motions = [], []
        for still, moving in zip(self.against[::2], self.against[1::2], strict=True):
            held, other = named_side(pattern, still), named_side(pattern, moving)
            if held.piece.uid == other.piece.uid:
                raise UsageError(f"both edges lie on {held.piece.name}; name edges of two pieces")
            laid, off, matrix = laid_beside(held, other)
            motions.append(Motion.of(other.piece.uid, _ring(other.piece), matrix))
            pattern = pattern.with_piece(laid)
            figures += [
                Figure(f"{moving} longer than {still}", (other.high - other.low) - (held.high - held.low)),
                Figure(f"{moving} off {still}, at most", off),
            ]
        return Outcome(pattern=pattern, figures=tuple(figures), motions=tuple(motions))


def upright(piece: Piece) -> Piece:
    """The piece turned so that its grain line is upright."""
    return moved(piece, _upright(piece))


def _upright(piece: Piece) -> Affine:
    return Affine() if piece.grain is None else piece.grain.upright


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.1)


def box(piece: Piece) -> tuple[float, float, float, float]:
    """Smallest x, y and largest x, y of a piece with its cut line, in mm."""
    return _box(piece, _cuts([piece], {})[0])


def _box(piece: Piece, cut: CutLine | None) -> tuple[float, float, float, float]:
    return bounds(chain(outline(piece), within=1e-6) if cut is None else cut.curve)


def _with_label(piece: Piece, cut: CutLine | None, style: Style) -> tuple[float, float, float, float]:
    """The box of a piece with its label, where that has no room inside and stands beside it."""
    own = _box(piece, cut)
    ring = _ring(piece)
    around = float(np.linalg.norm(np.diff(ring, axis=0), axis=1).sum())
    # elsewhere there is room, and most pieces need not be lettered for that to be known
    if cut is None or not piece.caption.shown or 2 * abs(area(piece)) > NARROW * around:
        return own
    label = derive_all([piece], style, made={piece.uid: (piece, cut)})[0].label
    if label is None or label.leader is None:
        return own
    half = np.abs(frame(label.angle)) @ np.array(label.size) / 2
    (x0, y0), (x1, y1) = label.centre - half, label.centre + half
    return min(own[0], float(x0)), min(own[1], float(y0)), max(own[2], float(x1)), max(own[3], float(y1))


def _cuts(pieces: Sequence[Piece], made: Made) -> list[CutLine | None]:
    """The cut lines. Errors: GeometryError where a piece can have none."""
    found = []
    for cut in cut_lines_of(pieces, made):
        if isinstance(cut, GeometryError):
            raise cut
        found.append(cut)
    return found

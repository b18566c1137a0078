"""What the labels say can be cut, and is all there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from flatcut.checks.check import Check, Subject
from flatcut.declared.fields import further, length
from flatcut.findings import FAULT, WARNING, Finding
from flatcut.geometry.symmetry import off_own_mirror
from flatcut.marking.cutline import wants_cut
from flatcut.marking.labels import cutting, label, lies_beside, lines_of
from flatcut.marking.room import as_ring, segments
from flatcut.pattern.values import Pattern, Piece, Style, outline
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Labels(Check):
    """Labels say what can be cut: even pairs, a fold that is there, a material of the style; they lie on the piece.

    A piece that is cut several times and is not its own mirror image is a pair, or for a side that is named.
    """

    sided: float = further(
        length(2.0, ("labels: off its mirror image by", "how far a piece may be that is cut several times, no pair")),
        "Labels",
    )

    def find(self, subject: Subject) -> Iterator[Finding]:
        """Pieces whose label says what cannot be cut, or too little."""
        style = subject.pattern.style
        for piece in subject.pattern.pieces:
            yield from self._cutting(subject.pattern, piece)
            if not piece.caption.shown and wants_cut(piece):
                text = f"{piece.name} has no label, it was deleted by hand; draw it with: redraw {piece.name} --force"
                yield self._finding(WARNING, text, piece.name)
            yield from self._place(piece, style)
            if piece.material and style.materials and piece.material not in style.materials:
                text = f"{piece.name} is cut in {piece.material}, which the style does not list; list it with style"
                yield self._finding(WARNING, text, piece.name)
            if style.materials and not piece.material and wants_cut(piece):
                text = (
                    f"{piece.name} says nothing of its material; say with label which of {', '.join(style.materials)}"
                )
                yield self._finding(WARNING, text, piece.name)
        if style.name and not style.size and any(wants_cut(piece) for piece in subject.pattern.pieces):
            text = f"the labels say no size; give {style.name} one with style"
            yield self._finding(WARNING, text, *(piece.name for piece in subject.pattern.pieces))

    def _place(self, piece: Piece, style: Style) -> Iterator[Finding]:
        """A label that was put beside a piece that has room for it."""
        wanted = piece.caption.at
        if wanted is None or not piece.caption.shown or not wants_cut(piece):
            return
        if not lies_beside(wanted, as_ring(outline(piece))):
            return
        free = replace(piece, caption=replace(piece.caption, at=None))
        if label(free, style, segments(lines_of(piece))).leader is None:
            text = f"the label of {piece.name} lies beside it, where another piece may lie; put it onto {piece.name}"
            yield self._finding(WARNING, text, piece.name)

    def _cutting(self, pattern: Pattern, piece: Piece) -> Iterator[Finding]:
        folds = [f"{piece.name}.{edge.name}" for edge in piece.edges if edge.use == "fold"]
        if piece.quantity < 1:
            yield self._finding(
                FAULT, f"{piece.name} is cut {piece.quantity} times; say with label how often", piece.name
            )
        elif piece.cut_as == "pair" and piece.quantity % 2:
            text = f"{piece.name} is cut in pairs and {piece.quantity} times; give an even number with label"
            yield self._finding(FAULT, text, piece.name)
        if piece.cut_as == "fold" and not folds:
            text = f"{piece.name} says '{cutting(piece)}', and none of its edges lies on the fold; say which with edge"
            yield self._finding(FAULT, text, piece.name)
        if folds and piece.cut_as != "fold" and wants_cut(piece):
            text = f"{folds[0]} lies on the fold, and {piece.name} says '{cutting(piece)}'; put it right with label"
            yield self._finding(WARNING, text, piece.name, folds[0])
        if piece.one_sided and piece.quantity > 1 and not piece.side and wants_cut(piece):
            yield from self._one_way(pattern, piece)
        if piece.side and piece.cut_as != "single":
            text = (
                f"{piece.name} is for the {piece.side} side only and says '{cutting(piece)}'; put it right with label"
            )
            yield self._finding(WARNING, text, piece.name)

    def _one_way(self, pattern: Pattern, piece: Piece) -> Iterator[Finding]:
        """A piece that differs from its mirror image, cut several times and never mirrored.

        Where it is sewn to what there is for both sides that is a fault; gores that lean are cut so.
        """
        off = off_own_mirror(as_ring(outline(piece)))
        if off <= self.sided:
            return
        pair = f"if half of them are mirrored, say so with: label {piece.name} --cut=pair; else "
        todo = (pair if piece.quantity % 2 == 0 else "") + "say with label which side they are for"
        yield Finding(
            check=self.name,
            severity=FAULT if _sewn_to_both_sides(pattern, piece) else WARNING,
            where=(piece.name,),
            text=f"{piece.name} says '{cutting(piece)}' and differs from its mirror image by {plain(off)} mm, so that "
            f"all {piece.quantity} are for one side; {todo}",
            figure=off,
            passes=self.sided,
        )

    def _finding(self, severity: str, text: str, *where: str) -> Finding:
        return Finding(check=self.name, severity=severity, where=where, text=text)


def _sewn_to_both_sides(pattern: Pattern, piece: Piece) -> bool:
    """Whether a piece is sewn to a pair, or to a piece on the fold: to both sides of the body."""
    seams = (seam for seam in pattern.seams if not seam.suggested)
    for run, other in (both for seam in seams for both in ((seam.a, seam.b), (seam.b, seam.a))):
        if any(part.piece == piece.uid for part in run):
            mates = (pattern.piece_of(part.piece) for part in other if part.piece != piece.uid)
            if any(mate.cut_as in ("pair", "fold") for mate in mates):
                return True
    return False

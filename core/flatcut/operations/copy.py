"""`copy`: pieces once more, of another material, mirrored, or inside their cut line as fusing."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flatcut.copies.copying import copied, names_for
from flatcut.copies.fusing import fused
from flatcut.declared.fields import flag, length, piece_names, refs, text
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.assembling import free_place, laid_out
from flatcut.pattern.places import Place
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Pattern, Piece, area


@operation(menu="Derive", title="Copy pieces")
@dataclass(frozen=True, kw_only=True)
class CopyPieces(Operation):
    """Copy pieces with all that is on them: darts, notches, grain, lines and allowances.

    A copy stays as it is whatever becomes of its piece later. In another material it is sewn as its piece is: to the
    copies of that material where both sides of a seam have one, else to the piece itself. With --inset it is a fusing
    inside the cut line, which remembers its piece: when that changes, check says so.
    """

    target: tuple[Place, ...] = refs("piece", "pieces")
    names: tuple[str, ...] = piece_names(
        ("names of the copies", "in the order of the pieces", "the name with the material, -copy or -fusing")
    )
    material: str = text("", ("material of the copies", "such as lining", "that of the piece, fusing with --inset"))
    mirror: bool = flag(False, "as mirror images")
    inset: float | None = length(
        None,
        # 1 to 2 mm inside the cut line is common practice, no source
        ("how far inside the cut line", "as fusing is cut, such as 2 mm", "a full copy"),
        high=50,
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        pieces = [pattern.piece(name) for name in dict.fromkeys(place.piece for place in self.target)]
        if not pieces:
            raise UsageError("copy wants pieces; name them, or all")
        if self.inset is not None:
            return self._fusing(pattern, pieces, self.inset)
        names = names_for(pattern, pieces, self.names, self.material or "copy")
        done = copied(
            pattern,
            pieces,
            names,
            material=self.material,
            kind="copy",
            mirror=[one.uid for one in pieces] if self.mirror else (),
        )
        figures = (
            *(Figure(f"{piece.name} area", abs(area(piece)) / 100, "cm²") for piece in done.pieces),
            Figure("seams among copies", done.joined, ""),
            Figure("seams of copies to pieces without one", done.shell, ""),
        )
        return Outcome(pattern=done.pattern, figures=figures, warnings=(*done.warnings, *self._unlisted(pattern)))

    def _fusing(self, pattern: Pattern, pieces: list[Piece], inset: float) -> Outcome:
        if self.mirror:
            raise UsageError("a fusing lies on its own piece; leave out ", Option("mirror"))
        names = names_for(pattern, pieces, self.names, "fusing")
        uids = Uids(pattern.uids())
        material = self.material or "fusing"
        made = [
            fused(
                piece,
                inset,
                uids,
                name=name,
                material=material,
                line=replace(self, target=(Place(piece=piece.name),), names=(name,)).line(),
            )
            for piece, name in zip(pieces, names, strict=True)
        ]
        left, top = free_place(pattern)
        laid = laid_out(made, left=left, top=top)
        figures = tuple(Figure(f"{piece.name} area", abs(area(piece)) / 100, "cm²") for piece in laid)
        done = replace(pattern, pieces=(*pattern.pieces, *laid))
        return Outcome(pattern=done, figures=figures, warnings=self._unlisted(pattern, material))

    def _unlisted(self, pattern: Pattern, material: str = "") -> tuple[str, ...]:
        known, material = pattern.style.materials, material or self.material
        if not material or not known or material in known:
            return ()
        return (f"{material} is no material that the style lists; list it with style",)

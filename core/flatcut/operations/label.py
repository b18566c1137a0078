"""`label`: what a piece says about itself, and where it says it."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass, replace

from flatcut.declared.fields import choice, number, ref, refs, text
from flatcut.errors import Option, UsageError
from flatcut.marking.derived import derive_all
from flatcut.marking.labels import cutting
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.sourcing import sources_of
from flatcut.pattern.spots import spot
from flatcut.pattern.values import CUT_AS, Figure, Pattern, Piece

NOTHING = "none"
"""What takes back a side, a material or further words."""
OWN, COPY = ("lining", "fusing"), "copy"
"""Kinds of source of pieces whose material is another than that of what they were made of."""


@operation(menu="Finish", title="Label piece")
@dataclass(frozen=True, kw_only=True)
class SetLabel(Operation):
    """Say of which material and how often a piece is cut, and what else its label tells.

    What is left out stays as it was; "none" takes a material, a side or further words back. Linings and fusings that
    are named together with their pieces, as by all, keep their material. A piece with an edge on the
    fold is cut on the fold, a pair is cut twice, unless something else is said. Semicolons part lines of further words.
    """

    target: tuple[Place, ...] = refs("piece", "pieces")
    cut: str = choice("", ("how it is cut", "single, as a mirrored pair, or on the fold"), ("", *CUT_AS))
    quantity: float | None = number(None, ("how many are cut in all", "a pair counts two"), low=1, high=500, digits=0)
    material: str = text("", ("material", "such as shell, lining or fusing"))
    side: str = choice("", ("side", "which it is for, where left and right differ"), ("", "left", "right", NOTHING))
    text: str = text("", ("further words", "with semicolons between lines"))
    at: Place | None = ref(
        "place", ("where its middle stands", "the place that is wanted for the middle of the label"), optional=True
    )

    def _apply(self, pattern: Pattern) -> Outcome:
        chosen = {pattern.piece(place.piece).uid for place in self.target}
        if self.at and len(chosen) != 1:
            raise UsageError(Option("at"), f" is for the label of one piece, and {len(chosen)} are named; name one")
        figures: list[Figure] = []
        warnings: list[str] = []
        pieces = []
        for piece in pattern.pieces:
            told = self._told(pattern, piece) if piece.uid in chosen else piece
            if told.material != piece.material and _of_another(pattern, piece, chosen):
                warnings.append(f"{piece.name} stays of {piece.material}; name it by itself to say of what it is cut")
                told = replace(told, material=piece.material)
            pieces.append(told)
        told_of = [piece for piece in pieces if piece.uid in chosen]
        cuts = dict(pattern.cuts)
        for piece, made in zip(told_of, derive_all(told_of, pattern.style, made=cuts), strict=True):
            if made.fault is not None:
                raise made.fault
            cuts[piece.uid] = piece, made.cut
            figures.append(Figure(f"{piece.name}: {cutting(piece)}, layers of cloth", _layers(piece), ""))
            known = pattern.style.materials
            if piece.material and known and piece.material not in known:
                warnings.append(f"{piece.name} is cut in {piece.material}, which the style does not list")
            found = made.label
            if found is not None:
                figures.append(Figure(f"{piece.name} label, letter height", found.height))
                if found.leader is not None:
                    warnings.append(f"the label of {piece.name} has no room inside it and stands beside it")
        return Outcome(
            pattern=replace(pattern, pieces=tuple(pieces), cuts=cuts),
            figures=tuple(figures),
            warnings=tuple(dict.fromkeys(warnings)),
        )

    def _told(self, pattern: Pattern, piece: Piece) -> Piece:
        cut = self.cut or piece.cut_as
        if not self.cut and cut == "single" and any(edge.use == "fold" for edge in piece.edges):
            cut = "fold"
        quantity = piece.quantity if self.quantity is None else int(self.quantity)
        if cut == "pair" and quantity % 2:
            if self.quantity is not None:
                raise UsageError(f"{piece.name} is cut in pairs, and {quantity} is no even number; give an even one")
            quantity += 1
        if self.cut == "pair" and any(edge.use == "fold" for edge in piece.edges):
            raise UsageError(f"{piece.name} has an edge on the fold, so it is no pair; give ", Option("cut", "fold"))
        caption = replace(piece.caption, shown=True)
        if self.text:
            caption = replace(caption, text="" if self.text == NOTHING else self.text)
        if self.at:
            found = spot(pattern, self.at)
            if found.piece != piece.uid:
                raise UsageError(f"'{self.at}' is a place of another piece; name one of {piece.name}")
            caption = replace(caption, at=found.point)
        return replace(
            piece,
            cut_as=cut,
            quantity=quantity,
            material=_taken(self.material, piece.material),
            side=_taken(self.side, piece.side),
            caption=caption,
        )


def _of_another(pattern: Pattern, piece: Piece, chosen: Set[str]) -> bool:
    """Whether a piece is the lining or the fusing of another that is named with it, and so of a material of its own.

    So is a copy that was made in another material than its piece is of.
    """
    source = piece.source
    if source is None or not piece.material or not chosen & {*source.of}:
        return False
    made_in = {one.material for one in sources_of(pattern, piece)}
    return source.kind in OWN or (source.kind == COPY and piece.material not in made_in)


def _taken(said: str, before: str) -> str:
    return "" if said == NOTHING else (said or before)


def _layers(piece: Piece) -> int:
    """How many layers of cloth a piece is, one half of the fold counted for itself."""
    return piece.quantity * (2 if piece.cut_as == "fold" else 1)

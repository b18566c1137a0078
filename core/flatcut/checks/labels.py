"""What the labels say can be cut: pairs are even, the fold is an edge on the fold."""

from __future__ import annotations

from collections.abc import Iterator

from flatcut.checks.check import FAULT, WARNING, Finding
from flatcut.derive.cutline import wants_cut
from flatcut.derive.labels import cutting
from flatcut.pattern.values import Pattern


def check(pattern: Pattern) -> Iterator[Finding]:
    """Pairs with an odd number, pieces on a fold that they do not have, materials that the style does not list."""
    known = pattern.style.materials
    for piece in pattern.pieces:
        folds = [f"{piece.name}.{edge.name}" for edge in piece.edges if edge.use == "fold"]
        if piece.cut_as == "pair" and piece.quantity % 2:
            text = f"{piece.name} is cut in pairs and {piece.quantity} times; give an even number with label"
            yield Finding(check="labels", severity=FAULT, where=(piece.name,), text=text, figure=1, unit="")
        if piece.cut_as == "fold" and not folds:
            text = f"{piece.name} says '{cutting(piece)}', and none of its edges lies on the fold; say which with edge"
            yield Finding(check="labels", severity=FAULT, where=(piece.name,), text=text)
        if folds and piece.cut_as != "fold" and wants_cut(piece):
            text = f"{folds[0]} lies on the fold, and {piece.name} says '{cutting(piece)}'; put it right with label"
            yield Finding(check="labels", severity=WARNING, where=(piece.name, folds[0]), text=text)
        if piece.material and known and piece.material not in known:
            text = f"{piece.name} is cut in {piece.material}, which the style does not list"
            yield Finding(check="labels", severity=WARNING, where=(piece.name,), text=text)

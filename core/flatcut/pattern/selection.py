"""What a person has selected in the editor, in the pattern's own terms."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Selection:
    """References in the order of selection.

    pieces: names of pieces; drawn: ids of paths and texts that belong to no piece; places: corners (`a/b`) and
    `edge@fraction` places of selected nodes, as text; lines: names of internal lines, as `piece.line`.
    """

    pieces: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.pieces or self.drawn or self.places or self.lines)

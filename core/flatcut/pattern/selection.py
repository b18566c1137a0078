"""What a person has selected in the editor, in the pattern's own terms."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from flatcut.pattern.places import Place, parse_place


class Node(NamedTuple):
    """A selected node of a drawn object that is no piece, by the object's id; x, y in mm."""

    of: str
    x: float
    y: float


@dataclass(frozen=True, kw_only=True)
class Selection:
    """References in the order of selection.

    pieces: names of pieces; drawn: ids of paths and texts that belong to no piece; places: corners (`a/b`) and
    `edge@fraction` places of selected nodes, and parts of darts; lines: internal lines; both may be given as they are
    written. nodes: of the drawn objects.
    """

    pieces: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()
    places: tuple[Place, ...] = ()
    lines: tuple[Place, ...] = ()
    nodes: tuple[Node, ...] = ()

    def __post_init__(self) -> None:
        for key in ("places", "lines"):
            row = tuple(parse_place(one) if isinstance(one, str) else one for one in getattr(self, key))
            object.__setattr__(self, key, row)

    def __bool__(self) -> bool:
        return bool(self.pieces or self.drawn or self.places or self.lines)


NOTHING = Selection()
"""Nothing is selected."""

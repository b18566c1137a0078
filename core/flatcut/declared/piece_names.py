"""The kinds of parameter that give names to pieces; they follow where pieces are called otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flatcut.declared.kinds import Text, Texts
from flatcut.pattern.places import Rename


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PieceName(Text):
    """The name of a piece."""

    named: bool = True

    def renamed(self, value: Any, name: Rename) -> Any:
        """The new name."""
        return name(value) if value else value


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PieceNames(Texts):
    """Names of pieces with commas between them."""

    named: bool = True

    def renamed(self, value: Any, name: Rename) -> Any:
        """The new names."""
        return tuple(map(name, value))


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class PartNames(Texts):
    """Names of pieces with commas between them, each with an edge that it is known by, such as front-side.side, or not.

    >>> PartNames(what="names").renamed(("a.side", "b"), lambda name: f"x-{name}")
    ('x-a.side', 'x-b')
    """

    named: bool = True

    def renamed(self, value: Any, name: Rename) -> Any:
        """The new names, with the same edges."""
        parts = (one.partition(".") for one in value)
        return tuple(f"{name(piece)}{dot}{edge}" for piece, dot, edge in parts)

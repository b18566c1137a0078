"""How marks are drawn: one file for each kind that has a symbol of its own, by the name of the kind."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import cache
from importlib import import_module
from typing import Any

from flatcut.geometry.curves import Curve
from flatcut.pattern.values import Mark, Piece


def symbol(piece: Piece, mark: Mark) -> tuple[Curve, ...]:
    """What is drawn for a mark, true to size; nothing where what it goes with is gone, or where its kind has no symbol.

    Symmetric about its middle, `Mark.place`: so a symbol that was moved by hand tells where its mark was moved to.
    Notches, lines, the grain line and the label have none: they follow from more than the mark.
    """
    made = _maker(mark.role)
    return () if made is None else tuple(made(piece, mark))


def symbols(piece: Piece) -> list[Curve]:
    """All symbols of a piece."""
    return [curve for mark in piece.marks() for curve in symbol(piece, mark)]


@cache
def _maker(role: str) -> Callable[[Piece, Any], list[Curve]] | None:
    """The function `drawn` of the file for a kind, if there is one."""
    if role == "shapes" or not os.path.exists(os.path.join(__path__[0], f"{role}.py")):
        return None
    made: Callable[[Piece, Any], list[Curve]] = import_module(f"{__name__}.{role}").drawn
    return made

"""The fields of what is declared.

Each is written once and tells every surface (Python, command, dialog, recipe) what it needs; what it knows is said by
its kind (`kinds.py`, `references.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from typing import Any

from flatcut.declared.kinds import (
    Choice,
    File,
    Flag,
    Kind,
    Length,
    Lengths,
    Number,
    Text,
    Texts,
)
from flatcut.declared.piece_names import PartNames, PieceName, PieceNames
from flatcut.declared.references import Along, Ref, Refs, Span


def field_of(kind: Kind, default: Any) -> Any:
    """A field of that kind."""
    return field(default=default, metadata={"kind": kind})


def length(default: float | None, help: str, *, low: float = 0.0, high: float = 10_000.0) -> Any:
    """A length in mm, or an expression that gives one; None when it may be left out."""
    return field_of(Length(help=help, low=low, high=high, optional=default is None), default)


def lengths(help: str, *, low: float = 0.0, high: float = 10_000.0) -> Any:
    """A length in mm, or one for each of several things; empty when left out."""
    return field_of(Lengths(help=help, low=low, high=high), ())


def number(default: float | None, help: str, *, low: float, high: float, digits: int = 3) -> Any:
    """A plain number: a count, an angle in degrees, a ratio."""
    return field_of(Number(help=help, low=low, high=high, optional=default is None, digits=digits), default)


def choice(default: str, help: str, choices: Sequence[str], *, other: str = "") -> Any:
    """One word of a list. An empty default stands for 'not stated' and is itself a choice.

    other: says what else may be typed, which its owner then checks.
    """
    return field_of(Choice(help=help, choices=tuple(choices), other=other), default)


def flag(default: bool, help: str) -> Any:
    """Yes or no."""
    return field_of(Flag(help=help), default)


def text(default: str, help: str) -> Any:
    """A word or a sentence."""
    return field_of(Text(help=help), default)


def texts(help: str, choices: Sequence[str] = ()) -> Any:
    """Words separated by commas. choices: what is usual there, which its owner checks."""
    return field_of(Texts(help=help, choices=tuple(choices)), ())


def piece_name(help: str) -> Any:
    """The name of a piece; '' when left out."""
    return field_of(PieceName(help=help), "")


def piece_names(help: str) -> Any:
    """Names of pieces, separated by commas."""
    return field_of(PieceNames(help=help), ())


def part_names(help: str) -> Any:
    """Names of the parts of a piece, separated by commas, each with an edge that it is known by or not."""
    return field_of(PartNames(help=help), ())


def file(default: str, help: str, endings: Sequence[str], *, recorded: bool = True) -> Any:
    """A file that is read, by its name with one of the endings.

    recorded: its owner also takes what it holds in place of its name, and that stands in the step's line.
    """
    return field_of(File(help=help, endings=tuple(endings), recorded=recorded), default)


def ref(
    of: str | Sequence[str], help: str, *, optional: bool = False, filled: bool = True, words: Sequence[str] = ()
) -> Any:
    """A reference to one thing, a Place, Run or Drawn; an empty one is filled by resolve.

    filled: if not, it is stated or left out, never taken from the selection, and an edge may be named without its
    piece; words: what may stand in its place.
    """
    return field_of(Ref(**_manner(of, help, optional, filled), words=tuple(words)), None)


def refs(
    of: str | Sequence[str], help: str, *, optional: bool = False, filled: bool = True, between: bool = False
) -> Any:
    """References to one thing or more; empty ones are filled by resolve. filled: as for `ref`; between: as A..B too."""
    return field_of(Refs(**_manner(of, help, optional, filled), between=between), ())


def drawn(help: str) -> Any:
    """An object drawn in the document that a step is made from; the step itself names places, never the object."""
    return field_of(Ref(help=help, of=("drawn",), optional=True, recorded=False), None)


def drawns(help: str) -> Any:
    """Objects drawn in the document that a step is made from."""
    return field_of(Refs(help=help, of=("drawn",), optional=True, recorded=False), ())


def span(help: str) -> Any:
    """Two places with two dots between them; of the only piece where none is named."""
    return field_of(Span(help=help, of=("place",), optional=True, selected=False, bare=True), ())


def position(help: str) -> Any:
    """Where on an edge: a fraction of it, a length from its start, or one from its end with a minus before it."""
    return field_of(Along(help=help, optional=True), None)


def _manner(of: str | Sequence[str], help: str, optional: bool, filled: bool) -> dict[str, Any]:
    known = (of,) if isinstance(of, str) else tuple(of)
    bare = not filled and known == ("edge",)
    return {"help": help, "of": known, "optional": optional or not filled, "selected": filled, "bare": bare}

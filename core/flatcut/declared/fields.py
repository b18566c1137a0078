"""The fields of what is declared.

Each is written once and tells every surface (Python, command, dialog, recipe) what it needs; what it knows is said by
its kind (`kinds.py`, `references.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from typing import Any, TypeAlias

from flatcut.declared.entries import MORE
from flatcut.declared.kinds import (
    Choice,
    File,
    Flag,
    Kind,
    Length,
    Number,
    Text,
    Texts,
)
from flatcut.declared.references import Along, Ref, Refs, Span

Help: TypeAlias = "str | tuple[str, str] | tuple[str, str, str]"
"""What a field is, the label of its entry in a dialog; or that, and what more there is to say; or also what is
meant where it is left out.
"""


def field_of(kind: Kind, default: Any) -> Any:
    """A field of that kind."""
    return field(default=default, metadata={"kind": kind})


def length(default: float | None, help: Help, *, low: float = 0.0, high: float = 10_000.0) -> Any:
    """A length in mm, or an expression that gives one; None when it may be left out."""
    return field_of(Length(**_said(help), low=low, high=high, optional=default is None), default)


def lengths(help: Help, *, low: float = 0.0, high: float = 10_000.0) -> Any:
    """A length in mm, or one for each of several things; empty when left out."""
    from flatcut.declared.rows import Lengths

    return field_of(Lengths(**_said(help), low=low, high=high), ())


def number(default: float | None, help: Help, *, low: float, high: float, digits: int = 3) -> Any:
    """A plain number: a count, an angle in degrees, a ratio."""
    return field_of(Number(**_said(help), low=low, high=high, optional=default is None, digits=digits), default)


def choice(default: str, help: Help, choices: Sequence[str], *, other: str = "") -> Any:
    """One word of a list. An empty default stands for 'not stated' and is itself a choice.

    other: says what else may be typed, which its owner then checks.
    """
    return field_of(Choice(**_said(help), choices=tuple(choices), other=other), default)


def numbers(help: Help, *, low: float, high: float) -> Any:
    """A plain number for each of several things; empty when left out."""
    from flatcut.declared.rows import Numbers

    return field_of(Numbers(**_said(help), low=low, high=high), ())


def choices(help: Help, choices: Sequence[str]) -> Any:
    """One word of a list for each of several things; empty when left out."""
    from flatcut.declared.rows import Choices

    return field_of(Choices(**_said(help), choices=tuple(choices)), ())


def flag(default: bool, help: Help) -> Any:
    """Yes or no."""
    return field_of(Flag(**_said(help)), default)


def text(default: str, help: Help, *, named: bool = False) -> Any:
    """A word or a sentence. named: it names what is made."""
    return field_of(Text(**_said(help), named=named), default)


def texts(help: Help, choices: Sequence[str] = (), *, named: bool = False) -> Any:
    """Words separated by commas. choices: what is usual there, which its owner checks; named: as for `text`."""
    return field_of(Texts(**_said(help), choices=tuple(choices), named=named), ())


def further(item: Any, tab: str = MORE) -> Any:
    """A field that a dialog shows on another tab than its first."""
    return field_of(replace(item.metadata["kind"], tab=tab), item.default)


def piece_name(help: Help) -> Any:
    """The name of a piece; '' when left out."""
    from flatcut.declared.piece_names import PieceName

    return field_of(PieceName(**_said(help)), "")


def piece_names(help: Help) -> Any:
    """Names of pieces, separated by commas."""
    from flatcut.declared.piece_names import PieceNames

    return field_of(PieceNames(**_said(help)), ())


def part_names(help: Help) -> Any:
    """Names of the parts of a piece, separated by commas, each with an edge that it is known by or not."""
    from flatcut.declared.piece_names import PartNames

    return field_of(PartNames(**_said(help)), ())


def also_true() -> Any:
    """The distance, mm, within which an operation makes fair again what it breaks; None where that is only told."""
    help = ("also true its lines, within", "how far lines that it breaks may move to be made fair", "they are named")
    return length(None, help, low=0.01, high=50)


def file(default: str, help: Help, endings: Sequence[str], *, recorded: bool = True) -> Any:
    """A file that is read, by its name with one of the endings.

    recorded: its owner also takes what it holds in place of its name, and that stands in the step's line.
    """
    return field_of(File(**_said(help), endings=tuple(endings), recorded=recorded), default)


def ref(
    of: str | Sequence[str], help: Help, *, optional: bool = False, filled: bool = True, words: Sequence[str] = ()
) -> Any:
    """A reference to one thing, a Place, Run or Drawn; an empty one is filled by resolve.

    filled: if not, it is stated or left out, never taken from the selection, and an edge may be named without its
    piece; words: what may stand in its place.
    """
    return field_of(Ref(**_manner(of, help, optional, filled), words=tuple(words)), None)


def refs(
    of: str | Sequence[str], help: Help, *, optional: bool = False, filled: bool = True, between: bool = False
) -> Any:
    """References to one thing or more; empty ones are filled by resolve. filled: as for `ref`; between: as A..B too."""
    return field_of(Refs(**_manner(of, help, optional, filled), between=between), ())


def drawn(help: Help) -> Any:
    """An object drawn in the document that a step is made from; the step itself names places, never the object."""
    return field_of(Ref(**_said(help), of=("drawn",), optional=True, recorded=False), None)


def drawns(help: Help) -> Any:
    """Objects drawn in the document that a step is made from."""
    return field_of(Refs(**_said(help), of=("drawn",), optional=True, recorded=False), ())


def span(help: Help) -> Any:
    """Two places with two dots between them; of the only piece where none is named."""
    return field_of(Span(**_said(help), of=("place",), optional=True, selected=False, bare=True), ())


def position(help: Help) -> Any:
    """Where on an edge: a fraction of it, a length from its start, or one from its end with a minus before it."""
    return field_of(Along(**_said(help), optional=True), None)


def _manner(of: str | Sequence[str], help: Help, optional: bool, filled: bool) -> dict[str, Any]:
    known = (of,) if isinstance(of, str) else tuple(of)
    bare = not filled and set(known) <= {"edge", "line"}
    return {**_said(help), "of": known, "optional": optional or not filled, "selected": filled, "bare": bare}


def _said(help: Help) -> dict[str, Any]:
    said = (help,) if isinstance(help, str) else help
    return dict(zip(("what", "more", "empty"), said, strict=False))

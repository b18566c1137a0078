"""What has declared fields: an operation, a check, a report. From the fields follow options, dialogs and help."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, TypeVar

from flatcut.declared.kinds import Kind
from flatcut.pattern.places import Rename
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Declared:
    """The base of all of them; every field is made by a function of `fields.py`, and its value is checked.

    usage: what a command line of it looks like, where it is not that of an operation. title: what the menu calls it;
    previewed: whether its dialog may show what comes of it while it is filled in.
    """

    command: ClassVar[str] = ""
    menu: ClassVar[str] = ""
    title: ClassVar[str] = ""
    previewed: ClassVar[bool] = True
    usage: ClassVar[str] = ""

    def __post_init__(self) -> None:
        for key, kind in kinds(type(self)).items():
            value = getattr(self, key)
            if value is not None or not kind.optional:
                object.__setattr__(self, key, kind.check(value, name=option(key)))

    @classmethod
    def more(cls) -> list[str]:
        """Lines of help beyond the fields."""
        return []

    @classmethod
    def refuse(cls, targets: Sequence[str], given: Iterable[str]) -> None:
        """Raise where fields that are stated do not go with the targets. Most classes have nothing to say."""

    def evaluated(self: _Own, pattern: Pattern) -> _Own:
        """What it means on a pattern: every expression in millimetres, `all` as every piece. Errors: UsageError."""
        changed: dict[str, Any] = {}
        for key, kind in kinds(type(self)).items():
            value = getattr(self, key)
            meant = value if value is None else kind.evaluated(value, pattern, name=option(key))
            if meant is not value:
                changed[key] = meant
        return replace(self, **changed) if changed else self

    def renamed(self: _Own, name: Rename) -> _Own:
        """The same where pieces have other names.

        name: gives the new name of a piece from its old one. Names that follow from the drawing stay.
        """
        return replace(self, **{key: kind.renamed(getattr(self, key), name) for key, kind in kinds(type(self)).items()})


_Own = TypeVar("_Own", bound=Declared)


def option(field_name: str) -> str:
    """The name of an option, from that of its field.

    >>> option("corner_angle")
    'corner-angle'
    """
    return field_name.strip("_").replace("_", "-")


def kinds(cls: type[Declared]) -> dict[str, Kind]:
    """The fields of a class, in their order, with what a surface must know of each."""
    return {item.name: item.metadata["kind"] for item in dataclasses.fields(cls)}


def summary(cls: type[Declared]) -> str:
    """The first line of the docstring: the help in one sentence."""
    return (cls.__doc__ or "").strip().splitlines()[0]


def quoted(text: str) -> str:
    """A word as it stands in a command line or a recipe.

    >>> quoted("front.side@1/2"), quoted("wrist + 5cm"), quoted("")
    ('front.side@1/2', '"wrist + 5cm"', '""')
    """
    if re.fullmatch(r"[\w.@/%+=:,~-]+", text):
        return text
    if "$" in text or "`" in text:
        import shlex

        return shlex.quote(text)  # a shell would put something in their place inside double quotation marks
    return '"' + re.sub(r'(["\\])', r"\\\1", text) + '"'

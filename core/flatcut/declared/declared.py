"""What has declared fields: an operation, a check, a report. From the fields follow options, dialogs and help."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, TypeVar

from flatcut.declared.fields import Spec, said_of
from flatcut.errors import UsageError
from flatcut.pattern.expressions import Expression, evaluate
from flatcut.pattern.values import Pattern


@dataclass(frozen=True, kw_only=True)
class Declared:
    """The base of all of them; every field is made by a function of `fields.py`, and its value is checked.

    usage: what a command line of it looks like, where it is not that of an operation.
    """

    command: ClassVar[str] = ""
    menu: ClassVar[str] = ""
    usage: ClassVar[str] = ""

    def __post_init__(self) -> None:
        for key, spec in specs(type(self)).items():
            object.__setattr__(self, key, spec.checked(getattr(self, key), name=option(key)))

    @classmethod
    def more(cls) -> list[str]:
        """Lines of help beyond the fields."""
        return []

    @classmethod
    def refuse(cls, targets: Sequence[str], given: Iterable[str]) -> None:
        """Raise where fields that are stated do not go with the targets. Most classes have nothing to say."""

    def evaluated(self: _Own, pattern: Pattern) -> _Own:
        """The same with every expression turned into millimetres."""
        values: dict[str, Any] = {}
        for key, spec in specs(type(self)).items():
            value = getattr(self, key)
            row = value if isinstance(value, tuple) else (value,)
            if any(isinstance(one, Expression) for one in row):
                try:
                    known = [evaluate(one, pattern) if isinstance(one, Expression) else one for one in row]
                    values[key] = spec.checked(known if isinstance(value, tuple) else known[0], name=option(key))
                except UsageError as error:
                    raise type(error)(said_of(option(key), error)) from None
        return replace(self, **values) if values else self


_Own = TypeVar("_Own", bound=Declared)


def option(field_name: str) -> str:
    """The name of an option, from that of its field.

    >>> option("corner_angle")
    'corner-angle'
    """
    return field_name.strip("_").replace("_", "-")


def specs(cls: type[Declared]) -> dict[str, Spec]:
    """The fields of a class, in their order, with what a surface must know of each."""
    return {item.name: item.metadata["spec"] for item in dataclasses.fields(cls)}


def summary(cls: type[Declared]) -> str:
    """The first line of the docstring: the help in one sentence."""
    return (cls.__doc__ or "").strip().splitlines()[0]

"""What has declared fields: an operation, a check, a report. From the fields follow options, dialogs and help."""

from __future__ import annotations

import dataclasses
import importlib
from collections.abc import Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from flatcut.errors import UsageError, unknown
from flatcut.operations.fields import Spec, said_of
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


def names_in(folder: Path, framework: Collection[str]) -> list[str]:
    """Names of what the files of a folder declare, in alphabetical order. framework: files that declare nothing."""
    return [option(stem) for stem in sorted(path.stem for path in folder.glob("*.py")) if stem not in framework]


def load_from(package: str, name: str, base: type[_Own], known: Collection[str]) -> type[_Own]:
    """The class of that name; only its own file is imported.

    It is the one subclass of `base` in that file that no other there is derived from.
    Errors: UnknownNameError for a name that is not among the known.
    """
    kind = base.__name__.lower()
    if name not in known:
        raise unknown(kind, name, known)
    module = importlib.import_module(f"{package}.{name.replace('-', '_')}")
    classes = [value for value in vars(module).values() if isinstance(value, type) and issubclass(value, base)]
    own = [value for value in classes if value.__module__ == module.__name__]
    for value in own:
        if not any(other is not value and issubclass(other, value) for other in own):
            return value
    raise UsageError(f"the file of '{name}' holds no {kind}")


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

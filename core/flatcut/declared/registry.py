"""Finding what the files of a folder declare: one class a file, named like it, imported only when asked for."""

from __future__ import annotations

import importlib
import os
from collections.abc import Collection
from pathlib import Path
from typing import TypeVar

from flatcut.declared.declared import Declared, option
from flatcut.errors import UsageError, unknown

_Own = TypeVar("_Own", bound=Declared)


def names_in(folder: Path, framework: Collection[str]) -> list[str]:
    """Names of what the files of a folder declare, in alphabetical order. framework: files that declare nothing."""
    return [option(stem) for stem in sorted(_stems(folder)) if stem not in framework]


def _stems(folder: Path) -> list[str]:
    return [name.removesuffix(".py") for name in os.listdir(folder) if name.endswith(".py")]


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

"""What is marked on a piece beside its outline: one file for each kind of mark, which alone says what the kind is.

A kind that is added is a file here, and one of the same name in `flatcut/marking/symbols` that says how it is drawn.
"""

from __future__ import annotations

import os
from functools import cache
from importlib import import_module

from flatcut.pattern.marks.mark import HOMES, Mark


@cache
def kinds() -> tuple[type[Mark], ...]:
    """Every kind of mark, in the order in which a piece and its file hold them.

    >>> [kind.role for kind in kinds()]
    ['line', 'point', 'notch', 'hole', 'button', 'balance', 'grain', 'label']
    """
    files = sorted(name for name in os.listdir(__path__[0]) if name.endswith(".py") and name != "__init__.py")
    modules = [import_module(f"{__name__}.{name.removesuffix('.py')}") for name in files]
    own = [(module.__name__, value) for module in modules for value in vars(module).values()]
    found = [
        value
        for name, value in own
        if isinstance(value, type) and issubclass(value, Mark) and value.__module__ == name and value is not Mark
    ]
    return tuple(sorted(found, key=lambda kind: HOMES.index(kind.home)))


@cache
def written() -> tuple[type[Mark], ...]:
    """The kinds that a file keeps as records, each in a table of its own."""
    return tuple(kind for kind in kinds() if kind.table)

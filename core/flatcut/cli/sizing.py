"""`run STYLE.recipe --sizes=TABLE --into=DIR`: one recipe drafted for every size of a table."""

from __future__ import annotations

from pathlib import Path

from flatcut.blocks.body import sizes_of_file
from flatcut.errors import FlatcutError, UsageError
from flatcut.recipe import sized as sized

UNWRITABLE = set('/\\:*?"<>|')
"""Letters of a size that cannot stand in a file's name everywhere."""


def bodies_of(table: str, *, units: str = "mm") -> dict[str, dict[str, float] | FlatcutError]:
    """The sizes of a table, in order. units: of bare numbers in a table of rows.

    Errors: InputError; UsageError for a size's name that no file could have.
    """
    found = sizes_of_file(table, units=units)
    for size in found:
        if UNWRITABLE & set(size) or size.strip(" .") != size or not size.isprintable():
            raise UsageError(f"{table}: size {size!r} cannot stand in a file's name; write letters and digits")
    lowered: set[str] = set()
    for size in found:
        if size.lower() in lowered:
            raise UsageError(f"{table}: size {size} differs from another only in capitals; name one otherwise")
        lowered.add(size.lower())
    return found


def file_of(recipe: str, size: str, ending: str = ".svg") -> str:
    """The file's name of one size of a style.

    >>> file_of("styles/top.recipe", "12")
    'top-12.svg'
    """
    return f"{Path(recipe).stem}-{size}{ending}"

"""TOML tables of figures."""

from __future__ import annotations

import sys
from typing import Any

from flatcut.errors import InputError, MissingPackageError


def read_table(text: str) -> dict[str, Any]:
    """The tables of a TOML text. Errors: InputError that says which line; MissingPackageError without a reader.

    >>> read_table('units = "cm"\\n[12]\\nbust = 92.5')
    {'units': 'cm', '12': {'bust': 92.5}}
    """
    try:
        if sys.version_info >= (3, 11):
            import tomllib
        else:
            import tomli as tomllib
    except ImportError:
        raise MissingPackageError(
            "reading measurements needs the package tomli with Python 3.10; install it with: pip install tomli"
        ) from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the table cannot be read: {str(error).lower()}; mend it there") from None

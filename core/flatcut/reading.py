"""Files read whole, and never more of one than a stated size, be it a file, a pipe or a device without end."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

from flatcut.errors import FileName, InputError

MB = 2**20
DRAWING = 256 * MB
"""Bytes of a drawing, packed or not; photographs in it fit."""
TABLE = 16 * MB
"""Bytes of a table of pieces, measurements or sizes."""
RECIPE = 8 * MB
"""Bytes of a recipe: a hundred thousand steps."""


def read_limited(name: str, most: int, *, what: str) -> bytes:
    """The bytes of a file. what: it is, with its article.

    Errors: OSError as `open` raises it; InputError for more than `most` bytes, or a name that no file can have.

    >>> read_limited("/dev/zero", 2 * MB, what="a recipe")
    Traceback (most recent call last):
    ...
    flatcut.errors.InputError: /dev/zero is larger than 2 MB, and a recipe never is; name the right file
    """
    if "\0" in name:
        raise InputError("the name of a file has a character that no name can have; type it anew")
    with Path(name).open("rb") as file:
        about = os.fstat(file.fileno())
        if stat.S_ISREG(about.st_mode) and about.st_size > most:
            raise _too_large(name, most, what)
        return limited(file, most, name=name, what=what)


def limited(file: BinaryIO, most: int, *, name: str, what: str) -> bytes:
    """What an open file still has; no more than a byte over `most` is read. Errors: InputError when it has that too."""
    parts: list[bytes] = []
    left = most + 1
    while left and (part := file.read(min(left, MB))):
        parts.append(part)
        left -= len(part)
    if not left:
        raise _too_large(name, most, what)
    return b"".join(parts)


def _too_large(name: str, most: int, what: str) -> InputError:
    return InputError(FileName(name), f" is larger than {most // MB} MB, and {what} never is; name the right file")

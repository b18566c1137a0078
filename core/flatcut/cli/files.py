"""Reading inputs and writing outputs, whole or not at all."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

from flatcut.errors import InputError, OutputError, UsageError


def read_bytes(name: str) -> bytes:
    """The bytes of a file, or of standard input for '-'. Errors: InputError, UsageError for a terminal."""
    if name == "-":
        if sys.stdin is None or sys.stdin.isatty():
            raise UsageError("standard input is a terminal; give a file with -i IN.svg, or pipe one in")
        data = sys.stdin.buffer.read()
        if not data:
            raise InputError("standard input is empty; pipe in an SVG, or give a file with -i IN.svg")
        return data
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise InputError(f"{name} cannot be read: {_reason(error)}") from None


def read_waiting() -> bytes:
    """What is piped in on standard input; nothing where it is a terminal, closed or empty."""
    try:
        return b"" if sys.stdin is None or sys.stdin.isatty() else sys.stdin.buffer.read()
    except (OSError, ValueError):
        return b""


def write_bytes(name: str, data: bytes) -> None:
    """Write a file whole, or to standard output for '-'. Errors: OutputError; a file that was there stays as it was."""
    if name == "-":
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    write_chunks(name, [data])


def write_chunks(name: str, chunks: Iterable[bytes]) -> None:
    """Write a file piece by piece as it is made. Errors: OutputError, and what the making raises; a file that was there
    then stays as it was.
    """
    target = Path(name)
    try:
        if target.exists() and not target.is_file():
            with target.open("wb") as file:
                file.writelines(chunks)  # a device or a pipe has no other side to be swapped in from
            return
        # written beside its place and then moved: a reader sees the old file or the new one, never half of one
        handle, beside = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        try:
            with os.fdopen(handle, "wb") as file:
                file.writelines(chunks)
            mode = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
            Path(beside).chmod(mode)
            Path(beside).replace(target)
        except BaseException:
            Path(beside).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise OutputError(f"{name} cannot be written: {_reason(error)}") from None


def make_folder(name: str) -> Path:
    """The folder of that name, made if need be. Errors: OutputError."""
    folder = Path(name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"folder {name} cannot be made: {_reason(error)}") from None
    return folder


def same_file(a: str, b: str) -> bool:
    """Whether two names mean one file that is there."""
    try:
        return Path(a).samefile(b)
    except OSError:
        return False


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()

"""Reading inputs and writing outputs, whole or not at all."""

from __future__ import annotations

import contextlib
import os
import stat
import sys
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

from flatcut import stopping
from flatcut.errors import FileName, FlatcutError, InputError, OutputError, UsageError
from flatcut.reading import DRAWING, limited, read_limited

try:
    import fcntl
except ImportError:  # a system without such locks: there two runs at once may still get between each other
    fcntl = None  # type: ignore[assignment]  # a system without such locks has no module of that name

locks = fcntl
"""What locks files; None on a system without such locks."""

PATIENCE = 10.0
"""Seconds that a run waits for another that is about to write the same file."""


def read_bytes(name: str, *, most: int = DRAWING, what: str = "a drawing") -> bytes:
    """The bytes of a file, or of standard input for '-'. most: bytes; what: it is, with its article.

    Errors: InputError, also for more than `most`; UsageError for a terminal.
    """
    if name == "-":
        if sys.stdin is None or sys.stdin.isatty():
            raise UsageError("standard input is a terminal; give a file with -i IN.svg, or pipe one in")
        try:
            data = limited(sys.stdin.buffer, most, name="standard input", what=what)
        except OSError as error:
            raise InputError(f"standard input cannot be read: {_reason(error)}") from None
        if not data:
            raise InputError("standard input is empty; pipe in an SVG, or give a file with -i IN.svg")
        return data
    try:
        return read_limited(name, most, what=what)
    except OSError as error:
        raise InputError(FileName(name), f" cannot be read: {_reason(error)}") from None


def read_waiting() -> bytes:
    """What is piped in on standard input; nothing where it is a terminal, closed or empty. Errors: InputError."""
    try:
        if sys.stdin is None or sys.stdin.isatty():
            return b""
        return limited(sys.stdin.buffer, DRAWING, name="standard input", what="a drawing")
    except FlatcutError:
        raise
    except (OSError, ValueError):
        return b""


def write_bytes(name: str, data: bytes, *, over: bytes | None = None) -> None:
    """Write a file whole, or to standard output for '-'. over: what the file was read as and must still hold.

    Errors: OutputError; a file that was there stays as it was.
    """
    if name == "-":
        stopping.halfway("standard output is cut short")
        _to_standard_output(data)
        stopping.halfway("")
        stopping.written("standard output")
        return
    write_chunks(name, [data], over=over)


def write_chunks(name: str, chunks: Iterable[bytes], *, over: bytes | None = None) -> None:
    """Write a file piece by piece as it is made. Errors: OutputError, and what the making raises; a file that was there
    then stays as it was.

    Links are followed. A reader of the file sees the old one or the new one, never half of one, whatever happens.
    """
    if not name or "\0" in name:
        raise OutputError("an output needs a name that a file can have; type it anew")
    try:
        target = Path(os.path.realpath(name))
        if target.is_symlink():
            raise OutputError(FileName(name), " cannot be written: its links lead round in a circle")
        if target.exists() and not target.is_file():
            stopping.halfway(f"what went to {name} is cut short")
            with target.open("wb") as file:
                file.writelines(chunks)  # a device or a pipe has no other side to be swapped in from
            stopping.halfway("")
            return
        _refuse_read_only(name, target)
        with _beside(target.parent) as made:
            made.write(chunks)
            made.become(name, target, over)
    except FlatcutError:
        raise
    except OSError as error:
        raise OutputError(FileName(name), f" cannot be written: {_reason(error)}") from None


class _Made:
    """A file on its way: without any name where the system can do that, so that not even a kill leaves it behind."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.name = ""
        try:
            self.handle = os.open(folder, os.O_TMPFILE | os.O_WRONLY, 0o600)
            if not Path(self._nameless()).exists():
                os.close(self.handle)
                raise OSError
        except (AttributeError, OSError):  # another system, or a kind of disk that has no such files
            import tempfile

            with stopping.held():
                self.handle, self.name = tempfile.mkstemp(prefix=".flatcut-", dir=folder)
                stopping.remember(self.name)

    def write(self, chunks: Iterable[bytes]) -> None:
        """Write all of it."""
        with open(self.handle, "wb", closefd=False) as file:
            file.writelines(chunks)

    def become(self, name: str, target: Path, over: bytes | None) -> None:
        """Take the target's place, with its rights. Errors: OutputError when it no longer holds `over`."""
        there = target.stat() if target.exists() else None
        own = self.name or self._nameless()
        if there is not None:
            with contextlib.suppress(OSError, AttributeError):  # only root may give a file away
                os.chown(own, there.st_uid, there.st_gid)
            os.fsync(self.handle)  # the old file is given up only for one that is on the disk
        Path(own).chmod(0o666 & ~_umask() if there is None else there.st_mode & 0o777)
        with _locked(name, target, over), stopping.held():
            if over is not None:
                _refuse_changed(name, target, over)
            if not self.name:
                self._name()
            self._shut()  # some systems move no file that is open
            Path(self.name).replace(target)
            stopping.forget(self.name)
            self.name = ""
            stopping.written(name)

    def close(self) -> None:
        """Leave nothing behind."""
        with stopping.held():
            self._shut()
            if self.name:
                Path(self.name).unlink(missing_ok=True)
                stopping.forget(self.name)

    def _name(self) -> None:
        """Give a nameless file a name, through the table of open files."""
        import secrets

        self.name = str(self.folder / f".flatcut-{secrets.token_hex(8)}")
        stopping.remember(self.name)
        place = os.open(self.folder, os.O_RDONLY)
        try:
            # only with a folder given does Python follow the table's entry; else the entry itself would be linked
            os.link(self._nameless(), self.name, src_dir_fd=place, follow_symlinks=True)
        finally:
            os.close(place)

    def _shut(self) -> None:
        if self.handle >= 0:
            os.close(self.handle)
            self.handle = -1

    def _nameless(self) -> str:
        return f"/proc/self/fd/{self.handle}"


@contextlib.contextmanager
def _beside(folder: Path) -> Iterator[_Made]:
    made = _Made(folder)
    try:
        yield made
    finally:
        made.close()


@contextlib.contextmanager
def _locked(name: str, target: Path, over: bytes | None) -> Iterator[None]:
    """While a file that was read is held against its place and swapped, no other run does the same."""
    if over is None or locks is None or not target.exists():
        yield
        return
    with target.open("rb") as file:
        end = time.monotonic() + PATIENCE
        while True:
            try:
                locks.flock(file, locks.LOCK_EX | locks.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > end:
                    raise OutputError(
                        FileName(name), " is held by another program; close it there and run this again"
                    ) from None
                time.sleep(0.01)
            except OSError:
                break  # a kind of disk without locks
        yield


def _refuse_changed(name: str, target: Path, over: bytes) -> None:
    if not target.exists():
        raise OutputError(FileName(name), " was taken away after it was read; put it back and run this again")
    if target.stat().st_size != len(over) or target.read_bytes() != over:
        raise OutputError(
            FileName(name), " was changed by another program after it was read; run this again on what it is now"
        )


def _refuse_read_only(name: str, target: Path) -> None:
    if not target.exists():
        return
    writable = target.stat().st_mode & (stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH)
    if not writable or not os.access(target, os.W_OK):
        raise OutputError(FileName(name), " is read-only; make it writable first, or write to another file with -o")


def _to_standard_output(data: bytes) -> None:
    try:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        raise OutputError(f"standard output cannot be written: {_reason(error)}") from None


@contextlib.contextmanager
def folder_for(name: str) -> Iterator[Path]:
    """The folder of that name for a while; what of it was made for that and is still empty then is taken away again."""
    path = Path(name)
    new = [part for part in (path, *path.parents) if not part.exists()] if "\0" not in name else []
    try:
        yield make_folder(name)
    finally:
        for part in new:
            with contextlib.suppress(OSError):
                part.rmdir()


def make_folder(name: str) -> Path:
    """The folder of that name, made if need be. Errors: OutputError."""
    folder = Path(name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:  # a ValueError is a name that no folder can have
        raise OutputError(f"folder {name} cannot be made: {_reason(error)}") from None
    return folder


def same_file(a: str, b: str) -> bool:
    """Whether two names mean one file that is there."""
    try:
        return Path(a).samefile(b)
    except (OSError, ValueError):
        return False


def as_text(name: str) -> str:
    """The name of a file in letters that can stand in a document: a byte of it that is no text is written out."""
    return name.encode("utf-8", "backslashreplace").decode()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _reason(error: OSError | ValueError) -> str:
    return (getattr(error, "strerror", "") or str(error)).lower()

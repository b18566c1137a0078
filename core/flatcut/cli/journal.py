"""What a run over many bodies has done so far, kept beside its files: a run that was stopped goes on where it was.

A line of JSON for each body that was done (JSON Lines: UTF-8, an object and a line feed each), added when all its files
are in their places. A line that a kill has cut short counts for nothing.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from flatcut import __version__, stopping
from flatcut.errors import FlatcutError, OutputError
from flatcut.files import locks, write_bytes

FORMAT = 1
"""Of the summary; it is raised when what stands in it changes its meaning."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What became of one body.

    name: the body's; asked: a mark of all that its files follow from. error: why there is no drawing, '' where there
    is one; noted: whether there is something to look at; said: warnings and what was found. files: name and SHA-256 of
    each that was written.
    """

    name: str
    asked: str
    error: str = ""
    noted: bool = False
    said: tuple[str, ...] = ()
    files: Mapping[str, str] = field(default_factory=dict)

    @property
    def outcome(self) -> str:
        """The end of it in words.

        >>> Entry(name="12", asked="").outcome
        'done'
        """
        if self.error:
            return "not done"
        return "done, but see the notes" if self.noted else "done"

    def line(self) -> bytes:
        """The entry as a line of the journal."""
        return (json.dumps(asdict(self), ensure_ascii=False) + "\n").encode("utf-8", "backslashreplace")


def mark_of(*parts: object) -> str:
    """A mark of what a result follows from, this version of flatcut included: equal only for equal parts.

    >>> mark_of("a", {"bust": 920.0}) == mark_of("a", {"bust": 921.0})
    False
    """
    return hashlib.sha256(json.dumps([__version__, *parts], sort_keys=True).encode()).hexdigest()


def hash_of(data: bytes) -> str:
    """The SHA-256 of the bytes of a file (FIPS 180-4), as 64 letters."""
    return hashlib.sha256(data).hexdigest()


class Journal:
    """The journal of one style in one folder. Use it as a context: it is held against other runs meanwhile."""

    def __init__(self, folder: Path, style: str) -> None:
        self.folder = folder
        self.path = folder / f"{style}-journal.jsonl"
        self.entries: dict[str, Entry] = {}
        self._file: BinaryIO | None = None

    def __enter__(self) -> Journal:
        """Errors: OutputError when it cannot be written, or another run is at work here."""
        try:
            self._file = self.path.open("a+b")
            self._hold(self._file)
            self._file.seek(0)
            self._read(self._file)
        except FlatcutError:
            self.__exit__()
            raise
        except OSError as error:
            self.__exit__()
            raise OutputError(f"{self.path} cannot be written: {(error.strerror or str(error)).lower()}") from None
        return self

    def _hold(self, file: BinaryIO) -> None:
        if locks is None:
            return
        try:
            # of the kinds of lock this one is not handed on to the processes that help
            locks.lockf(file, locks.LOCK_EX | locks.LOCK_NB)
        except (BlockingIOError, PermissionError):
            raise OutputError(f"another run is at work in {self.folder}; wait for it, or name another folder") from None

    def __exit__(self, *_: object) -> None:
        if self._file is None:
            return
        self._file.close()
        if self.path.exists() and not self.path.stat().st_size:
            self.path.unlink()  # nothing was done, and nothing is left of that

    def forget(self) -> None:
        """Leave no journal behind: nothing could be done, and what went before is told by no file that is here."""
        if not any(entry.files for entry in self.entries.values()):
            self.path.unlink(missing_ok=True)

    def _read(self, file: BinaryIO) -> None:
        whole = 0
        for line in file:
            entry = _entry(line)
            if entry is None:
                break
            self.entries[entry.name] = entry  # the last that was said of a body counts
            whole += len(line)
        file.truncate(whole)

    def done(self, name: str, asked: str) -> Entry | None:
        """What became of a body earlier, where it follows from the same and its files are still as they were made."""
        entry = self.entries.get(name)
        if entry is None or entry.asked != asked:
            return None
        return entry if all(self._holds(file) == mark for file, mark in entry.files.items()) else None

    def changed(self, name: str, file: str) -> bool:
        """Whether a file of a body, made here earlier, was changed since by someone else."""
        entry = self.entries.get(name)
        known = entry.files.get(file) if entry is not None else None
        return known is not None and self._holds(file) not in (known, "")

    def _holds(self, file: str) -> str:
        try:
            return hash_of((self.folder / file).read_bytes())
        except OSError:
            return ""

    def add(self, entry: Entry) -> None:
        """Keep what became of a body; its files are in their places. Errors: OutputError."""
        assert self._file is not None
        try:
            with stopping.held():
                self._file.write(entry.line())
                self._file.flush()
        except OSError as error:
            raise OutputError(f"{self.path} cannot be written: {(error.strerror or str(error)).lower()}") from None
        self.entries[entry.name] = entry


def _entry(line: bytes) -> Entry | None:
    """An entry of a line; None for a line that is none."""
    if not line.endswith(b"\n"):
        return None
    try:
        read: dict[str, Any] = json.loads(line)
        return Entry(**{**read, "said": tuple(read["said"])})
    except (ValueError, TypeError, KeyError):
        return None


def write_summary(folder: Path, style: str, entries: Sequence[Entry]) -> None:
    """The table of all bodies, as CSV for people and as JSON for programs. Errors: OutputError."""
    write_bytes(os.fspath(folder / f"{style}-summary.csv"), _rows(entries))
    record = {
        "format": FORMAT,
        "style": style,
        "bodies": [
            {"name": one.name, "outcome": one.outcome, "error": one.error, "notes": one.said, "files": list(one.files)}
            for one in entries
        ],
    }
    data = json.dumps(record, ensure_ascii=False, indent=1) + "\n"
    write_bytes(os.fspath(folder / f"{style}-summary.json"), data.encode("utf-8", "backslashreplace"))


def _rows(entries: Iterable[Entry]) -> bytes:
    made = io.StringIO()
    rows = csv.writer(made)
    rows.writerow(["name", "outcome", "what to do or to look at", "files"])
    rows.writerows(
        [one.name, one.outcome, " | ".join([one.error] if one.error else one.said), " ".join(one.files)]
        for one in entries
    )
    return made.getvalue().encode("utf-8", "backslashreplace")

"""A run that is stopped from outside (Ctrl-C, an ended terminal, a kill): one true line, nothing half done left behind.

The handler ends the process where it stands. An exception in its place could be swallowed by a library that is just
being imported, or come twice, or wait for processes that wait for it. For the same reason this module imports nothing
that takes long: it is in charge before the others are loaded.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Callable, Iterator
from types import FrameType

CODES = {"SIGINT": 130, "SIGTERM": 143, "SIGHUP": 129}
"""Signals that stop a run, and its exit code then: 128 and the signal's number, as shells count (POSIX sh, 2.8.2)."""

SHOWN = 3
"""Names of files that are listed; of more only their number is said."""


class _Run:
    """What the run has done so far."""

    def __init__(self) -> None:
        self.process = os.getpid()
        self.written: list[str] = []
        self.half = ""
        self.beside: set[str] = set()
        self.held = 0
        self.asked = 0
        self.soft = 0
        self.softly_asked = False


_run = _Run()


def begin() -> None:
    """Forget what an earlier run of this process has written."""
    _run.process = os.getpid()
    _run.written.clear()
    _run.half = ""


def watch() -> None:
    """Take charge of the signals that stop a run; one that the caller had ignored (`nohup`) stays ignored."""
    begin()
    for name in CODES:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _stop)


def ignore() -> None:
    """From here on there is nothing left to stop: all is written and told."""
    for name in CODES:
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, signal.SIG_IGN)


def written(name: str) -> None:
    """Keep in mind that a file is whole and in its place."""
    _run.written.append(name)


def halfway(what: str) -> None:
    """Keep in mind what would be left half done by a stop now, as the end of a sentence; '' when nothing is."""
    _run.half = what


def remember(beside: str) -> None:
    """Keep in mind a file that has to go when the run is stopped."""
    _run.beside.add(beside)


def forget(beside: str) -> None:
    """The file is gone or has become another."""
    _run.beside.discard(beside)


@contextlib.contextmanager
def held() -> Iterator[None]:
    """Steps that a stop waits for: a file is moved into its place and known to be there, or neither."""
    _run.held += 1
    try:
        yield
    finally:
        _run.held -= 1
        if _run.asked and not _run.held:
            _end(_run.asked)


@contextlib.contextmanager
def softly() -> Iterator[Callable[[], bool]]:
    """A search that may be cut short: the first Ctrl-C only ends it with what it has, the second one ends the run.

    Gives the question whether it is to end.
    """
    _run.softly_asked = False
    _run.soft += 1
    try:
        yield lambda: _run.softly_asked
    finally:
        _run.soft -= 1


def told() -> str:
    """What is said of a run that is stopped now.

    >>> begin()
    >>> told()
    'stopped; nothing was written'
    >>> for name in "abcd":
    ...     written(f"{name}.svg")
    >>> told()
    'stopped; 4 files were written, the last is d.svg'
    >>> begin()
    """
    names = _run.written
    if len(names) > SHOWN:
        said = f"{len(names)} files were written, the last is {names[-1]}"
    else:
        said = f"{', '.join(names)} {'was' if len(names) == 1 else 'were'} written" if names else ""
    return "stopped; " + (" and ".join(filter(None, [said, _run.half])) or "nothing was written")


def _stop(number: int, frame: FrameType | None) -> None:
    if os.getpid() != _run.process:
        os._exit(128 + number)  # a process of ours that has not come into its own yet: the first one tells
    if _run.soft and number == signal.SIGINT and not _run.softly_asked:
        _run.softly_asked = True
    elif _run.held:
        _run.asked = number
    else:
        _end(number)


def _end(number: int) -> None:
    ignore()
    for name in _run.beside:
        with contextlib.suppress(OSError):
            os.unlink(name)
    processes = sys.modules.get("multiprocessing")
    if processes is not None:
        for child in processes.active_children():
            child.kill()
    clear = "\r\033[K" if os.isatty(2) else ""
    with contextlib.suppress(OSError):
        os.write(2, f"{clear}flatcut: {told()}\n".encode("utf-8", "backslashreplace"))
    os._exit(128 + number)

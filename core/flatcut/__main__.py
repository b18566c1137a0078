"""The program `flatcut`, also as `python -m flatcut`: in charge of signals and streams before the rest is loaded."""

from __future__ import annotations

import gc
import io
import os
import sys

from flatcut import stopping


def main() -> int:
    """Run the command line of this process and return its exit code."""
    stopping.watch()
    _open_streams()
    # read when numpy is loaded: its matrices here are small, and a second thread waits for the first one
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(100_000)  # most commands are short: what they load is not searched for rings of values
    from flatcut.cli.main import main as run

    code = run()
    stopping.ignore()
    gc.freeze()  # what is left goes with the process, and is not searched at its end either
    return code


class _Closed(io.TextIOBase):
    """Standard output that the caller has closed: what is printed there is not lost without a word."""

    @property
    def buffer(self) -> io.BufferedIOBase:  # what a file's text stream has too
        """Errors: OSError."""
        raise OSError(9, os.strerror(9))

    def write(self, text: str) -> int:
        """Errors: OSError."""
        raise OSError(9, os.strerror(9))


class _Unheard(io.TextIOWrapper):
    """Standard error: where it is full there is nobody left to tell, and what was asked for is done all the same."""

    def write(self, text: str) -> int:
        """Write what can be written."""
        try:
            return super().write(text)
        except OSError:
            return len(text)


def _open_streams() -> None:
    """Streams that take any name, and a closed one that no drawing is opened in the place of."""
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # it gets the lowest number that is free
    if sys.stdout is None:
        sys.stdout = _Closed()
    elif isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    raw = io.FileIO(2, "w", closefd=False)  # unbuffered, as with python -u
    encoding = sys.stderr.encoding if sys.stderr is not None else "utf-8"
    sys.stderr = _Unheard(raw, encoding=encoding, errors="backslashreplace", write_through=True)


if __name__ == "__main__":
    sys.exit(main())

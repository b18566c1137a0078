"""One press of a dialog: the script that the editor runs for every operation and report.

It reads the document once, hands it to flatcut and gives back what comes out. The editor shows whatever is written to
standard error in a window, so nothing is but what a person should read: one sentence that says what to put right, or
what a report has found.
"""

from __future__ import annotations

import os
import sys
import warnings
from pathlib import Path
from types import SimpleNamespace
from typing import Any, BinaryIO

# read when numpy is loaded, which the editor's library does: a second thread for small matrices waits for the first one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from inkex.base import InkscapeExtension
from inkex.utils import AbortExtension, errormsg

# the editor's library switches all warnings on when it is imported, and each one would open a window
warnings.simplefilter("ignore")

PACKAGE = Path(__file__).resolve().parents[1]
if (PACKAGE / "editor" / "ways.py").exists() and str(PACKAGE.parent) not in sys.path:
    sys.path.insert(0, str(PACKAGE.parent))

from flatcut.editor import ways  # noqa: E402  # its folder is on the path only now
from flatcut.errors import FlatcutError  # noqa: E402  # likewise

LOST = "flatcut's packages do not fit the editor's Python any more; run: flatcut editor install"
LOG = "flatcut-fault.txt"


class Press(InkscapeExtension):  # type: ignore[misc]  # the editor's library has no types
    """Bytes in, bytes out; the editor's library opens the file, and tells the person about errors."""

    def parse_arguments(self, args: list[str]) -> None:
        """Keep the words: the operation says what they mean."""
        self.words = args
        self.options = SimpleNamespace(input_file=args[-1] if args else None, output=None)

    def load(self, stream: BinaryIO) -> bytes:
        """The document, not parsed: that is done once, by flatcut's own reader."""
        return stream.read()

    def effect(self) -> None:
        """Perform the operation or the report. Without a new document there is a sentence in its place."""
        try:
            drawing, said = self._pressed()
        except FlatcutError as error:
            drawing, said = b"", str(error)
        except Exception:  # a fault of flatcut's own: a traceback in a window helps nobody, so it goes to a file
            import traceback

            drawing, said = b"", _fault(traceback.format_exc())
        if not drawing:
            raise AbortExtension(said)
        self.document = drawing
        if said:
            errormsg(said)

    def save(self, stream: BinaryIO) -> None:
        """The new document, as it is."""
        stream.write(self.document)

    def _pressed(self) -> tuple[bytes, str]:
        """The new document, or a sentence in its place; a report may have both."""
        if ways.way(PACKAGE) != ways.OTHER:
            try:
                return _here(self.words, self.document)
            except ImportError:
                if not ways.record(PACKAGE).get("python"):
                    raise
        return _elsewhere(self.words, self.document)


def _here(words: list[str], document: bytes) -> tuple[bytes, str]:
    """The press done in this Python."""
    from flatcut.editor.bridge import answered, read_words

    done = answered(read_words(words), document)
    return done.document or b"", done.said


def _elsewhere(words: list[str], document: bytes) -> tuple[bytes, str]:
    """The press done by the Python that installed the plugin."""
    try:
        ended, drawing, said = ways.hand_over(PACKAGE, words, document)
    except OSError:
        return b"", LOST
    if ended == 0:
        return drawing, ways.sentence(said)
    return b"", said if ended == ways.REFUSED else _fault(said)


def _fault(details: str) -> str:
    """The sentence for a fault of flatcut itself; the details go to a file."""
    import tempfile

    log = Path(tempfile.gettempdir()) / LOG
    try:
        log.write_text(details, encoding="utf-8")
    except OSError:
        return "flatcut met a fault of its own and changed nothing."
    return f"flatcut met a fault of its own and changed nothing; please report what is in {log}"


def main(arguments: Any = None) -> None:
    """Run the script."""
    Press().run(arguments)


if __name__ == "__main__":
    main()

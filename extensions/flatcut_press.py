"""One press of a dialog: the script that the editor runs for every operation and report.

It hands the document to flatcut and gives back what comes out. The editor shows whatever is written to standard error
in a window, so nothing is but what a person should read: one sentence that says what to put right, or what a report
has found.
"""

from __future__ import annotations

import os
import sys
import warnings
from pathlib import Path

# read when numpy is loaded: a second thread for small matrices waits for the first one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

PACKAGE = Path(__file__).resolve().parents[1]
if (PACKAGE / "editor" / "ways.py").exists() and str(PACKAGE.parent) not in sys.path:
    sys.path.insert(0, str(PACKAGE.parent))

from flatcut.editor import ways  # noqa: E402  # its folder is on the path only now
from flatcut.errors import FlatcutError  # noqa: E402  # likewise

LOST = "flatcut's packages do not fit the editor's Python any more; run: flatcut editor install"
UNREAD = "the document cannot be read; save it, and try again"
LOG = "flatcut-fault.txt"


def main(words: list[str]) -> int:
    """Perform the operation or the report: the new document to standard output, or a sentence in its place.

    words: as the editor starts a script, the file last.
    """
    warnings.simplefilter("ignore")  # each one would open a window
    file = words[-1] if words else ""
    try:
        drawing, said = _pressed(words, Path(file).read_bytes() if file else b"")
    except FlatcutError as error:
        drawing, said = b"", str(error)
    except Exception as error:  # a fault of flatcut's own: a traceback in a window helps nobody, so it goes to a file
        import traceback

        unread = isinstance(error, OSError) and error.filename == file
        drawing, said = b"", UNREAD if unread else _fault(traceback.format_exc())
    sys.stdout.buffer.write(drawing)
    sys.stdout.buffer.flush()
    if said:
        # the editor's library takes longer to load than all the rest of a press, and mostly nothing is said
        from inkex.utils import errormsg

        errormsg(said)
    return 0 if drawing else 1


def _pressed(words: list[str], document: bytes) -> tuple[bytes, str]:
    """The new document, or a sentence in its place; a report may have both."""
    if ways.way(PACKAGE) != ways.OTHER:
        try:
            return _here(words, document)
        except ImportError:
            if not ways.record(PACKAGE).get("python"):
                raise
    return _elsewhere(words, document)


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


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

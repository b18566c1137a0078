"""One press of a dialog: the script that the editor runs for every operation and report.

It hands the document to flatcut and gives back what comes out. The editor shows whatever is written to standard error
in a window, so nothing is but what a person should read: one sentence that says what to put right, or what a report
has found.
"""

from __future__ import annotations

import gc
import os
import sys
import warnings

# a press lives a fifth of a second: what is loaded is not searched for rings of values again and again
gc.set_threshold(100_000)
# read when numpy is loaded: a second thread for small matrices waits for the first one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

SCRIPT = os.path.realpath(__file__)
PACKAGE = os.path.dirname(os.path.dirname(SCRIPT))
if os.path.exists(os.path.join(PACKAGE, "editor", "ways.py")) and os.path.dirname(PACKAGE) not in sys.path:
    sys.path.insert(0, os.path.dirname(PACKAGE))

from flatcut.editor import ways  # noqa: E402  # its folder is on the path only now

LOST = "flatcut's packages do not fit the editor's Python any more; run: flatcut editor install"
UNREAD = "the document cannot be read; save it, and try again"
LOG = "flatcut-fault.txt"


def main(words: list[str]) -> int:
    """Perform the operation or the report: the new document to standard output, or a sentence in its place.

    words: as the editor starts a script, the file last; `ways.PIPED` in its place where this is the other Python.
    """
    warnings.simplefilter("ignore")  # each one would open a window
    file = words[-1] if words else ""
    handed = file == ways.PIPED
    aloud = _hushed() if handed else -1
    try:
        drawing, said = _here(words, _read(file)) if handed else _pressed(words, file)
    except Exception as error:  # a fault of flatcut's own: a traceback in a window helps nobody, so it goes to a file
        import traceback

        unread = isinstance(error, OSError) and error.filename == file
        lost = handed and isinstance(error, ImportError)
        drawing, said = b"", UNREAD if unread else LOST if lost else _fault(traceback.format_exc())
    sys.stdout.buffer.write(drawing)
    sys.stdout.buffer.flush()
    if said and handed:
        os.write(aloud, (said + "\n").encode("utf-8", "replace"))
    elif said:
        # the editor's library takes longer to load than all the rest of a press, and mostly nothing is said
        from inkex.utils import errormsg

        errormsg(said)
    return 0 if drawing else 1


def _pressed(words: list[str], file: str) -> tuple[bytes, str]:
    """The new document, or a sentence in its place; a report may have both."""
    if ways.way(PACKAGE) != ways.OTHER:
        try:
            return _here(words, _read(file))
        except ImportError:
            if not ways.record(PACKAGE).get("python"):
                raise
    return _elsewhere(words, file)


def _read(file: str) -> bytes:
    if not file:
        return b""
    if file == ways.PIPED:
        return sys.stdin.buffer.read()
    with open(file, "rb") as opened:
        return opened.read()


def _here(words: list[str], document: bytes) -> tuple[bytes, str]:
    """The press done in this Python."""
    from flatcut.editor.bridge import answered, read_words
    from flatcut.errors import FlatcutError

    try:
        done = answered(read_words(words), document)
    except FlatcutError as error:
        lacks = isinstance(error, ImportError) and words[-1:] != [ways.PIPED]
        if lacks and ways.record(PACKAGE).get("python"):
            raise  # that Python may have the package
        return b"", str(error)
    return done.document or b"", done.said


def _elsewhere(words: list[str], file: str) -> tuple[bytes, str]:
    """The press done by the Python that installed the plugin. Where the system can, this process becomes that one."""
    with open(file or os.devnull, "rb") as document:
        try:
            if os.name == "posix":
                ways.become(PACKAGE, SCRIPT, words, document.fileno())
            ended, drawing, said = ways.hand_over(PACKAGE, words, document.read())
        except OSError:
            return b"", LOST
    if ended == 0:
        return drawing, ways.sentence(said)
    return b"", said if ended == ways.REFUSED else _fault(said)


def _hushed() -> int:
    """Where a sentence goes, a file descriptor, once all that other packages may chatter goes nowhere."""
    aloud = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    os.close(nowhere)
    return aloud


def _fault(details: str) -> str:
    """The sentence for a fault of flatcut itself; the details go to a file."""
    import tempfile

    log = os.path.join(tempfile.gettempdir(), LOG)
    try:
        with open(log, "w", encoding="utf-8") as opened:
            opened.write(details)
    except OSError:
        return "flatcut met a fault of its own and changed nothing."
    return f"flatcut met a fault of its own and changed nothing; please report what is in {log}"


if __name__ == "__main__":
    code = main(sys.argv[1:])
    gc.freeze()  # what is left goes with the process, and is not searched at its end either
    sys.exit(code)

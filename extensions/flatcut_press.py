"""One press of a dialog: the script that the editor runs for every operation.

The editor starts it with the dialog's parameters, the ids of what is selected and a file; what it writes to standard
output is the new document, and what it writes to standard error is shown in a window. So nothing but the document goes
out in a normal run, and nothing but one sentence when a person has something to put right. The editor's own library is
not used: importing it takes longer than most presses, and all it would do here is to open the file.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

# each warning of a package would open a window, and where the user's environment asks for warnings, there are some
warnings.simplefilter("ignore")

PACKAGE = Path(__file__).resolve().parents[1]
if (PACKAGE / "editor" / "ways.py").exists() and str(PACKAGE.parent) not in sys.path:
    sys.path.insert(0, str(PACKAGE.parent))

from flatcut.editor import ways  # noqa: E402  # its folder is on the path only now
from flatcut.errors import FlatcutError  # noqa: E402

LOST = "flatcut's packages do not fit the editor's Python any more; run: flatcut editor install"
LOG = "flatcut-fault.txt"


def main(words: list[str]) -> int:
    """Do one press. The editor does not look at how it ends: no drawing means that nothing changes."""
    drawing, said = pressed(words)
    sys.stdout.buffer.write(drawing)
    sys.stdout.buffer.flush()
    if said:
        print(said, file=sys.stderr)
    return 0 if drawing else 1


def pressed(words: list[str]) -> tuple[bytes, str]:
    """The new document, or a sentence in its place; a report may have both."""
    try:
        if ways.way(PACKAGE) != ways.OTHER:
            try:
                return here(words)
            except ImportError:
                if not ways.record(PACKAGE).get("python"):
                    raise
        return elsewhere(words)
    except FlatcutError as error:
        return b"", str(error)
    except Exception:
        import traceback

        return b"", _fault(traceback.format_exc())


def here(words: list[str]) -> tuple[bytes, str]:
    """The document after the operation or the report, done in this Python."""
    from flatcut.editor.bridge import pressed, read_words

    press = read_words(words)
    done = pressed(press, Path(press.file).read_bytes())
    return done.document or b"", done.said


def elsewhere(words: list[str]) -> tuple[bytes, str]:
    """The same from the Python that installed the plugin."""
    try:
        ended, drawing, said = ways.hand_over(PACKAGE, words)
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

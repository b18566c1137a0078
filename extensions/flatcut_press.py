"""One press of a dialog: the script that the editor runs for every operation.

It reads the document once, hands it to flatcut and gives back what comes out. The editor shows whatever is written to
standard error in a window, so nothing is: only the one sentence of an error that a person can put right.
"""

from __future__ import annotations

import sys
import tempfile
import traceback
import warnings
from pathlib import Path
from types import SimpleNamespace
from typing import Any, BinaryIO

from inkex.base import InkscapeExtension
from inkex.utils import AbortExtension

# the editor's library switches all warnings on when it is imported, and each one would open a window
warnings.simplefilter("ignore")

PACKAGE = Path(__file__).resolve().parents[1]
if (PACKAGE / "editor" / "ways.py").exists() and str(PACKAGE.parent) not in sys.path:
    sys.path.insert(0, str(PACKAGE.parent))

from flatcut.editor import ways  # noqa: E402  # its folder is on the path only now
from flatcut.errors import FlatcutError  # noqa: E402


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
        """Perform the operation."""
        try:
            self.document = self._performed()
        except (FlatcutError, AbortExtension) as error:
            raise AbortExtension(str(error)) from None
        except Exception:
            raise AbortExtension(_told(traceback.format_exc())) from None

    def _performed(self) -> bytes:
        if ways.way(PACKAGE) != ways.OTHER:
            try:
                from flatcut.editor.bridge import perform, read_words

                return perform(read_words(self.words), self.document)
            except ImportError:
                if not ways.record(PACKAGE).get("python"):
                    raise
        try:
            ended, result, said = ways.hand_over(PACKAGE, self.words)
        except OSError:
            raise AbortExtension(
                "flatcut's packages do not fit the editor's Python any more; run: flatcut editor install"
            ) from None
        if ended == 0:
            return result
        raise AbortExtension(said if ended == 2 else _told(said))

    def save(self, stream: BinaryIO) -> None:
        """The new document, as it is."""
        stream.write(self.document)


def _told(details: str) -> str:
    """The sentence for a fault of flatcut itself; the details go to a file."""
    log = Path(tempfile.gettempdir()) / "flatcut-fault.txt"
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

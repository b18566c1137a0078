"""The one runner of all reports in the editor. It is loaded for them alone: most presses are of operations."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from flatcut.arguments import build
from flatcut.dialogs.spoken import found_by_dialog
from flatcut.dialogs.values import FILE, TO_FILE, words
from flatcut.editor.pressing import Press, Pressed, said_beside
from flatcut.errors import FlatcutError, UsageError
from flatcut.files import write_bytes
from flatcut.formats.svg.read import read
from flatcut.formats.svg.told_layer import put_told
from flatcut.reports import report

_Part = TypeVar("_Part")


def reported(name: str, press: Press, data: bytes) -> Pressed:
    """What the press of a report's dialog comes to: a file where it makes one, else the document with its marks.

    Errors: FlatcutError.
    """
    cls = report.load(name)
    asked = build(cls, *words(cls, press.given))
    drawing, pattern, findings = read(data, name="the document")
    ending = _ending(cls, press.given)
    shown = _Opened(found=report.Input(name="", drawing=drawing, pattern=pattern, findings=findings), ending=ending)
    result = asked.run(shown)
    result = replace(result, findings=tuple(map(found_by_dialog, result.findings)))
    if cls.saves:
        made = b"".join(chunk for file in result.files for chunk in file.chunks)
        if TO_FILE in press.given:
            written = _written(press.given.get(FILE, ""), ending, made)
            return said_beside(cls, drawing, (written, *map(str, result.figures)), (*result.warnings, *result.notes))
        return Pressed(document=made)
    said = asked.sentence(shown.found, result)
    put_told(drawing.document, pattern, None)  # what the press before said gives way to the marks
    marked = asked.marked(shown.found, result)
    lines = [line for line in said.splitlines() if line.strip() and line.strip() != cls.title]
    return said_beside(cls, drawing, lines) if said else Pressed(document=marked)


def _ending(cls: type[report.Report], given: Mapping[str, str]) -> str:
    """The ending of the file that is wanted: of several by the name that is given in a dialog that asks for one."""
    name = given.get(FILE, "").strip().lower() if TO_FILE in given else ""
    return next((ending for ending in (cls.saves, *cls.also_saves) if name.endswith(ending)), cls.saves)


@dataclass(frozen=True, kw_only=True)
class _Opened:
    """The one drawing that a report in the editor is about."""

    found: report.Input
    wanted: tuple[str, ...] = ()
    ending: str = ""

    @property
    def title(self) -> str:
        return self.found.pattern.style.name

    @property
    def names(self) -> tuple[str, ...]:
        return (self.title or "the drawing",)

    def each(
        self, function: Callable[[report.Input], _Part], failed: Callable[[str, int, FlatcutError], _Part] | None = None
    ) -> Iterator[_Part]:
        yield function(self.found)

    def watch(self, text: str) -> None:
        """Nobody watches a dialog's work."""


def _written(name: str, ending: str, data: bytes) -> str:
    """Write the file of a report, and say so. Errors: UsageError where none is named, OutputError.

    A name without a folder means the folder of the document.
    """
    if not name.strip():
        raise UsageError(f"name the file to write, such as pattern{ending}")
    file = Path(name.strip() if name.strip().lower().endswith(ending) else name.strip() + ending)
    if file.parent in (Path(), Path.cwd()):  # the editor puts the script's own folder before a bare name
        document = os.environ.get("DOCUMENT_PATH", "")
        file = (Path(document).parent if document else Path.home()) / file.name
    write_bytes(str(file), data)
    return f"{file} is written"

"""What a report is, and the registry that finds one by its name.

A report is one frozen dataclass in one file of this folder, with the same kinds of fields as an operation: they become
the options of its command and the fields of its dialog. It reads pieces and records no step.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar, TypeVar

from flatcut.declared.declared import Declared, option
from flatcut.declared.registry import load_from, names_in
from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing
from flatcut.pattern.values import Pattern

MENU = "Report"
"""The group of the menu that holds all reports, after those of the operations."""

_FRAMEWORK = {"__init__", "report", "subject"}


@dataclass(frozen=True, kw_only=True)
class Pressed:
    """What a press of a dialog comes to: the new document, None where it stays as it is; a sentence to show.

    Of a report that is saved it is the file.
    """

    document: bytes | None = None
    said: str = ""


@dataclass(frozen=True, kw_only=True)
class Report(Declared):
    """The base of all reports.

    saves: the ending of the files that it makes, which are a choice of the editor's Save As, beside the dialog in the
    menu that asks for a file; file_type: what that choice is called.
    """

    saves: ClassVar[str] = ""
    file_type: ClassVar[str] = ""

    def press(self, drawing: Drawing, pattern: Pattern, notes: list[Finding]) -> Pressed:
        """The report as the editor shows it. notes: what reading the document found."""
        raise NotImplementedError


def names() -> list[str]:
    """All reports, in alphabetical order.

    >>> "check" in names()
    True
    """
    return names_in(Path(__file__).parent, _FRAMEWORK)


def load(name: str) -> type[Report]:
    """The report of that name; only its own file is imported. Errors: UnknownNameError."""
    return load_from("flatcut.reports", name, Report, names())


_Class = TypeVar("_Class", bound=type[Report])


def report(cls: _Class) -> _Class:
    """Class decorator: gives the report its name, that of its file, and its place in the menu."""
    cls.command = option(cls.__module__.rsplit(".", 1)[-1])
    cls.menu = MENU
    return cls

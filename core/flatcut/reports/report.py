"""What a report is, and the registry that finds one by its name.

A report is one frozen dataclass in one file of this folder, with the same kinds of fields as an operation: they become
the options of its command and the fields of its dialog. It reads drawings and records no step. What it comes to is a
value: the command line and the editor each have one runner that tells, writes or marks it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar, Protocol, TypeVar

from flatcut.declared.declared import Declared, option
from flatcut.declared.registry import load_from, names_in
from flatcut.errors import FlatcutError
from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing
from flatcut.pattern.values import Figure, Pattern

MENU = "Report"
"""The group of the menu that holds all reports, after those of the operations."""

RECORD = "json"
"""The option by which a program asks for the record in place of what is said."""

_FRAMEWORK = {"__init__", "report", "subject"}
_Part = TypeVar("_Part")


@dataclass(frozen=True, kw_only=True)
class Input:
    """A drawing that was read. name: as it was typed, '' for the one in the editor; title: what a sheet of paper is
    headed with where the style has no name, '' for nothing; number: from 1 on in its call.

    findings: what reading it found.
    """

    name: str
    title: str = ""
    drawing: Drawing
    pattern: Pattern
    findings: Sequence[Finding] = ()
    number: int = 1


class Inputs(Protocol):
    """The drawings that a report is asked about, read one after the other, by several processes where that is asked."""

    @property
    def names(self) -> Sequence[str]:
        """The drawings, as they were typed."""

    @property
    def title(self) -> str:
        """What a file about them all is called inside, '' for nothing."""

    @property
    def ending(self) -> str:
        """The end of the name of the file to be made, with its dot, in small letters: one that the report saves."""

    @property
    def wanted(self) -> Collection[str]:
        """The options by which files are asked for beside what is said, and RECORD where data are."""

    def each(
        self, function: Callable[[Input], _Part], failed: Callable[[str, int, FlatcutError], _Part] | None = None
    ) -> Iterator[_Part]:
        """What a function makes of each drawing, in their order; only a few are held at a time.

        failed: what stands for a drawing that cannot be read, from its name, number and error, so that it stops no
        other; without it the error is raised. Both go to other processes: they are methods, or functions of a file.
        """

    def watch(self, text: str) -> None:
        """Show whoever watches how far a long piece of work is; nothing where nobody does."""


@dataclass(frozen=True, kw_only=True)
class Made:
    """A file that a report has made, piece by piece. option: the one that it was asked for by, '' for -o."""

    chunks: Iterable[bytes]
    option: str = ""


@dataclass(frozen=True, kw_only=True)
class Result:
    """What a report comes to.

    said: text to be read, and record: the same as plain data for a program, None where there is none. files: what it
    has made. figures, warnings: as an operation's. findings: what does not fit, of all drawings; notes: what reading
    them found. noted: whether there is something to look at; failed: whether no drawing could be read; errors: why.
    """

    said: str = ""
    record: Any = None
    files: tuple[Made, ...] = ()
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: tuple[str, ...] = ()
    errors: tuple[str, ...] = ()
    noted: bool = False
    failed: bool = False


def joined(data: Sequence[str]) -> str:
    """Lines as text, '' for none.

    >>> joined(["a", "b"])
    'a\\nb\\n'
    """
    return "".join(f"{line}\n" for line in data)


def listed(parts: Iterable[tuple[str, Any, Sequence[str]]]) -> Result:
    """What is said of drawings one after the other: a text, a record and notes of each; a single record stands alone.

    >>> listed([("a\\n", {"n": 1}, []), ("b\\n", {"n": 2}, ["look"])]).record
    [{'n': 1}, {'n': 2}]
    """
    every = list(parts)
    records = [record for _, record, _ in every]
    notes = tuple(note for *_, found in every for note in found)
    return Result(
        said="".join(text for text, *_ in every),
        record=records[0] if len(records) == 1 else records,
        notes=notes,
        noted=bool(notes),
    )


@dataclass(frozen=True, kw_only=True)
class Report(Declared):
    """The base of all reports.

    saves: the ending of the files that it makes, which are a choice of the editor's Save As, beside the dialog in the
    menu that asks for a file; also_saves: other endings that the command and that dialog take for them; file_type: what
    that choice is called. takes: fields that a file given by its name alone fills, by its ending, and where one is
    there no drawing is needed. makes: options of the command that name one more file to make, with their help.
    in_editor: whether it has a dialog. records: whether --json prints its record; doing: the word for its progress.
    """

    saves: ClassVar[str] = ""
    also_saves: ClassVar[tuple[str, ...]] = ()
    file_type: ClassVar[str] = ""
    takes: ClassVar[Mapping[str, str]] = {}
    makes: ClassVar[Mapping[str, str]] = {}
    in_editor: ClassVar[bool] = True
    records: ClassVar[bool] = False
    doing: ClassVar[str] = "read"

    def run(self, inputs: Inputs) -> Result:
        """The report on some drawings. Errors: FlatcutError."""
        raise NotImplementedError

    def marked(self, drawing: Input, result: Result) -> bytes | None:
        """The drawing with the result marked on it, for the editor; None where it stays as it is."""
        return None

    def sentence(self, drawing: Input, result: Result) -> str:
        """What the editor says of the result, '' for nothing; asked before the drawing is marked."""
        return ""


def names() -> list[str]:
    """All reports, in alphabetical order.

    >>> "check" in names()
    True
    """
    return names_in(Path(__file__).parent, _FRAMEWORK)


def load(name: str) -> type[Report]:
    """The report of that name; only its own file is imported. Errors: UnknownNameError."""
    return load_from("flatcut.reports", name, Report, names())


def with_dialog() -> list[type[Report]]:
    """The reports that the editor has a dialog for."""
    return [cls for cls in map(load, names()) if cls.in_editor]


_Class = TypeVar("_Class", bound=type[Report])


def report(cls: _Class) -> _Class:
    """Class decorator: gives the report its name, that of its file, and its place in the menu."""
    cls.command = option(cls.__module__.rsplit(".", 1)[-1])
    cls.menu = MENU
    cls.title = vars(cls).get("title") or cls.command.replace("-", " ").capitalize()
    return cls

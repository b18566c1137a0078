"""From what the editor hands to a script, its words and the ids of what is selected, to an operation and its result."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from flatcut.arguments import build
from flatcut.declared.declared import Declared, kinds, option
from flatcut.dialogs import first_steps, opening
from flatcut.dialogs.values import FILE, OPERATION, TO_FILE, shown, words
from flatcut.editor.around import noted, why_nothing
from flatcut.editor.chosen import selection
from flatcut.editor.telling import refusal, told_last, told_of, with_told
from flatcut.editor.typed import beside_selection, of_pieces_gone, told_of_more
from flatcut.editor.ways import PIPED, REFUSED, SAYS
from flatcut.errors import FlatcutError, InputError, UsageError
from flatcut.files import write_bytes
from flatcut.formats.opening import as_svg
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.told_layer import Told, put_told
from flatcut.formats.svg.write import write
from flatcut.operations.operation import Operation, load
from flatcut.reports import report

_Part = TypeVar("_Part")


@dataclass(frozen=True, kw_only=True)
class Press:
    """One press of a dialog's button.

    given: parameters by name; ids: of the selected objects, in the order of selection; nodes: `id:subpath:node` each,
    counted from 0; file: the document as it stands in the editor.
    """

    given: dict[str, str] = field(default_factory=dict)
    ids: tuple[str, ...] = ()
    nodes: tuple[str, ...] = ()
    file: str = ""


def read_words(line: Sequence[str]) -> Press:
    """The words that the editor starts a script with. Errors: UsageError for a word that is none of them.

    >>> press = read_words(["--operation=allowance", "--id=p1", "--id=p2", "--width=10", "in.svg"])
    >>> press.ids, press.given, press.file
    (('p1', 'p2'), {'operation': 'allowance', 'width': '10'}, 'in.svg')
    """
    given: dict[str, str] = {}
    listed: dict[str, list[str]] = {"id": [], "selected-nodes": []}
    file = ""
    for word in line:
        name, equals, text = word[2:].partition("=")
        if not word.startswith("--"):
            file = word
        elif not equals:
            raise UsageError(f"'{word}' is no word of the editor; flatcut's script is started by a dialog")
        elif name in listed:
            listed[name].append(text)
        else:
            given[name] = text
    return Press(given=given, ids=tuple(listed["id"]), nodes=tuple(listed["selected-nodes"]), file=file)


@dataclass(frozen=True, kw_only=True)
class Pressed:
    """What a press comes to: the new document, None where it stays as it is; a sentence to show, '' for none.

    Of a report that is saved the document is the file.
    """

    document: bytes | None = None
    said: str = ""


def pressed(press: Press, data: bytes) -> Pressed:
    """What a press comes to, of the dialog of an operation or of a report.

    Errors: FlatcutError with the sentence that the person is shown, the document then stays as it is.
    """
    name = press.given.get(OPERATION, "")
    if name == first_steps.COMMAND:
        lines = tuple(f"{k}  {line}" for k, line in enumerate(first_steps.LINES, start=1))
        return Pressed(document=with_told(read(data)[0], Told(title=first_steps.TITLE[2:], lines=lines)))
    if name == opening.COMMAND:
        return _opened(press, data)
    told = name in report.names()
    cls: type[Declared] = report.load(name) if told else load(name)
    try:
        return _reported(report.load(name), press, data) if told else _performed(load(name), press, data)
    except FlatcutError as error:
        labels = {option(key): kind.label for key, kind in shown(cls).items()}
        raise type(error)(error.labelled(labels)) from None


def answered(press: Press, data: bytes) -> Pressed:
    """The same, but what a dialog with a live preview refuses is said in the drawing, which else stays as it is.

    A preview is pressed again at every letter that is typed, and must open no window. Errors: FlatcutError where the
    dialog has no preview, the document cannot be read, or what is said in it is hidden.
    """
    try:
        return pressed(press, data)
    except FlatcutError as error:
        if press.given.get(OPERATION) in (first_steps.COMMAND, opening.COMMAND):
            raise
        cls = _class(press)
        if not cls.previewed or issubclass(cls, report.Report):
            raise
        try:
            drawing = read(data, name="the document")[0]
        except FlatcutError:
            raise error from None
        if drawing.pattern.told_hidden:
            raise
        return Pressed(document=with_told(drawing, refusal(cls, error)))


def _opened(press: Press, data: bytes) -> Pressed:
    """The drawing that a file of another program comes to; what there is to say of it stands beside the pieces."""
    svg, findings = as_svg(data, name=Path(press.file).name or f"the file{opening.ENDING}")
    if svg is data:
        raise InputError("this is no DXF file; choose one, or open it as the kind of file that it is")
    if not findings:
        return Pressed(document=svg)
    told = Told(title="Opened", looked=tuple(map(str, findings)))
    return Pressed(document=with_told(read(svg)[0], told))


def _class(press: Press) -> type[Declared]:
    name = press.given.get(OPERATION, "")
    return report.load(name) if name in report.names() else load(name)


def _reported(cls: type[report.Report], press: Press, data: bytes) -> Pressed:
    """The one runner of all reports in the editor: a file where it makes one, else the document with its marks."""
    asked = build(cls, *words(cls, press.given))
    drawing, pattern, findings = read(data, name="the document")
    shown = _Document(
        found=report.Input(name="", drawing=drawing, pattern=pattern, findings=findings), ending=cls.saves
    )
    result = asked.run(shown)
    if cls.saves:
        made = b"".join(chunk for file in result.files for chunk in file.chunks)
        if TO_FILE in press.given:
            written = _written(press.given.get(FILE, ""), cls.saves, made)
            return _said(cls, drawing, (written, *map(str, result.figures)), (*result.warnings, *result.notes))
        return Pressed(document=made)
    said = asked.sentence(shown.found, result)
    put_told(drawing.document, pattern, None)  # what the press before said gives way to the marks
    marked = asked.marked(shown.found, result)
    lines = [line for line in said.splitlines() if line.strip() and line.strip() != cls.title]
    return _said(cls, drawing, lines) if said else Pressed(document=marked)


def _said(cls: type[Declared], drawing: Drawing, lines: Sequence[str], looked: Sequence[str] = ()) -> Pressed:
    """What ended well says so beside the pieces; in a window, which looks like an alarm, only where that is hidden."""
    if drawing.pattern.told_hidden:
        return Pressed(said="\n".join((*lines, *looked)))
    return Pressed(document=with_told(drawing, Told(title=cls.title, lines=tuple(lines), looked=tuple(looked))))


@dataclass(frozen=True, kw_only=True)
class _Document:
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


def _performed(cls: type[Operation], press: Press, data: bytes) -> Pressed:
    """The document after an operation. One that changes nothing, such as a measurement that is not kept, only says its
    figures.
    """
    targets, options = words(cls, press.given)
    if not press.ids and not targets and needs_selection(cls):
        raise UsageError(f"nothing is selected; select {kinds(cls)['target'].what} first")
    drawing, pattern, findings = read(data, name="the document")
    around = noted(drawing, press.ids)  # before pieces are made of what is selected
    chosen = selection(drawing, pattern, press.ids, press.nodes, several=not cls.previewed)
    given, notes = beside_selection(cls, press.given, pattern, chosen)
    given, passed = of_pieces_gone(cls, given, pattern)
    targets, options = words(cls, given)
    operation = build(cls, targets, options)
    if press.ids and not chosen and not targets and needs_selection(cls):
        why = why_nothing(drawing, press.ids)
        if why:
            raise InputError(why)
        said = f": {findings[0]}" if findings else "; select outlines, pieces, or lines drawn on them"
        raise InputError(f"what is selected is neither a piece nor a drawn line{said}")
    done = operation.perform(pattern, chosen)
    if not done.changed:
        figures = tuple(map(str, done.step.figures))
        return _said(cls, drawing, figures or ("there is nothing to change",), done.step.warnings)
    more = told_of_more(cls, options)
    told = told_of(cls, done, pattern, chosen, findings, more=more, notes=[*notes, *passed, *around])
    if cls.command == "names" and done.pattern.steps:
        told = told_last(done.pattern.steps[-1])
    return Pressed(document=write(drawing, done.pattern, told))


def needs_selection(cls: type[Operation]) -> bool:
    """Whether an empty selection is a slip: the operation has a target, and it is not one that may mean everything.

    >>> needs_selection(load("allowance")), needs_selection(load("piece")), needs_selection(load("style"))
    (True, True, False)
    """
    target = kinds(cls).get("target")
    return target is not None and target.selected and (not target.optional or target.hidden)


def main(line: Sequence[str]) -> int:
    """Do one press in a process of its own: the drawing to standard output, or a sentence to standard error."""
    try:
        press = read_words(line)
        data = sys.stdin.buffer.read() if press.file == PIPED else Path(press.file).read_bytes()
        done = answered(press, data)
    except FlatcutError as error:
        print(error, file=sys.stderr)
        return REFUSED
    sys.stdout.buffer.write(done.document or b"")
    sys.stdout.buffer.flush()
    if done.said:
        print(f"{SAYS}{done.said}", file=sys.stderr)
    return 0

"""From what the editor hands to a script, its words and the ids of what is selected, to an operation and its result."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from flatcut.arguments import build
from flatcut.declared.declared import Declared, kinds, option
from flatcut.dialogs import first_steps, opening
from flatcut.dialogs.spoken import by_dialog
from flatcut.dialogs.values import OPERATION, shown, words
from flatcut.editor.around import noted, why_nothing
from flatcut.editor.chosen import selection
from flatcut.editor.pictured import PHOTO, with_picture
from flatcut.editor.pressing import Press, Pressed, read_words, said_beside
from flatcut.editor.room import make_room
from flatcut.editor.telling import refusal, told_figures, told_last, told_of, with_told
from flatcut.editor.typed import beside_selection, of_pieces_gone, told_of_more, told_of_names
from flatcut.editor.ways import PIPED, REFUSED, SAYS
from flatcut.errors import FlatcutError, InputError, UsageError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.told_layer import Told
from flatcut.formats.svg.write import write
from flatcut.operations.operation import Operation, load, names


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
    cls = _declared(name)
    try:
        if issubclass(cls, Operation):
            return _performed(cls, press, data)
        from flatcut.editor.reporting import reported  # most presses are of operations

        return reported(name, press, data)
    except FlatcutError as error:
        labels = {option(key): kind.label for key, kind in shown(cls).items()}
        raise type(error)(by_dialog(error.labelled(labels))) from None


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
        cls = _declared(press.given.get(OPERATION, ""))
        if not (cls.previewed and issubclass(cls, Operation)):
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
    from flatcut.formats.opening import as_svg

    svg, findings = as_svg(data, name=Path(press.file).name or f"the file{opening.ENDING}")
    if svg is data:
        raise InputError("this is no DXF file; choose one, or open it as the kind of file that it is")
    if not findings:
        return Pressed(document=svg)
    told = Told(title="Opened", looked=tuple(map(str, findings)))
    return Pressed(document=with_told(read(svg)[0], told))


def _declared(name: str) -> type[Declared]:
    """The operation of that name, else the report. Errors: UnknownNameError."""
    if name not in names():
        from flatcut.reports import report

        if name in report.names():
            return report.load(name)
    return load(name)


def _performed(cls: type[Operation], press: Press, data: bytes) -> Pressed:
    """The document after an operation. One that changes nothing, such as a measurement that is not kept, only says its
    figures.
    """
    targets, options = words(cls, press.given)
    if not press.ids and not targets and needs_selection(cls) and not options.get(PHOTO):
        raise UsageError(f"nothing is selected; select {kinds(cls)['target'].what} first")
    drawing, pattern, findings = read(data, name="the document")
    around = noted(drawing, press.ids)  # before pieces are made of what is selected
    chosen = selection(drawing, pattern, press.ids, press.nodes, several=not cls.previewed)
    given, notes = beside_selection(cls, press.given, pattern, chosen)
    given, passed = of_pieces_gone(cls, given, pattern)
    given = with_picture(cls, given, drawing, press.ids)
    targets, options = words(cls, given)
    operation = build(cls, targets, options)
    if press.ids and not chosen and not targets and needs_selection(cls) and not options.get(PHOTO):
        why = why_nothing(drawing, press.ids)
        if why:
            raise InputError(why)
        said = f": {findings[0]}" if findings else "; select outlines, pieces, or lines drawn on them"
        raise InputError(f"what is selected is neither a piece nor a drawn line{said}")
    done = operation.perform(pattern, chosen)
    if not done.changed:
        figures = told_figures(done.step.figures)
        return said_beside(cls, drawing, figures or ("there is nothing to change",), done.step.warnings)
    more = [*told_of_names(cls, press.given), *told_of_more(cls, options)]
    seen = drawing.document.page
    beyond = make_room(drawing.document, pattern, done.pattern)
    told = told_of(cls, done, pattern, chosen, findings, more=more, notes=[*notes, *passed, *around, *beyond])
    if cls.command == "names" and done.pattern.steps:
        told = told_last(done.pattern.steps[-1])
    return Pressed(document=write(drawing, done.pattern, told._replace(seen=seen)))


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

"""A press of a dialog's button, as the editor's words say it, and what it comes to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from typing import NamedTuple

from flatcut.declared.declared import Declared
from flatcut.dialogs.spoken import by_dialog
from flatcut.editor.telling import with_told
from flatcut.errors import UsageError
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.told_layer import Told


class Press(NamedTuple):
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


class Pressed(NamedTuple):
    """What a press comes to: the new document, None where it stays as it is; a sentence to show, '' for none.

    Of a report that is saved the document is the file.
    """

    document: bytes | None = None
    said: str = ""


def said_beside(cls: type[Declared], drawing: Drawing, lines: Sequence[str], looked: Sequence[str] = ()) -> Pressed:
    """What ended well says so beside the pieces; in a window, which looks like an alarm, only where that is hidden."""
    looked = tuple(map(by_dialog, looked))
    if drawing.pattern.told_hidden:
        return Pressed(said="\n".join((*lines, *looked)))
    return Pressed(document=with_told(drawing, Told(title=cls.title, lines=tuple(lines), looked=looked)))

"""The dialog files, one for each operation, made from its fields and kept beside the script that serves them all."""

from __future__ import annotations

from collections.abc import Iterator
from mimetypes import MimeTypes
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from flatcut.declared.declared import Declared, kinds, summary
from flatcut.declared.entries import UNIT, UNITS
from flatcut.declared.kinds import Row
from flatcut.declared.references import FROM_SELECTION
from flatcut.dialogs.values import FILE, OPERATION, PAGES, RESERVED, TO_FILE, parameter
from flatcut.errors import OutputError
from flatcut.operations.operation import load, names
from flatcut.reports import report

NAMESPACE = "http://www.inkscape.org/namespace/inkscape/extension"
SCRIPT = "flatcut_press.py"
MENU = "Flatcut"
UNIT_NAMES = {"1/8in": "1/8 in", "1/16in": "1/16 in"}

_MEDIA = MimeTypes(filenames=())
"""Media types by the ending of a file, those that Python knows of itself: the same on every machine."""
OTHER = "application/octet-stream"
"""The type of an ending that has none of its own. Source: RFC 2046, section 4.5.1."""

MOST_ROWS = 14
"""Rows of a dialog, each about 38 px high: more would not go on a screen of 768 px."""


_UNITS = [
    f'<param name="{UNIT}" type="optiongroup" appearance="combo" gui-text="Unit of the lengths">',
    *(f'  <option value="{unit}" translatable="no">{UNIT_NAMES.get(unit, unit)}</option>' for unit in UNITS),
    "</param>",
]
"""The one list of units of a dialog, before its first length."""


def identity(cls: type[Declared], *, to_file: bool = False) -> str:
    """The id of a dialog: dots and dashes only, since the editor's own actions are named after it.

    >>> identity(load("allowance"))
    'org.flatcut.allowance'
    """
    return f"org.flatcut.{cls.command}{'.to-file' if to_file else ''}"


def file_name(cls: type[Declared], *, to_file: bool = False) -> str:
    """The name of the dialog's file."""
    return f"{cls.command}{'-to-file' if to_file else ''}.inx"


def saved(cls: type[Declared]) -> str:
    """The ending of the files that a report makes, '' for what makes none."""
    return cls.saves if issubclass(cls, report.Report) else ""


def dialog(cls: type[Declared], *, to_file: bool = False) -> str:
    """The dialog of an operation or a report, as the text of its file.

    to_file: of a report that makes files the one in the menu, which asks for the file too, not that of Save As.

    >>> [line for line in dialog(load("allowance")).splitlines() if "<id>" in line]
    ['  <id>org.flatcut.allowance</id>']
    """
    title = cls.command.replace("-", " ").capitalize()
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        "<!-- written by the command `flatcut dialogs`; change the fields of the operation, not this file -->",
        f'<inkscape-extension xmlns="{NAMESPACE}">',
        f"  <name>{escape(title)}</name>",
        f"  <id>{identity(cls, to_file=to_file)}</id>",
        f'  <param name="{OPERATION}" type="string" gui-hidden="true">{cls.command}</param>',
        *(f"  {line}" for line in (_file(saved(cls)) if to_file else ())),
        *(f"  {line}" for line in rows(cls)),
        "  <separator/>",
        f"  <label>{escape(summary(cls))}</label>",
        *(f"  {line}" for line in (_output(cls) if saved(cls) and not to_file else _effect(cls))),
        f'  <script><command location="inx" interpreter="python">{SCRIPT}</command></script>',
        "</inkscape-extension>",
    ]
    return "\n".join(lines) + "\n"


def _file(ending: str) -> Iterator[str]:
    """What asks for the file that is written; it comes with a mark, since an empty one is not handed over."""
    yield f'<param name="{TO_FILE}" type="bool" gui-hidden="true">true</param>'
    words = f'gui-text="File to write" gui-description="Its name ends in {ending}; a file of that name is replaced."'
    yield f'<param name="{FILE}" type="path" mode="file_new" filetypes="{ending[1:]}" {words}></param>'


def _effect(cls: type[Declared]) -> Iterator[str]:
    """An entry of the menu."""
    yield f'<effect needs-live-preview="{"false" if issubclass(cls, report.Report) else "true"}">'
    yield "  <object-type>all</object-type>"
    yield f'  <effects-menu><submenu name="{MENU}"><submenu name={quoteattr(cls.menu)}/></submenu></effects-menu>'
    yield f"  <menu-tip>{escape(summary(cls))}</menu-tip>"
    yield "</effect>"


def _output(cls: type[Declared]) -> Iterator[str]:
    """A choice of Save As, whose files the editor cannot read back as the drawing that they were made from."""
    assert issubclass(cls, report.Report)
    yield "<output>"
    yield f"  <extension>{cls.saves}</extension>"
    yield f"  <mimetype>{_MEDIA.guess_type(f'a{cls.saves}')[0] or OTHER}</mimetype>"
    yield f"  <filetypename>{escape(cls.file_type)} (*{cls.saves})</filetypename>"
    yield f"  <filetypetooltip>{escape(summary(cls))}</filetypetooltip>"
    yield "  <dataloss>true</dataloss>"
    yield "</output>"


def rows(cls: type[Declared]) -> Iterator[str]:
    """The lines of a dialog that are its fields."""
    fields = {key: kind for key, kind in kinds(cls).items() if not kind.hidden}
    clash = {parameter(key) for key in fields} & RESERVED
    assert not clash, f"{cls.command}: a field cannot be called {clash}"
    near: list[list[str]] = []
    apart: list[list[str]] = []
    # where all are too many for a screen, figures without a usual value go on further pages, or else all figures
    figures = {key for key, kind in fields.items() if kind.figure and len(fields) > MOST_ROWS}
    away = {key for key in figures if cls.__dataclass_fields__[key].default is None} or figures
    units = any(kind.in_units for kind in fields.values())
    for key, kind in fields.items():
        if kind.in_units and units:
            near.append(_UNITS)
            units = False
        usual = cls.__dataclass_fields__[key].default
        (apart if key in away else near).extend(list(_row(parameter(key), row)) for row in kind.entries(usual))
    if any(kind.selected for kind in fields.values()):
        near.append([f"<label>{FROM_SELECTION}</label>"])
    yield from _pages(near, apart) if apart else (line for row in near for line in row)


def _pages(rows: list[list[str]], apart: list[list[str]]) -> Iterator[str]:
    """What must be said on a page of its own before the figures that may be left out, a screenful on each."""
    count = -(-len(apart) // MOST_ROWS)
    height = -(-len(apart) // count)
    pages = [rows, *(apart[first : first + height] for first in range(0, len(apart), height))]
    yield f'<param name="{PAGES}" type="notebook">'
    for number, page in enumerate(pages):
        label = f"Figures, {number} of {count}" if number else "Main"
        yield f'  <page name="page{number}" gui-text="{label}">'
        yield from (f"    {line}" for row in page for line in row)
        yield "  </page>"
    yield "</param>"


def _row(name: str, row: Row) -> Iterator[str]:
    """Entries of the field called `name`, side by side where there are several."""
    if len(row) > 1:
        yield "<hbox>"
    for entry in row:
        tip = f" gui-description={quoteattr(entry.tip)}" if entry.tip else ""
        words = f"gui-text={quoteattr(entry.label)}{tip}"
        indent = "  " if len(row) > 1 else ""
        start = f'{indent}<param name="{name}{entry.after}" {entry.form} {words}>'
        if not entry.options:
            yield f"{start}{escape(entry.start)}</param>"
            continue
        yield start
        for value, text in entry.options:
            yield f"{indent}  <option value={quoteattr(value)}>{escape(text)}</option>"
        yield f"{indent}</param>"
    if len(row) > 1:
        yield "</hbox>"


def all_dialogs() -> dict[str, str]:
    """Every dialog file: name and text."""
    classes: list[type[Declared]] = [*map(load, names()), *report.with_dialog()]
    every = {file_name(cls): dialog(cls) for cls in classes}
    makers = [cls for cls in classes if saved(cls)]
    return every | {file_name(cls, to_file=True): dialog(cls, to_file=True) for cls in makers}


def stale(folder: Path) -> list[str]:
    """What `write` would change in a folder, as sentences."""
    wanted = all_dialogs()
    there = {path.name: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.inx"))}
    said = [f"{name} is missing" for name in wanted if name not in there]
    said += [f"{name} differs from its operation" for name in wanted if name in there and there[name] != wanted[name]]
    return said + [f"{name} belongs to no operation" for name in there if name not in wanted]


def write(folder: Path) -> list[str]:
    """Write every dialog file that is missing or differs, delete those of no operation; what was done, as sentences.

    Errors: OutputError.
    """
    wanted = all_dialogs()
    done = []
    try:
        for path in sorted(folder.glob("*.inx")):
            if path.name not in wanted:
                path.unlink()
                done.append(f"{path.name} deleted")
        for name, text in wanted.items():
            path = folder / name
            if not path.exists() or path.read_text(encoding="utf-8") != text:
                path.write_text(text, encoding="utf-8", newline="\n")
                done.append(f"{name} written")
    except OSError as error:
        raise OutputError(f"the dialogs cannot be written to {folder}: {(error.strerror or '').lower()}") from None
    return done

"""The dialog files, one for each operation, made from its fields and kept beside the script that serves them all."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from functools import cache
from mimetypes import MimeTypes
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from flatcut.declared.declared import Declared, kinds, summary
from flatcut.declared.entries import UNIT, UNITS
from flatcut.declared.kinds import Row
from flatcut.dialogs import first_steps, opening
from flatcut.dialogs.help import WIDE, help_lines, in_words
from flatcut.dialogs.tabs import tabs
from flatcut.dialogs.values import FILE, OPERATION, PAGES, RESERVED, TO_FILE, parameter
from flatcut.errors import OutputError
from flatcut.operations.operation import MENUS, load, names
from flatcut.reports import report

NAMESPACE = "http://www.inkscape.org/namespace/inkscape/extension"
SCRIPT = "flatcut_press.py"
MENU = "Flatcut"
UNIT_NAMES = {"1/8in": "1/8 in", "1/16in": "1/16 in"}

_MEDIA = MimeTypes(filenames=())
"""Media types by the ending of a file, those that Python knows of itself: the same on every machine."""
OTHER = "application/octet-stream"
"""The type of an ending that has none of its own. Source: RFC 2046, section 4.5.1."""

COLUMN = 12
"""Rows of a tab in one column; more stand in two. A row is about 38 px high, and a small screen has 768."""


_UNITS = [
    f'<param name="{UNIT}" type="optiongroup" appearance="combo" gui-text="Unit of the lengths" '
    'gui-description="What a figure counts that is typed without a unit of its own.">',
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
    lines = [
        *_head(cls.title, identity(cls, to_file=to_file)),
        f'  <param name="{OPERATION}" type="string" gui-hidden="true">{cls.command}</param>',
        *(f"  {line}" for line in (_file(cls) if to_file else ())),
        f'  <param name="{PAGES}" type="notebook">',
        *(f"  {line}" for line in notebook(cls)),
        "  </param>",
        "  <separator/>",
        f"  <label>{escape(summary(cls))}</label>",
        *(f"  {line}" for line in (_output(cls) if saved(cls) and not to_file else _effect(cls))),
        *_FOOT,
    ]
    return "\n".join(lines) + "\n"


def _head(title: str, name: str) -> list[str]:
    return [
        '<?xml version="1.0" encoding="UTF-8"?>',
        "<!-- written by the command `flatcut dialogs`; change the fields of the operation, not this file -->",
        f'<inkscape-extension xmlns="{NAMESPACE}">',
        f"  <name>{escape(title)}</name>",
        f"  <id>{name}</id>",
    ]


_FOOT = (
    f'  <script><command location="inx" interpreter="python">{SCRIPT}</command></script>',
    "</inkscape-extension>",
)


def _file(cls: type[Declared]) -> Iterator[str]:
    """What asks for the file that is written; it comes with a mark, since an empty one is not handed over."""
    assert issubclass(cls, report.Report)
    endings = (cls.saves, *cls.also_saves)
    yield f'<param name="{TO_FILE}" type="bool" gui-hidden="true">true</param>'
    tip = f"Its name ends in {' or '.join(endings)}; a file of that name is replaced."
    words = f'gui-text="File to write" gui-description="{tip}"'
    types = ",".join(ending[1:] for ending in endings)
    yield f'<param name="{FILE}" type="path" mode="file_new" filetypes="{types}" {words}></param>'


def _effect(cls: type[Declared]) -> Iterator[str]:
    """An entry of the menu."""
    previewed = cls.previewed and not issubclass(cls, report.Report)
    yield f'<effect needs-live-preview="{"true" if previewed else "false"}">'
    yield "  <object-type>all</object-type>"
    inner = f"<submenu name={quoteattr(submenu(cls.menu))}/>"
    yield f'  <effects-menu><submenu name="{MENU}">{inner}</submenu></effects-menu>'
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


def submenu(menu: str) -> str:
    """A group of the menu with its number in the order of the work: the editor sorts them by name.

    >>> submenu("Prepare"), submenu("Report")
    ('1 Prepare', '8 Report')
    """
    return f"{_submenus().index(menu) + 1} {menu}"


@cache
def _submenus() -> list[str]:
    """The groups that have an entry."""
    found = {load(name).menu for name in names()}
    return [*(menu for menu in MENUS if menu in found), report.MENU]


def notebook(cls: type[Declared]) -> Iterator[str]:
    """The lines of a dialog that are its fields, on tabs, and its help on the last."""
    shown = rows(cls)
    for number, (label, keys) in enumerate(tabs(cls).items()):
        yield f'  <page name="page{number}" gui-text={quoteattr(label)}>'
        yield from (f"    {line}" for line in _columns([row for key in keys for row in shown[key]]))
        yield "  </page>"
    yield '  <page name="help" gui-text="Help">'
    yield from (f"    <label>{escape(line)}</label>" for line in help_lines(cls))
    yield "  </page>"


def rows(cls: type[Declared]) -> dict[str, list[list[str]]]:
    """The rows of each field, in lines; the units stand before the first length of the first tab that has one."""
    fields = {key: kind for key, kind in kinds(cls).items() if not kind.hidden}
    clash = {parameter(key) for key in fields} & RESERVED
    assert not clash, f"{cls.command}: a field cannot be called {clash}"
    found = {}
    for key, kind in fields.items():
        usual = cls.__dataclass_fields__[key].default
        found[key] = [list(_row(parameter(key), row, cls)) for row in kind.entries(usual)]
    lengths = [key for key, kind in fields.items() if kind.in_units]
    first = next((key for key in lengths if not fields[key].tab), lengths[0] if lengths else "")
    return {key: ([_UNITS, *rows] if key == first else rows) for key, rows in found.items()}


def _columns(shown: list[list[str]]) -> Iterator[str]:
    """Rows one below the other, in two columns where they are many."""
    if len(shown) <= COLUMN:
        yield from (line for row in shown for line in row)
        return
    half = -(-len(shown) // 2)
    # in two columns there is room for figures only beside the lines; the tool-tips say the rest
    shown = [[line for line in row if "<label>empty: " not in line] for row in shown]
    yield "<hbox>"
    for column in (shown[:half], shown[half:]):
        yield "  <vbox>"
        yield from (f"    {line}" for row in column for line in row)
        yield "  </vbox>"
    yield "</hbox>"


def _row(name: str, row: Row, cls: type[Declared]) -> Iterator[str]:
    """Entries of the field called `name`, side by side where there are several, or a note beside one.

    They speak in the words of the dialog: in a line nothing is left out, it is empty.
    """
    wide = len(row) > 1 or any(entry.note for entry in row)
    if wide:
        yield "<hbox>"
    for entry in row:
        told, note = (in_words(cls, text) if "--" in text else text for text in (entry.tip, entry.note))
        tip = f" gui-description={quoteattr(told.replace('left out: ', 'empty: '))}" if told else ""
        words = f"gui-text={quoteattr(entry.label)}{tip}"
        indent = "  " if wide else ""
        start = f'{indent}<param name="{name}{entry.after}" {entry.form} {words}>'
        if not entry.options:
            yield f"{start}{escape(entry.start)}</param>"
            if note:
                yield f"{indent}<label>{escape(note)}</label>"
            continue
        yield start
        for value, text in entry.options:
            yield f"{indent}  <option value={quoteattr(value)}>{escape(text)}</option>"
        yield f"{indent}</param>"
    if wide:
        yield "</hbox>"


def all_dialogs() -> dict[str, str]:
    """Every dialog file: name and text."""
    classes: list[type[Declared]] = [*map(load, names()), *report.with_dialog()]
    every = {file_name(cls): dialog(cls) for cls in classes}
    makers = [cls for cls in classes if saved(cls)]
    every[f"{first_steps.COMMAND}.inx"] = beginning()
    every[f"{opening.COMMAND}.inx"] = opened()
    return every | {file_name(cls, to_file=True): dialog(cls, to_file=True) for cls in makers}


def beginning() -> str:
    """The dialog of the first entry of the menu, which only says what to do first.

    >>> len(beginning().splitlines()) < 40
    True
    """
    said = [row for k, line in enumerate(first_steps.LINES, start=1) for row in textwrap.wrap(f"{k}  {line}", WIDE)]
    lines = [
        *_head(first_steps.TITLE, f"org.flatcut.{first_steps.COMMAND}"),
        f'  <param name="{OPERATION}" type="string" gui-hidden="true">{first_steps.COMMAND}</param>',
        *(f"  <label>{escape(line)}</label>" for line in said),
        "  <separator/>",
        "  <label>Apply writes this on the drawing; the next press takes it away.</label>",
        '  <effect needs-live-preview="false">',
        "    <object-type>all</object-type>",
        f'    <effects-menu><submenu name="{MENU}"/></effects-menu>',
        "    <menu-tip>What to do first.</menu-tip>",
        "  </effect>",
        *_FOOT,
    ]
    return "\n".join(lines) + "\n"


def opened() -> str:
    """The choice of the editor's Open for DXF files: no dialog, but what the script is told, and which files it takes.

    >>> [line.strip() for line in opened().splitlines() if "<extension>" in line]
    ['<extension>.dxf</extension>']
    """
    lines = [
        *_head(opening.TITLE, f"org.flatcut.{opening.COMMAND}"),
        f'  <param name="{OPERATION}" type="string" gui-hidden="true">{opening.COMMAND}</param>',
        "  <input>",
        f"    <extension>{opening.ENDING}</extension>",
        f"    <mimetype>{opening.MEDIA}</mimetype>",
        f"    <filetypename>{escape(opening.TITLE)} (*{opening.ENDING})</filetypename>",
        f"    <filetypetooltip>{escape(opening.TIP)}</filetypetooltip>",
        "  </input>",
        *_FOOT,
    ]
    return "\n".join(lines) + "\n"


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

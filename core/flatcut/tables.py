"""Tables of figures and words: TOML, and rows of cells.

In a file of rows a row stands on each line. In the one-line form, which a recorded step holds, bars stand between rows
and commas between cells. In both a cell that holds such a mark itself stands in quotation marks, as in RFC 4180.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from flatcut.errors import InputError, MissingPackageError
from flatcut.reading import TABLE, read_limited

ROW = "|"
"""Between rows in the one-line form."""
SEPARATORS = ",;\t"
TABLES = ("csv", "tsv", "txt")
"""Endings of the files that hold a table."""


def read_table(text: str) -> dict[str, Any]:
    """The tables of a TOML text. Errors: InputError that says which line; MissingPackageError without a reader.

    >>> read_table('units = "cm"\\n[12]\\nbust = 92.5')
    {'units': 'cm', '12': {'bust': 92.5}}
    """
    try:
        if sys.version_info >= (3, 11):
            import tomllib
        else:
            import tomli as tomllib
    except ImportError:
        raise MissingPackageError(
            "reading measurements needs the package tomli with Python 3.10; install it with: pip install tomli"
        ) from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"the table cannot be read: {str(error).lower()}; mend it there") from None


def text_of(table: str, *, also: Sequence[str] = ()) -> str:
    """The text of a table: what is in the file where one is named. Errors: InputError.

    also: endings of other files that might have been named in its place, which the sentence tells.

    >>> text_of("name,width|front,1cm")
    'name,width|front,1cm'
    """
    if table.lower().rpartition(".")[2] not in TABLES:
        if not set(table) & {ROW, "\n", "\r"}:
            raise InputError(f"'{table.strip()}' is no table; name a file that ends in .{', .'.join((*also, *TABLES))}")
        return table
    try:
        data = read_limited(table, TABLE, what="a table")
        # spreadsheets write "text" in UTF-16 and mark it so
        return data.decode("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise InputError(f"the table {table} cannot be read; give a text file in UTF-8") from None


def cells(text: str) -> list[list[str]]:
    """The rows of a table as cells, all of the same number; the first row names the columns, in small letters.

    Commas, semicolons or tabs stand between cells: what the first row has most of. Empty lines count nothing, and
    rows and columns with nothing in them are left out at the end. Errors: InputError that names the row.

    >>> cells('Name;Material\\nfront;"wool, black"\\n;;\\n')
    [['name', 'material'], ['front', 'wool, black']]
    >>> cells("name,width|front,1cm")
    [['name', 'width'], ['front', '1cm']]
    """
    lines = _lines(text.lstrip("\ufeff"))
    if not lines:
        raise InputError("the table is empty; its first row names the columns")
    between = max(SEPARATORS, key=lines[0].count)
    try:
        found = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=between, skipinitialspace=True, strict=True))
    except csv.Error:
        raise InputError(
            "the table has a quotation mark without its mate; close it, or double one that is meant"
        ) from None
    rows = [[" ".join(cell.split()) for cell in row] for row in found]
    while len(rows) > 1 and not any(rows[-1]):
        rows.pop()
    head = [cell.lower() for cell in rows[0]]
    while head and not head[-1]:
        head.pop()
    for number, row in enumerate(rows[1:], start=2):
        _refuse_more(row, len(head), number, between)
        _refuse_unwritable(row, number)
    return [head, *([*row, *[""] * len(head)][: len(head)] for row in rows[1:])]


def one_line(text: str) -> str:
    """A table in the form that a recorded step holds: it needs no file to be replayed. Errors: InputError.

    >>> one_line("name;width\\nfront;1cm\\nback;12mm\\n")
    'name,width|front,1cm|back,12mm'
    >>> one_line("name;material\\nfront;wool, black\\n")
    'name,material|front,"wool, black"'
    """
    made = io.StringIO()
    csv.writer(made, lineterminator=ROW).writerows(cells(text))  # a cell that holds what ends a row is quoted too
    return made.getvalue().removesuffix(ROW)


def _lines(text: str) -> list[str]:
    """The lines that are not empty; a text of one line is the one-line form. Line ends inside quotation marks go."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    single = len([line for line in text.splitlines() if line.strip()]) == 1
    lines: list[str] = []
    parts: list[str] = []
    quoted = False
    # only these letters mean anything here: what lies between them is taken as it is
    for part in re.split(r'(["\n|])', text):
        if part == '"':
            quoted = not quoted
        if not quoted and (part == "\n" or (single and part == ROW)):
            lines.append("".join(parts))
            parts = []
        else:
            parts.append(" " if part == "\n" else part)
    return [line for line in [*lines, "".join(parts)] if line.strip()]


def _refuse_more(row: list[str], columns: int, number: int, between: str) -> None:
    """Raise for cells without a column; a decimal comma makes two of one."""
    if not any(row[columns:]):
        return
    pairs = pairwise(row)
    halves = next((f"{a},{b}" for a, b in pairs if a[-1:].isdigit() and b[:1].isdigit()), "") if between == "," else ""
    mend = (
        f"'{halves}' looks like a decimal comma: write {halves.replace(',', '.')}"
        if halves
        else "put a text that holds such a mark in quotation marks"
    )
    raise InputError(f"row {number} of the table has {len(row)} cells for {columns} columns; {mend}")


def _refuse_unwritable(row: list[str], number: int) -> None:
    wrong = next((cell for cell in row for letter in cell if letter < " " or letter in "\x7f\ufffe\uffff"), None)
    if wrong is not None:
        raise InputError(f"row {number} of the table has a character that no drawing can hold; type it anew")

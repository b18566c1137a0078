"""The table that says of many outlines at once what they are: one row for each, one column for each thing said.

The first row names the columns, in any order: `drawn` (id, label or text of the outline; without this column the rows
follow the order of the drawing), `name`, `width`, `quantity`, `cut` (single, pair or fold), `side`, `material`. An
empty cell says nothing. Commas, semicolons or tabs stand between cells.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace

from flatcut.errors import InputError, unknown
from flatcut.pattern.gathering import Gathered
from flatcut.pattern.values import CUT_AS, Allowance, Piece, checked_name
from flatcut.units import length

COLUMNS = ("drawn", "name", "width", "quantity", "cut", "side", "material")
ROW = "|"
"""Between rows in the one-line form, where commas stand between cells."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """What a table says of one piece; '' and None where it says nothing. width: mm."""

    drawn: str = ""
    name: str = ""
    width: float | None = None
    quantity: int | None = None
    cut: str = ""
    side: str = ""
    material: str = ""


def one_line(text: str) -> str:
    """A table in the form that a recorded step holds: it needs no file to be replayed. Errors: InputError.

    >>> one_line("name;width\\nfront;1cm\\nback;12mm\\n")
    'name,width|front,1cm|back,12mm'
    """
    rows = _cells(text)
    wrong = next((cell for row in rows for cell in row if set(cell) & set(',|"\n')), None)
    if wrong is not None:
        raise InputError(f"'{wrong}' in the table has a comma, a bar or a quotation mark; leave it out")
    return ROW.join(",".join(row) for row in rows)


def rows(line: str) -> list[Row]:
    """The rows of a table in one line. Errors: InputError, UsageError that name the row.

    >>> rows("name,quantity|front,2")[0].quantity
    2
    """
    head, *body = [row.split(",") for row in line.split(ROW)]
    for column in head:
        if column not in COLUMNS:
            raise unknown("column of a table", column, COLUMNS)
    if len(set(head)) < len(head):
        raise InputError("the table has a column twice; leave one out")
    found = []
    for number, cells in enumerate(body, start=2):
        if len(cells) > len(head):
            raise InputError(f"row {number} of the table has {len(cells)} cells for {len(head)} columns")
        try:
            found.append(_row(dict(zip(head, cells, strict=False))))
        except ValueError as error:
            raise InputError(f"row {number} of the table: {error}") from None
    return found


def matched(found: list[Row], outlines: list[Gathered]) -> list[Row]:
    """The row of each outline, an empty one where the table has none.

    Errors: InputError for more rows than outlines, or a row that stands for several; UnknownNameError.
    """
    if not any(row.drawn for row in found):
        if len(found) > len(outlines):
            raise InputError(f"the table has {len(found)} rows for {len(outlines)} outlines; give one for each")
        return [*found, *(Row() for _ in range(len(outlines) - len(found)))]
    given = [Row() for _ in outlines]
    for row in found:
        mine = [k for k, outline in enumerate(outlines) if row.drawn in _called(outline)]
        if not mine:
            raise unknown("outline", row.drawn, [name for outline in outlines for name in _called(outline)])
        if len(mine) > 1 or given[mine[0]] != Row():
            raise InputError(f"'{row.drawn}' in the table stands for several outlines or twice; use their ids")
        given[mine[0]] = row
    return given


def _called(outline: Gathered) -> list[str]:
    """What an outline can be called in a table."""
    texts = [text.text.strip().splitlines()[0] for text in outline.texts if text.text.strip()]
    return [name for name in (outline.path.id, outline.path.label, *texts) if name]


def applied(piece: Piece, row: Row) -> Piece:
    """The piece with what its row says of it."""
    edges = piece.edges
    if row.width is not None:
        edges = tuple(replace(edge, allowance=Allowance(width=row.width)) for edge in edges)
    quantity = row.quantity or (2 if row.cut == "pair" else 1)
    return replace(
        piece, edges=edges, quantity=quantity, cut_as=row.cut or piece.cut_as, side=row.side, material=row.material
    )


def _cells(text: str) -> list[list[str]]:
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip()]
    if not lines:
        raise InputError("the table is empty; its first row names the columns")
    if len(lines) == 1:
        lines = lines[0].split(ROW)
    between = max(",;\t", key=lines[0].count)
    table = csv.reader(io.StringIO("\n".join(lines)), delimiter=between, skipinitialspace=True)
    cleaned = [[cell.strip() for cell in row] for row in table]
    cleaned[0] = [cell.lower() for cell in cleaned[0]]
    return cleaned


def _row(said: dict[str, str]) -> Row:
    name, quantity, cut = said.get("name", ""), said.get("quantity", ""), said.get("cut", "")
    if quantity and not (quantity.isdigit() and int(quantity) > 0):
        raise InputError(f"'{quantity}' is no quantity; write a whole number from 1")
    if cut and cut not in CUT_AS:
        raise InputError(f"'{cut}' is no way of cutting; write one of {', '.join(CUT_AS)}")
    width = said.get("width", "")
    if width and length(width) < 0:
        raise InputError(f"the width {width} is negative; write how much is added")
    return Row(
        drawn=said.get("drawn", ""),
        name=checked_name(name, kind="piece's name") if name else "",
        width=length(width) if width else None,
        quantity=int(quantity) if quantity else None,
        cut=cut,
        side=said.get("side", ""),
        material=said.get("material", ""),
    )

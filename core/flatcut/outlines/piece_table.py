"""The table that says of many outlines at once what they are: one row for each, one column for each thing said.

The first row names the columns, in any order: `drawn` (id, label or text of the outline), `name`, `width`, `quantity`,
`cut` (single, pair or fold), `side`, `material`, `use`. An empty cell says nothing. Without a column `drawn` rows find
the outlines that the drawing calls by their names, and follow the order of the drawing where it calls none so.

A row whose `drawn` is a line drawn across edges says the width, the name and the use of the edges that it crosses.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from flatcut.errors import InputError, unknown
from flatcut.outlines.gathering import Gathered
from flatcut.outlines.naming import as_name
from flatcut.pattern.values import CUT_AS, USES, Allowance, DrawnPath, Piece, checked_name
from flatcut.tables import cells
from flatcut.units import factor, length

COLUMNS = ("drawn", "name", "width", "quantity", "cut", "side", "material", "use")
OF_EDGES = ("drawn", "name", "width", "use")
"""What a row can say of an edge."""
MOST = 500
"""The largest quantity, as in `label`."""
_WHOLE = re.compile(r"[0-9]{1,9}")
SHOWN = 6
"""Outlines that a sentence lists."""

_HEAD = re.compile(r"(width)\s*(?:\(\s*([a-z]+)\s*\)|\s([a-z]+))")


@dataclass(frozen=True, kw_only=True)
class Row:
    """What a table says of one piece or edge; '' and None where it says nothing. number: of its row; width: mm."""

    number: int = 0
    drawn: str = ""
    name: str = ""
    width: float | None = None
    quantity: int | None = None
    cut: str = ""
    side: str = ""
    material: str = ""
    use: str = ""


@dataclass(frozen=True, kw_only=True)
class Matched:
    """rows: one for each outline; pointers: rows of edges, each with the lines that cross them; warnings: sentences."""

    rows: tuple[Row, ...]
    pointers: tuple[tuple[Row, tuple[DrawnPath, ...]], ...] = ()
    warnings: tuple[str, ...] = ()


def rows(text: str) -> list[Row]:
    """The rows of a table, of one line or many. Errors: InputError, UsageError that name the row.

    >>> rows("name,quantity|front,2")[0].quantity
    2
    >>> rows("name;width (in)|front;1/2")[0].width
    12.7
    """
    head, *body = cells(text)
    unit = "mm"
    for k, column in enumerate(head):
        stated = _HEAD.fullmatch(column)
        if stated is not None:
            head[k], unit = stated[1], stated[2] or stated[3]
            factor(unit)
        elif column not in COLUMNS:
            raise unknown("column of a table", column, COLUMNS)
    if len(set(head)) < len(head):
        raise InputError("the table has a column twice; leave one out")
    if not body:
        raise InputError("the table names its columns and has no row; write one for each outline below them")
    found = []
    for number, row in enumerate(body, start=2):
        try:
            found.append(_row(number, dict(zip(head, row, strict=True)), unit))
        except ValueError as error:
            raise InputError(f"row {number} of the table: {error}") from None
    return found


def matched(found: list[Row], outlines: list[Gathered], lines: list[DrawnPath]) -> Matched:
    """Which row each outline has, an empty one where the table has none, and which lines point at edges.

    Errors: InputError for more rows than outlines, or a row that stands for several; UnknownNameError.
    """
    if any(row.drawn for row in found):
        return _by_drawn(found, outlines, lines)
    for row in found:
        _refuse_use(row)
    called = [_called(outline) for outline in outlines]
    homes = [[k for k, names in enumerate(called) if row.name and row.name in names] for row in found]
    if found and all(len(mine) == 1 for mine in homes) and len({mine[0] for mine in homes}) == len(homes):
        given = [Row() for _ in outlines]
        for row, mine in zip(found, homes, strict=True):
            given[mine[0]] = row
        return Matched(rows=tuple(given), warnings=_missing(found, given, outlines))
    if len(found) > len(outlines):
        raise InputError(f"the table has {len(found)} rows for {len(outlines)} outlines; give one for each")
    given = [*found, *(Row() for _ in range(len(outlines) - len(found)))]
    return Matched(rows=tuple(given), warnings=(*_out_of_order(given, called), *_missing(found, given, outlines)))


def _by_drawn(found: list[Row], outlines: list[Gathered], lines: list[DrawnPath]) -> Matched:
    given = [Row() for _ in outlines]
    pointers = []
    called = [_called(outline) for outline in outlines]
    for row in found:
        mine = [k for k, names in enumerate(called) if row.drawn in names]
        pointing = tuple(line for line in lines if row.drawn in (line.id, line.label))
        if not row.drawn:
            raise InputError(f"row {row.number} of the table does not say which outline it is; fill its cell `drawn`")
        if not mine and pointing:
            _refuse_of_pieces(row)
            pointers.append((row, pointing))
            continue
        if not mine:
            known = [*(name for names in called for name in names), *(line.label or line.id for line in lines)]
            raise unknown("outline or line", row.drawn, known)
        _refuse_use(row)
        if len(mine) > 1 or given[mine[0]] != Row():
            raise InputError(f"'{row.drawn}' in the table stands for several outlines or twice; use their ids")
        given[mine[0]] = row
    return Matched(rows=tuple(given), pointers=tuple(pointers), warnings=_missing(found, given, outlines))


def _called(outline: Gathered) -> list[str]:
    """What an outline can be called in a table: its id, its label, what is written in it, and that as a name."""
    texts = [text.text.strip().splitlines()[0] for text in outline.texts if text.text.strip()]
    names = (outline.path.id, outline.path.label, *texts, *map(as_name, texts))
    return list(dict.fromkeys(filter(None, names)))


def _out_of_order(given: list[Row], called: list[list[str]]) -> list[str]:
    """Outlines that the drawing calls by the name of another row."""
    names = {row.name for row in given if row.name}
    return [
        f"'{mine[0]}' in the drawing is '{row.name}' in the table, which goes by the order of the drawing; "
        "check it, or add a column `drawn`"
        for row, all_mine in zip(given, called, strict=True)
        for mine in [[name for name in all_mine if name in names]]
        if mine and row.name and row.name not in mine
    ]


def _missing(found: list[Row], given: list[Row], outlines: list[Gathered]) -> tuple[str, ...]:
    if not found:
        return ()
    without = [outline.path.id for outline, row in zip(outlines, given, strict=True) if row == Row()]
    if not without:
        return ()
    shown = ", ".join(f"'{name}'" for name in without[:SHOWN])
    more = f" and {len(without) - SHOWN} more" if len(without) > SHOWN else ""
    return (f"the table has no row for {shown}{more}",)


def _refuse_use(row: Row) -> None:
    if row.use:
        raise InputError(
            f"row {row.number} of the table gives a piece a use; only edges have one: name a line that crosses the edge"
        )


def _refuse_of_pieces(row: Row) -> None:
    if row.quantity or row.cut or row.side or row.material:
        raise InputError(
            f"row {row.number} of the table is about the edges that '{row.drawn}' crosses; "
            f"it can say their {', '.join(OF_EDGES[1:-1])} and {OF_EDGES[-1]}"
        )


def applied(piece: Piece, row: Row) -> Piece:
    """The piece with what its row says of it."""
    edges = piece.edges
    if row.width is not None:
        edges = tuple(replace(edge, allowance=Allowance(width=row.width)) for edge in edges)
    quantity = row.quantity or (2 if row.cut == "pair" else 1)
    return replace(
        piece, edges=edges, quantity=quantity, cut_as=row.cut or piece.cut_as, side=row.side, material=row.material
    )


def _row(number: int, said: dict[str, str], unit: str) -> Row:
    name, quantity, cut, use = (said.get(key, "") for key in ("name", "quantity", "cut", "use"))
    if quantity and not (_WHOLE.fullmatch(quantity) and 0 < int(quantity) <= MOST):
        raise InputError(f"'{quantity}' is no quantity; write a whole number from 1 to {MOST}")
    for text, kind, known in ((cut, "way of cutting", CUT_AS), (use, "use of an edge", USES)):
        if text and text not in known:
            raise InputError(f"'{text}' is no {kind}; write one of {', '.join(known)}")
    width = said.get("width", "")
    if width and length(width) < 0:
        raise InputError(f"the width {width} is negative; write how much is added")
    return Row(
        number=number,
        drawn=said.get("drawn", ""),
        name=checked_name(name, kind="name") if name else "",
        width=length(width, default=unit) if width else None,
        quantity=int(quantity) if quantity else None,
        cut=cut,
        side=said.get("side", ""),
        material=said.get("material", ""),
        use=use,
    )

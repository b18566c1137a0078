"""A rule table: how far the cardinal points of pieces lie from those of the base size, for every size.

As a TOML text:

    units = "mm"
    sizes = ["10", "12", "14"]
    base = "12"

    [piece.front]
    up = ["centre/waist", "centre/neck"]
    "side/waist" = [[-10, 1], [0, 0], [10, -1]]
    "neck/shoulder" = [2, 4]
    "waist-dart" = 3

    [rules]
    3 = [3, -1]

A pair is how far a point goes to the right and up, with the piece turned so that `up` stands upright: from its first
place to its second; without it the grain line, and without one as the piece is drawn. One pair is the step from each
size to the next, else there is a pair for each size. A number stands for a rule of the table [rules], or of a file of
rules. `{ rule = ..., up = [...] }` has a direction of its own (an alternate grade line).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import numpy as np

from flatcut.errors import FlatcutError, InputError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.pattern.places import Place, parse_place
from flatcut.tables import read_table
from flatcut.units import LARGEST, UNITS, plain

Upright: TypeAlias = "tuple[Place, Place] | None"
"""From which place to which a piece stands upright; None for its grain line."""
FORMAT = "write a pair, right and up, or one for each size"


@dataclass(frozen=True, kw_only=True, eq=False)
class Rule:
    """Of a point: shifts (sizes, 2), mm to the right and up from the base size; up: where it has its own direction."""

    place: Place
    shifts: Array
    up: Upright = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Rules:
    """A rule table. frames: by piece which way it stands upright."""

    sizes: tuple[str, ...]
    base: str
    rules: tuple[Rule, ...]
    frames: Mapping[str, tuple[Place, Place]] = field(default_factory=dict)

    def between(self, start: str, end: str) -> tuple[Go, ...]:
        """How far each point goes from one size to another, those of a piece's own direction first.

        Errors: UsageError for a size that the table does not have.
        """
        for size in (start, end):
            if size not in self.sizes:
                raise UsageError(f"the rules know no size '{size}'; they have {', '.join(self.sizes)}")
        one, two = self.sizes.index(start), self.sizes.index(end)
        turned = [Go(Place(piece=piece), np.zeros(2), up) for piece, up in self.frames.items()]
        return (*turned, *(Go(r.place, r.shifts[two] - r.shifts[one], r.up) for r in self.rules))


@dataclass(frozen=True, eq=False)
class Go:
    """A point goes by so many mm to the right and up, (2,), with `up` upright."""

    place: Place
    by: Array
    up: Upright = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Numbered:
    """Rules by their numbers, (sizes, 2) mm to the right and up from the base size."""

    sizes: tuple[str, ...]
    base: str
    rules: Mapping[int, Array]


def rules_of_text(text: str, numbered: Numbered | None = None) -> Rules:
    """The rule table of a TOML text. numbered: the rules that its numbers stand for, and the sizes.

    Errors: InputError that says what is wrong where.

    >>> table = rules_of_text('sizes = ["S", "M"]\\nbase = "S"\\nunits = "cm"\\n[piece.front]\\n"side/hem" = [1, -0.5]')
    >>> [(str(go.place), go.by.tolist()) for go in table.between("S", "M")]
    [('front.side/hem', [10.0, -5.0])]
    """
    table = read_table(text)
    unit = UNITS.get(str(table.pop("units", "mm")), 0.0)
    if not unit:
        raise InputError(f"units is one of {', '.join(UNITS)}; write it so in the rule table")
    sizes, base = _sizes(table, numbered)
    steps = np.arange(len(sizes), dtype=float) - sizes.index(base)
    library = dict(numbered.rules) if numbered else {}
    for number, told in _table(table.pop("rules", {}), "rules").items():
        if not number.isdigit():
            raise InputError(f"[rules] has numbers for names, and '{number}' is none")
        library[int(number)] = _shifts(told, f"rule {number}", steps, unit)
    pieces = _table(table.pop("piece", {}), "piece")
    if table:
        raise InputError(f"a rule table has no '{next(iter(table))}'; points stand below [piece.NAME]")
    if not pieces:
        raise InputError('the rule table moves no point; write them below [piece.NAME], such as "side/hem" = [10, 0]')
    frames: dict[str, tuple[Place, Place]] = {}
    found = []
    for piece, points in pieces.items():
        for name, told in _table(points, f"piece.{piece}").items():
            where = f"{piece}.{name}" if name else piece
            if name == "up":
                frames[piece] = _upright(told, piece)
                continue
            own = told if isinstance(told, dict) else {"rule": told}
            if set(own) - {"rule", "up"} or "rule" not in own:
                raise InputError(f"{where} takes rule and up; {FORMAT}")
            rule = own["rule"]
            if isinstance(rule, int) and not isinstance(rule, bool):
                if rule not in library:
                    raise InputError(f"{where} has rule {rule}, which is not in the table; write it below [rules]")
                shifts = library[rule]
            else:
                shifts = _shifts(rule, where, steps, unit)
            up = _upright(own["up"], piece) if "up" in own else None
            found.append(Rule(place=_place(where), shifts=shifts, up=up))
    return Rules(sizes=sizes, base=base, rules=tuple(found), frames=frames)


def _table(found: Any, name: str) -> Mapping[str, Any]:
    if not isinstance(found, dict):
        raise InputError(f"{name} is a table in a rule table; write [{name}]")
    return found


def _sizes(table: dict[str, Any], numbered: Numbered | None) -> tuple[tuple[str, ...], str]:
    told = table.pop("sizes", list(numbered.sizes) if numbered else [])
    base = table.pop("base", numbered.base if numbered else None)
    if not isinstance(told, list) or len(told) < 2 or not all(isinstance(one, (str, int)) for one in told):
        raise InputError('a rule table begins with its sizes, two or more; write sizes = ["10", "12"]')
    sizes = tuple(map(str, told))
    if len(set(sizes)) < len(sizes):
        raise InputError("a size stands twice among the sizes of the rule table; name each once")
    if str(base) not in sizes:
        raise InputError(f'the base size of the rule table is one of {", ".join(sizes)}; write base = "{sizes[0]}"')
    if numbered and sizes != numbered.sizes:
        raise InputError("the rule table and the file of rules have other sizes; leave sizes out of the table")
    return sizes, str(base)


def _place(text: str) -> Place:
    try:
        place = parse_place(text)
    except FlatcutError as error:
        raise InputError(*error.parts) from None
    if place.to is not None or place.mirror or place.chord:
        raise InputError(
            f"'{text}' is no point of a piece; write a corner, a place on an edge, a dart or a named point"
        )
    return place


def _upright(told: Any, piece: str) -> tuple[Place, Place]:
    if not isinstance(told, list) or len(told) != 2 or not all(isinstance(one, str) for one in told):
        raise InputError(f'up of {piece} takes two places, the lower first; write up = ["centre/waist", "centre/neck"]')
    one, two = (_place(f"{piece}.{name}") for name in told)
    return one, two


def _shifts(told: Any, where: str, steps: Array, unit: float) -> Array:
    """(sizes, 2) mm."""
    try:
        found = np.array(told, dtype=float)
    except (TypeError, ValueError):
        found = np.zeros(0)
    if found.shape == (2,):
        found = steps[:, None] * found
    if found.shape != (len(steps), 2) or not np.isfinite(found).all() or np.abs(found).max() * unit > LARGEST:
        raise InputError(f"{where} has no rule for {len(steps)} sizes; {FORMAT}")
    found = found * unit
    if np.abs(found[steps == 0]).max() > 1e-9:
        raise InputError(f"{where} moves in the base size; its own pair is [0, 0]")
    return found


HEAD = ("point", "right", "up", "from", "to")


def rows_of(goes: Iterable[Go]) -> list[list[str]]:
    """The rows in which a recorded step holds what goes where, the names of the columns first.

    >>> rows_of([Go(parse_place("front.side/hem"), np.array([10.0, -0.5]))])
    [['point', 'right', 'up'], ['front.side/hem', '10', '-0.5']]
    """
    rows = []
    for go in goes:
        ends = [str(place) for place in go.up or ()]
        rows.append([str(go.place), plain(float(go.by[0]), 4), plain(float(go.by[1]), 4), *ends])
    wide = max((len(row) for row in rows), default=3)
    return [list(HEAD[:wide]), *([*row, *[""] * wide][:wide] for row in rows)]


def goes_of(rows: Sequence[Sequence[str]]) -> tuple[Go, ...]:
    """What goes where, of rows as `rows_of` writes them. Errors: InputError."""
    head, *rest = rows
    if list(head) not in (list(HEAD[:3]), list(HEAD)):
        raise InputError(
            f"rules in rows have the columns {', '.join(HEAD[:3])}, and {' and '.join(HEAD[3:])} if need be"
        )
    found = []
    for row in rest:
        by = [_figure(cell, row[0]) for cell in row[1:3]]
        ends = [cell for cell in row[3:] if cell]
        if len(ends) == 1:
            raise InputError(f"{row[0]} has one place in 'from' and 'to'; a direction takes two")
        up = (_place(ends[0]), _place(ends[1])) if ends else None
        found.append(Go(_place(row[0]), np.array(by), up))
    return tuple(found)


def _figure(text: str, where: str) -> float:
    try:
        value = float(text or "0")
    except ValueError:
        value = float("nan")
    if not abs(value) <= LARGEST:
        raise InputError(f"'{text}' is no number of mm by which {where} goes; write one such as 2.5")
    return value


def numbered_of_text(text: str) -> Numbered:
    """The rules of a rule file of ASTM D6673 (its words from memory): header, `RULE: DELTA n` and a pair for each size.

    Pairs are right and up, in mm (METRIC) or inches (ENGLISH). Errors: InputError.

    >>> found = numbered_of_text("UNITS: METRIC\\nSIZE LIST: S M\\nSAMPLE SIZE: S\\nRULE: DELTA 2\\n0,0 5,-1\\nEND\\n")
    >>> found.sizes, found.base, found.rules[2].tolist()
    (('S', 'M'), 'S', [[0.0, 0.0], [5.0, -1.0]])
    """
    told: dict[str, str] = {}
    rules: dict[int, list[str]] = {}
    number = 0
    for line in text.splitlines():
        key, colon, value = line.strip().partition(":")
        if key.strip().upper() == "END":
            break
        if key.strip().upper() == "RULE" and colon:
            match = re.fullmatch(r"DELTA\s+(\d+)", value.strip().upper())
            if match is None:
                raise InputError(f"'{line.strip()}' names no rule by a number; write RULE: DELTA 1")
            number = int(match[1])
            if number in rules:
                raise InputError(f"the file of rules has rule {number} twice; leave one out")
            rules[number] = []
        elif colon and not number:
            told[key.strip().upper()] = value.strip()
        elif line.strip():
            if not number:
                raise InputError(f"'{line.strip()}' stands before the first rule; a line of the header is KEY: VALUE")
            rules[number] += line.split()
    unit = {"METRIC": 1.0, "ENGLISH": 25.4}.get(told.get("UNITS", "").upper())
    if unit is None:
        raise InputError("the file of rules does not say its units; write UNITS: METRIC or UNITS: ENGLISH")
    sizes = tuple(told.get("SIZE LIST", "").split())
    base = told.get("SAMPLE SIZE", "").replace(" ", "_")
    if len(sizes) < 2 or len(set(sizes)) < len(sizes) or base not in sizes:
        raise InputError("the file of rules wants a SIZE LIST of two sizes or more, each once, and a SAMPLE SIZE of it")
    return Numbered(sizes=sizes, base=base, rules={k: _pairs(v, k, sizes, unit) for k, v in rules.items()})


def _pairs(words: Sequence[str], number: int, sizes: Sequence[str], unit: float) -> Array:
    try:
        found = np.array([[float(part) for part in word.split(",")] for word in words]) * unit
    except ValueError:
        found = np.zeros(0)
    if found.shape != (len(sizes), 2) or not np.isfinite(found).all():
        raise InputError(f"rule {number} of the file has no pair such as 2.5,-1 for each of its {len(sizes)} sizes")
    return found

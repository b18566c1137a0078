"""Rule tables written: as TOML, and with numbers for rules as rule files have them."""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.grading.rules import Rules
from flatcut.units import plain

DIGITS = 3
"""Decimals of a rule's mm in a numbered table: a size is its sample size and its rule, and as exact as this."""


class Numbering:
    """Rules that are alike have one number; rule 1 moves nothing. rules: from number 1 on, (sizes, 2) mm.

    >>> numbers = Numbering(2)
    >>> numbers(np.array([[0.0, 0.0], [5.0, 1.0]])), numbers(np.array([[0.0, 0.0], [5.0, 1.0001]])), len(numbers.rules)
    (2, 2, 2)
    """

    def __init__(self, sizes: int) -> None:
        self.rules: list[Array] = []
        self._known: dict[bytes, int] = {}
        self(np.zeros((sizes, 2)))

    def __call__(self, shifts: Array) -> int:
        """The number of a rule, (sizes, 2) mm."""
        key = np.round(shifts, DIGITS) + 0.0
        found = self._known.setdefault(key.tobytes(), len(self.rules) + 1)
        if found > len(self.rules):
            self.rules.append(key)
        return found


def toml_of(rules: Rules, numbers: Numbering | None = None) -> str:
    """The rule table as a TOML text, mm; with `numbers` only which point has which rule of a rule file.

    >>> from flatcut.grading.rules import rules_of_text
    >>> text = 'sizes = ["S", "M"]\\nbase = "S"\\n[piece.front]\\n"side/hem" = [[0, 0], [10, -5.5]]\\n'
    >>> print(toml_of(rules_of_text(text)))
    units = "mm"
    sizes = ["S", "M"]
    base = "S"
    <BLANKLINE>
    [piece."front"]
    "side/hem" = [[0, 0], [10, -5.5]]
    <BLANKLINE>
    """
    return "".join(f"{line}\n" for line in _lines(rules, numbers))


def _lines(rules: Rules, numbers: Numbering | None) -> Iterator[str]:
    if numbers is None:
        yield 'units = "mm"'
        yield f"sizes = [{', '.join(map(_quoted, rules.sizes))}]"
        yield f"base = {_quoted(rules.base)}"
    for piece in dict.fromkeys(rule.place.piece for rule in rules.rules):
        if numbers is None or piece != rules.rules[0].place.piece:
            yield ""
        yield f"[piece.{_quoted(piece)}]"
        if piece in rules.frames:
            yield f"up = [{', '.join(_quoted(str(p).removeprefix(f'{piece}.')) for p in rules.frames[piece])}]"
        for rule in rules.rules:
            if rule.place.piece == piece:
                pairs = ", ".join(f"[{plain(float(x), 4)}, {plain(float(y), 4)}]" for x, y in rule.shifts)
                told = str(numbers(rule.shifts)) if numbers is not None else f"[{pairs}]"
                yield f"{_quoted(str(rule.place).removeprefix(f'{piece}.'))} = {told}"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)

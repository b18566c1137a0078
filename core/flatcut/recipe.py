"""Recipes: text files of command lines, replayed on a pattern."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from flatcut.arguments import parse_line
from flatcut.errors import FlatcutError
from flatcut.operations.operation import Operation
from flatcut.pattern.values import Pattern, Step

BY_HAND = "# by hand:"
"""How a step that no command can repeat starts: a node edit that does not match one to one."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of a recipe that does something; number counts from 1."""

    number: int
    operation: Operation


def read_recipe(text: str) -> list[Line]:
    """The operations of a recipe. Errors: the error of the first bad line, with its number.

    >>> [line.operation.line() for line in read_recipe("# bodice\\nallowance all --width=1cm\\n")]
    ['allowance all --width=1cm']
    """
    lines = []
    for number, words in enumerate(text.splitlines(), start=1):
        try:
            operation = parse_line(words)
        except FlatcutError as error:
            raise type(error)(f"line {number}: {error}") from None
        if operation is not None:
            lines.append(Line(number=number, operation=operation))
    return lines


def replay(lines: Iterable[Line], pattern: Pattern) -> Pattern:
    """The pattern after every line. Errors: that of the line that fails, with its number."""
    for line in lines:
        try:
            pattern = line.operation(pattern)
        except FlatcutError as error:
            raise type(error)(f"line {line.number} ({line.operation.command}): {error}") from None
    return pattern


def write_recipe(steps: Iterable[Step]) -> str:
    """The text of recorded steps; reading it back gives the same operations.

    >>> write_recipe([Step(line="allowance all")])
    'allowance all\\n'
    """
    return "".join(f"{step.line}\n" for step in steps)

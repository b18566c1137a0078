"""Recipes: text files of command lines, replayed on a pattern."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from flatcut.arguments import parse_line
from flatcut.errors import FlatcutError
from flatcut.operations.operation import Operation
from flatcut.pattern.values import Pattern, Step


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
    for number, words in _commands(text):
        try:
            operation = parse_line(words)
        except FlatcutError as error:
            raise type(error)(f"line {number}: {error}") from None
        if operation is not None:
            lines.append(Line(number=number, operation=operation))
    return lines


def _commands(text: str) -> Iterator[tuple[int, str]]:
    """Each command with the number of the line it starts on; a text in quotation marks may run over several lines."""
    # only the ends that files have: splitlines() would also break a text at rarer separators
    rows = text.replace("\r\n", "\n").split("\n")
    k = 0
    while k < len(rows):
        end = k + 1
        while end < len(rows) and not _is_whole("\n".join(rows[k:end])):
            end += 1
        if not _is_whole("\n".join(rows[k:end])):
            end = k + 1  # a mark without its mate: the error is told of the line that it stands on
        yield k + 1, "\n".join(rows[k:end])
        k = end


def _is_whole(text: str) -> bool:
    try:
        shlex.split(text, comments=True)
    except ValueError:
        return False
    return True


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

"""Recipes: text files of command lines, replayed on a pattern."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from flatcut.arguments import parse_line
from flatcut.errors import FlatcutError, InputError
from flatcut.files import read_bytes
from flatcut.operations.operation import Operation
from flatcut.pattern.values import Pattern, Step
from flatcut.reading import RECIPE


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of a recipe that does something; number counts from 1.

    above: the comments that stand above it, a line each, '' for an empty line between; comment: the one at its end.
    """

    number: int
    operation: Operation
    above: tuple[str, ...] = ()
    comment: str = ""


def recipe_text(name: str) -> str:
    """The recipe in a file. Errors: InputError."""
    try:
        return read_bytes(name, most=RECIPE, what="a recipe").decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"the recipe {name} is no text in UTF-8; save it so") from None


def read_recipe(text: str) -> list[Line]:
    """The operations of a recipe. Errors: the error of the first bad line, with its number.

    >>> [line.operation.line() for line in read_recipe("# bodice\\nallowance all --width=1cm\\n")]
    ['allowance all --width=1cm']
    >>> read_recipe("# bodice\\nallowance all --width=1cm  # all round\\n")[0].comment
    'all round'
    """
    lines: list[Line] = []
    above: list[str] = []
    for number, words in _commands(text):
        if words.lstrip().startswith("#") or not words.strip():
            said = words.strip().lstrip("#").strip()
            above += [said] if said or above else []
            continue
        try:
            operation = parse_line(words)
        except FlatcutError as error:
            raise type(error)(f"line {number}: {error}") from None
        if operation is not None:
            lines.append(Line(number=number, operation=operation, above=tuple(above), comment=_comment(words)))
            above = []
    return lines


def _commands(text: str) -> Iterator[tuple[int, str]]:
    """Each command with the number of the line it starts on; a text in quotation marks may run over several lines."""
    # only the ends that files have: splitlines() would also break a text at rarer separators
    text = text.replace("\r\n", "\n")
    at, number = 0, 1
    while at <= len(text):
        end = _end(text, at)
        if end < 0:
            end = _found(text, "\n", at)  # a mark without its mate: the error is told of the line that it stands on
        command = text[at:end]
        yield number, command
        number += command.count("\n") + 1
        at = end + 1


_MARK = re.compile(r"['\"\\#\n]")


def _end(text: str, at: int) -> int:
    """Where the line ends that the command at a place ends with; -1 when a quotation mark in it has no mate.

    Read as `shlex` does: a backslash takes the meaning of the next letter, but not between simple marks.
    """
    while (mark := _MARK.search(text, at)) is not None:
        at = mark.start()
        if text[at] == "\n":
            return at
        if text[at] == "#":
            at = _found(text, "\n", at)
            continue
        at = _last(text, at)
        if at < 0:
            return -1
        at += 1
    return len(text)


def _last(text: str, at: int) -> int:
    """Where what a quotation mark or a backslash at a place begins has its last letter; -1 where it has none."""
    if text[at] == "'":
        return text.find("'", at + 1)
    if text[at] == '"':
        return _double(text, at + 1)
    return at + 1 if at + 1 < len(text) else -1


def _comment(command: str) -> str:
    """The comment at the end of a command, '' for none."""
    at = 0
    while (mark := _MARK.search(command, at)) is not None:
        if mark[0] == "#":
            return command[mark.start() :].lstrip("#").strip()
        at = (mark.start() if mark[0] == "\n" else _last(command, mark.start())) + 1
    return ""


_ESCAPED = re.compile(r'[\\"]')


def _double(text: str, at: int) -> int:
    """Where the double mark closes, -1 where none does."""
    while (mark := _ESCAPED.search(text, at)) is not None:
        if mark[0] == '"':
            return mark.start()
        at = mark.end() + 1
    return -1


def _found(text: str, letter: str, at: int) -> int:
    place = text.find(letter, at)
    return len(text) if place < 0 else place


SAYS = ("style", "names")
"""Operations that say what a set is called and how it is shown: they make nothing."""


def begins(lines: Iterable[Line]) -> bool:
    """Whether the steps need no drawing before them: the first that makes something drafts it from measurements.

    >>> begins(read_recipe("style --name=top\\nblock torso\\n")), begins(read_recipe("allowance all --width=1cm"))
    (True, False)
    """
    return next((line.operation.begins for line in lines if line.operation.command not in SAYS), False)


def replay(lines: Iterable[Line], pattern: Pattern) -> Pattern:
    """The pattern after every line. Errors: that of the line that fails, with its number."""
    for line in lines:
        try:
            pattern = line.operation(pattern)
        except FlatcutError as error:
            raise type(error)(f"line {line.number} ({line.operation.command}): {error}") from None
    return pattern


def sized(lines: list[Line], pattern: Pattern, size: str, body: Mapping[str, float]) -> tuple[list[Line], Pattern]:
    """The lines of a recipe, and the pattern that they start on, for one body. size: '' where it has no name.

    What the body says goes before what the recipe says; the size's name goes on the labels.
    """
    start = replace(pattern, body=MappingProxyType({**pattern.body, **body}))
    if size:
        start = replace(start, style=replace(start.style, size=size))
    return [replace(line, operation=line.operation.for_size(body)) for line in lines], start


def write_recipe(steps: Iterable[Step]) -> str:
    """The text of recorded steps; reading it back gives the same operations.

    >>> write_recipe([Step(line="allowance all")])
    'allowance all\\n'
    """
    return "".join(f"{step.line}\n" for step in steps)

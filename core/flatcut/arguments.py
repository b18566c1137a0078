"""Words of a command line, a recipe or a dialog, made into an operation.

Options are written ``--name=value`` and in full; a bare ``--name`` means ``=true`` and never takes the next word. Only
``-i`` and ``-o`` take the word after them. Everything else is a target.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.kinds import Kind, Length
from flatcut.errors import UsageError, unknown
from flatcut.units import factor

if TYPE_CHECKING:
    from flatcut.operations.operation import Operation

_FILES = {"-i": "input", "-o": "output"}
_UNWRITABLE = "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]"
"""What XML cannot hold: control characters, halves of pairs, bytes that were no text."""


@dataclass(kw_only=True, eq=False, repr=False)
class Words:
    """A command line taken apart; `units` is already out of the options. bare: options that stand without a value."""

    targets: list[str] = field(default_factory=list)
    options: dict[str, str] = field(default_factory=dict)
    bare: set[str] = field(default_factory=set)
    inputs: list[str] = field(default_factory=list)
    output: str = ""
    units: str = "mm"


def split(words: Iterable[str]) -> Words:
    """Sort words into targets, options and files. Errors: UsageError.

    >>> split(["front.side", "--width=12", "-o", "out.svg", "--in-place"]).options
    {'width': '12', 'in-place': 'true'}
    """
    found = Words()
    waiting = iter(words)
    for word in waiting:
        if word in _FILES:
            name = next(waiting, "")
            if not name or (name.startswith("-") and name != "-"):
                raise UsageError(f"{word} takes the name of a file after it")
            if word == "-i":
                found.inputs.append(name)
            elif found.output:
                raise UsageError("-o is given twice; give one output")
            else:
                found.output = name
        elif word.startswith("--"):
            name, given, value = word[2:].partition("=")
            if name in found.options:
                raise UsageError(f"--{name} is given twice; give it once")
            if given and not value:
                # most likely a variable of a script that is not set; to take the default then would be a guess
                raise UsageError(f"--{name}= has no value; write one, or leave the option out")
            found.options[name] = value if given else "true"
            if not given:
                found.bare.add(name)
        elif len(word) == 2 and word[0] == "-" and word[1].isalpha():
            raise UsageError(f"{word} is not an option; write options in full, such as --width=12mm")
        else:
            found.targets.append(word)
    if "units" in found.options:
        found.units = found.options.pop("units")
        factor(found.units)  # refuses what is none
    return found


_Made = TypeVar("_Made", bound=Declared)


def build(
    cls: type[_Made],
    targets: Sequence[str],
    options: Mapping[str, str],
    *,
    units: str = "mm",
    bare: Collection[str] = (),
) -> _Made:
    """An operation or a report from texts. Errors: UsageError, UnknownNameError for an option that it does not have.

    bare: options of these that were written without a value, which only marks may be.

    >>> from flatcut.operations.operation import load
    >>> build(load("allowance"), ["front.hem"], {"width": "4"}, units="cm").line()
    'allowance front.hem --width=4cm'
    """
    for text in (*targets, *options.values()):
        if re.search(_UNWRITABLE, text):
            shown = text.encode("ascii", "backslashreplace").decode()[:60]
            raise UsageError(f"'{shown}' has a character that no drawing can hold; type it anew")
    fields = kinds(cls)
    known = {option(key): key for key in fields if key != "target"}
    values: dict[str, object] = {}
    for name, text in options.items():
        if name not in known:
            raise unknown(f"option of {cls.command}", f"--{name}", [f"--{k}" for k in (*known, *units_of(fields))])
        key = known[name]
        if name in bare and "true" not in fields[key].choices:
            # most likely its value stands after a space, and would be taken for a target
            raise UsageError(f"--{name} takes a value; write --{name}={fields[key].word}")
        if text != "" or not fields[key].optional:
            values[key] = fields[key].parse(text, name=name, units=units)
    words = tuple(targets)
    if words and "target" not in fields:
        raise UsageError(f"{cls.command} takes no target, and '{words[0]}' is given; write options as --name=value")
    cls.refuse(words, values)
    if words:
        values["target"] = words
    return cls(**values)


def units_of(fields: Mapping[str, Kind]) -> tuple[str, ...]:
    """The option that says what bare numbers mean, where there are lengths."""
    return ("units",) if any(isinstance(kind, Length) for kind in fields.values()) else ()


def parse_line(text: str) -> Operation | None:
    """The operation of one recipe line, or None for an empty one or a comment. Errors: UsageError.

    >>> parse_line("allowance front --width=1cm   # all round").line()
    'allowance front --width=1cm'
    """
    try:
        words = words_of(text)
    except ValueError:
        raise UsageError(f"'{text.strip()}' has a quotation mark without its mate; close it") from None
    if not words:
        return None
    found = split(words[1:])
    if found.inputs or found.output:
        raise UsageError("a recipe line names no files; give them to `flatcut run`")
    from flatcut.operations.operation import load

    return build(load(words[0]), found.targets, found.options, units=found.units, bare=found.bare)


_PLAIN = r"[^\s'\"\\#]+|[^\S \t\r\n]+"
_INSIDE = r'[^"\\]+'


def words_of(text: str) -> list[str]:
    """The words of a command, as a shell and `shlex` part them: quotation marks hold together, # begins a comment.

    In a time in proportion to the text, however long a word is. Errors: ValueError for a mark without its mate.

    >>> words_of("edge front.e1 --names='side seam' # the long one")
    ['edge', 'front.e1', '--names=side seam']
    """
    words: list[str] = []
    word: list[str] | None = None
    at, plainly = 0, re.compile(_PLAIN)
    while at < len(text):
        letter = text[at]
        if plain := plainly.match(text, at):
            word = _with(word, plain[0])
            at = plain.end()
        elif letter == "'":
            end = text.index("'", at + 1)
            word = _with(word, text[at + 1 : end])
            at = end + 1
        elif letter == '"':
            inside, at = _double(text, at + 1)
            word = _with(word, inside)
        elif letter == "\\":
            if at + 1 == len(text):
                raise ValueError("no letter after the last backslash")
            word = _with(word, text[at + 1])
            at += 2
        else:
            if word is not None:
                words.append("".join(word))
                word = None
            end = text.find("\n", at) if letter == "#" else at
            at = len(text) if end < 0 else end + 1
    return words if word is None else [*words, "".join(word)]


def _with(word: list[str] | None, part: str) -> list[str]:
    if word is None:
        return [part]
    word.append(part)
    return word


def _double(text: str, at: int) -> tuple[str, int]:
    """What stands between double marks, and the place after them: only a mark and a backslash can be escaped there."""
    parts: list[str] = []
    inside = re.compile(_INSIDE)
    while at < len(text):
        if plain := inside.match(text, at):
            parts.append(plain[0])
            at = plain.end()
        elif text[at] == '"':
            return "".join(parts), at + 1
        else:
            parts.append(text[at + 1 : at + 2] if text[at + 1 : at + 2] in ('"', "\\") else text[at : at + 2])
            at += 2
    raise ValueError("no closing mark")

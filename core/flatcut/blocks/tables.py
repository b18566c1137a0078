"""TOML tables of figures. Python has a reader from 3.11 on; for 3.10 the part that tables need is here."""

from __future__ import annotations

import re
import sys
from typing import Any

from flatcut.errors import InputError

_HEADER = re.compile(r"\[\s*(?P<name>[^\[\]]+?)\s*\]")
_PAIR = re.compile(r"(?P<key>[A-Za-z0-9_-]+|\"[^\"]*\"|'[^']*')\s*=\s*(?P<value>.+)")
_NUMBER = re.compile(r"[+-]?\d[\d_]*(\.\d[\d_]*)?([eE][+-]?\d+)?")


def read_table(text: str) -> dict[str, Any]:
    """The tables of a TOML text. Errors: InputError that says which line.

    >>> read_table('units = "cm"\\n[12]\\nbust = 92.5')
    {'units': 'cm', '12': {'bust': 92.5}}
    """
    if sys.version_info >= (3, 11):
        import tomllib

        try:
            return tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise InputError(f"the table cannot be read: {str(error).lower()}; mend it there") from None
    return read_plain_table(text)


def read_plain_table(text: str) -> dict[str, Any]:
    """Comments, one level of tables, and keys with a number, a text or true or false, one to a line.

    Not read: arrays, dates, tables in tables, texts over several lines or with escapes. Errors: InputError.

    >>> read_plain_table("[S] # small\\nbust = 84\\n'hip' = \\"92cm\\"")
    {'S': {'bust': 84, 'hip': '92cm'}}
    """
    whole: dict[str, Any] = {}
    table = whole
    for number, raw in enumerate(text.splitlines(), start=1):
        words = _without_comment(raw).strip()
        if not words:
            continue
        if header := _HEADER.fullmatch(words):
            name = _unquoted(header["name"])
            if name in whole:
                raise InputError(f"the table cannot be read: [{name}] stands twice (at line {number}); mend it there")
            table = whole.setdefault(name, {})
            continue
        pair = _PAIR.fullmatch(words)
        key = _unquoted(pair["key"]) if pair else ""
        if pair is None or key in table:
            raise InputError(f"the table cannot be read: '{words}' (at line {number}); write lines such as bust = 88")
        table[key] = _value(pair["value"].strip(), number)
    return whole


def _without_comment(line: str) -> str:
    quote = ""
    for k, letter in enumerate(line):
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter == "#":
            return line[:k]
    return line


def _unquoted(text: str) -> str:
    return text[1:-1] if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'" else text


def _value(text: str, number: int) -> Any:
    if text in ("true", "false"):
        return text == "true"
    if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'" and text[0] not in text[1:-1] and "\\" not in text:
        return text[1:-1]
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise InputError(f"the table cannot be read: '{text}' (at line {number}) is no number and no text in quotes")
    plain = text.replace("_", "")
    return float(plain) if found[1] or found[2] else int(plain)

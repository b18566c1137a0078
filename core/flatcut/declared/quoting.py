"""Words as they stand in a command line or a recipe."""

from __future__ import annotations

import re
import shlex


def quoted(text: str) -> str:
    """A word as it stands in a command line or a recipe.

    >>> quoted("front.side@1/2"), quoted("wrist + 5cm"), quoted("")
    ('front.side@1/2', '"wrist + 5cm"', '""')
    """
    if re.fullmatch(r"[\w.@/%+=:,~-]+", text):
        return text
    if "$" in text or "`" in text:
        return shlex.quote(text)  # a shell would put something in their place inside double quotation marks
    return '"' + re.sub(r'(["\\])', r"\\\1", text) + '"'


_PLAIN = re.compile(r"[^\s'\"\\#]+|[^\S \t\r\n]+")
_INSIDE = re.compile(r'[^"\\]+')


def words_of(text: str) -> list[str]:
    """The words of a command, as a shell and `shlex` part them: quotation marks hold together, # begins a comment.

    In a time in proportion to the text, however long a word is. Errors: ValueError for a mark without its mate.

    >>> words_of("edge front.e1 --names='side seam' # the long one")
    ['edge', 'front.e1', '--names=side seam']
    """
    words: list[str] = []
    word: list[str] | None = None
    at = 0
    while at < len(text):
        letter = text[at]
        if plain := _PLAIN.match(text, at):
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
    while at < len(text):
        if plain := _INSIDE.match(text, at):
            parts.append(plain[0])
            at = plain.end()
        elif text[at] == '"':
            return "".join(parts), at + 1
        else:
            parts.append(text[at + 1 : at + 2] if text[at + 1 : at + 2] in ('"', "\\") else text[at : at + 2])
            at += 2
    raise ValueError("no closing mark")

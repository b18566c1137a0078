"""Text in the character set of an exchange file: 7-bit ASCII."""

from __future__ import annotations

import unicodedata

_PLAIN = {
    "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "đ": "d", "Đ": "D",
    "ł": "l", "Ł": "L", "ı": "i", "þ": "th", "Þ": "Th", "ð": "d", "–": "-", "—": "-", "−": "-", "’": "'", "‘": "'",
    "“": '"', "”": '"', "×": "x", "·": ".", "°": " deg", "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "€": "EUR",
}  # fmt: skip
"""Letters that are two plain ones, or one with a stroke through it, which no decomposition takes off."""
LOST = "?"
"""Stands for a letter that has no plain one."""


def plain_letters(text: str) -> str:
    """A text in ASCII, on one line; a letter that has no likeness there becomes LOST.

    >>> plain_letters("Größe 38½"), plain_letters("front, 前")
    ('Grosse 38 1/2', 'front, ?')
    """
    found = []
    for letter in text:
        if letter in _PLAIN:
            found.append(_PLAIN[letter])
            continue
        parts = [c for c in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(c)]
        found.append("".join(c if " " <= c <= "~" else " " if c.isspace() else LOST for c in parts))
    return " ".join("".join(found).split())


def block_name(text: str, taken: set[str]) -> str:
    """A name for a block, which counts as taken then: at most 31 of A-Z, 0-9, - and _, as DXF R12 has them.

    >>> taken: set[str] = set()
    >>> block_name("front-side", taken), block_name("Front side", taken), block_name("前", taken)
    ('FRONT-SIDE', 'FRONT-SIDE-2', 'PIECE')
    """
    letters = [c if c.isalnum() or c in "-_" else "-" for c in plain_letters(text).upper()]
    base = "".join(letters).strip("-")[:31] or "PIECE"
    name, number = base, 1
    while name in taken:
        number += 1
        tail = f"-{number}"
        name = base[: 31 - len(tail)] + tail
    taken.add(name)
    return name

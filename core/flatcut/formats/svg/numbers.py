"""The number grammar of SVG attributes, and numbers written for them.

Source: SVG 2, section 9.3.9 (path data grammar) and SVG 1.1, section 8.3.9, which also allows ``10.``.
"""

from __future__ import annotations

import re

NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_BAD_COMMA = re.compile(r"^\s*,|,\s*(?:,|$)", re.ASCII)
_CHARACTERS = re.compile(r"[-+0-9.eE,\s]*", re.ASCII)

DECIMALS = 9
"""Digits written after the point: a thousandth of a micrometre in mm, and what float64 holds for a kilometre."""


def numbers(text: str) -> list[float] | None:
    """The numbers of a list with spaces, commas or nothing between them; None when it is not such a list.

    >>> numbers("1,2 -3.5.5e1+4"), numbers("1,,2"), numbers("ten")
    ([1.0, 2.0, -3.5, 5.0, 4.0], None, None)
    """
    if _CHARACTERS.fullmatch(text) is None or ("," in text and _BAD_COMMA.search(text)):
        return None
    return split_numbers(text)


def split_numbers(text: str) -> list[float] | None:
    """As `numbers`, for text that is known to hold none but its characters, and commas in their places."""
    items = text.replace(",", " ").split()
    try:
        # Python's float takes a number of the grammar or nothing, as NaN, inf and 1_000 cannot be spelled
        return list(map(float, items))
    except ValueError:
        tokens = NUMBER.findall(text)
        if sum(map(len, tokens)) != sum(map(len, items)):
            return None
        return list(map(float, tokens))


def number(value: float, decimals: int = DECIMALS) -> str:
    """A number for an attribute: at most `decimals` digits after the point, no exponent, no trailing zeros.

    >>> number(12.5), number(0.1 + 0.2), number(-1e-17), number(1e20)
    ('12.5', '0.3', '0', '100000000000000000000')
    """
    if value == (whole := int(value)):
        return str(whole)
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text

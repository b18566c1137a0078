"""Lengths in SVG attributes, with the units of CSS.

One user unit is one px; 96 px = 1 in = 25.4 mm (CSS Values and Units Level 3, section 6.2).
"""

from __future__ import annotations

import re

from flatcut.errors import FileName, InputError
from flatcut.formats.svg.numbers import NUMBER
from flatcut.units import DRAWING_UNITS

PX = DRAWING_UNITS["px"]
"""Millimetres in one px."""

_LENGTH = re.compile(rf"\s*({NUMBER.pattern})\s*([A-Za-z]*|%)\s*", re.ASCII)
_LONGEST = 100  # characters; the pattern takes the square of their number to refuse a text
_UNITS = {unit.lower(): size / PX for unit, size in DRAWING_UNITS.items()}


def user_units(text: str, *, whole: float | None = None, name: str = "the object") -> float:
    """User units (px) of a length such as ``12``, ``12px``, ``3.5mm`` or ``50%`` of `whole`.

    Errors: InputError, beginning with `name`, for what is no length, for an unknown unit, one that hangs on a font
    (em, ex ...) or on the window (vw ...), and for a percentage where there is nothing to take it of.

    >>> user_units("12"), round(user_units("25.4mm"), 9), user_units("1in"), user_units("50%", whole=30)
    (12.0, 96.0, 96.0, 15.0)
    """
    found = _LENGTH.fullmatch(text) if len(text) <= _LONGEST else None
    unit = found[2].lower() if found else ""
    if found is None or (unit and unit != "%" and unit not in _UNITS):
        shown = text if len(text) <= 40 else text[:37] + "..."
        raise InputError(
            FileName(name), f" has '{shown}' where a length is expected; write a number in px, mm, cm, in, pt or pc"
        )
    value = float(found[1])
    if unit == "%":
        if whole is None:
            raise InputError(FileName(name), f" has '{text.strip()}' and nothing to take it of; write a length in mm")
        return value * whole / 100
    return value * _UNITS[unit] if unit else value

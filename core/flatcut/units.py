"""Lengths in the units of the trade; millimetres inside.

Sizes: 1 in = 25.4 mm exactly (international yard and pound agreement, 1959);
1 in = 96 px = 72 pt = 6 pc (CSS Values and Units Level 3, section 6.2).
"""

from __future__ import annotations

import math
import re

from flatcut.errors import UsageError

MM = 1.0
INCH = 25.4
UNITS: dict[str, float] = {"mm": MM, "cm": 10.0, "m": 1000.0, "in": INCH, "ft": 12 * INCH, "yd": 36 * INCH}
"""Millimetres in one of each unit that a length may be typed in."""

DRAWING_UNITS: dict[str, float] = {
    **UNITS,
    "px": INCH / 96,
    "pt": INCH / 72,
    "pc": INCH / 6,
    "Q": 0.25,
}
"""Millimetres in one of each unit that an SVG length may have (CSS absolute lengths)."""

LARGEST = 1e6
"""No length in a pattern is beyond one kilometre; a larger figure is a slip of the keyboard or of the unit."""

_QUANTITY = re.compile(r"\s*(?:(\d+)\s+)?(\d+/\d+|\d*\.\d+|\d+\.?)(?:[eE]([+-]?\d+))?\s*([A-Za-z\"']*)\s*")


def quantity(text: str) -> tuple[float, str] | None:
    """The number and the unit of an unsigned quantity, or None when the text is not one.

    >>> quantity("1 1/2in"), quantity("3/8in"), quantity("12.5"), quantity("wrist")
    ((1.5, 'in'), (0.375, 'in'), (12.5, ''), None)
    """
    match = _QUANTITY.fullmatch(text)
    if match is None:
        return None
    whole, figure, power, unit = match.groups()
    if whole and "/" not in figure:
        return None
    try:
        over, _, under = figure.partition("/")
        value = int(over) / int(under) if under else float(over)
    except ZeroDivisionError:
        raise UsageError(f"'{text.strip()}' divides by zero; write the fraction with a number below the line") from None
    # float() takes any power, and one beyond all measure becomes infinite, which `checked` refuses
    return (value + float(whole or 0)) * float(f"1e{power or 0}"), unit


def factor(unit: str, *, default: str = "mm") -> float:
    """Millimetres in one `unit`; an unknown one is an error that lists the valid choices.

    >>> factor("cm"), factor("")
    (10.0, 1.0)
    """
    try:
        return UNITS[unit or default]
    except KeyError:
        raise UsageError(f"'{unit}' is not a unit of length; write one of {', '.join(UNITS)}") from None


def length(text: str, *, default: str = "mm") -> float:
    """Millimetres of a typed length such as ``10mm``, ``1cm``, ``3/8in`` or ``1 1/2in``; a sign is allowed.

    A bare number is in `default`. Errors: UsageError on a decimal comma, an unknown unit, no number.

    >>> length("1/2in"), length("-5cm"), length("12"), length("12", default="cm")
    (12.7, -50.0, 12.0, 120.0)
    """
    bare = text.strip()
    sign = -1.0 if bare.startswith("-") else 1.0
    refuse_decimal_comma(bare)
    found = quantity(bare[1:] if bare[:1] in ("+", "-") else bare)
    if found is None:
        raise UsageError(f"'{text}' is not a length; write a number with a unit, such as 10mm, 1cm or 3/8in")
    return sign * checked(found[0] * factor(found[1], default=default), text)


def refuse_decimal_comma(text: str) -> None:
    """Raise for ``1,5cm``, saying ``1.5cm``.

    >>> refuse_decimal_comma("1,5cm")
    Traceback (most recent call last):
    ...
    flatcut.errors.UsageError: '1,5cm' has a decimal comma; write 1.5cm
    """
    if re.search(r"\d,\d", text):
        raise UsageError(f"'{text}' has a decimal comma; write {re.sub(r'(?<=[0-9]),(?=[0-9])', '.', text)}")


def checked(value: float, text: str | None = None) -> float:
    """`value` when it is finite and no larger than LARGEST, else a UsageError."""
    if not math.isfinite(value) or abs(value) > LARGEST:
        shown = value if text is None else text
        raise UsageError(f"{shown} is not a length that a pattern can have; check number and unit")
    return value


def show(value: float, unit: str = "mm", *, digits: int = 2) -> str:
    """A figure for people: fixed digits, no trailing zeros, with its unit.

    >>> show(12.5), show(254, "in"), show(-0.0001)
    ('12.5 mm', '10 in', '0 mm')
    """
    return f"{plain(value / UNITS[unit], digits)} {unit}"


def plain(value: float, digits: int = 2) -> str:
    """A figure with fixed digits and no trailing zeros.

    >>> plain(3.10), plain(-0.001), plain(100.0)
    ('3.1', '0', '100')
    """
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text

"""Paper: sheets of a named size, sheets of any size, and rolls."""

from __future__ import annotations

import re
from dataclasses import dataclass

from flatcut.errors import UsageError, unknown
from flatcut.units import length, plain, quantity

SHEETS: dict[str, tuple[float, float]] = {
    "a4": (210.0, 297.0),
    "a3": (297.0, 420.0),
    "a2": (420.0, 594.0),
    "a1": (594.0, 841.0),
    "a0": (841.0, 1189.0),
    "letter": (215.9, 279.4),
    "legal": (215.9, 355.6),
    "tabloid": (279.4, 431.8),
}
"""Width and height upright, mm. Sources: ISO 216 for A4 to A0; ANSI/ASME Y14.1 for letter (A) and tabloid (B)."""

LONGEST = 5080.0
"""mm: 14,400 units of 1/72 in, the longest page that every reader of PDF takes (ISO 32000-1, annex C). Later versions
stretch the unit itself (UserUnit), but many readers pass over that and would print at a fraction of the size."""

NARROWEST = 75.0
"""mm: no sheet narrower than this holds a test square between its margins."""

FORMS = "WIDTHxHEIGHT such as 600x1000 or 24x36in, or a roll such as 'roll 914'"


@dataclass(frozen=True, kw_only=True)
class Paper:
    """Width and height in mm as the paper goes through the printer; a roll has no height."""

    name: str
    width: float
    height: float | None


def paper(text: str) -> Paper:
    """The paper of a typed text; bare numbers are mm. Errors: UsageError, UnknownNameError with the nearest name.

    >>> paper("A4"), paper("60cmx1m").height, paper("roll 914")
    (Paper(name='a4', width=210.0, height=297.0), 1000.0, Paper(name='roll 914 mm', width=914.0, height=None))
    """
    bare = text.strip().lower()
    if bare in SHEETS:
        return Paper(name=bare, width=SHEETS[bare][0], height=SHEETS[bare][1])
    roll = re.fullmatch(r"roll[\s:]*(.+)", bare)
    if roll:
        width = _side(roll.group(1), text)
        return Paper(name=f"roll {plain(width)} mm", width=width, height=None)
    sides = re.fullmatch(r"(.*\d.*?)\s*[x×]\s*(.*\d.*)", bare)
    if sides:
        first, second = sides.groups()
        # in 24x36in the unit stands for both
        found = quantity(second)
        unit = found[1] if found and not re.search(r"[a-z]", first) else ""
        width, height = _side(first, text, unit), _side(second, text)
        return Paper(name=f"{plain(width)} × {plain(height)} mm", width=width, height=height)
    error = unknown("paper", text, SHEETS)
    raise type(error)(*error.parts, f"; or write {FORMS}")


def on_its_side(sheet: Paper) -> Paper:
    """A sheet lying on its side; a roll stays as it is."""
    if sheet.height is None:
        return sheet
    return Paper(name=sheet.name, width=sheet.height, height=sheet.width)


def _side(figure: str, text: str, unit: str = "") -> float:
    value = length(figure, default=unit or "mm")
    if not NARROWEST <= value <= LONGEST:
        raise UsageError(
            f"paper '{text}' has a side of {plain(value)} mm; each must lie between {plain(NARROWEST)} and "
            f"{plain(LONGEST)} mm, the longest page that every reader of PDF takes; longer sets go on a roll, "
            "which is cut into lengths"
        )
    return value

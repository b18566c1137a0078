"""What a field shows in a dialog."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

UNITS: dict[str, tuple[Fraction, str]] = {
    "mm": (Fraction(1), ""),
    "cm": (Fraction(1), "cm"),
    "in": (Fraction(1), "in"),
    "1/8in": (Fraction(1, 8), "in"),
    "1/16in": (Fraction(1, 16), "in"),
}
"""The units of a dialog: what its figure counts, and the unit of that; tape measures are read in eighths."""

UNIT = "units"
"""The one list of units of a dialog, for all its lengths."""
NOT_STATED = "-"
"""The value of a choice that is left open: a list of the editor has no empty one."""
STATED, OTHER = "_stated", "_other"
"""What the name of a mark before a figure, and of a line beside a list, has after the name of the field."""
BLANK = " "
"""The label of a figure beside its mark, which has the words; the editor wants some text."""
PRECISION = 3
"""Decimals of a length's spin box: enough for 3/8 in written as 0.375."""
UNSTATED_LENGTH = 10.0
"""mm: what stands in the spin box of a length that has no usual value and is not stated: a seam allowance."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One thing of a dialog: a line of text, a mark, a list, a spin box.

    form: its type and what belongs to that, as attributes of the editor's dialog files; start: what stands in it when
    the dialog opens; options: of a list, value and words each, the first is chosen; after: follows the field's name.
    """

    form: str
    label: str
    tip: str = ""
    start: str = ""
    options: tuple[tuple[str, str], ...] = ()
    after: str = ""

"""What a field shows in a dialog."""

from __future__ import annotations

from typing import NamedTuple

UNITS: dict[str, tuple[int, str]] = {
    "mm": (1, ""),
    "cm": (1, "cm"),
    "in": (1, "in"),
    "1/8in": (8, "in"),
    "1/16in": (16, "in"),
}
"""The units of a dialog: how many of them make the unit of a command, and that; tape measures are read in eighths."""

UNIT = "units"
"""The one list of units of a dialog, for all its lengths."""
NOT_STATED = "-"
"""The value of a choice that is left open: a list of the editor has no empty one."""
OTHER = "_other"
"""What the name of a line beside a list has after the name of the field."""
MORE = "More"
"""The tab of what a job seldom needs."""


class Entry(NamedTuple):
    """One thing of a dialog: a line of text, a mark, a list, a spin box.

    form: its type and what belongs to that, as attributes of the editor's dialog files; start: what stands in it when
    the dialog opens; options: of a list, value and words each, the first is chosen; after: follows the field's name;
    note: what stands beside it, as what is usual there.
    """

    form: str
    label: str
    tip: str = ""
    start: str = ""
    options: tuple[tuple[str, str], ...] = ()
    after: str = ""
    note: str = ""

"""What a dialog hands over, as the words of a command.

A dialog has the fields of its operation, and beside them `units`, the one unit of all its lengths, and a mark
`NAME_stated` before each figure that may be left out or has a usual value in mm, and a line `NAME_other` under a list
that is not the whole of what may be chosen. The field's own parser reads the words: nothing is read twice in two ways.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from flatcut.declared.declared import Declared, option, specs
from flatcut.declared.fields import Spec
from flatcut.errors import UsageError
from flatcut.pattern.places import split_outside
from flatcut.units import length, plain

UNITS: dict[str, tuple[Fraction, str]] = {
    "mm": (Fraction(1), ""),
    "cm": (Fraction(1), "cm"),
    "in": (Fraction(1), "in"),
    "1/8in": (Fraction(1, 8), "in"),
    "1/16in": (Fraction(1, 16), "in"),
}
"""The units of a dialog: what its figure counts, and the unit of that; tape measures are read in eighths."""

NOT_STATED = "-"
"""The value of a choice that is left open: a list of the editor has no empty one."""

STATED = "_stated"
OTHER = "_other"
OPERATION, UNIT, PAGES = "operation", "units", "tab"
FILE, TO_FILE = "file_to_write", "to_file"
"""The file that a report is written to, and the mark of a dialog that asks for one."""
RESERVED = frozenset({OPERATION, UNIT, "id", "selected_nodes", "output", "input_file", PAGES, FILE, TO_FILE})
"""Names that the editor or the dialog itself uses; no field can have one."""


def parameter(key: str) -> str:
    """The name of a field in a dialog.

    >>> parameter("corner_angle"), parameter("as_")
    ('corner_angle', 'as')
    """
    return option(key).replace("-", "_")


def shown(cls: type[Declared]) -> dict[str, Spec]:
    """The fields that a dialog has: all but those that only a selection can fill."""
    return {key: spec for key, spec in specs(cls).items() if spec.of != ("drawn",)}


def words(cls: type[Declared], given: Mapping[str, str]) -> tuple[list[str], dict[str, str]]:
    """Targets and options from the parameters of a dialog. Errors: UsageError.

    >>> from flatcut.operations.operation import load
    >>> words(load("allowance"), {"target": "front.hem", "width_stated": "true", "width": "3", "units": "1/8in"})
    (['front.hem'], {'width': '3/8in'})
    >>> words(load("allowance"), {"target": "", "width_stated": "false", "width": "3"})
    ([], {})
    """
    targets: list[str] = []
    options: dict[str, str] = {}
    for key, spec in shown(cls).items():
        name = parameter(key)
        if name not in given or given.get(name + STATED, "true").lower() == "false":
            continue
        text = given[name].strip()
        if key == "target":
            parts = [word for part in split_outside(text, ",") for word in split_outside(part, " ")]
            targets = [part.strip() for part in parts if part.strip()]
        elif spec.kind == "length":
            typed = length_text(text, given.get(UNIT, "mm"))
            # what stands at its usual value is not a word of the command: the recorded line stays short
            if length(typed) != cls.__dataclass_fields__[key].default:
                options[option(key)] = typed
        elif spec.kind == "lengths":
            row = [length_text(part.strip(), given.get(UNIT, "mm")) for part in text.split(",") if part.strip()]
            if row:
                options[option(key)] = ",".join(row)
        elif spec.kind == "choice":
            typed = given.get(name + OTHER, "").strip()
            options[option(key)] = typed or ("" if text == NOT_STATED else text)
        elif text or spec.kind not in ("text", "file", "ref"):
            options[option(key)] = text
        if spec.kind in ("choice", "number", "flag") and _is_usual(cls, key, options.get(option(key), "")):
            # a dialog hands over every figure and list: what nobody has touched is not stated
            options.pop(option(key), None)
    return targets, options


def _is_usual(cls: type[Declared], key: str, typed: str) -> bool:
    """Whether a word of a dialog is the usual value of its field."""
    spec, default = specs(cls)[key], cls.__dataclass_fields__[key].default
    try:
        return bool(spec.parse(typed, name=option(key)) == default)
    except UsageError:
        return False  # told where the words are read


def length_text(figure: str, unit: str) -> str:
    """A figure of a dialog as a typed length. Errors: UsageError for an unknown unit or no number.

    >>> length_text("10.000", "mm"), length_text("2.5", "cm"), length_text("6", "1/8in"), length_text("-2.5", "1/8in")
    ('10', '2.5cm', '3/4in', '-0.3125in')
    """
    if unit not in UNITS:
        raise UsageError(f"'{unit}' is not a unit of a dialog; choose one of {', '.join(UNITS)}")
    share, name = UNITS[unit]
    try:
        value = Fraction(figure)
    except (ValueError, ZeroDivisionError):
        raise UsageError(f"'{figure}' is not a number; type one such as 12.5") from None
    if share != 1 and value.denominator == 1:
        return f"{value * share}{name}"
    return f"{plain(float(value * share), 8)}{name}"

"""What a dialog hands over, as the words of a command.

A dialog has the fields of its operation, and beside them `units`, the one unit of all its lengths, and a line
`NAME_other` under a list that is not the whole of what may be chosen. An empty line states nothing. The field's own
parser reads the words: nothing is read twice in two ways.
"""

from __future__ import annotations

from collections.abc import Mapping

from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.entries import UNIT
from flatcut.declared.kinds import Kind
from flatcut.errors import UsageError
from flatcut.pattern.places import split_outside

OPERATION, PAGES = "operation", "tab"
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


def shown(cls: type[Declared]) -> dict[str, Kind]:
    """The fields that a dialog has: all but those that only a selection can fill."""
    return {key: kind for key, kind in kinds(cls).items() if not kind.hidden}


def words(cls: type[Declared], given: Mapping[str, str]) -> tuple[list[str], dict[str, str]]:
    """Targets and options from the parameters of a dialog. Errors: UsageError.

    >>> from flatcut.operations.operation import load
    >>> words(load("allowance"), {"target": "front.hem", "width": "3", "units": "1/8in"})
    (['front.hem'], {'width': '3/8in'})
    >>> words(load("allowance"), {"target": "", "width": "", "units": "cm"})
    ([], {})
    """
    targets: list[str] = []
    options: dict[str, str] = {}
    for key, kind in kinds(cls).items():
        name = parameter(key)
        usual = cls.__dataclass_fields__[key].default
        typed = kind.typed(given, name, usual) if name in given else None
        if typed is None:
            continue
        if key == "target":
            parts = [word.strip() for part in split_outside(typed, ",") for word in split_outside(part, " ")]
            targets = [part for part in parts if part]
            continue
        try:
            value = kind.parse(typed, name=option(key))
        except UsageError:
            value = None  # told where the words are read
        # a dialog hands over every figure and list: what nobody has touched is not stated, and lines stay short
        figure = getattr(value, "constant", value)
        if figure is None or figure != usual:  # None: what cannot be read here, or an expression
            options[option(key)] = typed
    return targets, options

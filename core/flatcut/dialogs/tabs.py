"""Which tab of its dialog a field stands on."""

from __future__ import annotations

from flatcut.declared.declared import Declared, kinds
from flatcut.declared.entries import MORE

FIRST = 5
"""Fields on the first tab at most: what the job needs; the others are on further ones."""


def tabs(cls: type[Declared]) -> dict[str, list[str]]:
    """The fields of a dialog by the tabs that they stand on, the first one first.

    >>> from flatcut.operations.operation import load
    >>> tabs(load("drill"))
    {'Drill hole': ['target', 'short', 'inside', 'diameter', 'remove']}
    """
    found: dict[str, list[str]] = {cls.title: []}
    for key, kind in kinds(cls).items():
        if not kind.hidden:
            room = len(found[cls.title]) < FIRST
            found.setdefault(kind.tab or (cls.title if room else MORE), []).append(key)
    return found

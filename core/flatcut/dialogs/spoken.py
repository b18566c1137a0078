"""Sentences that give a command to type, said for who has dialogs: where the dialog is, and what goes into it."""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING

from flatcut.declared.declared import kinds, option

if TYPE_CHECKING:
    from flatcut.findings import Finding
    from flatcut.operations.operation import Operation

_GIVEN = re.compile(r"\bwith(?P<whole>:)? (?P<name>[a-z][a-z-]*)(?![\w-])(?P<rest>(?: (?:(?!, |[;])[^\n])*)?)")
"""`with: true front.waist --within=3mm`, up to a comma or semicolon; `with label`, or `with edge --split first`."""


def by_dialog(text: str) -> str:
    """A sentence with the dialog, its place in the menu and the labels of its fields, for a command that it gives.

    >>> by_dialog("front.waist has a kink; make it fair with: true front.waist --within=3mm")
    "front.waist has a kink; make it fair with '4 Shape > True lines': front.waist, 'It may move by': 3mm"
    >>> by_dialog("a and b differ; make them equal with: true a b --equal, or say why")
    "a and b differ; make them equal with '4 Shape > True lines': a b, 'Make both equally long', or say why"
    >>> by_dialog("front is cut 0 times; say with label how often")
    "front is cut 0 times; say with '6 Finish > Label piece' how often"
    >>> by_dialog("install it with: pip install shapely")
    'install it with: pip install shapely'
    """
    return _GIVEN.sub(_said, text) if "with" in text else text


def found_by_dialog(finding: Finding) -> Finding:
    """A finding whose sentence gives dialogs for commands."""
    return finding._replace(text=by_dialog(finding.text))


def _said(match: re.Match[str]) -> str:
    from flatcut.operations.operation import MENUS, load, names  # few sentences give a command

    name, rest = match["name"], match["rest"]
    if name not in names():
        return match[0]
    cls = load(name)
    dialog = f"with '{MENUS.index(cls.menu) + 1} {cls.menu} > {cls.title}'"
    if match["whole"]:
        return dialog + (f": {', '.join(_entries(cls, rest))}" if rest.strip() else "")
    return dialog + re.sub(r"--[a-z][\w=./@%+:-]*\w", lambda found: _entry(cls, found[0]), rest)


def _entries(cls: type[Operation], rest: str) -> list[str]:
    """What stands after a command: the targets as one, then each option."""
    try:
        words = shlex.split(rest)
    except ValueError:
        words = rest.split()
    target = " ".join(word for word in words if not word.startswith("--"))
    return [*([target] if target else []), *(_entry(cls, word) for word in words if word.startswith("--"))]


def _entry(cls: type[Operation], word: str) -> str:
    """An option as its dialog calls it, with its value."""
    name, _, value = word[2:].partition("=")
    labels = {option(key): kind.label for key, kind in kinds(cls).items()}
    return f"'{labels.get(name, name)}'" + (f": {value}" if value else "")

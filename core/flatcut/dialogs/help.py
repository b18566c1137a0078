"""The help tab of a dialog: what to select, and what comes."""

from __future__ import annotations

import inspect
import re
import textwrap

from flatcut.declared.declared import Declared, kinds, option

LINES, WIDE = 10, 76
"""Lines of a help tab at most, and letters in one."""


def help_lines(cls: type[Declared]) -> list[str]:
    """What a dialog says on its help tab: what to select, then what comes; as many whole sentences as go on it."""
    target = kinds(cls).get("target")
    first = []
    if target is not None and target.selected:
        wanted = ", ".join(filter(None, (target.what, target.more, f"else {target.empty}" if target.empty else "")))
        first = textwrap.wrap(f"Select first: {in_words(cls, wanted)}.", WIDE)
    text = " ".join(inspect.cleandoc(cls.__doc__ or "").split())
    told: list[str] = []
    for sentence in re.split(r"(?<=[.])\s+(?=[A-Z])", in_words(cls, text)):
        longer = textwrap.wrap(" ".join([*told, sentence]), WIDE)
        if len(first) + len(longer) > LINES:
            break
        told = [" ".join([*told, sentence])]
    return [*first, *textwrap.wrap(" ".join(told), WIDE)]


def in_words(cls: type[Declared], text: str) -> str:
    """A text with the labels of the dialog in place of the options of the command."""
    labels = {option(key): kind.label for key, kind in kinds(cls).items()}
    return re.sub(r"--([a-z][a-z-]*)", lambda m: f"'{labels.get(m[1], m[1])}'", text)

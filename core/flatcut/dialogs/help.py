"""The help tab of a dialog: what to select, and what comes."""

from __future__ import annotations

import inspect
import re
import textwrap

from flatcut.declared.declared import Declared, kinds, option

LINES, WIDE = 10, 72
"""Lines of a help tab at most, and letters in one: more are broken once again in the narrowest dialogs."""
CAUTION = "can harm"
"""What a sentence has that is never left out for want of room."""

_OPTION = r"--([a-z][a-z-]*)(?:=([\w.@/%+:-]*\w))?"
"""An option of the command, and the value that it is given."""


def help_lines(cls: type[Declared]) -> list[str]:
    """What a dialog says on its help tab: what to select, then what comes; as many whole sentences as go on it.

    What only the command can do is left out; cautions are not.
    """
    target = kinds(cls).get("target")
    first = []
    if target is not None and target.selected:
        wanted = ", ".join(filter(None, (target.what, target.more, f"else {target.empty}" if target.empty else "")))
        wanted = wanted.replace(", that ", " that ")
        first = textwrap.wrap(f"Select first: {in_words(cls, wanted)}.", WIDE)
    text = " ".join(inspect.cleandoc(cls.__doc__ or "").split())
    sentences = re.split(r"(?<=[.])\s+(?=[A-Z])", text)
    cautions = [sentence for sentence in sentences if CAUTION in sentence]
    told: list[str] = []
    for sentence in sentences:
        if sentence in cautions:
            continue
        if not {match[1] for match in re.finditer(_OPTION, sentence)} <= _labels(cls).keys():
            continue
        sentence = in_words(cls, sentence)
        longer = textwrap.wrap(" ".join([*told, sentence, *cautions]), WIDE)
        if len(first) + len(longer) > LINES:
            break
        told = [" ".join([*told, sentence])]
    return [*first, *textwrap.wrap(" ".join([*told, *cautions]), WIDE)]


def in_words(cls: type[Declared], text: str) -> str:
    """A text with the labels of the dialog in place of the options of the command.

    >>> from flatcut.operations.operation import load
    >>> in_words(load("pivot"), "give --share=0.5, or leave --to out")
    "give 'Share of the angle, 0 to 1': 0.5, or leave 'Where to' out"
    """
    labels = _labels(cls)

    def said(match: re.Match[str]) -> str:
        value = f": {match[2]}" if match[2] else ""
        return f"'{labels.get(match[1], match[1])}'{value}"

    return re.sub(_OPTION, said, text)


def _labels(cls: type[Declared]) -> dict[str, str]:
    """What a dialog calls the options of the command."""
    return {option(key): kind.label for key, kind in kinds(cls).items()}

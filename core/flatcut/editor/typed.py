"""What stands in a dialog from before, which the editor keeps: a name that is left over gives way, and what counts from
a tab that is not seen, or is taken otherwise than it was typed, is told.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from flatcut.declared.declared import Declared, kinds, option
from flatcut.declared.entries import MORE
from flatcut.declared.kinds import hyphened
from flatcut.declared.references import Ref
from flatcut.declared.selecting import from_selection, pieces_meant
from flatcut.dialogs.tabs import tabs
from flatcut.dialogs.values import parameter
from flatcut.errors import FlatcutError
from flatcut.pattern.places import split_outside
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Pattern

_PIECE = r"(?<![\w.@/-])(?P<name>[^\W\d_][\w-]*)(?=\.[^\W\d_])"
"""The name of a piece before that of something on it."""
_HEAD = r"[-~]*(?P<name>[^\W\d_][\w-]*)(?P<rest>.*)"


def beside_selection(
    cls: type[Declared], given: Mapping[str, str], pattern: Pattern, chosen: Selection
) -> tuple[dict[str, str], list[str]]:
    """What a dialog hands over, with the selection before names that were left in it; and what is to be said of that.

    A name of an edge, dart or line alone is of the selected piece. Names of other pieces than those selected were left
    from before, and so were all names where nodes or lines are selected that say what is meant.
    """
    found, notes = dict(given), []
    about = pieces_meant(pattern, chosen) if chosen else []
    for key, kind in kinds(cls).items():
        text = given.get(parameter(key), "").strip()
        if not (about and text and isinstance(kind, Ref) and kind.there and "drawn" not in kind.of):
            continue
        parts = [part.strip() for part in split_outside(text, ",") if part.strip()]
        if key == "target":
            parts = [word for part in parts for word in split_outside(part, " ") if word]
        full = [one for part in parts for one in _full(part, pattern, about)]
        if kind.selected and (_elsewhere(full, pattern, about) or _said(cls, kind, pattern, chosen)):
            notes.append(f"'{text}' in '{kind.label}' is passed over: what is selected goes before it")
            found[parameter(key)] = ""
        elif full != parts:
            found[parameter(key)] = ",".join(full)
    return found, notes


def of_pieces_gone(cls: type[Declared], given: Mapping[str, str], pattern: Pattern) -> tuple[dict[str, str], list[str]]:
    """What a dialog hands over without names of pieces that are no more, in lines that may be empty; and what is to be
    said of that.

    A piece that steps of the drawing speak of and that is not there has been cut or joined since, and so the name was
    left from before. A name that never was a piece's is a slip, which is told as one.
    """
    found, notes = dict(given), []
    there = {piece.name for piece in pattern.pieces}
    for key, kind in kinds(cls).items():
        text = given.get(parameter(key), "").strip()
        if not (text and isinstance(kind, Ref) and kind.optional and kind.there and "drawn" not in kind.of):
            continue
        heads = [match["name"] for match in re.finditer(_PIECE, text) if match["name"] not in there]
        gone = [name for name in heads if any(_speaks(step.line, name) for step in pattern.steps)]
        if gone:
            notes.append(f"'{text}' in '{kind.label}' is passed over: there is no piece {gone[0]} any more")
            found[parameter(key)] = ""
    return found, notes


def _speaks(line: str, name: str) -> bool:
    return any(match["name"] == name for match in re.finditer(_PIECE, line))


def told_of_names(cls: type[Declared], given: Mapping[str, str]) -> list[str]:
    """Names that were typed with spaces, which are taken with hyphens."""
    named = [given.get(parameter(key), "") for key, kind in kinds(cls).items() if kind.named]
    parts = [part.strip() for text in named for part in text.split(",")]
    return [f"'{part}' is called {hyphened(part)}" for part in dict.fromkeys(parts) if " " in part]


def told_of_more(cls: type[Declared], options: Mapping[str, str]) -> list[str]:
    """What counted that stands on the tab of what is seldom needed, and so may have been forgotten there."""
    further = tabs(cls).get(MORE, ())
    stated = {key: options.get(option(key), "") for key in further}
    return [f"on the tab {MORE}, '{kinds(cls)[key].label}': {text}" for key, text in stated.items() if text]


def _full(part: str, pattern: Pattern, about: Sequence[str]) -> list[str]:
    """A reference with the name of its piece, once for each selected piece that has such a thing."""
    match = re.fullmatch(_HEAD, part, flags=re.DOTALL)
    if match is None or match["name"] in {piece.name for piece in pattern.pieces} or match["rest"][:1] in (":", "("):
        return [part]
    owners = [name for name in about if match["name"] in pattern.piece(name).names()]
    mark = part[: match.start("name")]
    return [f"{mark}{owner}.{part[match.start('name') :]}" for owner in owners] or [part]


def _elsewhere(parts: Sequence[str], pattern: Pattern, about: Sequence[str]) -> bool:
    """Whether all names are of pieces that are not selected."""
    heads = [match["name"] for part in parts if (match := re.fullmatch(_HEAD, part, flags=re.DOTALL))]
    known = {piece.name for piece in pattern.pieces}
    return bool(heads) and all(name in known and name not in about for name in heads)


def _said(cls: type[Declared], kind: Ref, pattern: Pattern, chosen: Selection) -> bool:
    """Whether selected nodes or lines say themselves what a reference means."""
    if not (chosen.places or chosen.lines):
        return False
    alone = Selection(places=chosen.places, lines=chosen.lines)
    try:
        _, found = from_selection(cls(), kind, pattern, alone, lambda before, *_: before)
    except FlatcutError:
        return False
    return bool(found)

"""What lies around a selected object and matters: a layer that is hidden or locked, a clip, a definition."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lxml import etree

from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, LOCKED, local
from flatcut.formats.svg.visibility import Sheet, rules, shown

_UNDRAWN = {
    "clipPath": "only cuts what another object shows; select that one, or release the clip first",
    "mask": "only masks another object; select that one, or release the mask first",
    "defs": "is a definition that is not drawn itself; select what shows it",
    "symbol": "is a symbol that is not drawn itself; select what shows it",
    "marker": "is a marker that is not drawn itself; select the line that bears it",
    "pattern": "fills another object; select that one",
}
"""What lies in such an element."""


def why_nothing(drawing: Drawing, ids: Sequence[str]) -> str:
    """Why what is selected means nothing, and what to do; '' where that is not known."""
    sheet = Sheet(rules(drawing.document.root))
    for element in _elements(drawing, ids):
        line = [element, *element.iterancestors()]
        for around in line[1:]:
            if local(around) in _UNDRAWN:
                return f"{_named(element)} {_UNDRAWN[local(around)]}"
        for around in line:
            drawn, visible = shown(around, sheet, True)
            if not drawn or not visible:
                what = "is hidden" if around is element else f"lies on {_named(around)}, which is hidden"
                return f"{_named(element)} {what}; show it first"
        if local(element) == "image":
            return (
                "an image is selected, and outlines are drawn lines; draw over it, or, if it is a photograph of a "
                "paper piece with a control square, say in Make piece how long the side of that is"
            )
    return ""


def noted(drawing: Drawing, ids: Sequence[str]) -> list[str]:
    """What a person should know of what was selected and used."""
    said: dict[str, None] = {}
    for element in _elements(drawing, ids):
        line = [element, *element.iterancestors()]
        if any(around.get("clip-path") not in (None, "none") for around in line):
            said[f"{_named(element)} is clipped, and its whole outline counts, not what the clip shows"] = None
        locked = [around for around in line if around.get(LOCKED) == "true"]
        if locked:
            said[f"{_named(locked[0])} is locked, and what lies on it is changed all the same"] = None
    return list(said)


def _elements(drawing: Drawing, ids: Sequence[str]) -> Iterator[etree._Element]:
    wanted = set(ids)
    return (element for element in drawing.document.root.iter(etree.Element) if element.get("id") in wanted)


def _named(element: etree._Element) -> str:
    """An element by its label, else by what it is."""
    what = "the layer" if element.get(GROUP_MODE) == "layer" else {"g": "the group"}.get(local(element), "the object")
    label = element.get(LABEL)
    return f"{what} '{label}'" if label else f"{what} that is selected" if what == "the object" else what

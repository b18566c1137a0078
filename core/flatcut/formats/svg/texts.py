"""The words of texts in a drawing, and where they stand."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.elements import ROLE, SVG, described, local, tag
from flatcut.formats.svg.lengths import user_units
from flatcut.formats.svg.viewport import Size
from flatcut.geometry.arrays import Array
from flatcut.marking.lettering import LEADING, LETTER

_LINES = frozenset({tag("flowPara"), tag("flowDiv")})
_WORDS = etree.XPath(
    "descendant-or-self::*[not(self::s:title or self::s:desc or self::s:flowRegion)]/text()", namespaces={"s": SVG}
)


def words(element: etree._Element) -> str:
    """The lines of a text, with single spaces; where the editor breaks it, a new line.

    >>> words(etree.fromstring('<text> left <tspan>front</tspan></text>'))
    'left front'
    """
    lines = [child for child in element.iter(etree.Element) if child.get(ROLE) == "line" or child.tag in _LINES]
    texts = [" ".join(_said(line).split()) for line in lines or [element]]
    return "\n".join(text for text in texts if text)


def _said(element: etree._Element) -> str:
    """The text of an element and of what it holds."""
    found = _WORDS(element)
    return "".join(map(str, found)) if isinstance(found, list) else ""


def first_place(element: etree._Element, size: Size) -> tuple[float, float]:
    """x and y of the first glyph in user units: of the text itself, or else of the first part that states one.

    >>> first_place(etree.fromstring('<text><tspan x="3 9" y="4">a</tspan></text>'), (0, 0))
    (3.0, 4.0)
    """
    return _first(element, "x", size[0]), _first(element, "y", size[1])


def _first(element: etree._Element, key: str, whole: float) -> float:
    for part in element.iter(etree.Element):
        items = part.get(key, "").replace(",", " ").split()
        if items and local(part) not in ("title", "desc"):
            return user_units(items[0], whole=whole, name=described(element))
    return 0.0


MEDIUM = 16.0
"""User units: the size of letters of which nothing is stated (CSS 2.2, section 15.7, medium, as it is usual)."""
ANCHORS = {"middle": 0.5, "end": 1.0}
"""How much of a line stands before its anchor; all else begins there."""


def box(element: etree._Element, size: Size) -> Array:
    """About where the letters stand: a box (4, 2) in user units, on the wide side.

    >>> box(etree.fromstring('<text x="10" y="50" font-size="10">CF</text>'), (0, 0)).tolist()
    [[10.0, 40.0], [22.4, 40.0], [22.4, 53.0], [10.0, 53.0]]
    """
    lines = words(element).split("\n")
    high = _size(element)
    wide = max(map(len, lines)) * LETTER * high
    x, y = first_place(element, size)
    x -= ANCHORS.get(_stated(element, "text-anchor"), 0.0) * wide
    low = y + (0.3 + LEADING * (len(lines) - 1)) * high
    return np.array([[x, y - high], [x + wide, y - high], [x + wide, low], [x, low]])


def _size(element: etree._Element) -> float:
    """User units: of the text's first part that states one, else of what it lies in."""
    inner = [part for part in element.iter(etree.Element) if _own(part, "font-size")]
    text = _own(inner[0], "font-size") if inner else _stated(element, "font-size")
    try:
        return user_units(text, whole=MEDIUM, name="a text") if text else MEDIUM
    except InputError:
        return MEDIUM  # one that hangs on another font, or a word such as large


def _stated(element: etree._Element, name: str) -> str:
    above: Iterator[etree._Element] = element.iterancestors()
    return next((found for part in (element, *above) if (found := _own(part, name))), "")


def _own(element: etree._Element, name: str) -> str:
    """What an element itself states of a property, in its style or as an attribute."""
    styled = re.findall(rf"(?:^|;)\s*{name}\s*:\s*([^;]+)", element.get("style", ""))
    return (styled[-1] if styled else element.get(name, "")).strip()

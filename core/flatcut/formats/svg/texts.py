"""The words of texts in a drawing, and where they stand."""

from __future__ import annotations

from lxml import etree

from flatcut.formats.svg.elements import ROLE, SVG, described, local, tag
from flatcut.formats.svg.lengths import user_units
from flatcut.formats.svg.viewport import Size

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

"""Which elements are shown: `display` and `visibility`, from attributes, `style` and simple style sheets.

A rule of a style sheet is followed when its selector is an element, `*`, classes, an id, or an element with these,
alone or in a list with commas; rules inside @media and the like, and any other selector, are passed over.
Order: style attribute, then rules (by weight, then by order), then attributes (CSS Cascade Level 3, section 6).
"""

from __future__ import annotations

import re
from operator import itemgetter
from typing import NamedTuple

from lxml import etree

from flatcut.formats.svg.elements import local, tag

_DECLARATION = r"(?:^|;)\s*(display|visibility)\s*:\s*([A-Za-z-]+)"
_COMMENT = r"/\*.*?\*/|<!--|-->"
_AT_BLOCK = r"@[^{};]*(?:;|\{(?:[^{}]*\{[^{}]*\})*[^{}]*\})"
_SELECTOR = r"(\*|[A-Za-z][\w-]*)?((?:[.#][A-Za-z_-][\w-]*)*)"


class Rule(NamedTuple):
    """A rule of a style sheet. weight: ids, classes, elements, and its number."""

    weight: tuple[int, int, int, int]
    element: str | None
    ids: frozenset[str]
    classes: frozenset[str]
    values: dict[str, str]


def rules(root: etree._Element) -> list[Rule]:
    """The rules about display and visibility in a document, the one to follow last.

    >>> text = ".a, g#b {display: none} p q {display: none}"
    >>> style = etree.fromstring(f'<style xmlns="http://www.w3.org/2000/svg">{text}</style>')
    >>> [(rule.element, sorted(rule.ids | rule.classes)) for rule in rules(style)]
    [(None, ['a']), ('g', ['b'])]
    """
    found: list[Rule] = []
    for sheet in root.iter(tag("style")):
        text = "".join(map(str, sheet.itertext()))
        if "display" not in text and "visibility" not in text:
            continue
        text = re.sub(_AT_BLOCK, "", re.sub(_COMMENT, "", text, flags=re.DOTALL))
        for block in text.split("}")[:-1]:
            selectors, _, body = block.partition("{")
            values = dict(re.findall(_DECLARATION, body))
            for selector in selectors.split(",") if values else ():
                match = re.fullmatch(_SELECTOR, selector.strip())
                if match is None or not match[0]:
                    continue
                marks = re.findall(r"([.#])([\w-]+)", match[2])
                ids = frozenset(value for kind, value in marks if kind == "#")
                classes = frozenset(value for kind, value in marks if kind == ".")
                element = match[1] if match[1] != "*" else None
                weight = (len(ids), len(classes), int(bool(element)), len(found))
                found.append(Rule(weight, element or None, ids, classes, values))
    return sorted(found, key=lambda rule: rule.weight)


class Sheet:
    """The rules of a document, found by what an element must have for them, so that many are no burden."""

    def __init__(self, found: list[Rule]) -> None:
        self._by: dict[str, list[tuple[int, Rule]]] = {}
        for order, rule in enumerate(found):
            marks = [*(f"#{name}" for name in rule.ids), *(f".{name}" for name in rule.classes)]
            self._by.setdefault(marks[0] if marks else rule.element or "*", []).append((order, rule))

    def __bool__(self) -> bool:
        return bool(self._by)

    def of(self, element: etree._Element) -> list[Rule]:
        """The rules that mean an element, the one to follow last."""
        names, own, kind = frozenset(element.get("class", "").split()), element.get("id"), local(element)
        keys = ["*", kind, f"#{own}", *(f".{name}" for name in names)]
        found = sorted((one for key in keys for one in self._by.get(key, ())), key=itemgetter(0))
        return [
            rule
            for _, rule in found
            if (rule.element is None or rule.element == kind) and rule.classes <= names and (rule.ids or {own}) == {own}
        ]


def shown(element: etree._Element, sheet: Sheet, inherited: bool) -> tuple[bool, bool]:
    """Whether an element and its content take part in the drawing at all, and whether it is visible itself."""
    display, visibility = element.get("display"), element.get("visibility")
    for rule in sheet.of(element) if sheet else ():
        display = rule.values.get("display", display)
        visibility = rule.values.get("visibility", visibility)
    style = element.get("style")
    if style is not None and ("display" in style or "visibility" in style):
        for key, value in re.findall(_DECLARATION, style):
            if key == "display":
                display = value
            else:
                visibility = value
    visible = inherited if visibility is None or visibility.strip() == "inherit" else visibility.strip() == "visible"
    return display is None or display.strip() != "none", visible

"""The layer on which the findings of a check are marked. flatcut never prints it."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.drawing.numbered import Marks
from flatcut.findings import FAULT, Finding
from flatcut.formats.svg.beside import Box, below, fitted, letter_height
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.marking.labels import LEADING
from flatcut.pattern.pointing import pointed
from flatcut.pattern.values import Pattern

WIDE = 46
"""Letters in a line of a list."""
WIDTH = 0.6
"""Of the height: about the width of a letter."""
MOST = 24
"""Lines of a list: more belong in `flatcut check`."""


def has_faults(document: Document) -> bool:
    """Whether the document has such a layer."""
    return bool(_layers(document))


def put_faults(document: Document, pattern: Pattern, findings: Sequence[Finding]) -> None:
    """Draw the layer anew: a numbered mark at every place of every finding, and the list; without findings none."""
    for old in _layers(document):
        parent = old.getparent()
        if parent is not None:
            parent.remove(old)
    if not findings:
        return
    layer = etree.SubElement(document.root, tag("g"), nsmap={PREFIX: NAMESPACE})
    layer.set("id", document.fresh_id("check"))
    layer.set(own("faults"), "shown")
    layer.set(GROUP_MODE, "layer")
    layer.set(LABEL, "check")
    painter, marks = Painter(document.matrix_of(layer)), Marks()
    for number, finding in enumerate(findings, start=1):
        for text in finding.where:
            for _, at in pointed(pattern, text):
                for item in marks.mark(at, number, fault=finding.severity == FAULT):
                    painter.paint(layer, item)
    for item in _lists(pattern, findings, document.page):
        painter.paint(layer, item)


def _layers(document: Document) -> list[etree._Element]:
    return [group for group in document.root.iter(tag("g")) if group.get(own("faults")) is not None]


def _lists(pattern: Pattern, findings: Sequence[Finding], page: tuple[float, float]) -> list[Words]:
    """Every finding with its number, beside the piece that it speaks of first; what finds no room, below all pieces."""
    about: dict[str, list[str]] = {}
    names = {piece.name for piece in pattern.pieces}
    for number, finding in enumerate(findings, start=1):
        places = (re.match(r"[-~]*([^.@/+]*)", text) for text in finding.where)
        of = next((place[1] for place in places if place is not None and place[1] in names), "")
        first, *rest = textwrap.wrap(f"{number}  {finding.severity}: {finding.text}", WIDE)
        about.setdefault(of, []).extend([first, *(f"     {words}" for words in rest)])
    taken: list[Box] = []
    made: list[Words] = []
    left_over = about.pop("", [])
    for name, lines in about.items():
        rows = [*lines[:MOST], *([f"and {len(lines) - MOST} lines more"] if len(lines) > MOST else [])]
        size = (WIDTH * max(map(len, rows)), LEADING * len(rows))
        place = fitted(pattern, (name,), page, size, taken)
        if place is None:
            left_over += rows
            continue
        height, left, top = place
        taken.append((left, top, left + size[0] * height, top + size[1] * height))
        made.append(_words(rows, left, top, height))
    if left_over:
        made.append(_words(left_over, *below(pattern, page), letter_height(page)))
    return made


def _words(rows: Sequence[str], left: float, top: float, height: float) -> Words:
    middle = np.array([left, top + LEADING * height * len(rows) / 2])
    return Words(lines=tuple(rows), at=middle, height=height, align="start")

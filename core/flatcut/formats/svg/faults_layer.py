"""The layer on which the findings of a check are marked. flatcut never prints it."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from functools import partial

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.drawing.numbered import Marks
from flatcut.findings import FAULT, Finding
from flatcut.formats.svg.beside import WIDTHS, Box, below, fitted, fitted_closely, letter_height
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.marking.labels import LEADING
from flatcut.pattern.pointing import pointed
from flatcut.pattern.values import Pattern

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
        about.setdefault(of, []).append(f"{number}  {finding.severity}: {finding.text}")
    taken: list[Box] = []
    made: list[Words] = []
    left_over = about.pop("", [])
    for name, told in about.items():
        tries = (find(pattern, (name,), page, partial(_wrapped, told), taken) for find in (fitted, fitted_closely))
        placed = next((one for one in tries if one is not None), None)
        if placed is None:
            left_over += told
            continue
        taken.append(placed.box)
        made.append(_words(placed.rows[0], *placed.box[:2], placed.height))
    if left_over:
        placed = fitted(pattern, (), page, partial(_wrapped, left_over), taken)
        rows, height = (placed.rows[0], placed.height) if placed else (_wrapped(left_over)[0], letter_height(page))
        made.append(_words(rows, *(placed.box[:2] if placed else below(pattern, page)), height))
    return made


def _wrapped(told: Sequence[str], wide: int = WIDTHS[0]) -> tuple[tuple[str, ...], ...]:
    """Sentences as one group of rows of so many letters."""
    rows = [
        row if k == 0 else f"     {row}" for text in told for k, row in enumerate(textwrap.wrap(text, max(wide - 5, 9)))
    ]
    return ((*rows[:MOST], *([f"and {len(rows) - MOST} lines more"] if len(rows) > MOST else [])),)


def _words(rows: Sequence[str], left: float, top: float, height: float) -> Words:
    middle = np.array([left, top + LEADING * height * len(rows) / 2])
    return Words(lines=tuple(rows), at=middle, height=height, align="start")

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
from flatcut.formats.svg.beside import WIDTHS, Box, Placed, Shapes, below, fitted, fitted_closely, letter_height
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own, pack, unpack
from flatcut.marking.lettering import LEADING
from flatcut.pattern.pointing import pointed
from flatcut.pattern.values import Pattern

MOST = (24, 12, 6)
"""Lines of a list, fewer where that finds a place: more belong in `flatcut check`."""


def has_faults(document: Document) -> bool:
    """Whether the document has such a layer."""
    return bool(_layers(document))


def listed(document: Document) -> list[Box]:
    """The boxes that the lists of such a layer take, mm."""
    found = [unpack(layer.get(own("boxes"), "[]"), where="the check's layer") for layer in _layers(document)]
    return [(float(a), float(b), float(c), float(d)) for boxes in found for a, b, c, d in boxes]


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
    lists, boxes = _lists(pattern, findings, document.page)
    for item in lists:
        painter.paint(layer, item)
    layer.set(own("boxes"), pack(boxes))


def _layers(document: Document) -> list[etree._Element]:
    return [group for group in document.root.iter(tag("g")) if group.get(own("faults")) is not None]


def _lists(pattern: Pattern, findings: Sequence[Finding], page: tuple[float, float]) -> tuple[list[Words], list[Box]]:
    """Every finding with its number, beside the piece that it speaks of first, and the boxes these lists take.

    What finds no room stands below all pieces.
    """
    about: dict[str, list[str]] = {}
    names = {piece.name for piece in pattern.pieces}
    for number, finding in enumerate(findings, start=1):
        places = (re.match(r"[-~]*([^.@/+]*)", text) for text in finding.where)
        of = next((place[1] for place in places if place is not None and place[1] in names), "")
        about.setdefault(of, []).append(f"{number}  {finding.severity}: {finding.text}")
    shapes = Shapes(pattern)
    taken: list[Box] = []
    made: list[Words] = []
    general = about.pop("", [])
    for name, told in (*about.items(), ("", general)):
        placed = _placed(shapes, (name,) if name else (), page, told, taken) if told else None
        if placed is not None:
            taken.append(placed.box)
            made.append(_words(placed.rows[0], *placed.box[:2], placed.height))
        elif name:
            general += told
        elif told:
            made.append(_words(_wrapped(told)[0], *below(shapes, page), letter_height(page)))
    return made, taken


def _placed(
    shapes: Shapes, about: Sequence[str], page: tuple[float, float], told: Sequence[str], taken: Sequence[Box]
) -> Placed | None:
    """A list where it finds room, shortened where that helps."""
    tries = (
        find(shapes, about, page, partial(_wrapped, told, most=most), taken)
        for most in MOST
        for find in (fitted, fitted_closely)
    )
    return next((one for one in tries if one is not None), None)


def _wrapped(told: Sequence[str], wide: int = WIDTHS[0], *, most: int = MOST[0]) -> tuple[tuple[str, ...], ...]:
    """Sentences as one group of rows of so many letters."""
    rows = [
        row if k == 0 else f"     {row}" for text in told for k, row in enumerate(textwrap.wrap(text, max(wide - 5, 9)))
    ]
    return ((*rows[:most], *([f"and {len(rows) - most} lines more: see Check page"] if len(rows) > most else [])),)


def _words(rows: Sequence[str], left: float, top: float, height: float) -> Words:
    middle = np.array([left, top + LEADING * height * len(rows) / 2])
    return Words(lines=tuple(rows), at=middle, height=height, align="start")

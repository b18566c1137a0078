"""The layer on which the findings of a check are marked. flatcut never prints it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.drawing.numbered import Marks
from flatcut.findings import FAULT, Finding
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.pattern.pointing import pointed
from flatcut.pattern.values import Pattern

HEIGHT = 5.0
"""mm: letter height of the list."""
WIDTH = 100
"""Letters in a line of the list."""
LISTED = 40
"""Findings in the list: more belong in `flatcut check`."""


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
    painter.paint(layer, _list(pattern, findings))


def _layers(document: Document) -> list[etree._Element]:
    return [group for group in document.root.iter(tag("g")) if group.get(own("faults")) is not None]


def _list(pattern: Pattern, findings: Sequence[Finding]) -> Words:
    """Every finding with its number, below the pieces."""
    lines: list[str] = []
    for number, finding in enumerate(findings[:LISTED], start=1):
        first, *rest = textwrap.wrap(f"{number}  {finding.severity}: {finding.text}", WIDTH)
        lines += [first, *(f"     {words}" for words in rest)]
    if len(findings) > LISTED:
        lines.append(f"and {len(findings) - LISTED} more: flatcut check lists them all")
    nodes = [part.nodes for piece in pattern.pieces for edge in piece.edges for part in edge.parts]
    low = np.concatenate(nodes) if nodes else np.zeros((1, 2))
    corner = np.array([low[:, 0].min(), low[:, 1].max() + 60.0 + 0.7 * HEIGHT * len(lines)])
    return Words(lines=tuple(lines), at=corner, height=HEIGHT, align="start")

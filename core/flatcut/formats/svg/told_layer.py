"""The layer on which the last press says what it did, beside the pieces it speaks of. flatcut never prints it.

It is locked, so that nothing on it is selected, and read as no part of the drawing. The next step takes it away.
"""

from __future__ import annotations

import textwrap
from functools import cache, partial
from typing import NamedTuple

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.drawing.roles import WORDS, Role
from flatcut.formats.svg.beside import WIDTHS, Box, Placed, Shapes, below, fitted, fitted_closely, letter_height
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, LOCKED, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.marking.lettering import LEADING
from flatcut.pattern.values import Pattern

MOST = (18, 9, 5)
"""Lines, fewer where that finds a place: more belong in `flatcut steps`."""
HEAD = Role(name="told-head", bold=True)
"""What is to be seen first: the title, and what to look at."""


class Told(NamedTuple):
    """What is said. title: the deed; lines: what was done; looked: what to look at; about: names of the pieces;
    seen: width and height, mm, of the page as it is seen where it has just grown, on which a place is sought first.
    """

    title: str
    lines: tuple[str, ...] = ()
    looked: tuple[str, ...] = ()
    about: tuple[str, ...] = ()
    seen: tuple[float, float] = (0.0, 0.0)

    def wrapped(self, wide: int = WIDTHS[0], *, most: int = MOST[0]) -> tuple[tuple[str, ...], ...]:
        """The title, the lines in the usual letters, and those in bold ones below them.

        wide: letters in a line; most: lines, of which what is to be looked at comes first.
        """
        usual = [part for line in self.lines for part in _parts(line, wide)]
        bold = [part for line in self.looked for part in _parts(f"! {line}", wide)]
        room = max(most - len(bold), 3)
        if len(usual) > room:
            usual = [*usual[:room], f"and {len(usual) - room} lines more"]
        if len(bold) > most:
            bold = [*bold[:most], f"! and {len(bold) - most} lines more"]
        return (self.title,), tuple(usual), tuple(bold)


@cache
def _parts(line: str, wide: int) -> list[str]:
    """A line in parts of so many letters; it is asked for again with each place that is tried."""
    return textwrap.wrap(line, wide)


def put_told(document: Document, pattern: Pattern, told: Told | None) -> None:
    """Draw the layer anew, or take it away."""
    for old in [g for g in document.root.iter(tag("g")) if g.get(own("told")) is not None]:
        parent = old.getparent()
        if parent is not None:
            parent.remove(old)
    if told is None or pattern.told_hidden:
        return
    layer = etree.SubElement(document.root, tag("g"), nsmap={PREFIX: NAMESPACE})
    layer.set("id", document.fresh_id("figures"))
    layer.set(own("told"), "shown")
    layer.set(GROUP_MODE, "layer")
    layer.set(LABEL, "figures")
    layer.set(LOCKED, "true")
    painter = Painter(document.matrix_of(layer))
    pages = dict.fromkeys((told.seen if any(told.seen) else document.page, document.page))
    taken, shapes = _taken(document), Shapes(pattern)
    tries = (
        find(shapes, told.about, page, partial(told.wrapped, most=most), taken)
        for most in MOST
        for page in pages
        for find in (fitted, fitted_closely)
    )
    placed = next((one for one in tries if one is not None), None)
    if placed is None:
        left, top = below(shapes, document.page)
        placed = Placed(rows=told.wrapped(), height=letter_height(document.page), box=(left, top, left, top))
    row, height = 0, placed.height
    for lines, role in zip(placed.rows, (HEAD, WORDS, HEAD), strict=True):
        if lines:
            middle = np.array([placed.box[0], placed.box[1] + (row + len(lines) / 2) * LEADING * height])
            painter.paint(layer, Words(lines=lines, at=middle, height=height, align="start", role=role))
        row += len(lines)


def _taken(document: Document) -> list[Box]:
    """Where the lists of a check stand; most drawings have none, and what draws them is not loaded for these."""
    if not any(group.get(own("faults")) is not None for group in document.root.iter(tag("g"))):
        return []
    from flatcut.formats.svg.faults_layer import listed

    return listed(document)

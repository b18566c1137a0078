"""The layer on which the last press says what it did, beside the pieces it speaks of. flatcut never prints it.

It is locked, so that nothing on it is selected, and read as no part of the drawing. The next step takes it away.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.drawing.roles import Role
from flatcut.formats.svg.beside import below, fitted, letter_height
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, LOCKED, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.marking.labels import LEADING
from flatcut.pattern.values import Pattern

WIDE = 46
"""Letters in a line."""
MOST = 18
"""Lines: more belong in `flatcut steps`."""
HEAD = Role(name="told-head", bold=True)
"""What is to be seen first: the title, and what to look at."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What is said. title: the deed; lines: what was done; looked: what to look at; about: names of the pieces."""

    title: str
    lines: tuple[str, ...] = ()
    looked: tuple[str, ...] = ()
    about: tuple[str, ...] = ()

    def wrapped(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The lines in the usual letters, and those in bold ones, which stand below them."""
        usual = [part for line in self.lines for part in textwrap.wrap(line, WIDE)]
        bold = [part for line in self.looked for part in textwrap.wrap(f"! {line}", WIDE)]
        room = max(MOST - len(bold), 3)
        if len(usual) > room:
            usual = [*usual[:room], f"and {len(usual) - room} lines more"]
        return tuple(usual), tuple(bold[:MOST])


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
    usual, bold = told.wrapped()
    size = (0.6 * max(map(len, (told.title, *usual, *bold))), LEADING * (1 + len(usual) + len(bold)))
    place = fitted(pattern, told.about, document.page, size)
    height, left, top = place or (letter_height(document.page), *below(pattern, document.page))
    row = 0
    for lines, role in (((told.title,), HEAD), (usual, Words.role), (bold, HEAD)):
        if lines:
            middle = np.array([left, top + (row + len(lines) / 2) * LEADING * height])
            painter.paint(layer, Words(lines=lines, at=middle, height=height, align="start", role=role))
        row += len(lines)

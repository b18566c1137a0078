"""The layer on which the last press says what it did, beside the pieces it speaks of. flatcut never prints it.

It is locked, so that nothing on it is selected, and read as no part of the drawing. The next step takes it away.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.drawing.roles import Role
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, LOCKED, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import bounds, chain
from flatcut.marking.labels import LEADING
from flatcut.pattern.values import Pattern, Piece, outline

WIDE = 46
"""Letters in a line."""
MOST = 18
"""Lines: more belong in `flatcut steps`."""
SMALL = 1 / 52
"""Height of a letter as a part of the page's: about 13 px where a page fits a window of 700 px."""
LEAST = 2.5
"""mm: the least height of a letter."""
HEAD = Role(name="told-head", bold=True)
"""What is to be seen first: the title, and what to look at."""

Box = tuple[float, float, float, float]


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
    height, left, top = _fitted(pattern, told.about, document.page, size)
    row = 0
    for lines, role in (((told.title,), HEAD), (usual, Words.role), (bold, HEAD)):
        if lines:
            middle = np.array([left, top + (row + len(lines) / 2) * LEADING * height])
            painter.paint(layer, Words(lines=lines, at=middle, height=height, align="start", role=role))
        row += len(lines)


def _fitted(
    pattern: Pattern, about: Sequence[str], page: tuple[float, float], size: tuple[float, float]
) -> tuple[float, float, float]:
    """Height of the letters, left and top of words of that size in letters: smaller ones where that finds a place."""
    whole = letter_height(page)
    for share in (1.0, 0.85, 0.7, 0.6):
        height = share * whole
        place = free_place(pattern, about, page, (size[0] * height, size[1] * height), height)
        if place is not None:
            return height, *place
    low = _around([_box(piece) for piece in pattern.pieces])
    return whole, low[0], low[3] + whole


def letter_height(page: tuple[float, float]) -> float:
    """mm of a letter that can be read at the zoom at which the page (mm) fits the window.

    >>> round(letter_height((210.0, 297.0)), 2)
    5.71
    """
    return max(SMALL * max(page[1], 0.6 * page[0]), LEAST)


def free_place(
    pattern: Pattern, about: Sequence[str], page: tuple[float, float], size: tuple[float, float], gap: float
) -> tuple[float, float] | None:
    """Left and top of a box of that size beside the pieces that it is about, mm: where it lies on the page and on no
    piece, None where there is no such place; without pieces in the page's upper left corner.

    >>> free_place(Pattern(), (), (210.0, 297.0), (80.0, 20.0), 5.0)
    (5.0, 5.0)
    """
    boxes = {piece.name: _box(piece) for piece in pattern.pieces}
    if not boxes:
        return gap, gap
    x0, y0, x1, y1 = _around([boxes[name] for name in about if name in boxes] or list(boxes.values()))
    wide, high = size
    beside = [(x1 + gap, y0), (x0 - gap - wide, y0), (x0, y1 + gap), (x0, y0 - gap - high), (x1 + gap, y1 - high)]
    for left, top in beside:
        inside = left >= 0 and top >= 0 and left + wide <= page[0] and top + high <= page[1]
        apart = all(left + wide < a or c < left or top + high < b or d < top for a, b, c, d in boxes.values())
        if inside and apart:
            return left, top
    return None


def _box(piece: Piece) -> Box:
    """The box round a piece, with room for a cut line about it."""
    x0, y0, x1, y1 = bounds(chain(outline(piece), within=1e-6))
    widths = [edge.allowance.width for edge in piece.edges if edge.allowance is not None]
    room = 1.5 * max(widths, default=0.0)
    return x0 - room, y0 - room, x1 + room, y1 + room


def _around(boxes: Sequence[Box]) -> Box:
    corners: Array = np.array(boxes)
    x0, y0 = corners[:, :2].min(axis=0)
    x1, y1 = corners[:, 2:].max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)

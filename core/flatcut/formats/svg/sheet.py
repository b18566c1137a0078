"""Strokes and words as a plain SVG file at true scale, without pieces: for cutters, plotters and pictures."""

from __future__ import annotations

import math

from lxml import etree

from flatcut.drawing.ink import Ink, Stroke, together
from flatcut.formats.svg.elements import SVG
from flatcut.formats.svg.numbers import number
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.pathdata import unparse
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve
from flatcut.printing.page import Page

MARGIN = 10.0
"""mm round what is drawn."""


def sheet(ink: Ink, *, margin: float = MARGIN) -> bytes:
    """An SVG of what is drawn, one user unit to one mm, on a page as large as that needs.

    >>> sheet(Ink()).startswith(b"<svg")
    Traceback (most recent call last):
    ...
    ValueError: nothing is drawn
    """
    if not ink.items:
        raise ValueError("nothing is drawn")
    x0, y0, x1, y1 = ink.box
    wide, high = (math.ceil(size + 2 * margin) for size in (x1 - x0, y1 - y0))
    return _file(_painted(ink.moved(margin - x0, margin - y0), wide, high))


def page_as_svg(page: Page) -> bytes:
    """A page of what is cut, one user unit to one mm: a path for each piece, its id the piece's name.

    Lines that end where they begin are closed, so that a cutter does not lift there.
    """
    ink = together(part.ink.moved(*part.shift) for part in page.parts)
    root = _painted(ink, page.width, page.height)
    for element, item, name in zip(root, ink.items, ink.names, strict=True):
        element.set("id", name)
        if isinstance(item, Stroke):
            element.set("d", unparse(item.curves, map(_is_ring, item.curves)))
    return _file(root)


def _is_ring(curve: Curve) -> bool:
    return bool((curve.start == curve.end).all()) and len(curve) > 1


def _painted(ink: Ink, wide: float, high: float) -> etree._Element:
    """A document with an element for each thing that is drawn."""
    page = f'width="{number(wide)}mm" height="{number(high)}mm" viewBox="0 0 {number(wide)} {number(high)}"'
    root = etree.fromstring(f'<svg xmlns="{SVG}" version="1.1" {page}/>')
    painter = Painter(Affine())
    for item in ink.items:
        painter.paint(root, item)
    return root


def _file(root: etree._Element) -> bytes:
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))

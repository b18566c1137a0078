"""Strokes and words as a plain SVG file at true scale, without pieces: for cutters, plotters and pictures."""

from __future__ import annotations

import math

from lxml import etree

from flatcut.drawing.ink import Ink
from flatcut.formats.svg.elements import SVG
from flatcut.formats.svg.painting import Painter
from flatcut.geometry.affine import Affine

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
    page = f'version="1.1" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}"'
    root = etree.fromstring(f'<svg xmlns="{SVG}" {page}/>')
    painter = Painter(Affine())
    for item in ink.moved(margin - x0, margin - y0).items:
        painter.paint(root, item)
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8"))

"""A new, empty document: A0 portrait, in millimetres, one user unit to one mm."""

from __future__ import annotations

from flatcut.findings import Finding
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.read import read
from flatcut.pattern.values import Pattern

WIDTH, HEIGHT = 841, 1189
"""mm: A0 portrait (ISO 216). Pieces may lie beyond it; the page is only what is seen first."""


def new_drawing(width: float = WIDTH, height: float = HEIGHT) -> tuple[Drawing, Pattern, list[Finding]]:
    """An empty drawing, as `read` gives one.

    >>> new_drawing()[1].pieces
    ()
    """
    text = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">\n</svg>\n'
    )
    return read(text.encode(), name="a new document")

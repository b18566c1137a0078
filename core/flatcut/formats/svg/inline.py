"""A drawing as a picture inside a page: cropped to what is drawn, without ids and data."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable

from lxml import etree

from flatcut.drawing.ink import Stroke, Words
from flatcut.formats.svg.document import Document, load
from flatcut.formats.svg.elements import INKSCAPE, SODIPODI, SVG, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE
from flatcut.geometry.affine import IDENTITY
from flatcut.geometry.curves import bounds

MARGIN = 12.0
"""mm of white around the drawing."""
LINES_FOR = 300.0
"""mm corner to corner: lines of larger drawings are drawn heavier in proportion, or a page would show them grey."""
_STROKE = re.compile(r"(stroke-(?:width|dasharray|dashoffset)\s*:)([^;]*)")
_NUMBER = re.compile(r"\d*\.?\d+")


Box = tuple[float, float, float, float]
"""Left, top, right, bottom in mm."""


def picture(data: bytes, *, label: str, description: str = "", box: Box | None = None) -> str:
    """The text of an <svg> element, one user unit to one mm, with `label` as its text alternative.

    description: a longer one; box: what is shown, left out: all that is drawn.
    """
    document = load(data, name="the drawing")
    x0, y0, x1, y1 = box or _around(document)
    matrix = document.to_mm
    root = document.root
    svg = etree.fromstring(f'<svg xmlns="{SVG}"/>')
    svg.set("viewBox", " ".join(f"{value:.2f}" for value in (x0, y0, x1 - x0, y1 - y0)))
    svg.set("role", "img")
    svg.set("aria-label", label)
    etree.SubElement(svg, tag("title")).text = label
    if description:
        etree.SubElement(svg, tag("desc")).text = description
    group = etree.SubElement(svg, tag("g"))
    group.set("transform", f"matrix({' '.join(f'{value:.9g}' for value in matrix)})")
    for child in list(root):
        if isinstance(child.tag, str) and child.tag not in (tag("metadata"), tag("title")):
            group.append(child)
    for element in svg.iter():
        if not isinstance(element.tag, str):
            continue
        _heavier(element, max(1.0, math.hypot(x1 - x0, y1 - y0) / LINES_FOR))
        for name in list(element.attrib):
            if str(name) == "id" or str(name).startswith((f"{{{NAMESPACE}}}", f"{{{INKSCAPE}}}", f"{{{SODIPODI}}}")):
                del element.attrib[name]
    etree.cleanup_namespaces(svg)
    return etree.tostring(svg, encoding="unicode")


def _around(document: Document) -> Box:
    """All that is drawn, with MARGIN round it."""
    boxes = [bounds(sub.curve) for drawn in document.drawn() for sub in drawn.subpaths]
    boxes += [(*text.at, *text.at) for text in document.texts()]
    x0, y0 = min(b[0] for b in boxes) - MARGIN, min(b[1] for b in boxes) - MARGIN
    return x0, y0, max(b[2] for b in boxes) + MARGIN, max(b[3] for b in boxes) + MARGIN


def painted(items: Iterable[Stroke | Words], size: tuple[float, float], *, label: str) -> str:
    """Strokes and words on a sheet of that width and height, mm, as such a picture."""
    wide, high = size
    root = etree.fromstring(f'<svg xmlns="{SVG}" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}"/>')
    painter = Painter(IDENTITY)
    for item in items:
        painter.paint(root, item)
    return picture(etree.tostring(root), label=label, box=(0.0, 0.0, wide, high))


def _heavier(element: etree._Element, factor: float) -> None:
    """Lines and dashes of an element times a factor."""

    def times(text: str) -> str:
        return _NUMBER.sub(lambda number: f"{float(number[0]) * factor:.3g}", text)

    style = element.get("style")
    if style is not None:
        element.set("style", _STROKE.sub(lambda found: found[1] + times(found[2]), style))
    for name in ("stroke-width", "stroke-dasharray"):
        value = element.get(name)
        if value is not None:
            element.set(name, times(value))

"""A page of lines as an SVG file of its own, in millimetres: a path for each stroke and nothing else."""

from __future__ import annotations

from typing import cast

from lxml import etree

from flatcut.formats.svg.elements import SVG, tag
from flatcut.formats.svg.numbers import number
from flatcut.formats.svg.pathdata import unparse
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import transform
from flatcut.printing.page import Page


def page_as_svg(page: Page) -> bytes:
    """The file. Lines of a stroke that end where they begin are closed; all are one path."""
    root = etree.Element(tag("svg"), nsmap=cast("dict[str, str]", {None: SVG}))
    root.set("version", "1.1")
    root.set("width", f"{number(page.width)}mm")
    root.set("height", f"{number(page.height)}mm")
    root.set("viewBox", f"0 0 {number(page.width)} {number(page.height)}")
    for part in page.parts:
        place = Affine.translation(*part.shift)
        for stroke, name in zip(part.ink.strokes, part.ink.names, strict=True):
            curves = [transform(curve, place) for curve in stroke.curves]
            closed = [bool((curve.start == curve.end).all()) and len(curve) > 1 for curve in curves]
            element = etree.SubElement(root, tag("path"), {"id": name, "d": unparse(curves, closed)})
            style = f"fill:none;stroke:{stroke.role.colour};stroke-width:{number(stroke.role.width)}"
            element.set("style", style)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8") + b"\n"

"""A plain drawing in DXF as paths: what is drawn line by line is put together, and each block is a group."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import cast

import numpy as np
from lxml import etree

from flatcut.errors import FileName, InputError
from flatcut.findings import Finding, on_reading
from flatcut.formats.dxf.entities import Found, Lettering, Stroke
from flatcut.formats.svg.elements import INKSCAPE, LABEL, SVG, tag
from flatcut.formats.svg.numbers import number
from flatcut.formats.svg.pathdata import unparse
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, bounds, transform
from flatcut.outlines.joining import MEETS, joined
from flatcut.units import LARGEST

UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 10: 914.4, 13: 1e-3, 14: 100.0}
"""mm in one unit of a drawing, by its $INSUNITS (DXF reference, from memory)."""
MARGIN = 20.0
"""mm between what is drawn and the sides of the page."""


def plain(found: Found, code: int, name: str) -> tuple[bytes, list[Finding]]:
    """The lines of a file as an SVG drawing, in the units of the file. code: its $INSUNITS. Errors: InputError."""
    scale = UNITS.get(code, 1.0)
    said = []
    if code not in UNITS:
        said.append(
            f"{name} does not say what its units are; each is taken for 1 mm: "
            "if that is wrong, give --drawing-unit=in or cm to the step 'piece'"
        )
    if found.missed:
        kinds = ", ".join(f"{count} {kind}" for kind, count in sorted(found.missed.items()))
        said.append(f"{name} has entities that are no lines and are left out: {kinds}")
    if not found.strokes:
        raise InputError(FileName(name), " draws points, but no lines; choose a DXF file with outlines")
    corners = np.array([bounds(stroke.curve) for stroke in found.strokes])
    low, high = corners[:, :2].min(axis=0), corners[:, 2:].max(axis=0)
    if not (np.abs(corners) * scale <= LARGEST).all():
        raise InputError(
            FileName(name), " reaches farther than a kilometre; draw it nearer to its origin, in its true units"
        )
    margin = MARGIN / scale
    place = Affine(1.0, 0.0, 0.0, -1.0, float(margin - low[0]), float(margin + high[1]))
    wide, tall = (high - low + 2 * margin).tolist()
    root = _root(wide, tall, scale)
    widest = 0.0
    for of in (0, *sorted(found.blocks)):
        strokes = [s for s in found.strokes if s.of == of]
        if not strokes:
            continue
        holder = root if not of else etree.SubElement(root, tag("g"), {"id": f"block-{of}", LABEL: found.blocks[of]})
        lines = list(_lines(strokes, place, MEETS / scale))
        outer = max(range(len(lines)), key=lambda k: _box_area(lines[k][0]) if lines[k][1] else 0.0)
        for k, (curve, closed, gap) in enumerate(lines):
            widest = max(widest, gap * scale)
            path = etree.SubElement(holder, tag("path"), {"id": f"block-{of}-{k + 1}" if of else f"drawn-{k + 1}"})
            path.set("d", unparse([curve], closed))
            path.set("style", f"fill:none;stroke:#000000;stroke-width:{number(0.25 / scale)}")
            if of and k == outer:
                path.set(LABEL, found.blocks[of])
        for text in (t for t in found.letterings if t.of == of):
            _text(holder, text, place)
    if widest > 1e-3:
        said.append(f"ends in {name} that lie up to {widest:.3f} mm apart were taken for one")
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8"), [on_reading(text) for text in said]


def _root(wide: float, high: float, scale: float) -> etree._Element:
    root = etree.Element(tag("svg"), nsmap=cast("dict[str, str]", {None: SVG, "inkscape": INKSCAPE}))
    root.set("version", "1.1")
    root.set("width", f"{number(wide * scale)}mm")
    root.set("height", f"{number(high * scale)}mm")
    root.set("viewBox", f"0 0 {number(wide)} {number(high)}")
    return root


def _lines(strokes: Sequence[Stroke], place: Affine, within: float) -> Iterator[tuple[Curve, bool, float]]:
    """The lines of each layer put together: curve, whether closed, and the widest gap that was shut."""
    for layer in dict.fromkeys(stroke.layer for stroke in strokes):
        mine = [(transform(s.curve, place), s.closed) for s in strokes if s.layer == layer]
        for curve, closed in mine:
            if closed:
                yield _shut(curve), True, 0.0
        for one in joined([curve for curve, closed in mine if not closed], within=within):
            yield (_shut(one.curve) if one.closed else one.curve), one.closed, one.gap


def _shut(curve: Curve) -> Curve:
    """A closed line whose end lies on its start, as it does but for rounding or a gap."""
    controls = np.array(curve.controls)
    controls[-1, 3] = controls[0, 0]
    return Curve(controls, np.array(curve.straight))


def _box_area(curve: Curve) -> float:
    x0, y0, x1, y1 = bounds(curve)
    return (x1 - x0) * (y1 - y0)


def _text(holder: etree._Element, text: Lettering, place: Affine) -> None:
    x, y = place.apply(text.at).tolist()
    element = etree.SubElement(holder, tag("text"), {"x": number(x), "y": number(y)})
    if text.angle:
        element.set("transform", f"rotate({number(-text.angle)} {number(x)} {number(y)})")
    element.set("style", f"font-size:{number(text.height)}px;font-family:sans-serif")
    element.text = "".join(c for c in text.text if c.isprintable())

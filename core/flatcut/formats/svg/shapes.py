"""Paths and basic shapes as subpaths, in their own user units.

A shape starts and runs as SVG 2, section 10, says for its equivalent path: a rectangle clockwise from its upper left
corner, circles and ellipses clockwise from three o'clock. A shape without size, or with a negative one, draws nothing.
Not read: geometry set by CSS (`style="rx: 3px"`).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg import pathdata
from flatcut.formats.svg.elements import described, tag
from flatcut.formats.svg.lengths import user_units
from flatcut.formats.svg.numbers import numbers
from flatcut.formats.svg.pen import Pen
from flatcut.formats.svg.strokes import Strokes, SubPath, gather, subpaths
from flatcut.formats.svg.viewport import UNSIZED, Size


def shape(element: etree._Element, *, viewport: Size = UNSIZED) -> list[SubPath]:
    """The subpaths of a path, rect, circle, ellipse, line, polyline or polygon.

    viewport: width and height that percentages are taken of, in user units.
    Errors: InputError that names the element.

    >>> circle = etree.fromstring('<circle xmlns="http://www.w3.org/2000/svg" r="5"/>')
    >>> [(s.closed, len(s.curve), s.curve.start) for s in shape(circle)]
    [(True, 8, array([5., 0.]))]
    """
    spans = gather(strokes(element, viewport))
    if not np.isfinite(spans.controls).all():
        raise InputError(f"{described(element)} has a number too large to draw; redraw it smaller")
    return [subpath for subpath in subpaths(spans) if subpath is not None]


def strokes(element: etree._Element, viewport: Size) -> list[Strokes]:
    """As `shape`, but as numbers, which may be infinite."""
    return _SHAPES[element.tag](element, viewport)


def _path(element: etree._Element, viewport: Size) -> list[Strokes]:
    d = element.get("d", "none")
    if d == "none":
        return []
    try:
        return pathdata.read(d)
    except InputError:  # a name costs a tenth of the reading, so it is made where it is wanted
        return pathdata.read(d, name=described(element))


def _length(element: etree._Element, key: str, whole: float) -> float:
    text = element.get(key)
    return 0.0 if text is None or not text.strip() else user_units(text, whole=whole, name=described(element))


def _radii(element: etree._Element, viewport: Size) -> tuple[float, float]:
    """rx and ry, each standing for the other where that is missing, negative or `auto`."""
    given: list[float | None] = []
    for key, whole in zip(("rx", "ry"), viewport, strict=True):
        text = element.get(key, "auto").strip()
        value = None if text in ("", "auto") else user_units(text, whole=whole, name=described(element))
        given.append(value if value is None or value >= 0 else None)
    rx, ry = given
    return (ry or 0.0) if rx is None else rx, (rx or 0.0) if ry is None else ry


def _rect(element: etree._Element, viewport: Size) -> list[Strokes]:
    x, width = (_length(element, key, viewport[0]) for key in ("x", "width"))
    y, height = (_length(element, key, viewport[1]) for key in ("y", "height"))
    if not (width > 0 and height > 0):
        return []
    rx, ry = _radii(element, viewport)
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    pen = Pen()
    if rx == 0 or ry == 0:
        pen.move([x, y, x + width, y, x + width, y + height, x, y + height], False)
    else:
        pen.move([x + rx, y], False)
        for edge, end in (
            ((x + width - rx, y), (x + width, y + ry)),
            ((x + width, y + height - ry), (x + width - rx, y + height)),
            ((x + rx, y + height), (x, y + height - ry)),
            ((x, y + ry), (x + rx, y)),
        ):
            if math.hypot(edge[0] - pen.x, edge[1] - pen.y) > 1e-12 * (width + height):
                pen.line([*edge], False)
            pen.arc([rx, ry, 0, 0, 1, *end], False)
    pen.close([], False)
    return pen.done


def _circle(element: etree._Element, viewport: Size) -> list[Strokes]:
    radius = _length(element, "r", math.hypot(*viewport) / math.sqrt(2))
    return _round(element, radius, radius, viewport)


def _ellipse(element: etree._Element, viewport: Size) -> list[Strokes]:
    return _round(element, *_radii(element, viewport), viewport)


def _round(element: etree._Element, rx: float, ry: float, viewport: Size) -> list[Strokes]:
    x, y = _length(element, "cx", viewport[0]), _length(element, "cy", viewport[1])
    if not (rx > 0 and ry > 0):
        return []
    pen = Pen()
    pen.move([x + rx, y], False)
    for end in ((x, y + ry), (x - rx, y), (x, y - ry), (x + rx, y)):
        pen.arc([rx, ry, 0, 0, 1, *end], False)
    pen.close([], False)
    return pen.done


def _line(element: etree._Element, viewport: Size) -> list[Strokes]:
    pen = Pen()
    x1, x2 = (_length(element, key, viewport[0]) for key in ("x1", "x2"))
    y1, y2 = (_length(element, key, viewport[1]) for key in ("y1", "y2"))
    pen.move([x1, y1, x2, y2], False)
    pen.end()
    return pen.done


def _polyline(element: etree._Element, viewport: Size) -> list[Strokes]:
    return _poly(element, closed=False)


def _polygon(element: etree._Element, viewport: Size) -> list[Strokes]:
    return _poly(element, closed=True)


def _poly(element: etree._Element, *, closed: bool) -> list[Strokes]:
    points = numbers(element.get("points", ""))
    if points is None or len(points) % 2:
        raise InputError(f"{described(element)} has points that are not pairs of numbers; redraw it")
    if len(points) < 4:
        return []
    pen = Pen()
    pen.move(points, False)
    if closed:
        pen.close([], False)
    pen.end()
    return pen.done


_SHAPES: dict[str, Callable[[etree._Element, Size], list[Strokes]]] = {
    tag("path"): _path,
    tag("rect"): _rect,
    tag("circle"): _circle,
    tag("ellipse"): _ellipse,
    tag("line"): _line,
    tag("polyline"): _polyline,
    tag("polygon"): _polygon,
}

DRAWABLE = frozenset(_SHAPES)
"""The full names of the elements that `shape` takes."""

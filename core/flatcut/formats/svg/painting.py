"""Strokes and words painted as SVG elements; and flatcut's own drawing of a piece, marked so that it is known again."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

from lxml import etree

from flatcut.drawing.ink import Stroke, Words
from flatcut.drawing.roles import CUT, LABEL, NOTCH, Role
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.marked import mark_of, mean_of
from flatcut.formats.svg.pathdata import unparse
from flatcut.formats.svg.transforms import unparse_transform
from flatcut.formats.svg.vocabulary import own, pack
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import transform
from flatcut.pattern.values import Piece


class Painter:
    """Paints mm into a group. to_mm: the map from the group's user space to document mm."""

    def __init__(self, to_mm: Affine) -> None:
        self._to_local = to_mm.inverse()
        self._scale = 1 / math.sqrt(abs(to_mm.determinant))

    def shape(self, element: etree._Element, stroke: Stroke) -> None:
        """Make a path show a stroke."""
        curves = [transform(curve, self._to_local) for curve in stroke.curves]
        element.set("d", unparse(curves, stroke.closed))
        element.set("style", self._style(stroke.role))

    def paint(self, parent: etree._Element, item: Stroke | Words) -> etree._Element:
        """Add a stroke as a path, or words as a text."""
        if isinstance(item, Words):
            return self._text(parent, item)
        element = etree.SubElement(parent, tag("path"))
        self.shape(element, item)
        return element

    def _style(self, role: Role) -> str:
        dashed = ",".join(_short(dash * self._scale) for dash in role.dashes)
        return (
            f"fill:{role.fill or 'none'};stroke:{role.colour};stroke-width:{_short(role.width * self._scale)};"
            f"stroke-linejoin:miter;stroke-miterlimit:2;stroke-dasharray:{dashed or 'none'}"
        )

    def _text(self, parent: etree._Element, words: Words) -> etree._Element:
        """Letters are upright and never mirrored, whatever the group's own map."""
        turn = Affine.translation(*words.at) @ Affine.rotation(math.radians(words.angle))
        element = etree.SubElement(parent, tag("text"))
        element.set("transform", unparse_transform(self._to_local @ turn))
        style = f"font-family:sans-serif;font-size:{_short(words.height)}px;text-anchor:{words.align}"
        spaced = ";white-space:pre" if any(text.startswith(" ") for text in words.lines) else ""
        bold = ";font-weight:bold" if words.role.bold else ""
        plain = ";stroke:none" if _stroked(parent) else ""
        element.set("style", f"{style}{spaced};fill:{words.role.colour}{bold}{plain}")
        for text, low in zip(words.lines, words.rows, strict=True):
            row = etree.SubElement(element, tag("tspan"))
            row.set("x", "0")
            row.set("y", _short(low))
            row.text = text
        return element


def draw_derived(
    parent: etree._Element, piece: Piece, items: Iterable[Stroke | Words], painter: Painter
) -> etree._Element:
    """Add the group that holds what follows from a piece, and return it."""
    group = etree.SubElement(parent, tag("g"))
    group.set(own("derived"), piece.uid)
    for item in items:
        element = painter.paint(group, item)
        element.set(own("drawn"), item.role.name)
        element.set(own("of"), item.of)
        element.set(own("piece-of"), piece.uid)
        if item.role is CUT and isinstance(item, Stroke):
            element.set(own("last"), unparse(list(item.curves), True))
            if piece.cut_by_hand is not None:
                element.set(own("by-hand"), "true")
        elif item.role is NOTCH and isinstance(item, Stroke):
            element.set(own("at"), pack(mean_of(item.curves).tolist()))
        elif item.role is LABEL and isinstance(item, Words):
            # where it stands and where its first line does: what moves the one by hand moves the other
            first = item.at + Affine.rotation(math.radians(item.angle)).apply([0.0, item.rows[0]])
            element.set(own("at"), pack([*map(float, item.at), *map(float, first)]))
    group.set(own("marks"), pack(Counter(mark_of(element) for element in group if mark_of(element))))
    return group


def _stroked(group: etree._Element) -> bool:
    """Whether letters in a group would be drawn round by a stroke that a group around them states."""
    return any("stroke" in one.attrib or "stroke:" in one.get("style", "") for one in (group, *group.iterancestors()))


def _short(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")

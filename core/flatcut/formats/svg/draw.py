"""The drawing of a piece: what its group holds beside what was drawn by hand. Black ink on white, widths in mm."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
from lxml import etree

from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.pathdata import unparse
from flatcut.formats.svg.transforms import unparse_transform
from flatcut.formats.svg.vocabulary import own, pack
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, transform
from flatcut.marking.derived import Derived
from flatcut.marking.holes import button_symbol, cross_symbol, hole_symbol
from flatcut.marking.labels import LEADING, Label
from flatcut.marking.pens import CAP_DASHES, CUT, GRAIN, INNER, POINT, STITCH, TICK, arrow_heads
from flatcut.pattern.values import Piece

MARKS = ("notch", "point", "hole", "button")
"""Roles of the marks that stay away once they were deleted by hand; the label is one too."""
LABEL_MARK = "label"


class Ink:
    """Draws mm into a group. to_mm: the map from the group's user space to document mm."""

    def __init__(self, to_mm: Affine) -> None:
        self._to_local = to_mm.inverse()
        self._scale = 1 / math.sqrt(abs(to_mm.determinant))

    def data(self, curves: Iterable[Curve], *, closed: bool) -> str:
        """Path data of curves given in mm."""
        return unparse([transform(curve, self._to_local) for curve in curves], closed)

    def style(self, width: float, *, dashes: Sequence[float] = ()) -> str:
        """The style of a line `width` mm wide."""
        dashed = ",".join(_short(d * self._scale) for d in dashes)
        return (
            f"fill:none;stroke:#000000;stroke-width:{_short(width * self._scale)};stroke-linejoin:miter;"
            f"stroke-miterlimit:10;stroke-dasharray:{dashed or 'none'}"
        )

    def path(
        self,
        parent: etree._Element,
        curves: Sequence[Curve],
        width: float,
        *,
        closed: bool = False,
        dashes: Sequence[float] = (),
    ) -> etree._Element:
        """Add a path."""
        element = etree.SubElement(parent, tag("path"))
        element.set("d", self.data(curves, closed=closed))
        element.set("style", self.style(width, dashes=dashes))
        return element

    def text(
        self, parent: etree._Element, lines: Sequence[str], centre: Array, *, height: float, angle: float = 0.0
    ) -> etree._Element:
        """Add lines of text about a centre; letters are upright and never mirrored, whatever the group's own map."""
        turn = Affine.translation(*centre) @ Affine.rotation(math.radians(angle))
        element = etree.SubElement(parent, tag("text"))
        element.set("transform", unparse_transform(self._to_local @ turn))
        element.set("style", f"font-family:sans-serif;font-size:{_short(height)}px;text-anchor:middle;fill:#000000")
        first = -LEADING * (len(lines) - 1) / 2 * height + 0.35 * height
        for k, words in enumerate(lines):
            row = etree.SubElement(element, tag("tspan"))
            row.set("x", "0")
            row.set("y", _short(first + k * LEADING * height))
            row.text = words
        return element


def draw_derived(parent: etree._Element, piece: Piece, derived: Derived, ink: Ink) -> etree._Element:
    """Add the derived group of a piece and return it."""
    group = etree.SubElement(parent, tag("g"))
    group.set(own("derived"), piece.uid)
    if derived.cut is not None:
        cut = ink.path(group, [derived.cut.curve], CUT, closed=True)
        _mark(cut, "cut", piece.uid, piece)
        cut.set(own("last"), unparse([derived.cut.curve], True))
        if piece.cut_by_hand is not None:
            cut.set(own("by-hand"), "true")
    for cap in derived.caps:
        _mark(ink.path(group, [cap], STITCH, dashes=CAP_DASHES), "cap", piece.uid, piece)
    for tick in derived.ticks:
        drawn = ink.path(group, tick.curves, TICK)
        _mark(drawn, "notch", tick.notch.uid, piece)
        drawn.set(own("at"), pack(mean_of(tick.curves).tolist()))
    for point in piece.points:
        cross = ink.path(group, cross_symbol(point.at, POINT), INNER)
        _mark(cross, "point", point.uid, piece)
    for hole in piece.holes:
        around = hole_symbol(piece, hole)
        if around:
            _mark(ink.path(group, around, INNER), "hole", hole.uid, piece)
    for button in piece.buttons:
        _mark(ink.path(group, button_symbol(button), INNER), "button", button.uid, piece)
    for fold in derived.folds:
        _mark(ink.path(group, fold.bracket, GRAIN), "fold", fold.edge, piece)
        if fold.centre is not None:
            text = ink.text(group, [fold.words], fold.centre, height=fold.height, angle=fold.angle)
            _mark(text, "fold-words", fold.edge, piece)
    if piece.grain is not None:
        for head in arrow_heads(piece.grain):
            _mark(ink.path(group, [head], GRAIN), "arrow", piece.uid, piece)
    if derived.label is not None:
        _label(group, derived.label, ink, piece)
    group.set(own("marks"), pack(Counter(mark_of(element) for element in group if mark_of(element))))
    return group


def mark_of(element: etree._Element) -> str:
    """What a mark shows, by its uid, or that it is the label; '' for what follows from the outline and comes again."""
    role = element.get(own("drawn"), "")
    return role if role == LABEL_MARK else (element.get(own("of"), "") if role in MARKS else "")


def mean_of(curves: Iterable[Curve]) -> Array:
    """The mean of the nodes (2,): wherever a drawing is moved or turned to, its mean goes with it."""
    return np.asarray(np.concatenate([curve.nodes for curve in curves]).mean(axis=0))


def _label(group: etree._Element, label: Label, ink: Ink, piece: Piece) -> None:
    text = ink.text(group, label.lines, label.centre, height=label.height, angle=label.angle)
    _mark(text, "label", piece.uid, piece)
    # where it stands and where its first line does: what moves the one by hand moves the other
    first = Affine.rotation(math.radians(label.angle)).apply([0.0, float(text[0].get("y", "0"))])
    text.set(own("at"), pack([*map(float, label.centre), *map(float, label.centre + first)]))
    if label.leader is not None:
        _mark(ink.path(group, [line(*label.leader)], INNER), "leader", piece.uid, piece)


def _mark(element: etree._Element, role: str, of: str, piece: Piece) -> None:
    element.set(own("drawn"), role)
    element.set(own("of"), of)
    element.set(own("piece-of"), piece.uid)


def _short(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")

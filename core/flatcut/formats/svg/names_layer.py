"""The layer that shows the names of edges, darts and points and the last figures. flatcut never prints it."""

from __future__ import annotations

import numpy as np
from lxml import etree

from flatcut.drawing.ink import Words
from flatcut.formats.svg.document import Document
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, tag
from flatcut.formats.svg.painting import Painter
from flatcut.formats.svg.vocabulary import NAMESPACE, PREFIX, own
from flatcut.geometry.arrays import Array, unit
from flatcut.marking.ticks import outward
from flatcut.pattern.spots import on_edge
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import sewn_length

HEIGHT = 6.0
"""mm: letter height of a name."""
WIDTH = 0.6
"""Of the height: about the width of a letter."""
INSIDE = 5.0
"""mm that a name stands off its edge, inside the piece, where the allowance does not run through it."""
LISTED = 12
"""Figures of the last step that are shown: more belong in `flatcut steps`."""


def put_names(document: Document, pattern: Pattern, *, figures: bool = True) -> None:
    """Draw the layer anew, or take it away. figures: whether the last ones stand there, as nowhere else."""
    for old in [g for g in document.root.iter(tag("g")) if g.get(own("names")) is not None]:
        parent = old.getparent()
        if parent is not None:
            parent.remove(old)
    if not pattern.names_shown:
        return
    layer = etree.SubElement(document.root, tag("g"), nsmap={PREFIX: NAMESPACE})
    layer.set("id", document.fresh_id("names"))
    layer.set(own("names"), "shown")
    layer.set(GROUP_MODE, "layer")
    layer.set(LABEL, "names")
    painter = Painter(document.matrix_of(layer))
    for piece in pattern.pieces:
        for words, at, angle in _names(piece):
            painter.paint(layer, Words(lines=(words,), at=at, height=HEIGHT, angle=angle))
    if figures and pattern.steps and pattern.pieces:
        painter.paint(layer, _figures(pattern))


def _names(piece: Piece) -> list[tuple[str, Array, float]]:
    """What stands where, and at which angle (degrees)."""
    found = []
    for edge in piece.edges:
        spot = on_edge(piece, edge, sewn_length(edge) / 2)
        assert spot.tangent is not None
        angle = float(np.degrees(np.arctan2(spot.tangent[1], spot.tangent[0])))
        readable = (angle + 90) % 180 - 90
        found.append((edge.name, spot.point - INSIDE * outward(piece, spot.tangent), readable))
    inside: list[tuple[str, Array]] = []
    for dart in piece.darts:
        middle = dart.feet.mean(axis=0)
        away = unit(dart.points[0] - middle)
        inside.append((dart.name, dart.points[0] + INSIDE * away))
    for point in piece.points:
        inside.append((point.name, point.at + np.array([0.0, INSIDE])))
    for line in piece.lines:
        inside.append((line.name, line.curve.nodes.mean(axis=0) + np.array([0.0, INSIDE])))
    return found + [(words, at, 0.0) for words, at in _apart(inside)]


def _apart(names: list[tuple[str, Array]]) -> list[tuple[str, Array]]:
    """Level names, each moved down past those before it that it would cover, as where a dart ends on a named point.

    >>> [at.round(3).tolist() for _, at in _apart([("a", np.zeros(2)), ("b", np.zeros(2)), ("c", np.ones(2) * 9)])]
    [[0.0, 0.0], [0.0, 7.2], [9.0, 9.0]]
    """
    placed: list[tuple[str, Array]] = []
    for words, at in names:
        while any(
            abs(at[0] - other[0]) < (len(words) + len(text)) / 2 * WIDTH * HEIGHT and abs(at[1] - other[1]) < HEIGHT
            for text, other in placed
        ):
            at = at + np.array([0.0, 1.2 * HEIGHT])
        placed.append((words, at))
    return placed


def _figures(pattern: Pattern) -> Words:
    """The figures of the last step, in the upper left corner of what is drawn."""
    step = pattern.steps[-1]
    figures = [str(figure) for figure in step.figures]
    more = [f"and {len(figures) - LISTED} more"] if len(figures) > LISTED else []
    lines = [step.line[:80], *figures[:LISTED], *more, *(f"! {warning}" for warning in step.warnings)]
    nodes = np.concatenate([part.nodes for piece in pattern.pieces for edge in piece.edges for part in edge.parts])
    corner = nodes.min(axis=0) - np.array([0.0, 15.0 + 1.4 * HEIGHT * len(lines)])
    return Words(lines=tuple(lines), at=corner, height=HEIGHT, align="start")

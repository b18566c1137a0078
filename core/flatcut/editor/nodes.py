"""Selected nodes of an outline, as the places that a person would name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from lxml import etree

from flatcut.errors import UsageError
from flatcut.formats.svg.pathdata import read
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.pattern.places import show_position
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Piece, Position
from flatcut.pattern.walking import point_at, sewn_length, to_sewn

CLOSE = 1e-2
"""mm: a node nearer than this stands on a corner or an edge; the editor's own rounding is a thousandth of it."""


def places(piece: Piece, element: etree._Element, to_mm: Affine, nodes: Sequence[str]) -> list[str]:
    """Places of nodes of a piece's outline, given as the editor counts them: `id:subpath:node`, from 0.

    A corner is `piece.a/b`, a foot or point of a cut-in dart is named as such, any other node is
    `piece.edge@fraction` of the sewn length. Not handled: arcs that the editor has cut into more nodes than the file
    shows. Errors: UsageError for a node that the path does not have, or one inside a dart's leg.
    """
    drawn = node_points(element.get("d", ""))
    found: list[str] = []
    for node in nodes:
        _, subpath, number = node.rsplit(":", 2)
        try:
            at = to_mm.apply(drawn[int(subpath)][int(number)])
        except (IndexError, ValueError):
            raise UsageError(f"{piece.name} has no node {node}; select the nodes anew") from None
        place = place_of(piece, at)
        if place not in found:
            found.append(place)
    return found


def node_points(d: str) -> list[Array]:
    """The nodes of path data, per subpath (n, 2), numbered as the editor's node tool does.

    A last node that lies on the first of a closed path is the first; a node that repeats the one before it counts.

    >>> [len(points) for points in node_points("M0 0H5V5L0 0Z M9 9 H10 C11 9 12 9 12 8")]
    [3, 3]
    """
    found = []
    for strokes in read(d):
        steps = np.where(strokes.straight, 1, 3).astype(int)
        ends = np.concatenate([[0], np.cumsum(steps)])
        points = np.reshape(strokes.points, (-1, 2))[ends]
        if strokes.closed and len(points) > 1 and np.abs(points[-1] - points[0]).max() <= 1e-6 * _size(points):
            points = points[:-1]
        found.append(points)
    return found


def _size(points: Array) -> float:
    return max(float((points.max(axis=0) - points.min(axis=0)).max()), 1e-9)


def place_of(piece: Piece, at: Array) -> str:
    """The place of a point (2,) mm on a piece's outline, as it is written. Errors: UsageError when it is on no edge."""
    for name, point in _named(piece):
        if np.hypot(*(point - at)) <= CLOSE:
            return f"{piece.name}.{name}"
    best = (np.inf, "")
    for edge in piece.edges:
        drawn = nearest_drawn(edge, at)
        away = float(np.hypot(*(point_at(edge, drawn)[0] - at)))
        if away < best[0]:
            fraction = Position(mode="fraction", value=min(to_sewn(edge, drawn) / sewn_length(edge), 1.0))
            best = (away, f"{piece.name}.{edge.name}@{show_position(fraction)}")
    if best[0] > CLOSE:
        raise UsageError(
            f"a selected node of {piece.name} lies inside a dart; select nodes of edges, or the dart's point"
        )
    return best[1]


def _named(piece: Piece) -> list[tuple[str, Array]]:
    """Points of the outline that have a name of their own; a dart in a corner goes before the corner."""
    found: list[tuple[str, Array]] = []
    for dart in piece.darts:
        if dart.form == "cut":
            feet = dart.feet
            found += [
                (f"{dart.name}.foot-1", feet[0]),
                (f"{dart.name}.foot-2", feet[1]),
                (f"{dart.name}.point", dart.points[0]),
            ]
    if len(piece.edges) > 1:
        found += [(f"{edge.name}/{piece.after(edge).name}", edge.end) for edge in piece.edges]
    return found

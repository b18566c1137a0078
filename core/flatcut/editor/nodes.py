"""Selected nodes of an outline, as the places that a person would name."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from lxml import etree

from flatcut.errors import UsageError
from flatcut.formats.svg.pathdata import read
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.pattern.near_places import place_beside, place_of
from flatcut.pattern.values import Piece


def places(
    piece: Piece, element: etree._Element, to_mm: Affine, nodes: Sequence[str], *, beside: bool = False
) -> list[str]:
    """Places of nodes of a piece's outline, given as the editor counts them: `id:subpath:node`, from 0.

    What a node stands for is said by `near_places`; beside: the path is the piece's cut line. Not handled: arcs that
    the editor has cut into more nodes than the file shows. Errors: UsageError for a node that the path does not have.
    """
    found: list[str] = []
    for at in points(element, to_mm, nodes, of=piece.name):
        place = place_beside(piece, at) if beside else place_of(piece, at)
        if place not in found:
            found.append(place)
    return found


def points(element: etree._Element, to_mm: Affine, nodes: Sequence[str], *, of: str) -> list[Array]:
    """Nodes of a path as points (2,) mm. of: what the sentence calls it when there is no such node (UsageError)."""
    drawn = node_points(element.get("d", ""))
    found = []
    for node in nodes:
        _, subpath, number = node.rsplit(":", 2)
        try:
            found.append(to_mm.apply(drawn[int(subpath)][int(number)]))
        except (IndexError, ValueError):
            raise UsageError(f"{of} has no node {number} any more; select the nodes anew") from None
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

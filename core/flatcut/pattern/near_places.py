"""The written place of a point of a drawing: what a node of an outline, or of a cut line beside it, stands for."""

from __future__ import annotations

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.nearest import nearest
from flatcut.pattern.places import show_position
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Piece, Position
from flatcut.pattern.walking import point_at, sewn_length, to_sewn

CLOSE = 1e-2
"""mm: a node nearer than this stands on a corner or an edge; the editor's own rounding is a thousandth of it."""


def place_of(piece: Piece, at: Array) -> str:
    """The place of a point (2,) mm on a piece's outline, as it is written.

    A corner is `piece.a/b`; foot, point and leg of a cut-in dart are named as such; any other point is
    `piece.edge@fraction` of the sewn length. Errors: UsageError when it is on none of these.
    """
    for name, point in _named(piece):
        if np.hypot(*(point - at)) <= CLOSE:
            return f"{piece.name}.{name}"
    away, place = _on_edge(piece, at)
    if away <= CLOSE:
        return place
    for dart in piece.darts:
        for number, leg in enumerate(dart.legs, start=1):
            if dart.form == "cut" and float(nearest(leg, at[None])[1][0]) <= CLOSE:
                return f"{piece.name}.{dart.name}.leg-{number}"
    raise UsageError(f"a selected node of {piece.name} lies on no edge and no dart of it; select the nodes anew")


def place_beside(piece: Piece, at: Array) -> str:
    """The place on the stitch line that a point (2,) mm of the cut line stands beside.

    Within an allowance's width of a corner it is that corner: a mitre's node lies farther out than any point beside
    an edge, and at a hollow corner the nearest point is as far along the edge as the allowance is wide.
    """
    away, place = _on_edge(piece, at)
    corners = [(float(np.hypot(*(edge.end - at))), edge) for edge in piece.edges]
    apart, edge = min(corners, key=lambda pair: pair[0])
    after = piece.after(edge)
    widths = [e.allowance.width for e in (edge, after) if e.allowance is not None]
    near = float(np.hypot(*(edge.end - _point_of(piece, at))))
    if len(piece.edges) > 1 and (near <= 1.01 * max([*widths, CLOSE]) or apart <= away + CLOSE):
        return f"{piece.name}.{edge.name}/{after.name}"
    return place


def _nearest(piece: Piece, at: Array) -> tuple[float, int, float]:
    """How far off the nearest edge is, which one it is, and where on it, in mm as drawn."""
    found = []
    for number, edge in enumerate(piece.edges):
        drawn = nearest_drawn(edge, at)
        found.append((float(np.hypot(*(point_at(edge, drawn)[0] - at))), number, drawn))
    return min(found)


def _point_of(piece: Piece, at: Array) -> Array:
    """The nearest point of the edges, (2,)."""
    _, number, drawn = _nearest(piece, at)
    return point_at(piece.edges[number], drawn)[0]


def _on_edge(piece: Piece, at: Array) -> tuple[float, str]:
    """How far off the nearest edge is, and the place on it."""
    away, number, drawn = _nearest(piece, at)
    edge = piece.edges[number]
    fraction = Position(mode="fraction", value=min(to_sewn(edge, drawn) / sewn_length(edge), 1.0))
    return away, f"{piece.name}.{edge.name}@{show_position(fraction)}"


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

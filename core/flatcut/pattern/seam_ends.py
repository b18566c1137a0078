"""The corners at the ends of seams: what meets there, and at which angle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, tangent
from flatcut.pattern.mating import ON
from flatcut.pattern.runs import Walked
from flatcut.pattern.values import Edge, Piece, area
from flatcut.pattern.walking import sewn_length


@dataclass(frozen=True, kw_only=True)
class SeamEnd:
    """An end of a seam on one piece: the edge that is sewn, and whether it is the edge's end or its start.

    keeper: the edge at whose end the corner is, the sewn one or the one before it.
    """

    piece: Piece
    edge: Edge
    at_end: bool
    keeper: Edge

    @property
    def name(self) -> str:
        """The corner as it is written."""
        return f"{self.piece.name}.{self.keeper.name}/{self.piece.after(self.keeper).name}"

    @property
    def across(self) -> Edge:
        """The edge that the seam runs into."""
        return self.piece.after(self.keeper) if self.at_end else self.keeper

    @property
    def key(self) -> tuple[str, str]:
        """What tells one corner from all others: uids of its piece and of its keeper."""
        return self.piece.uid, self.keeper.uid

    @property
    def angle(self) -> float:
        """Degrees inside the piece."""
        return inside_angle(self.piece, self.keeper)


def seam_end(run: Sequence[Walked], *, first: bool) -> SeamEnd | None:
    """The corner at the start or the end of a walked run.

    None where it stops inside its edge or on an inner line, and where the piece has one edge only.
    """
    step = run[0 if first else -1]
    edge = next((e for e in step.piece.edges if e.uid == step.edge.uid), None)
    if edge is None or len(step.piece.edges) < 2:
        return None
    at_end = step.forward != first
    if (sewn_length(edge) - step.end if at_end else step.start) > ON:
        return None
    keeper = edge if at_end else before(step.piece, edge)
    return SeamEnd(piece=step.piece, edge=edge, at_end=at_end, keeper=keeper)


def before(piece: Piece, edge: Edge) -> Edge:
    """The edge before another in outline order."""
    return next(e for e in piece.edges if piece.after(e).uid == edge.uid)


def inside_angle(piece: Piece, edge: Edge) -> float:
    """Degrees inside the piece at the corner at the end of an edge; a dart that stands in the corner counts as closed.

    >>> from flatcut.geometry.curves import line
    >>> nodes = [(0, 0), (40, 0), (40, 30), (0, 30)]
    >>> sides = [line(nodes[k], nodes[(k + 1) % 4]) for k in range(4)]
    >>> edges = tuple(Edge(uid=str(k), name=f"e{k}", parts=(side,)) for k, side in enumerate(sides))
    >>> inside_angle(Piece(uid="p", name="p", edges=edges), edges[0])
    90.0
    """
    last, first = edge.parts[-1], piece.after(edge).parts[0]
    along, onward = end_way(last), tangent(first, 0.0)
    clockwise = area(piece) > 0
    dart = piece.cut_in(edge, len(edge.parts) - 1)
    if dart is None:
        return _inside(along, onward, clockwise=clockwise)
    legs = tangent(dart.legs[0], 0.0), end_way(dart.legs[1])
    return _inside(along, legs[0], clockwise=clockwise) + _inside(legs[1], onward, clockwise=clockwise)


def tilt(piece: Piece, edge: Edge) -> float:
    """Degrees by which an edge is turned between what it meets at both its ends, where that stands square; above 0 when
    the corner at its end is too wide.

    Where only one of the corners is off square it is that corner that is wrong, and the edge is not turned.

    >>> from flatcut.geometry.curves import line
    >>> nodes = [(0, 0), (40, 0), (40, 30), (2, 30)]
    >>> sides = [line(nodes[k], nodes[(k + 1) % 4]) for k in range(4)]
    >>> edges = tuple(Edge(uid=str(k), name=f"e{k}", parts=(side,)) for k, side in enumerate(sides))
    >>> piece = Piece(uid="p", name="p", edges=edges)
    >>> [round(tilt(piece, edge), 2) for edge in edges]
    [0.0, 0.0, 0.0, -3.81]
    """
    off = inside_angle(piece, edge) - 90.0, 90.0 - inside_angle(piece, before(piece, edge))
    return min(off, key=abs) if off[0] * off[1] > 0 else 0.0


def end_way(curve: Curve) -> Array:
    """Unit direction (2,) of a curve at its end."""
    return tangent(curve, float(len(curve)), before=True)


def _inside(along: Array, onward: Array, *, clockwise: bool) -> float:
    turn = math.degrees(math.atan2(float(cross(along, onward)), float(along @ onward)))
    return 180.0 - (turn if clockwise else -turn)

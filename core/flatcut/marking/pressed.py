"""To which side a cut-in dart is folded: as stated, else as is usual in the trade."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, flatten, tangent
from flatcut.marking.caps import AFTER, BEFORE, OPEN, cap, legs_run_on
from flatcut.pattern.values import Dart, Edge, Piece
from flatcut.pattern.walking import drawn_length

STEEP = math.sqrt(0.5)
"""What lies nearer than 45° to a direction."""


@dataclass(frozen=True, kw_only=True)
class Fold:
    """side: BEFORE or AFTER, where the dart is folded as is usual. toward: 'down', or 'centre'. turned: whether it is
    folded the other way than that, since so folded its end would stand out farther than its mouth is wide."""

    side: str
    toward: str
    turned: bool = False


def pressed_side(piece: Piece, dart: Dart) -> str:
    """BEFORE, AFTER or OPEN: to which side a cut-in dart is pressed, seen along the outline.

    It is open only where that is stated. Where no edge is stated it is folded as is usual.
    """
    if dart.pressed == OPEN:
        return OPEN
    if any(edge.uid == dart.pressed for edge in piece.edges):
        side = nearer_side(piece, dart, dart.pressed)
        if side:
            return side
    return usual_fold(piece, dart).side


def usual_fold(piece: Piece, dart: Dart) -> Fold:
    """How a dart is folded where nothing is stated (common practice, no source).

    A dart that lies within 45° of the level goes down, and so does one on an edge that runs within 45° of the upright,
    as side and armhole do; any other goes toward the centre or fold edge, and where the piece has none to the side that
    is nearer to the middle of the piece. One that lies so aslant on its edge that its end, so folded, would stand out
    beyond its mouth by more than that is wide, and folded the other way by less than half of it, goes the other way.
    """
    toward, side = _by_the_trade(piece, dart)
    mouth = float(np.hypot(*(dart.feet[1] - dart.feet[0])))
    if stands_out(piece, dart, side) > mouth and stands_out(piece, dart, other_side(side)) < mouth / 2:
        return Fold(side=other_side(side), toward=toward, turned=True)
    return Fold(side=side, toward=toward)


def other_side(side: str) -> str:
    """AFTER for BEFORE, BEFORE for AFTER."""
    return BEFORE if side == AFTER else AFTER


def beside(piece: Piece, dart: Dart) -> tuple[Edge, Curve, Edge, Curve]:
    """The edge and its part that end at foot 1, and those that start at foot 2, of a cut-in dart."""
    host = piece.edge_of(dart.host)
    if dart.after < len(host.parts) - 1:
        return host, host.parts[dart.after], host, host.parts[dart.after + 1]
    following = piece.after(host)
    return host, host.parts[-1], following, following.parts[0]


def _by_the_trade(piece: Piece, dart: Dart) -> tuple[str, str]:
    """'down' or 'centre', and the side that is."""
    down = _down(piece)
    one, before, other, after = beside(piece, dart)
    runs = unit(tangent(before, float(len(before)), before=True) + tangent(after, 0.0))
    if one is other and abs(float(runs @ down)) > STEEP:
        return "down", AFTER if float(runs @ down) > 0 else BEFORE
    along = unit(dart.feet.mean(axis=0) - dart.points[0])
    if abs(float(along @ down)) < STEEP:
        return "down", AFTER if float((dart.feet[1] - dart.feet[0]) @ down) > 0 else BEFORE
    middle = middle_edge(piece, dart)
    if middle is not None:
        return "centre", nearer_side(piece, dart, middle.uid)
    centre = np.concatenate([part.nodes for edge in piece.edges for part in edge.parts]).mean(axis=0)
    return "centre", AFTER if float((dart.feet[1] - dart.feet[0]) @ (centre - dart.points[0])) > 0 else BEFORE


def stands_out(piece: Piece, dart: Dart, side: str) -> float:
    """mm that the cap of a dart pressed to a side stands out beyond its mouth; infinite where it has no end."""
    foot = dart.feet[0]
    out = unit(dart.feet.mean(axis=0) - dart.points[0])
    try:
        halves = capped(piece, dart, toward=side)
    except GeometryError:
        return math.inf
    return max(0.0, *(float(((flatten(half, tolerance=0.01) - foot) @ out).max()) for half in halves))


def capped(piece: Piece, dart: Dart, *, toward: str = "", turned: bool = False) -> tuple[Curve, Curve]:
    """The two halves of the cap of a cut-in dart as it is pressed, or toward a side. Errors: as for `cap`."""
    _, before, _, after = beside(piece, dart)
    return cap(dart, before, after, toward=toward or pressed_side(piece, dart), turned=turned)


def in_hem(piece: Piece, dart: Dart) -> bool:
    """Whether a dart opens on a hem, in the turn of which its legs are sewn on as their mirror image."""
    host = piece.edge_of(dart.host)
    return host.use == "hem" and (dart.form == "lines" or dart.after < len(host.parts) - 1)


def legs_sewn_on(piece: Piece, dart: Dart) -> tuple[Array, Array]:
    """The unit directions (2,) in which the legs of a dart with one point are sewn on through the allowance."""
    if not in_hem(piece, dart):
        return legs_run_on(dart)
    if dart.form == "lines":
        level = unit(dart.feet[1] - dart.feet[0])
        return legs_run_on(dart, (level, level))
    _, before, _, after = beside(piece, dart)
    return legs_run_on(dart, (tangent(before, float(len(before)), before=True), tangent(after, 0.0)))


def middle_edge(piece: Piece, dart: Dart) -> Edge | None:
    """The fold or centre edge that darts are folded toward, or a seam on the centre line; None where there is none but
    the dart's own."""
    for use in ("fold", "centre", ""):
        for edge in piece.edges:
            if (edge.use == use if use else edge.middle) and edge.uid != dart.host:
                return edge
    return None


def _down(piece: Piece) -> Array:
    """Unit direction toward the hem, along the grain; y of the drawing where the piece has no grain line."""
    if piece.grain is None:
        return np.array([0.0, 1.0])
    along = unit(piece.grain.end - piece.grain.start)
    hems = [edge for edge in piece.edges if edge.use == "hem"]
    if hems:
        middle = np.concatenate([part.nodes for edge in hems for part in edge.parts]).mean(axis=0)
        toward = middle - (piece.grain.start + piece.grain.end) / 2
        if abs(float(toward @ along)) > 1.0:
            return along if toward @ along > 0 else -along
    return along if along[1] >= 0 else -along


def nearer_side(piece: Piece, dart: Dart, toward: str) -> str:
    """The side of a cut-in dart from which the edge `toward` (a uid) is the shorter way along the outline.

    '' where both sides are that edge.
    """
    order = [edge.uid for edge in piece.edges]
    here = order.index(dart.host)
    host = piece.edges[here]
    corner = dart.after == len(host.parts) - 1
    if not corner and toward == dart.host:
        return ""
    back = 0.0 if corner and toward == dart.host else _way(piece.edges, here, order.index(toward), -1)
    start = (here + 1) % len(order) if corner else here
    onward = 0.0 if start == order.index(toward) else _way(piece.edges, start, order.index(toward), 1)
    return BEFORE if back <= onward else AFTER


def _way(edges: tuple[Edge, ...], here: int, there: int, step: int) -> float:
    """mm of whole edges that lie between two edges, going one way round."""
    total, k = 0.0, (here + step) % len(edges)
    while k != there:
        total += drawn_length(edges[k])
        k = (k + step) % len(edges)
    return total

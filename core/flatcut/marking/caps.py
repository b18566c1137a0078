"""Dart caps: the edge across an open dart, shaped so that the folded dart ends on the seam line.

Fold the dart as it will be pressed and cut along the seam: next to the leg it is folded toward, the cap is the mirror
image of that side's seam edge across that leg; the other half is the mirror image of the first about the dart's axis
(which is the same edge turned by the dart's angle). Pressed open, each half mirrors its own side's edge; where the two
edges make different angles with the legs, the halves end at different places of the axis with a step between them.
Of a curved leg it is the direction at the foot that the cloth is folded over there.
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, line, reverse, tangent, transform
from flatcut.pattern.mirrored import between, mirrored_half
from flatcut.pattern.values import Dart, Edge, Piece
from flatcut.pattern.walking import drawn_length

BEFORE, AFTER, OPEN = "before", "after", "open"
"""The sides of a dart, seen along the outline: the edge that ends at foot 1, and the one that starts at foot 2."""

STEP = 0.01
"""mm: two halves that end this near to each other end at one place; a step so small would only trouble an offset."""


def pressed_side(piece: Piece, dart: Dart) -> str:
    """BEFORE, AFTER or OPEN: to which side a cut-in dart is pressed, seen along the outline.

    It is open only where that is stated. Where no edge is stated it is folded as is usual: a dart that lies within 45°
    of the level goes down, any other toward the centre or fold edge, and where the piece has none to the side that is
    nearer to the middle of the piece (common practice, no source).
    """
    if dart.pressed == OPEN:
        return OPEN
    if any(edge.uid == dart.pressed for edge in piece.edges):
        side = nearer_side(piece, dart, dart.pressed)
        if side:
            return side
    if lies_level(piece, dart):
        return AFTER if float((dart.feet[1] - dart.feet[0]) @ _down(piece)) > 0 else BEFORE
    middle = middle_edge(piece, dart)
    if middle is not None:
        return nearer_side(piece, dart, middle.uid)
    centre = np.concatenate([part.nodes for edge in piece.edges for part in edge.parts]).mean(axis=0)
    return AFTER if float((dart.feet[1] - dart.feet[0]) @ (centre - dart.points[0])) > 0 else BEFORE


def lies_level(piece: Piece, dart: Dart) -> bool:
    """Whether a dart lies within 45° of the level, that is across the grain."""
    along = unit(dart.feet.mean(axis=0) - dart.points[0])
    return bool(abs(float(along @ _down(piece))) < np.sqrt(0.5))


def middle_edge(piece: Piece, dart: Dart) -> Edge | None:
    """The fold or centre edge that darts are folded toward; None where there is none but the dart's own."""
    for use in ("fold", "centre"):
        for edge in piece.edges:
            if edge.use == use and edge.uid != dart.host:
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


def capped(piece: Piece, dart: Dart, *, toward: str = "") -> tuple[Curve, Curve]:
    """The two halves of the cap of a cut-in dart as it is pressed, or toward a side. Errors: as for `cap`."""
    edge = piece.edge_of(dart.host)
    last = dart.after == len(edge.parts) - 1
    following = piece.after(edge).parts[0] if last else edge.parts[dart.after + 1]
    return cap(dart, edge.parts[dart.after], following, toward=toward or pressed_side(piece, dart))


def cap(dart: Dart, before: Curve, after: Curve, *, toward: str = OPEN) -> tuple[Curve, Curve]:
    """The two halves of a cap in outline order, foot 1 to the axis and the axis to foot 2.

    before, after: the edge's parts that end at foot 1 and start at foot 2; toward: BEFORE, AFTER or OPEN.
    Pressed open they may end at different places of the axis; ends less than STEP apart are brought together.
    Errors: GeometryError when an edge runs so steeply along its leg that its image never meets the axis.

    Legs of 12 with an intake of 3 and an edge square to them give a peak 12.0949 from the point (closed form).

    >>> from flatcut.geometry.curves import line
    >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-15, 0), (0, 119)), line((0, 119), (15, 0))))
    >>> first, second = cap(dart, line((-90, 0), (-15, 0)), line((15, 0), (90, 0)))
    >>> bool(first.end[1] < 0), bool(np.allclose(first.end, second.start))
    (True, True)
    """
    apex, foot_1, foot_2 = dart.points[0], dart.feet[0], dart.feet[1]
    axis = unit(unit(foot_1 - apex) + unit(foot_2 - apex))
    ways = (
        (foot_1 + tangent(dart.legs[0], 0.0), foot_1),
        (foot_2 - tangent(dart.legs[1], float(len(dart.legs[1])), before=True), foot_2),
    )
    about_axis = Affine.reflection(apex, apex + axis)
    if toward == BEFORE:
        first = _half(reverse(before), apex, ways[0], axis, dart.name)
        second = transform(first, about_axis)
    elif toward == AFTER:
        second = _half(after, apex, ways[1], axis, dart.name)
        first = transform(second, about_axis)
    else:
        first = _half(reverse(before), apex, ways[0], axis, dart.name)
        second = _half(after, apex, ways[1], axis, dart.name)
    second = reverse(second)
    peaks = first.end, second.start
    if np.linalg.norm(peaks[1] - peaks[0]) <= STEP:
        peaks = ((peaks[0] + peaks[1]) / 2,) * 2
    return _ending(first, foot_1, peaks[0]), _ending(second, peaks[1], foot_2)


def _ending(curve: Curve, start: Array, end: Array) -> Curve:
    """A half with its ends on the foot and the peak; where the legs differ it is drawn so much longer or shorter."""
    apart = max(float(np.hypot(*(curve.start - start))), float(np.hypot(*(curve.end - end))))
    if apart > STEP and np.hypot(*(curve.end - curve.start)) > STEP:
        curve = transform(curve, Affine.similarity((curve.start, curve.end), (start, end)))
    return between(curve, start, end)


def _half(away: Curve, apex: Array, leg: tuple[Array, Array], axis: Array, name: str) -> Curve:
    """The edge that leaves the foot, mirrored across the leg, up to the dart's axis.

    leg: two points of it, the second the foot; of a curved leg that of its direction there.
    """
    reach = 4 * float(np.linalg.norm(leg[1] - apex))
    return mirrored_half(away, leg, line(apex, apex + reach * axis), reach=reach, name=name)

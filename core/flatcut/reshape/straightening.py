"""A fold or centre edge that a step has bent, drawn straight again, and what lies along it or ends on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, signed_angle
from flatcut.geometry.curves import Curve, chain, flatten, line, point, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.region import contains
from flatcut.pattern.values import Edge, Figure, Line, Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import with_edge
from flatcut.reshape.ways import SHORT, Way, Ways

PARALLEL = 1.0
"""Degrees: an edge this near to the direction of the grain line lies on the grain."""
STEPS = 16
"""Places on each span of a bent edge from which it is told where a place goes when it is drawn straight."""


def straight_again(pattern: Pattern, before: Piece, uid: str) -> tuple[Pattern, list[Figure], tuple[str, ...]]:
    """The pattern with an edge that a step has bent drawn straight; figures, and what could not be carried over.

    Lines that lie outside then are cut back. before: the piece before the step: an edge that was on the grain stays on
    it. Errors: UsageError when a dart leaves no room for it.
    """
    bent = pattern.piece_of(before.uid)
    edge = bent.edge_of(uid)
    change, moved = straightened(bent, edge)
    pattern, dropped = applied(pattern, change)
    piece = pattern.piece_of(before.uid)
    piece = lines_cut_back(piece, piece.edge_of(uid), bent)
    if runs_along(before, before.edge_of(uid)):
        piece = grain_along(piece, piece.edge_of(uid))
    name = f"{piece.name}.{edge.name}"
    figures = [
        Figure(f"{name} drawn straight, largest move", moved),
        Figure(f"{name} longer by", drawn_length(piece.edge_of(uid)) - drawn_length(edge)),
    ]
    return pattern.with_piece(piece), figures, dropped


def straightened(piece: Piece, edge: Edge) -> tuple[Change, float]:
    """The edge drawn straight from its start to its end, and the largest move of a node in mm.

    A dart that opens on it keeps its point and its angle and stands square to the edge.
    Errors: UsageError when several darts open on it.
    """
    hosted = [piece.cut_in(edge, k) for k in range(len(edge.parts) - 1)]
    if len(hosted) > 1:
        raise UsageError(f"several darts open on {piece.name}.{edge.name}, so it cannot be straightened; move one away")
    start, end = edge.start, edge.end
    old = np.concatenate([part.nodes for part in edge.parts])
    along = (end - start) / float(np.hypot(*(end - start)))
    largest = float(np.abs((old - start) @ np.array([-along[1], along[0]])).max())
    parts: tuple[Curve, ...] = (line(start, end),)
    darts = piece.darts
    if hosted and hosted[0] is not None:
        dart = hosted[0]
        apex = dart.points[0]
        foot = start + float((apex - start) @ along) * along
        half = float(np.hypot(*(apex - foot))) * math.tan(abs(signed_angle(*(dart.feet - apex))) / 2)
        feet = foot - half * along, foot + half * along
        if float((feet[0] - start) @ along) <= 0 or float((end - feet[1]) @ along) <= 0:
            raise UsageError(
                f"the dart leaves no room on a straight {piece.name}.{edge.name}; choose another place for it"
            )
        parts = (line(start, feet[0]), line(feet[1], end))
        moved = replace(dart, legs=(line(feet[0], apex), line(apex, feet[1])))
        darts = tuple(moved if d.uid == dart.uid else d for d in piece.darts)
        # the farthest move is that of a foot, or of a node that lay off the line
        largest = max(largest, *(float(np.hypot(*(a - b))) for a, b in zip(feet, dart.feet, strict=True)))
    changed = with_edge(piece, replace(edge, parts=parts), darts)
    return Change(pieces=(changed,), ways={edge.uid: _square_to(edge, parts)}), largest


def _square_to(edge: Edge, parts: Sequence[Curve]) -> Ways:
    """Where places of an edge go that is drawn straight: along each part they keep their share of the way along it."""
    ways: list[Way] = []
    reached = at = 0.0
    for old, new in zip(edge.parts, parts, strict=True):
        places = np.linspace(0.0, len(old), STEPS * len(old) + 1)
        along = (point(old, places) - old.start) @ (old.end - old.start)
        shares = np.maximum.accumulate(np.clip(along / along[-1], 0.0, 1.0))
        lengths = [length_to(old, float(u)) for u in places]
        size = length(new)
        knots = zip(lengths, (shares * size).tolist(), strict=True)
        ways += [Way(reached + a, reached + b, edge.uid, at + c, at + d) for (a, c), (b, d) in pairwise(knots)]
        reached, at = reached + lengths[-1], at + size
    return tuple(way for way in ways if way.end - way.start > SHORT)


def grain_along(piece: Piece, edge: Edge) -> Piece:
    """The piece with its grain line turned about its middle so that it runs along an edge."""
    grain = piece.grain
    if grain is None:
        return piece
    along, old = edge.end - edge.start, grain.end - grain.start
    turn = signed_angle(old, along if along @ old > 0 else -along)
    middle = (grain.start + grain.end) / 2
    about = Affine.rotation(turn, (float(middle[0]), float(middle[1])))
    return replace(piece, grain=replace(grain, start=about.apply(grain.start), end=about.apply(grain.end)))


def runs_along(piece: Piece, edge: Edge) -> bool:
    """Whether an edge as a whole runs along the grain line."""
    if piece.grain is None:
        return False
    turn = math.degrees(signed_angle(piece.grain.end - piece.grain.start, edge.end - edge.start))
    return abs((turn + 90) % 180 - 90) <= PARALLEL


def lines_cut_back(piece: Piece, edge: Edge, before: Piece) -> Piece:
    """The piece with lines that stick out over a straightened edge or its dart cut back; what lies outside is gone.

    before: the piece with the edge bent: a line that lay outside of it was drawn there, and stays.
    """
    ring, old = _ring(piece), _ring(before)
    walls = [*edge.parts, *(leg for dart in piece.darts if dart.host == edge.uid for leg in dart.legs)]
    lines = []
    for item in piece.lines:
        met = sorted(c.u for wall in walls for c in crossings(item.curve, wall))
        places = [0.0, *(u for u in met if 1e-6 < u < len(item.curve) - 1e-6), float(len(item.curve))]
        middles = np.array([point(item.curve, (a + b) / 2) for a, b in pairwise(places)])
        inside = np.flatnonzero(contains(ring, middles))
        if len(inside):
            lines.append(_from_to(item, places[inside[0]], places[inside[-1] + 1]) if met else item)
        elif not contains(old, middles).any():
            lines.append(item)
    return replace(piece, lines=tuple(lines))


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.02)


def _from_to(item: Line, start: float, end: float) -> Line:
    if start == 0.0 and end == len(item.curve):
        return item
    return replace(item, curve=section(item.curve, start, end))

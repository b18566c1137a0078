"""Corners that were made by hand inside an edge, where it becomes two."""

from __future__ import annotations

import numpy as np

from flatcut.formats.svg.matching import SAME, Match
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, tangent
from flatcut.pattern.tracing import CORNER_ANGLE, turns
from flatcut.pattern.values import Edge, Piece
from flatcut.pattern.walking import drawn_of, to_sewn


def new_corners(piece: Piece, found: Match) -> dict[str, list[float]]:
    """Sewn mm from its start of the corners inside each edge (by uid) that a hand has made.

    A corner inside an edge that was there already is none, wherever it has been moved to. Where one was moved and nodes
    were put in beside it, it cannot be told from a new one, and none is.
    """
    if found.how != "edited":
        return {}
    inside = {edge.uid: _corners(edge) for edge in piece.edges}
    if not any(inside.values()):
        return {}
    known = _known(found)
    fresh = {
        uid: [along for along, at in row if not len(known) or np.abs(known - at).max(axis=-1).min() > SAME]
        for uid, row in inside.items()
    }
    return {uid: row for uid, row in fresh.items() if row}


def _known(found: Match) -> Array:
    """Where the corners now stand, (n, 2) mm, that were there before, and those that may have been."""
    was, now = (np.abs(turns(ring)) > CORNER_ANGLE for ring in (found.last, found.curve))
    old, new = found.last.controls[:, 0], found.curve.controls[:, 0]
    kept: list[int] = []
    for k, (first, start) in enumerate(zip(found.marks, found.starts, strict=True)):
        after = (k + 1) % len(found.marks)
        before = [(first + i) % len(old) for i in range(1, (found.marks[after] - first) % len(old) or len(old))]
        drawn = [(start + i) % len(new) for i in range(1, (found.starts[after] - start) % len(new) or len(new))]
        sharp = [node for node in before if was[node]]
        if len(before) == len(drawn):
            kept += [b for a, b in zip(before, drawn, strict=True) if was[a]]
            continue
        stand = [node for node in drawn if any(np.abs(old[a] - new[node]).max() <= SAME for a in sharp)]
        kept += stand if len(stand) >= len(sharp) else [node for node in drawn if now[node]]
    return new[kept]


def _corners(edge: Edge) -> list[tuple[float, Array]]:
    """The corners inside an edge that stand in no dart's mouth: sewn mm from its start, and where, (2,) mm."""
    found = []
    for k, part in enumerate(edge.parts):
        for node in np.flatnonzero(np.abs(_inner_turns(part)) > CORNER_ANGLE) + 1:
            found.append((to_sewn(edge, drawn_of(edge, k, float(node))), np.asarray(part.controls[node, 0])))
    return found


def _inner_turns(part: Curve) -> Array:
    """Degrees that a curve turns at each node between its ends."""
    nodes = np.arange(1, len(part))
    into, out = tangent(part, nodes, before=True), tangent(part, nodes)
    return np.asarray(np.degrees(np.arctan2(cross(into, out), np.sum(into * out, axis=-1))))

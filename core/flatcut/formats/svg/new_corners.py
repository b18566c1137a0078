"""Corners that were made by hand inside an edge: there the edge becomes two."""

from __future__ import annotations

import numpy as np

from flatcut.formats.svg.matching import SAME, Match
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, tangent
from flatcut.pattern.places import Place
from flatcut.pattern.tracing import CORNER_ANGLE, turns
from flatcut.pattern.values import Edge, Pattern, Piece, Position, Step
from flatcut.pattern.walking import drawn_of, sewn_length, to_sewn
from flatcut.reshape.change import applied
from flatcut.reshape.splitting import split_edge


def new_corners(piece: Piece, found: Match) -> dict[str, list[float]]:
    """Sewn mm from its start of the corners inside each edge (by uid) that a hand has made.

    Where a corner inside an edge was there already and has moved it cannot be told from a new one, and none is.
    """
    if found.how != "edited":
        return {}
    inside = {edge.uid: _corners(edge) for edge in piece.edges}
    if not any(inside.values()):
        return {}
    sharp = np.flatnonzero(np.abs(turns(found.last)) > CORNER_ANGLE)
    before = found.last.controls[[k for k in sharp if k not in found.marks], 0]
    now: Array = np.array([at for row in inside.values() for _, at in row])
    if len(before) and (np.abs(before[:, None] - now[None]).max(axis=-1).min(axis=1) > SAME).any():
        return {}
    fresh = {
        uid: [along for along, at in row if not len(before) or np.abs(before - at).max(axis=-1).min() > SAME]
        for uid, row in inside.items()
    }
    return {uid: row for uid, row in fresh.items() if row}


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


def with_corners(pattern: Pattern, made: dict[str, dict[str, list[float]]]) -> tuple[Pattern, list[Step], list[str]]:
    """The pattern with edges split at new corners, the steps that split them, and sentences.

    made: by uid of the piece, then of the edge. The first part keeps the edge's name, the others get numbers.
    """
    steps: list[Step] = []
    said: list[str] = []
    for uid, edges in made.items():
        for edge_uid, places in edges.items():
            name = pattern.piece_of(uid).edge_of(edge_uid).name
            parts, off = [name], 0.0
            for along in places:
                piece = pattern.piece_of(uid)
                edge = piece.edge(parts[-1])
                second = next(one for k in range(2, 999) if (one := f"{name}-{k}") not in piece.names())
                at = Position(mode="fraction", value=round((along - off) / sewn_length(edge), 6))
                place = Place(piece=piece.name, name=edge.name, at=at)
                pattern = applied(
                    pattern, split_edge(pattern, piece, edge, along - off, names=(edge.name, second))
                ).pattern
                names = "" if second == f"{edge.name}-2" else f" --names={edge.name},{second}"
                steps.append(Step(line=f"edge {place}{names} --split=true", about=(f"{piece.name}.{edge.name}",)))
                parts.append(second)
                off = along
            own = pattern.piece_of(uid).name
            number = "a corner was" if len(places) == 1 else f"{len(places)} corners were"
            now = ", ".join(f"{own}.{part}" for part in parts[:-1])
            said.append(f"{number} made in {own}.{name} by hand: it is now {now} and {own}.{parts[-1]}")
    return pattern, steps, said

"""Nodes that were moved by hand, one for one: each is a `move`, which a recipe repeats on another size.

In the editor a node takes its two handles with it, and what is straight beside it stays straight; so the outline as it
is drawn now follows from the one last written by a move of each node. Where it does not within SAME mm, handles were
bent or spans redrawn, nothing here is told of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.formats.svg.matching import SAME
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve
from flatcut.pattern.values import Dart, Piece

MOST = 12
"""Nodes moved in one go: where more have moved somebody has drawn anew."""


@dataclass(frozen=True, kw_only=True)
class NodeMove:
    """A node of an edge (uid): number of the part and of the node on it, and by what it was moved, (2,) mm.

    corner: whether it is the end of the edge, so that the next edge goes with it.
    """

    edge: str
    part: int
    node: int
    by: Array
    corner: bool


def moved_nodes(before: Piece, now: Piece) -> tuple[NodeMove, ...]:
    """The nodes that were moved, where nothing else was changed; none where something was."""
    if [e.uid for e in before.edges] != [e.uid for e in now.edges] or not _same_darts(before, now):
        return ()
    found: list[NodeMove] = []
    for old, new in zip(before.edges, now.edges, strict=True):
        if len(old.parts) != len(new.parts):
            return ()
        for k, (was, part) in enumerate(zip(old.parts, new.parts, strict=True)):
            if len(was) != len(part) or (was.straight != part.straight).any():
                return ()
            by = part.nodes - was.nodes
            if not _only_nodes(was, part, by):
                return ()
            for j in np.flatnonzero(np.abs(by).max(axis=1) > SAME):
                at_end = int(j) == len(was)
                if 0 < j < len(was):
                    found.append(NodeMove(edge=old.uid, part=k, node=int(j), by=by[j], corner=False))
                elif at_end and k == len(old.parts) - 1:
                    found.append(NodeMove(edge=old.uid, part=k, node=int(j), by=by[j], corner=True))
    return tuple(found) if len(found) <= MOST else ()


def _same_darts(before: Piece, now: Piece) -> bool:
    def drawn(dart: Dart) -> list[Curve]:
        return list(dart.legs)

    pairs = zip(before.darts, now.darts, strict=True)
    return len(before.darts) == len(now.darts) and all(
        len(a) == len(b) and float(np.abs(a.controls - b.controls).max()) <= SAME
        for one, other in pairs
        for a, b in zip(drawn(one), drawn(other), strict=True)
    )


def _only_nodes(was: Curve, now: Curve, by: Array) -> bool:
    """Whether the handles of each node went with it."""
    controls = np.array(was.controls)
    controls[:, :2] += by[:-1, None]
    controls[:, 2:] += by[1:, None]
    away = np.abs(controls - now.controls).max(axis=(-2, -1))
    return bool((away[~was.straight] <= 2 * SAME).all())

"""Moves of nodes done as steps do them, so that the drawing is what a replay of its steps gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flatcut.arguments import parse_line
from flatcut.drafting.ends import across, neighbour
from flatcut.drafting.moving import end_moved, place_moved
from flatcut.errors import FlatcutError
from flatcut.formats.svg.moved_nodes import NodeMove
from flatcut.geometry.curves import tangent
from flatcut.pattern.places import Place
from flatcut.pattern.values import Edge, Pattern, Piece, Position, Step
from flatcut.pattern.walking import drawn_length, drawn_of, sewn_length, to_drawn, to_sewn
from flatcut.truing.following import followed
from flatcut.truing.truing import marks_followed
from flatcut.units import plain

EXACT = 0.01
"""mm by which the outline that the moves give may stray from the drawn one."""
DIGITS = 4
"""Of a mm, in the line of a step."""


def with_moves(
    pattern: Pattern, before: Piece, now: Piece, moves: tuple[NodeMove, ...]
) -> tuple[Pattern, list[Step]] | None:
    """The pattern with a piece on which nodes were moved as by the steps told; None where these do not give it.

    before: the piece with its edges and darts as they were; now: as they are drawn.
    """
    start = replace(now, edges=before.edges, darts=before.darts)
    changed, steps = pattern.with_piece(start), []
    try:
        for move in moves:
            piece = changed.piece_of(start.uid)
            line, made = _moved(piece, move)
            changed = followed(changed, [marks_followed(piece, made)]).pattern
            steps.append(Step(line=line))
    except FlatcutError:
        return None
    done = changed.piece_of(start.uid)
    for a, b in zip(done.edges, now.edges, strict=True):
        for one, other in zip(a.parts, b.parts, strict=True):
            if len(one) != len(other) or float(np.abs(one.controls - other.controls).max()) > EXACT:
                return None
    return changed, steps


def _moved(piece: Piece, move: NodeMove) -> tuple[str, Piece]:
    """The line of a move, and the piece as it leaves it."""
    edge = piece.edge_of(move.edge)
    part = edge.parts[move.part]
    way = tangent(part, float(move.node), before=move.node >= len(part))
    by, along = (round(float(move.by @ side), DIGITS) for side in (across(piece, way), way))
    if move.corner:
        other = neighbour(piece, edge, at_end=True)
        ends = [(edge, len(edge.parts) - 1, len(part) - 1), (other, 0, 1)]
        at = Place(piece=piece.name, name=edge.name, at=Position(mode="fraction", value=1.0))
        straight = ""
    else:
        ends = [(edge, move.part, move.node - 1), (edge, move.part, move.node + 1)]
        at, straight = _place(piece, edge, move.part, move.node), " --straight=true"
    froms = [_place(piece, *end) for end in ends]
    drawn = [to_drawn(on, p.at.along(sewn_length(on))) for (on, _, _), p in zip(ends, froms, strict=True) if p.at]
    if move.corner:
        reach = (drawn_length(edge) - drawn[0], drawn[1])
        made = end_moved(piece, edge, by, along, reach, at_end=True)
    else:
        assert at.at is not None
        here = to_drawn(edge, at.at.along(sewn_length(edge)))
        made = place_moved(piece, edge, here, by, (drawn[0], drawn[1]), along=along, straight=True)
    words = f" --along={plain(along, DIGITS)}" if along else ""
    step = parse_line(f"move {at} --by={plain(by, DIGITS)}{words} --from={froms[0]},{froms[1]}{straight}")
    assert step is not None
    return step.line(), made


def _place(piece: Piece, edge: Edge, part: int, node: int) -> Place:
    """A node as a place that counts in parts of its edge."""
    share = to_sewn(edge, drawn_of(edge, part, float(node))) / sewn_length(edge)
    return Place(piece=piece.name, name=edge.name, at=Position(mode="fraction", value=round(share, 7)))

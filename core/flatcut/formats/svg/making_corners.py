"""Edges split where a hand has made a corner in them, as steps do it."""

from __future__ import annotations

from flatcut.pattern.places import Place
from flatcut.pattern.values import Pattern, Position, Step
from flatcut.pattern.walking import sewn_length
from flatcut.reshape.change import applied
from flatcut.reshape.splitting import split_edge


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

"""Corner kinds carried over a change: a corner stands while both its edges meet there."""

from __future__ import annotations

from dataclasses import replace

from flatcut.pattern.values import BY_USE, Corner, Edge, Piece
from flatcut.reshape.tracks import END, START, Tracks


def with_corners(tracks: Tracks, piece: Piece) -> tuple[Piece, set[tuple[str, str]]]:
    """The piece with the corner kinds that its edges' ends had before, and those corners, by edge and piece, uids.

    A corner whose edges no longer meet is one of which nothing is said. The corner at the end of an edge that is new
    all along is left.
    """
    edges, carried = [], set()
    for edge in piece.edges:
        known = edge.uid in tracks.closes or any(way.to == edge.uid for some in tracks.ways.values() for way in some)
        if not known:
            edges.append(edge)
            continue
        found = _corner(tracks, piece, edge)
        if found is not None:
            edges.append(replace(edge, corner=found[0]))
            carried.add(found[1])
        else:
            edges.append(replace(edge, corner=Corner()))
    return replace(piece, edges=tuple(edges)), carried


def lost_corners(tracks: Tracks, carried: set[tuple[str, str]]) -> list[str]:
    """Sentences on the corners with a kind of their own that stand no longer."""
    said = []
    for piece in tracks.was:
        for edge in piece.edges:
            if (edge.corner.kind or edge.corner.limit != BY_USE.limit) and (piece.uid, edge.uid) not in carried:
                corner = f"{piece.name}.{edge.name}/{piece.after(edge).name}"
                said.append(f"the corner {corner} is gone, which was to be {edge.corner.kind or 'cut to a limit'}")
    return said


def _corner(tracks: Tracks, piece: Piece, edge: Edge) -> tuple[Corner, tuple[str, str]] | None:
    """The corner at an edge's end as it was between the same edges, and where it was."""
    closed, begun = tracks.closes.get(edge.uid), tracks.begins.get(piece.after(edge).uid)
    if closed is None or begun is None:
        return None
    was = tracks.old[closed[0]][0]
    turned = closed[1] == START
    # on an edge that runs the other way now the corner was at its start, which is the end of the edge before it
    before, after = (begun, closed) if turned else (closed, begun)
    if before[1] != END or after[1] != START:
        return None
    first = was.edge_of(before[0])
    if was.after(first).uid != after[0]:
        return None
    corner = first.corner
    beside = {before[0]: edge.uid if not turned else piece.after(edge).uid}
    beside.setdefault(after[0], piece.after(edge).uid if not turned else edge.uid)
    through = corner.through
    if through in beside:
        through = beside[through]
    elif through in tracks.ways:
        through = tracks.ways[through][0].to if tracks.ways[through] else ""
    if corner.through and not through:
        return None
    return (corner if through == corner.through else replace(corner, through=through)), (was.uid, first.uid)

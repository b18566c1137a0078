"""An edge split in two, and two edges that follow one another merged to one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from flatcut.errors import UsageError
from flatcut.geometry.curves import split
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.pattern.walking import SLACK, drawn_length, drawn_of, part_at, sewn_length, to_drawn
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import cycle, rebuilt
from flatcut.reshape.ways import Way, Ways


def split_edge(pattern: Pattern, piece: Piece, edge: Edge, sewn: float, *, names: tuple[str, str]) -> Change:
    """`edge` split `sewn` mm from its start; its first half keeps the uid.

    Errors: UsageError at an end of the edge or inside a take-up.
    """
    if not SLACK < sewn < sewn_length(edge) - SLACK:
        raise UsageError(f"{piece.name}.{edge.name} is split at its own end; choose a place between its ends")
    drawn = to_drawn(edge, sewn)
    for takeup in edge.takeups:
        if takeup.start + SLACK < drawn < takeup.end - SLACK:
            raise UsageError(f"{piece.name}.{edge.name} is split inside its {takeup.kind}; choose a place outside it")
    k, u = part_at(edge, drawn)
    drawn = drawn_of(edge, k, u)
    second = Edge(
        uid=Uids(pattern.uids()).fresh("split", edge.uid, names[1]),
        name=names[1],
        parts=edge.parts[-1:],
        use=edge.use,
        centre=edge.centre,
    )
    items = cycle(piece)
    here = [i for i, item in enumerate(items) if item.part and item.of == edge.uid]
    # a dart that stands at the place stands in the new corner then, at the end of the first half
    if u < len(edge.parts[k]) - 1e-12:
        before, after = split(edge.parts[k], u)
        items[here[k] : here[k] + 1] = [replace(items[here[k]], curve=curve) for curve in (before, after)]
        here = [*here[: k + 1], *(i + 1 for i in here[k:])]
    for i in here[k + 1 :]:
        items[i] = replace(items[i], of=second.uid)
    first = replace(edge, name=names[0])
    edges = tuple(new for old in piece.edges for new in ((first, second) if old.uid == edge.uid else (old,)))
    changed = rebuilt(replace(piece, edges=edges), items, {dart.uid: dart for dart in piece.darts})
    total = drawn_length(edge)
    ways = (Way(0.0, drawn, edge.uid, 0.0, drawn), Way(drawn, total, second.uid, 0.0, total - drawn))
    return Change(pieces=(changed,), ways={edge.uid: ways})


def merged(piece: Piece, into: Mapping[str, str]) -> tuple[Piece, dict[str, Ways]]:
    """The piece with edges that follow one another as one, and where they lie on it.

    into: uid of an edge -> uid of the one beside it of which it becomes a part; that one keeps its name and use.

    >>> from flatcut.geometry.curves import line
    >>> ring = [(0, 0), (0, 40), (0, 100), (50, 50)]
    >>> edges = [Edge(uid=f"e{k}", name=f"e{k}", parts=(line(ring[k], ring[(k + 1) % 4]),)) for k in range(4)]
    >>> one, ways = merged(Piece(uid="p", name="p", edges=tuple(edges)), {"e1": "e0"})
    >>> [edge.uid for edge in one.edges], len(one.edges[0].parts[0]), ways["e1"]
    (['e0', 'e2', 'e3'], 1, (Way(start=0.0, end=60.0, to='e0', at=40.0, till=100.0),))
    """
    order = [edge.uid for edge in piece.edges]
    to = {uid: into.get(uid, uid) for uid in order}
    ways: dict[str, Ways] = {}
    for k, uid in enumerate(order):
        if to[order[k - 1]] == to[uid] and len(order) > 1:
            continue
        reached = 0.0
        while to[order[k % len(order)]] == to[uid] and order[k % len(order)] not in ways:
            edge = piece.edges[k % len(order)]
            size = drawn_length(edge)
            ways[edge.uid] = (Way(0.0, size, to[uid], reached, reached + size),)
            reached, k = reached + size, k + 1
    items = [replace(item, of=to[item.of]) if item.part else item for item in cycle(piece)]
    edges = tuple(edge for edge in piece.edges if edge.uid not in into)
    joined = rebuilt(replace(piece, edges=edges), items, {dart.uid: dart for dart in piece.darts})
    return joined, {uid: some for uid, some in ways.items() if uid in into or uid in into.values()}

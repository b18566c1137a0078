"""A copy of a piece with identities of its own."""

from __future__ import annotations

from dataclasses import replace

from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Mark, Piece


def renewed(piece: Piece, uids: Uids, *, name: str) -> Piece:
    """The same piece under another name, every uid new; what refers to an edge follows.

    >>> from flatcut.geometry.curves import polyline
    >>> from flatcut.pattern.values import Edge
    >>> ring = polyline([(0, 0), (9, 0), (0, 9), (0, 0)])
    >>> first = Piece(uid="p", name="a", edges=(Edge(uid="e", name="e1", parts=(ring,)),))
    >>> second = renewed(first, Uids(first.uid), name="b")
    >>> second.name, second.uid != first.uid, second.edges[0].name
    ('b', True, 'e1')
    """
    uid = uids.fresh("copy", piece.uid, name)
    named = [thing.uid for thing in piece.things()]
    fresh = {old: uids.fresh("copy", uid, old) for old in named}

    def again(mark: Mark) -> Mark:
        mark = mark.referring(fresh)
        return mark if mark.single else replace(mark, uid=fresh.get(mark.uid) or uids.fresh("copy", uid, mark.uid))

    return replace(
        piece.with_marks(again),
        uid=uid,
        name=name,
        edges=tuple(
            replace(
                edge,
                uid=fresh[edge.uid],
                takeups=tuple(replace(t, uid=uids.fresh("copy", uid, t.uid)) for t in edge.takeups),
                corner=replace(edge.corner, through=fresh.get(edge.corner.through, edge.corner.through)),
            )
            for edge in piece.edges
        ),
        darts=tuple(
            replace(
                dart,
                uid=fresh[dart.uid],
                host=fresh.get(dart.host, dart.host),
                pressed=fresh.get(dart.pressed, dart.pressed),
            )
            for dart in piece.darts
        ),
        origin="",
    )


def free_name(name: str, taken: set[str]) -> str:
    """`name`, or the first of name-2, name-3 ... that is not taken.

    >>> free_name("front", {"front", "front-2"})
    'front-3'
    """
    if name not in taken:
        return name
    count = 2
    while f"{name}-{count}" in taken:
        count += 1
    return f"{name}-{count}"


def numbered(stem: str, taken: set[str]) -> str:
    """The first of stem-1, stem-2 ... that is not taken.

    >>> numbered("line", {"line-1"})
    'line-2'
    """
    count = 1
    while f"{stem}-{count}" in taken:
        count += 1
    return f"{stem}-{count}"

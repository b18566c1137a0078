"""What a piece was derived from: of which pieces it was made and how they were drawn then.

Frozen values; mm, document coordinates of the time. `values.py` hands them on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.pattern.edges import Edge
from flatcut.pattern.finish import Position
from flatcut.pattern.walking import SLACK, drawn_length, points_at, sewn_length, to_drawn

LOOKS = 9
"""Places along a stretch that are remembered, its ends among them."""
ROUNDED = 4
"""Decimals of mm in which they are remembered, so that what is read back is equal."""


@dataclass(frozen=True, kw_only=True)
class Taken:
    """A stretch of an edge as it was when a piece was made of it.

    piece, edge: uids; start, end: along its sewn line, None where the edge starts and ends; at: LOOKS places at equal
    distances along it as drawn, x and y in mm.
    """

    piece: str
    edge: str
    at: tuple[tuple[float, float], ...]
    start: Position | None = None
    end: Position | None = None


@dataclass(frozen=True, kw_only=True)
class Source:
    """What a piece was made of.

    kind: the operation that makes such pieces, as 'facing' or 'collar'; 'fusing' for a copy inside its piece.
    of: uids of the pieces, the main one first; none where it was made from lengths. line: what draws it anew, '' for a
    copy that stays as it is, whatever becomes of its source. taken: what it depends on; nothing where it
    follows by its seams alone.
    """

    kind: str
    of: tuple[str, ...]
    line: str = ""
    taken: tuple[Taken, ...] = ()

    def followed(self, pieces: Mapping[str, tuple[str, ...]]) -> Source:
        """The source where pieces (uid) have become others: several, one, or none.

        >>> Source(kind="copy", of=("a", "b")).followed({"a": ("a", "c"), "b": ()}).of
        ('a', 'c')
        """
        if not set(pieces) & set(self.of):
            return self
        return replace(self, of=tuple(dict.fromkeys(new for uid in self.of for new in pieces.get(uid, (uid,)))))

    def renewed(self, uids: Mapping[str, str]) -> Source:
        """The source where pieces and edges are called otherwise: old uid to new."""
        taken = (replace(t, piece=uids.get(t.piece, t.piece), edge=uids.get(t.edge, t.edge)) for t in self.taken)
        return replace(self, of=tuple(uids.get(uid, uid) for uid in self.of), taken=tuple(taken))


def looks(edge: Edge, start: Position | None = None, end: Position | None = None) -> Array:
    """The places (LOOKS, 2) along a stretch of an edge that a piece made of it remembers.

    >>> from flatcut.geometry.curves import line
    >>> looks(Edge(uid="e", name="hem", parts=(line((0, 0), (80, 0)),)), end=Position(mode="start", value=16.0))[1]
    array([2., 0.])
    """
    total = sewn_length(edge)
    low, high = (
        default if at is None else to_drawn(edge, min(max(at.along(total), 0.0), total))
        for at, default in ((start, 0.0), (end, drawn_length(edge)))
    )
    return points_at(edge, np.linspace(low, high, LOOKS))


def taken(piece: str, edge: Edge, start: Position | None = None, end: Position | None = None) -> Taken:
    """A stretch of an edge of the piece with that uid as it is now."""
    at = looks(edge, start, end).round(ROUNDED) + 0.0
    return Taken(piece=piece, edge=edge.uid, start=start, end=end, at=tuple((float(x), float(y)) for x, y in at))


def changes(source: Source, edges: Mapping[str, tuple[str, Edge]]) -> dict[str, float]:
    """By how many mm what a piece was made of has moved since, by uid of the edge; inf for an edge that is gone.

    edges: all edges there are, by uid, with the uid of their piece. A piece that was moved, turned or flipped over as a
    whole has not changed: what was taken of one piece is laid on itself as well as it can be first.
    """
    found: dict[str, float] = {}
    for uid in dict.fromkeys(t.piece for t in source.taken):
        rows = [t for t in source.taken if t.piece == uid]
        here = [t for t in rows if t.edge in edges]
        found |= {t.edge: np.inf for t in rows if t.edge not in edges}
        if not here:
            continue
        was = np.array([t.at for t in here])
        now = np.array([looks(edges[t.edge][1], t.start, t.end) for t in here])
        away = np.hypot(*np.moveaxis(_laid(was.reshape(-1, 2), now.reshape(-1, 2)).reshape(was.shape) - now, -1, 0))
        for t, apart in zip(here, away.max(axis=1), strict=True):
            found[t.edge] = max(found.get(t.edge, 0.0), float(apart))
    return found


def _laid(at: Array, to: Array) -> Array:
    """Points (n, 2) laid on others, (n, 2) too, by a rigid motion or with a mirror image: whichever lies nearer.

    After a fit by least squares (Kabsch 1976) it is fitted again by the half that lies best, some times over: what has
    changed then stands out, instead of pulling everything along.
    """
    best: tuple[float, Array] = (np.inf, at)
    for flip in (False, True):
        image = Affine.scaling(-1, 1).apply(at) if flip else at
        kept, before = np.ones(len(at), dtype=bool), np.zeros(len(at), dtype=bool)
        for _ in range(8):
            if (kept == before).all():
                break  # fitted by the same points again it would lie as it does
            before = kept
            middle, centre = image[kept].mean(axis=0), to[kept].mean(axis=0)
            u, _, vt = np.linalg.svd((image[kept] - middle).T @ (to[kept] - centre))
            turn = u @ np.diag([1.0, np.linalg.det(u @ vt)]) @ vt
            laid: Array = (image - middle) @ turn + centre
            miss = np.hypot(*(laid - to).T)
            kept = miss <= np.median(miss) + SLACK
        if float(np.median(miss)) < best[0] - SLACK:
            best = float(np.median(miss)), laid
        if best[0] <= SLACK:
            break  # the other cannot lie nearer by SLACK
    return best[1]


def source_record(source: Source) -> dict[str, Any]:
    """Plain data that it is made from again."""
    rows = [
        [t.piece, t.edge, *(None if at is None else [at.mode, at.value] for at in (t.start, t.end)), t.at]
        for t in source.taken
    ]
    said: dict[str, Any] = {"kind": source.kind, "of": list(source.of), "line": source.line, "taken": rows}
    return {key: value for key, value in said.items() if value}


def read_source(record: Any) -> Source:
    """The source of a record. Errors: LookupError, TypeError, ValueError for a damaged one.

    >>> made = Source(kind="facing", of=("p",), taken=(Taken(piece="p", edge="e", at=((0.0, 1.5),) * LOOKS),))
    >>> read_source(source_record(made)) == made
    True
    """
    texts = (record["kind"], *record.get("of", ()), record.get("line", ""))
    if not all(isinstance(text, str) for text in texts) or not record["kind"]:
        raise ValueError("no source")
    return Source(
        kind=record["kind"],
        of=tuple(record.get("of", ())),
        line=record.get("line", ""),
        taken=tuple(_read_taken(*row) for row in record.get("taken", ())),
    )


def _read_taken(piece: str, edge: str, start: Any, end: Any, at: Any) -> Taken:
    places = tuple((float(x), float(y)) for x, y in at)
    if len(places) != LOOKS or not np.isfinite(places).all() or not isinstance(edge, str) or not isinstance(piece, str):
        raise ValueError("no place")
    ends = (None if one is None else Position(mode=str(one[0]), value=float(one[1])) for one in (start, end))
    first, last = ends
    if not all(
        one is None or (one.mode in ("fraction", "start", "end") and np.isfinite(one.value)) for one in (first, last)
    ):
        raise ValueError("no place")
    return Taken(piece=piece, edge=edge, start=first, end=last, at=places)

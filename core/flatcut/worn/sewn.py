"""Pieces as they are sewn: halves and mates added, and what is joined made one vertex.

Seams and darts are closed before anything moves: the vertices that meet are one from the start, and each triangle keeps
its own flat shape. So no seam stands open, however it is held, and what is eased or gathered in is drawn up by itself.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.length import length
from flatcut.geometry.region import Ints
from flatcut.pattern.runs import Walked, walk
from flatcut.pattern.values import Pattern, Piece, RunPart, Seam, area
from flatcut.pattern.walking import to_drawn, to_sewn
from flatcut.worn.cells import CENTRE, SAME, Cells, filled

WHOLLY = 0.98
"""Of a stretch that is taken up, for it to be folded and not drawn up."""


class Copy(NamedTuple):
    """A piece of cloth: a drawn piece as it is, or turned over."""

    piece: str
    turned: bool


class Meeting(NamedTuple):
    """Two copies along a seam: the vertices of either that meet, in the order of the seam."""

    one: Copy
    two: Copy
    mine: list[int]
    its: list[int]


class Joint(NamedTuple):
    """Places that a seam brings together: on each side a copy, the uid of an edge and drawn mm along it."""

    one: tuple[Copy, str, float]
    two: tuple[Copy, str, float]


@dataclass(frozen=True, kw_only=True)
class Sewn:
    """A sewn garment. copies: pieces of cloth, in order; flat (v, 2): vertices of all copies as drawn, turned over for
    those that are (x is then measured backwards); first: where each copy's vertices begin.

    joined (v,): the number of the sewn vertex that each of them is; count: how many there are.
    triangles (t, 3) of vertices of copies; owner (t,): which copy each belongs to.
    lines: what is drawn on the sewn garment: name -> sewn vertices in order.
    plane: sewn vertices on the centre line, where only one half of a garment is there that is the same on both sides.
    """

    copies: Sequence[Copy]
    cells: Mapping[str, Cells]
    flat: Array
    first: Sequence[int]
    joined: Ints
    count: int
    triangles: Ints
    owner: Ints
    lines: Sequence[tuple[str, Sequence[int]]]
    meetings: Sequence[Meeting]
    plane: Ints

    def vertices(self, copy: Copy, uid: str) -> list[int]:
        """The sewn vertices along an edge of a copy, in its stored direction."""
        k = self.copies.index(copy)
        return [int(self.joined[self.first[k] + on.vertex]) for on in self.cells[copy.piece].edges[uid]]


def alone(piece: Piece) -> bool:
    """Whether there is one of a piece: it is cut for one side only, as by its edges or as its label says.

    >>> alone(Piece(uid="p", name="front", edges=(), cut_as="single", side="left"))
    True
    """
    return piece.one_sided or (piece.cut_as == "single" and bool(piece.side))


def copies_of(piece: Piece) -> tuple[Copy, ...]:
    """The pieces of cloth that a paper piece stands for, once each: halves of a fold count as two."""
    one = Copy(piece.uid, False)
    return (one,) if alone(piece) else (one, Copy(piece.uid, True))


def sewn(pattern: Pattern, pieces: Sequence[Piece], wide: float, *, whole: bool = False) -> Sewn:
    """The pieces cut, turned and sewn as the pattern states: one half of them where both are alike, unless `whole`.

    wide: mm between vertices. Errors: GeometryError.
    """
    there = {piece.uid: piece for piece in pieces}
    by_seam = [list(_joints(pattern, seam, there, wide)) for seam in seams_of(pattern, there)]
    joints = [joint for found in by_seam for joint in found]
    wanted: dict[tuple[str, str], list[float]] = defaultdict(list)
    for joint in joints:
        for copy, uid, at in joint:
            wanted[copy.piece, uid].append(at)
    folded = {piece.uid: list(_folded(piece)) for piece in pieces}
    for piece in pieces:
        for uid, start, end in folded[piece.uid]:
            wanted[piece.uid, uid] += [start, end]
    cells = {
        piece.uid: filled(piece, {uid: at for (of, uid), at in wanted.items() if of == piece.uid}, wide)
        for piece in pieces
    }
    copies = [copy for piece in pieces for copy in copies_of(piece)]
    half = [] if whole else _one_half(copies, joints)
    copies = half or copies
    first = np.concatenate([[0], np.cumsum([len(cells[copy.piece].points) for copy in copies])])
    begin = {copy: int(first[k]) for k, copy in enumerate(copies)}
    union = Union(int(first[-1]))
    meetings: list[Meeting] = []
    middle: list[int] = []
    for copy in copies:
        for a, b in cells[copy.piece].closed:
            union.join(begin[copy] + a, begin[copy] + b)
        for uid, start, end in folded[copy.piece]:
            ends = [*cells[copy.piece].at(uid, start), *cells[copy.piece].at(uid, end)]
            for a, b in pairwise(ends):
                union.join(begin[copy] + a, begin[copy] + b)
    for piece in pieces:
        for mine in _middles(piece, cells[piece.uid], joints):
            one, two = Copy(piece.uid, False), Copy(piece.uid, True)
            if half:
                copy = one if one in begin else two
                middle += [begin[copy] + v for v in mine]
                continue
            meetings.append(Meeting(one, two, [begin[one] + v for v in mine], [begin[two] + v for v in mine]))
    for found in by_seam:
        pairs: dict[tuple[Copy, Copy], Meeting] = {}
        for (one, edge_a, x), (two, edge_b, y) in found:
            if half and one.piece == two.piece and one != two:
                copy, uid, place = (one, edge_a, x) if one in begin else (two, edge_b, y)
                middle += [begin[copy] + v for v in cells[copy.piece].at(uid, place)]
            if one not in begin or two not in begin:
                continue
            met = pairs.setdefault((one, two), Meeting(one, two, [], []))
            for a in cells[one.piece].at(edge_a, x):
                for b in cells[two.piece].at(edge_b, y):
                    if a in cells[one.piece].dropped or b in cells[two.piece].dropped:
                        continue
                    met.mine.append(begin[one] + a)
                    met.its.append(begin[two] + b)
        meetings += pairs.values()
    for copy in copies:
        for a, b in cells[copy.piece].dropped.items():
            union.join(begin[copy] + a, begin[copy] + b)
    meetings = [meeting for meeting in meetings if meeting.mine]
    for meeting in meetings:
        for a, b in zip(meeting.mine, meeting.its, strict=True):
            union.join(a, b)
    joined, count = union.numbers()
    flat = np.vstack([_flat(cells[copy.piece].points, copy) for copy in copies])
    triangles, owner = [], []
    for k, copy in enumerate(copies):
        mine = cells[copy.piece].triangles + first[k]
        triangles.append(mine[:, ::-1] if copy.turned else mine)
        owner.append(np.full(len(mine), k))
    lines = [
        (name, [int(joined[begin[copy] + v]) for v in found])
        for copy in copies
        for name, found in _drawn(cells[copy.piece])
    ]
    return Sewn(
        copies=copies,
        cells=cells,
        flat=flat,
        first=[int(k) for k in first],
        joined=joined,
        count=count,
        triangles=np.vstack(triangles),
        owner=np.concatenate(owner),
        lines=lines,
        meetings=meetings,
        plane=np.unique(joined[np.array(middle, dtype=int)]),
    )


def _folded(piece: Piece) -> Iterator[tuple[str, float, float]]:
    """Pleats and tucks, which are closed where they open on an edge that is sewn, and hang free at a hem: its uid, and
    drawn mm from where to where."""
    for edge in piece.edges:
        if edge.use == "hem":
            continue
        for takeup in edge.takeups:
            if takeup.kind in ("pleat", "tuck") and takeup.amount > WHOLLY * (takeup.end - takeup.start):
                yield edge.uid, takeup.start, takeup.end


def _one_half(copies: Sequence[Copy], joints: Sequence[Joint]) -> list[Copy]:
    """One of each two copies, all on one side of the body; nothing where the two sides are not the same."""
    if any(Copy(copy.piece, not copy.turned) not in copies for copy in copies):
        return []
    near: dict[Copy, set[Copy]] = defaultdict(set)
    for (one, *_), (two, *_) in joints:
        if one.piece != two.piece:
            near[one].add(two)
            near[two].add(one)
    found: list[Copy] = []
    for start in copies:
        if start in found or Copy(start.piece, not start.turned) in found:
            continue
        queue = [start]
        while queue:
            copy = queue.pop()
            if copy not in found:
                found.append(copy)
                queue += near[copy]
    if any(Copy(copy.piece, not copy.turned) in found for copy in found):
        return []
    return [copy for copy in copies if copy in found]


def _flat(points: Array, copy: Copy) -> Array:
    return points * (-1.0, 1.0) if copy.turned else points


def _drawn(cells: Cells) -> Iterator[tuple[str, list[int]]]:
    for edge in cells.piece.edges:
        yield edge.use, [on.vertex for on in cells.edges[edge.uid]]
    for one, _ in cells.legs.values():
        yield "dart", list(one)


def _middles(piece: Piece, cells: Cells, joints: Sequence[Joint]) -> Iterator[list[int]]:
    """Vertices on the centre line that are closed onto their own mirror image: along folds, openings that are done up,
    and a centre line inside, where the two sides lap and are buttoned."""
    if alone(piece):
        return
    seamed = {(copy.piece, uid) for joint in joints for copy, uid, _ in joint}
    for edge in piece.edges:
        if not edge.middle:
            continue
        if edge.use in ("fold", "centre") or (edge.use == "opening" and (piece.uid, edge.uid) not in seamed):
            yield [on.vertex for on in cells.edges[edge.uid]]
    if CENTRE in cells.inner:
        yield list(cells.inner[CENTRE])


def centre_of(piece: Piece) -> Array | None:
    """The two ends (2, 2) of a piece's centre line, an edge of it or a line inside; None where it has none."""
    for edge in piece.edges:
        if edge.middle or edge.name == CENTRE:
            return np.array([edge.start, edge.end])
    for line in piece.lines:
        if line.name == CENTRE:
            return np.array([line.curve.start, line.curve.end])
    return None


def seams_of(pattern: Pattern, there: Mapping[str, Piece]) -> Iterator[Seam]:
    """The seams of which every part is worn, and an edge."""
    for seam in pattern.seams:
        parts = (*seam.a, *seam.b)
        if all(part.piece in there and _is_edge(there[part.piece], part.of) for part in parts):
            yield seam


def _is_edge(piece: Piece, uid: str) -> bool:
    return any(edge.uid == uid for edge in piece.edges)


class _Side(NamedTuple):
    walked: Walked
    copy: Copy
    begin: float


def _sides(steps: Sequence[Walked], parts: Sequence[RunPart], turned: bool, sense: bool | None) -> list[_Side]:
    """The copies that a run is walked over. sense: whether it must run with the outline as it lies face up."""
    found: list[_Side] = []
    begin = 0.0
    for step, part in zip(steps, parts, strict=True):
        side = part.mirrored != turned
        if alone(step.piece):
            side = False
            if sense is not None and runs_with(step, side) != sense:
                # sewn as it is walked, this one piece would come to lie wrong side out: its other end comes first
                step = replace(step, forward=not step.forward)
        elif sense is None:
            sense = runs_with(step, side)
        elif runs_with(step, side) != sense:
            side = not side
        found.append(_Side(step, Copy(step.piece.uid, side), begin))
        begin += step.sewn
    return found


def runs_with(step: Walked, turned: bool) -> bool:
    """Whether a walked part runs clockwise round its piece of cloth as that lies face up."""
    return (step.forward != turned) == (area(step.piece) > 0)


def _joints(pattern: Pattern, seam: Seam, there: Mapping[str, Piece], wide: float) -> Iterator[Joint]:
    a = walk(pattern, seam.a)
    b = walk(pattern, seam.b, reversed=seam.reversed)
    b_parts = seam.b[::-1] if seam.reversed else seam.b
    once = any(alone(there[part.piece]) for part in (*seam.a, *seam.b))
    for turned in (False,) if once else (False, True):
        one = _sides(a, seam.a, turned, None)
        sense = runs_with(one[0].walked, one[0].copy.turned)
        two = _sides(b, b_parts, turned, not sense)
        for share in _shares(one, two, wide):
            for mine in _at(one, share):
                for its in _at(two, share):
                    yield Joint(mine, its)


def _total(side: Sequence[_Side]) -> float:
    return side[-1].begin + side[-1].walked.sewn


def _shares(one: Sequence[_Side], two: Sequence[_Side], wide: float) -> list[float]:
    """Fractions of a seam at which vertices meet."""
    found = {0.0, 1.0}
    for side in (one, two):
        total = _total(side)
        for part in side:
            found.update(min(max((part.begin + at) / total, 0.0), 1.0) for at in _breaks(part.walked))
    knots = sorted(found)
    least = SAME / max(_total(one), _total(two))
    knots = [at for k, at in enumerate(knots) if k == 0 or at - knots[k - 1] > least]
    drawn = max(_drawn_total(side) for side in (one, two))
    shares = [knots[0]]
    for a, b in pairwise(knots):
        parts = max(1, int(np.ceil((b - a) * drawn / wide - 1e-9)))
        shares += [a + (b - a) * k / parts for k in range(1, parts + 1)]
    return shares


def _drawn_total(side: Sequence[_Side]) -> float:
    return sum(to_drawn(p.walked.edge, p.walked.end) - to_drawn(p.walked.edge, p.walked.start) for p in side)


def _breaks(step: Walked) -> Iterator[float]:
    """Sewn mm along a walked part at which something begins: its ends, feet of darts, take-ups."""
    before, places = 0.0, [step.start, step.end]
    for part in step.edge.parts[:-1]:
        before += length(part)
        places.append(to_sewn(step.edge, before))
    places += [to_sewn(step.edge, at) for t in step.edge.takeups for at in (t.start, t.end)]
    for at in places:
        if step.start - SAME <= at <= step.end + SAME:
            yield at - step.start if step.forward else step.end - at


def _at(side: Sequence[_Side], share: float) -> Iterator[tuple[Copy, str, float]]:
    """The places of a run at a fraction of its sewn length; two where one part ends and the next begins."""
    along = share * _total(side)
    for part in side:
        here = along - part.begin
        if -SAME <= here <= part.walked.sewn + SAME:
            here = min(max(here, 0.0), part.walked.sewn)
            sewn = part.walked.start + here if part.walked.forward else part.walked.end - here
            edge = part.walked.edge
            drawn = {round(to_drawn(edge, sewn), 6)}
            for takeup in edge.takeups:
                drawn |= {round(at, 6) for at in (takeup.start, takeup.end) if abs(to_sewn(edge, at) - sewn) <= SAME}
            for at in drawn:
                yield part.copy, edge.uid, at


class Union:
    """Vertices that become one."""

    def __init__(self, count: int) -> None:
        self.up = list(range(count))

    def root(self, k: int) -> int:
        """The first of all that one has become one with."""
        while self.up[k] != k:
            self.up[k] = self.up[self.up[k]]
            k = self.up[k]
        return k

    def join(self, a: int, b: int) -> None:
        """Make two one."""
        a, b = self.root(a), self.root(b)
        if a != b:
            self.up[max(a, b)] = min(a, b)

    def numbers(self) -> tuple[Ints, int]:
        """The new number of each, and how many there are."""
        roots = np.array([self.root(k) for k in range(len(self.up))])
        _, numbers = np.unique(roots, return_inverse=True)
        return numbers, int(numbers.max()) + 1

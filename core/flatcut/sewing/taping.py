"""Two opened outlines taped together along a stretch of each: one outline, and what became of the edges of both.

What both have left beyond an end of the stretch opens there as a dart with its point at that end; what only one has
left stays an edge. Edges of one name that run on into each other are one edge.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, tangent
from flatcut.geometry.length import length
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Piece
from flatcut.reshape.cycle import Item, rebuilt
from flatcut.reshape.ways import Way, Ways
from flatcut.sewing.opened import Opened, Side, Span, refuse_dart_in
from flatcut.units import plain

BENT_FOLD = 0.1
"""Degrees that a fold may be off straight where two are joined: cloth folds along a straight line."""

Key = tuple[str, int]


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """Where two edges became one. edge: uid of that; at: mm from its start as drawn; kink: degrees it bends there;
    opens: a dart stands there."""

    edge: str
    name: str
    at: float
    kink: float
    opens: bool


@dataclass(frozen=True, kw_only=True)
class Taped:
    """piece: the still piece with the whole outline and all darts of both but those on what is joined; ways: of the
    edges of both; opens: the darts that opened; renamed: old and new names of what the other piece brought along;
    meetings: in order of the outline.
    """

    piece: Piece
    ways: dict[str, Ways]
    opens: tuple[Dart, ...]
    meetings: tuple[Meeting, ...]
    renamed: tuple[tuple[str, str], ...]


@dataclass
class _Ring:
    """The outline while it is made. into: which block of an edge becomes part of which; kinks: by the two that met."""

    spans: list[Span] = field(default_factory=list)
    into: dict[Key, Key] = field(default_factory=dict)
    kinks: dict[tuple[Key, Key], float] = field(default_factory=dict)


def taped(still: Side, held: Opened, laid: Piece, onto: Opened, opens: Sequence[str], uids: Uids) -> Taped:
    """The outline of both. laid: the other piece where it lies, of which `onto` is the opened outline.

    opens: names of the darts that open, in the order of the outline; where there is none, that of the edge with -dart.
    Errors: UsageError for edges of one name that cannot be one, for a dart in the way, and for names that are too many.
    """
    own, new = [*held.post, *held.around, *held.pre], [*onto.post, *onto.around, *onto.pre]
    first = (own[-1].item.curve.end + new[0].item.curve.start) / 2
    second = (new[-1].item.curve.end + own[0].item.curve.start) / 2
    own, new = _welded(own, second, first), _welded(new, first, second)
    post, around, pre = _divided(own, held)
    their_post, their_around, their_pre = _divided(new, onto)
    taken = still.piece.names() | laid.names()
    ring, darts = _Ring(), list[Dart]()
    for before, leg, other in ((around, pre, their_post), (their_around, their_pre, post)):
        ring.spans += before
        if leg and other:
            refuse_dart_in(still.piece, [*leg, *other], still)
            name = _opening(opens, len(darts), f"{still.edge.name}-dart", taken)
            dart = _open(leg, other, name, uids.fresh("opens", still.edge.uid, str(len(darts))))
            darts.append(dart)
            ring.spans += [_leg(dart, 0), _leg(dart, 1)]
        else:
            ring.spans += [*leg, *other]
    if len(opens) > len(darts):
        said = "opens nowhere" if not darts else f"opens in {len(darts)} place{'s' if len(darts) > 1 else ''} only"
        raise UsageError(f"{len(opens)} darts are named, and the seam {said}; leave out the names that are too many")
    return _put_together(still, laid, ring, darts, uids)


def _divided(spans: list[Span], was: Opened) -> tuple[list[Span], list[Span], list[Span]]:
    post, pre = len(was.post), len(spans) - len(was.pre)
    return spans[:post], spans[post:pre], spans[pre:]


def _opening(opens: Sequence[str], k: int, name: str, taken: set[str]) -> str:
    if k < len(opens):
        return opens[k]
    name = free_name(name, taken)
    taken.add(name)
    return name


def _open(leg: Sequence[Span], other: Sequence[Span], name: str, uid: str) -> Dart:
    legs = tuple(chain([span.item.curve for span in some], within=1e-6) for some in (leg, other))
    return Dart(uid=uid, name=name, legs=(legs[0], legs[1]), host=leg[0].item.of)


def _leg(dart: Dart, k: int) -> Span:
    return Span(item=Item(of=dart.uid, curve=dart.legs[k], leg=k))


def _welded(spans: list[Span], start: Array, end: Array) -> list[Span]:
    """Spans that follow one another with the first point and the last moved a hair."""
    head = replace(spans[0], item=replace(spans[0].item, curve=starting_at(spans[0].item.curve, start)))
    spans = [head, *spans[1:]]
    last = spans[-1]
    return [*spans[:-1], replace(last, item=replace(last.item, curve=ending_at(last.item.curve, end)))]


def _put_together(still: Side, laid: Piece, ring: _Ring, darts: Sequence[Dart], uids: Uids) -> Taped:
    mine = {edge.uid: edge for edge in still.piece.edges}
    edges = {**mine, **{edge.uid: edge for edge in laid.edges}}
    _merge(still.piece, laid, ring, edges, mine)
    spans = _from_the_first(still.piece, ring)
    keys = list(dict.fromkeys(_into(ring, span.key) for span in spans if span.item.part))
    names = still.piece.names() - {edge.name for edge in still.piece.edges} | {dart.name for dart in darts}
    made: dict[Key, Edge] = {}
    renamed: list[tuple[str, str]] = []
    # what stays keeps its name, what is brought along gives way
    for key in sorted(keys, key=lambda key: (key[0] not in mine, key[1])):
        old = edges[key[0]]
        parts = [edges[other[0]].name for other in _of(ring, key, spans)]
        others = {edges[other[0]].name for other in keys if other != key}
        wanted = _stem(old.name) if len(set(parts)) > 1 and _stem(old.name) not in others else old.name
        name = free_name(wanted, names)
        if key[0] not in mine and name != old.name:
            renamed.append((old.name, name))
        names.add(name)
        uid = old.uid if all(edge.uid != old.uid for edge in made.values()) else uids.fresh("join", old.uid, name)
        made[key] = replace(old, uid=uid, name=name)
    ways, meetings = _ways(ring, spans, made)
    items = []
    for span in spans:
        item = span.item
        items.append(replace(item, of=made[_into(ring, span.key)].uid) if item.part else item)
    standing = {span.item.of for span in spans}
    every = [d for d in (*still.piece.darts, *laid.darts) if d.uid in standing or d.double or d.form == "lines"]
    every += darts
    whole = rebuilt(replace(still.piece, edges=tuple(made[key] for key in keys)), items, {d.uid: d for d in every})
    return Taped(
        piece=whole,
        ways=ways,
        opens=tuple(d for d in whole.darts if any(d.uid == dart.uid for dart in darts)),
        meetings=tuple(meetings),
        renamed=tuple(renamed),
    )


def _merge(still: Piece, laid: Piece, ring: _Ring, edges: Mapping[str, Edge], mine: Iterable[str]) -> None:
    """Edges of one name that follow on one another, from different pieces, as one."""
    parts = [span for span in ring.spans if span.item.part]
    for a, b in zip(parts, [*parts[1:], parts[0]], strict=True):
        if a.key == b.key or (a.item.of in mine) == (b.item.of in mine):
            continue
        one, other = edges[a.item.of], edges[b.item.of]
        if not alike(one.name, other.name, still.names() | laid.names()):
            continue
        angle = _angle(a, b)
        _refuse_two(still, laid, one, other, angle)
        ring.kinks[a.key, b.key] = angle
        first, second = _into(ring, a.key), _into(ring, b.key)
        if first == second:
            continue
        keep = min(first, second, key=lambda key: (key[0] not in mine, edges[key[0]].name))
        ring.into[second if keep == first else first] = keep


def _into(ring: _Ring, key: Key) -> Key:
    while key in ring.into:
        key = ring.into[key]
    return key


def _of(ring: _Ring, key: Key, spans: Sequence[Span]) -> list[Key]:
    return [one for one in dict.fromkeys(s.key for s in spans if s.item.part) if _into(ring, one) == key]


def _stem(name: str) -> str:
    return re.sub(r"-\d+$", "", name)


def alike(one: str, other: str, names: Collection[str]) -> bool:
    """Whether two names are those of parts of one edge: the same, or with the numbers that a cut gives; names: all.

    >>> alike("side", "side", ()), alike("side", "side-2", ()), alike("tie-1", "tie-2", ())
    (True, True, False)
    """
    stem = _stem(one)
    return one == other or (stem == _stem(other) and (stem in (one, other) or stem in names))


def _from_the_first(still: Piece, ring: _Ring) -> list[Span]:
    """The spans from where the first edge of the piece that stays begins, or what it is part of now."""
    spans = ring.spans
    own = {span.item.of for span in spans if span.item.part}
    first = next(edge.uid for edge in still.edges if edge.uid in own)
    k = next(k for k, span in enumerate(spans) if span.item.part and span.item.of == first)
    group = _into(ring, spans[k].key)
    for back in range(len(spans)):
        span = spans[k - back]
        if span.item.part and _into(ring, span.key) != group:
            start = k - back + 1
            # a dart before the edge stands at the end of the edge before it
            while not spans[start % len(spans)].item.part:
                start += 1
            return [*spans[start % len(spans) :], *spans[: start % len(spans)]] if start else list(spans)
    return [*spans[k:], *spans[:k]]


def _ways(ring: _Ring, spans: Sequence[Span], made: Mapping[Key, Edge]) -> tuple[dict[str, Ways], list[Meeting]]:
    ways: dict[str, list[Way]] = {}
    reached: dict[Key, float] = {}
    meetings = []
    before: Span | None = None
    opens = False
    for span in spans:
        if not span.item.part:
            opens = True
            continue
        key = _into(ring, span.key)
        at = reached.get(key, 0.0)
        size = length(span.item.curve)
        if before is not None and (before.key, span.key) in ring.kinks:
            kink = ring.kinks[before.key, span.key]
            meetings.append(Meeting(edge=made[key].uid, name=made[key].name, at=at, kink=kink, opens=opens))
        ways.setdefault(span.item.of, []).append(Way(span.low, span.high, made[key].uid, at, at + size))
        reached[key] = at + size
        before, opens = span, False
    return {uid: tuple(sorted(some)) for uid, some in ways.items()}, meetings


def _angle(first: Span, second: Span) -> float:
    """Degrees between the end of one edge and the start of the next."""
    out, into = first.item.curve, second.item.curve
    cos = float(tangent(out, float(len(out)), before=True) @ tangent(into, 0.0))
    return math.degrees(math.acos(min(max(cos, -1.0), 1.0)))


def _refuse_two(still: Piece, laid: Piece, first: Edge, second: Edge, angle: float) -> None:
    """Errors: UsageError when two edges of one name cannot be one."""
    both = f"{still.name}.{first.name} and {laid.name}.{second.name}"
    if first.use != second.use:
        raise UsageError(
            f"{both} would become one edge, and one is {first.use}, the other {second.use}; make them alike with edge"
        )
    if first.use == "fold" and angle > BENT_FOLD:
        raise UsageError(f"{both} would be one fold with a bend of {plain(angle)}° in it; draw it straight first")

"""A piece cut in two along a course: the outline parted, new edges and the seam between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, point, split
from flatcut.geometry.intersect import crossings, self_crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.nearest import nearest, nearest_place
from flatcut.geometry.region import contains, ring_area
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.panels.chains import MEET, Course, refuse_meeting_itself
from flatcut.panels.parted import balanced, marks_parted
from flatcut.pattern.defaults import ALLOWANCES
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.renewing import free_name
from flatcut.pattern.sourcing import with_sources
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Allowance, Dart, Edge, Pattern, Piece, RunPart, Seam, area
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import Item, cycle, rebuilt
from flatcut.reshape.ways import Way, Ways
from flatcut.units import plain

TINY = 0.01
"""mm: a cut that ends so near to a corner ends in it."""
NO_AREA = 1.0
"""mm²: a part with less cloth than this is none."""


@dataclass(frozen=True, kw_only=True)
class Cut:
    """What came of it. parts: the two pieces as their names were given; edges: their new edges; dropped: sentences."""

    pattern: Pattern
    parts: tuple[Piece, Piece]
    edges: tuple[Edge, Edge]
    dropped: tuple[str, ...]


@dataclass(frozen=True)
class _Span:
    """An item of the outline, and from where to where along its edge it runs as drawn, mm."""

    item: Item
    low: float
    high: float


@dataclass
class _Side:
    """One part while it is made: its outline, and the edges that it consists of, in order."""

    items: list[Item] = field(default_factory=list)
    edges: list[Edge] = field(default_factory=list)


def cut(pattern: Pattern, piece: Piece, way: Course, names: Sequence[str], edge: str) -> Cut:
    """The pattern with a piece cut in two along a course.

    names: of the parts, none or two, each NAME or NAME.EDGE, where that part has the edge; edge: name of the new edges.
    Errors: UsageError, GeometryError when the course does not part the piece in two.
    """
    spans, way, first = _opened(piece, way)
    _refuse_leaving(piece, spans, way)
    uids = Uids(pattern.uids())
    rings = (spans[:first], spans[first:])
    sides, ways = _edges(piece, rings, (way.back, way.along), edge, uids)
    order = _named(pattern, piece, sides, names)
    sides, called = [sides[k] for k, _ in order], [name for _, name in order]
    parts = [_part(piece, side, name, way) for side, name in zip(sides, called, strict=True)]
    still = _held(piece, parts)
    moved = 1 - still
    parts[moved] = replace(parts[moved], uid=uids.fresh("part", piece.uid, called[moved]), origin="", cut_drawn="")
    for own in parts[moved].edges:
        total = sum(map(length, own.parts))
        if own.uid in {e.uid for e in piece.edges}:
            ways.setdefault(own.uid, (Way(0.0, total, own.uid, 0.0, total),))
    done, broken, said = marks_parted(piece, parts, way, still, uids)
    ways |= broken
    change = Change(pieces=(done[still], done[moved]), ways=ways)
    after, dropped = applied(pattern, change)
    new = [side.edges[-1] for side in sides]
    seam = Seam(
        uid=uids.fresh("seam", new[0].uid, new[1].uid),
        a=(RunPart(piece=done[0].uid, of=new[0].uid),),
        b=(RunPart(piece=done[1].uid, of=new[1].uid),),
        reversed=True,
    )
    derived = with_sources(after.pieces, {piece.uid: tuple(p.uid for p in done)})
    pieces = [_settled(p, ways, new) for p in derived]
    pieces = [balanced(piece, p, way, uids) if p.uid in {q.uid for q in done} else p for p in pieces]
    after = replace(after, pieces=_in_order(pieces, [p.uid for p in done]), seams=(*after.seams, seam))
    made = tuple(after.piece_of(p.uid) for p in done)
    return Cut(
        pattern=after,
        parts=(made[0], made[1]),
        edges=(made[0].edge_of(new[0].uid), made[1].edge_of(new[1].uid)),
        dropped=(*said, *dropped),
    )


def _in_order(pieces: Sequence[Piece], uids: Sequence[str]) -> tuple[Piece, ...]:
    """The pieces with the two of `uids` in that order, at the place of the one of them that comes first."""
    two = {p.uid: p for p in pieces if p.uid in uids}
    found: list[Piece] = []
    for p in pieces:
        if p.uid not in two:
            found.append(p)
        elif not any(q.uid in two for q in found):
            found += [two[uid] for uid in uids]
    return tuple(found)


# The outline opened at both ends of the course ------------------------------------------------------------------------


def _opened(piece: Piece, way: Course) -> tuple[list[_Span], Course, int]:
    """The outline from the start of the course on, the course with its ends upon it, and where it meets its end."""
    spans: list[_Span] = []
    reached: dict[str, float] = {}
    for item in cycle(piece):
        low = reached.get(item.of, 0.0) if item.part else 0.0
        high = low + length(item.curve) if item.part else 0.0
        reached[item.of] = high
        spans.append(_Span(item, low, high))
    along, back = way.along, way.back
    if way.start is None:
        k = _broken(piece, spans, along.start, way)
        spans = [*spans[k:], *spans[:k]]
        at = spans[0].item.curve.start
        along, back = starting_at(along, at), ending_at(back, at)
    else:
        k = _mouth(spans, way.start)
        spans = [*spans[k + 2 :], *spans[:k]]
    if way.end is None:
        k = _broken(piece, spans, along.end, way)
        at = spans[k - 1].item.curve.end
        along, back = ending_at(along, at), starting_at(back, at)
    else:
        k = _mouth(spans, way.end)
        spans = [*spans[:k], *spans[k + 2 :]]
    return spans, replace(way, along=along, back=back), k


def _mouth(spans: Sequence[_Span], dart: Dart) -> int:
    return next(k for k, span in enumerate(spans) if span.item.of == dart.uid and span.item.leg == 0)


def _broken(piece: Piece, spans: list[_Span], at: Array, way: Course) -> int:
    """Before which span the outline is open at a place now; `spans` has a span more if it was parted there.

    Errors: UsageError when the place does not lie on an edge.
    """
    found = [(nearest_place(span.item.curve, at), k) for k, span in enumerate(spans) if span.item.part]
    (u, away), k = min(found, key=lambda one: one[0][1])
    if away > MEET:
        _refuse_end(piece, at, away, way)
    span = spans[k]
    size = span.high - span.low
    along = length_to(span.item.curve, u)
    if along <= TINY or along >= size - TINY:
        return k if along <= TINY else k + 1
    before, after = split(span.item.curve, u)
    middle = span.low + along
    spans[k : k + 1] = [
        _Span(replace(span.item, curve=before), span.low, middle),
        _Span(replace(span.item, curve=after, first=False), middle, span.high),
    ]
    return k + 1


def _refuse_end(piece: Piece, at: Array, away: float, way: Course) -> None:
    name = f"{piece.name}.{way.lines[0].name}" if way.lines else f"the cut of {piece.name}"
    for dart in piece.darts:
        if dart not in way.darts and any(float(nearest(leg, at)[1]) <= MEET for leg in dart.legs):
            raise UsageError(_not_named(piece, dart, name))
    raise UsageError(
        f"{name} ends {plain(away, 1)} mm off the outline of {piece.name}; draw it from edge to edge, or name also what"
        " the cut goes on along"
    )


def _not_named(piece: Piece, dart: Dart, name: str) -> str:
    return (
        f"{name} meets dart {piece.name}.{dart.name}, which is not named; name it too and let the line end at its point"
        ", or move the dart away with pivot first"
    )


def _refuse_leaving(piece: Piece, spans: Sequence[_Span], way: Course) -> None:
    """Errors: UsageError, GeometryError when a line leaves the piece, crosses a dart or itself."""
    name = f"{piece.name}.{way.lines[0].name}" if way.lines else f"the cut of {piece.name}"
    for side in (way.along, way.back):
        refuse_meeting_itself(name, [c.point for c in self_crossings(side, closed=False)])
    ends = (way.along.start, way.along.end)
    for side in (way.along, way.back):
        own = [at for dart in way.darts for leg in dart.legs for at in (leg.start, leg.end)]
        for dart in piece.darts:
            if dart in way.darts:
                continue
            touched = any(float(nearest(side, tip)[1]) <= MEET for tip in dart.points)
            if touched or any(crossings(side, leg) for leg in dart.legs):
                raise UsageError(_not_named(piece, dart, name))
        for span in spans:
            for crossing in crossings(side, span.item.curve) if span.item.part else ():
                if min(float(np.hypot(*(crossing.point - end))) for end in (*ends, *own)) > MEET:
                    x, y = crossing.point
                    edge = piece.edge_of(span.item.of)
                    raise GeometryError(
                        f"{name} leaves the piece over {piece.name}.{edge.name} near x {x:.1f}, y {y:.1f} mm;"
                        " draw it inside the piece, from edge to edge"
                    )
    ring = flatten(chain([item.curve for item in cycle(piece)], within=1e-6), tolerance=0.02)
    middles = np.array([point(way.along, k + 0.5) for k in range(len(way.along))])
    off = [at for at in middles if not contains(ring, at[None])[0]]
    legs = [leg for dart in way.darts for leg in dart.legs]
    off = [at for at in off if not any(float(nearest(leg, at)[1]) <= MEET for leg in legs)]
    if off:
        raise GeometryError(
            f"{name} leaves the piece near x {off[0][0]:.1f}, y {off[0][1]:.1f} mm; draw it inside, from edge to edge"
        )


# The parts ------------------------------------------------------------------------------------------------------------


def _edges(
    piece: Piece, rings: Sequence[Sequence[_Span]], cuts: Sequence[Curve], name: str, uids: Uids
) -> tuple[list[_Side], dict[str, Ways]]:
    """The two parts as edges and outline, the new edge last, and what became of the edges that were cut through."""
    runs: list[tuple[int, list[_Span]]] = []
    for k, ring in enumerate(rings):
        before = ""
        for span in ring:
            if span.item.part:
                if span.item.of != before:
                    runs.append((k, []))
                before = span.item.of
            # a dart that stays opens between two parts of the outline, so never first here
            runs[-1][1].append(span)
    order = [edge.uid for edge in piece.edges]
    known: dict[tuple[int, str], int] = {}
    taken_uids: set[str] = set()
    named: dict[int, Edge] = {}
    for i in sorted(range(len(runs)), key=lambda i: _rank(order, runs[i][1])):
        k, run = runs[i]
        old = piece.edge_of(next(span.item.of for span in run if span.item.part))
        count = known[k, old.uid] = known.get((k, old.uid), 0) + 1
        called = old.name if count == 1 else free_name(old.name, piece.names() | {e.name for e in named.values()})
        uid = old.uid if old.uid not in taken_uids else uids.fresh("cut", old.uid, called, str(i))
        taken_uids.add(uid)
        named[i] = replace(old, uid=uid, name=called)
    sides = [_Side(), _Side()]
    ways: dict[str, list[Way]] = {}
    for i, (k, run) in enumerate(runs):
        edge, reached = named[i], 0.0
        sides[k].edges.append(edge)
        for span in run:
            item = span.item
            if item.part:
                ways.setdefault(item.of, []).append(
                    Way(span.low, span.high, edge.uid, reached, reached + span.high - span.low)
                )
                reached += span.high - span.low
                item = replace(item, of=edge.uid)
            sides[k].items.append(item)
    for side, curve in zip(sides, cuts, strict=True):
        new = Edge(
            uid=uids.fresh("panel", piece.uid, name, str(len(side.edges))),
            name=name,
            parts=(curve,),
            allowance=Allowance(width=ALLOWANCES["seam"]) if any(edge.allowance for edge in piece.edges) else None,
        )
        side.edges.append(new)
        side.items.append(Item(of=new.uid, curve=curve))
    whole = {edge.uid for edge in piece.edges if _untouched(edge, ways[edge.uid])}
    return sides, {uid: tuple(sorted(some)) for uid, some in ways.items() if uid not in whole}


def _rank(order: Sequence[str], run: Sequence[_Span]) -> tuple[int, float]:
    part = next(span for span in run if span.item.part)
    return order.index(part.item.of), part.low


def _untouched(edge: Edge, ways: Sequence[Way]) -> bool:
    return all(way.to == edge.uid and abs(way.start - way.at) < 1e-9 for way in ways)


def _part(piece: Piece, side: _Side, name: str, way: Course) -> Piece:
    """A part with its outline and the darts that open on it or lie inside; marks are parted later."""
    order = [edge.uid for edge in piece.edges]
    own = [edge for edge in side.edges if edge.uid in order]
    first = min(own, key=lambda e: order.index(e.uid)) if own else side.edges[0]
    k = side.edges.index(first)
    darts = {dart.uid: dart for dart in piece.darts if any(item.of == dart.uid for item in side.items)}
    made = rebuilt(replace(piece, edges=(*side.edges[k:], *side.edges[:k])), side.items, darts)
    ring = [item.curve for item in cycle(made)]
    if abs(ring_area(flatten(chain(ring, within=1e-6), tolerance=0.01))) < NO_AREA:
        raise GeometryError(f"a part of {piece.name} would have no area; draw the line through the piece")
    if (area(made) > 0) != (area(piece) > 0) or outline_crossing(made) is not None:
        raise GeometryError(f"{name} would lie over itself; draw the line so that it parts {piece.name} in two")
    inner = [dart for dart in piece.darts if dart.uid not in darts and dart not in way.darts]
    around = flatten(chain(ring, within=1e-6), tolerance=0.02)
    inner = [dart for dart in inner if dart.double or dart.form == "lines"]
    inside = [dart for dart in inner if contains(around, dart.points.mean(axis=0)[None])[0]]
    darts_now = sorted((*made.darts, *inside), key=lambda d: [x.uid for x in piece.darts].index(d.uid))
    made = replace(made, name=name, darts=tuple(darts_now), cut_by_hand=None)
    if made.cut_as == "fold" and not any(edge.use == "fold" for edge in made.edges):
        made = replace(made, cut_as="pair", quantity=2 * made.quantity)
    return made


def _held(piece: Piece, parts: Sequence[Piece]) -> int:
    """Which part goes on as the piece that was: that with the most of the grain line, else the larger."""
    shares = []
    for part in parts:
        ring = flatten(chain([item.curve for item in cycle(part)], within=1e-6), tolerance=0.05)
        on = 0
        if piece.grain is not None:
            samples = np.linspace(piece.grain.start, piece.grain.end, 33)
            on = int(contains(ring, samples).sum())
        shares.append((on, abs(ring_area(ring))))
    return 0 if shares[0] >= shares[1] else 1


def _named(pattern: Pattern, piece: Piece, sides: Sequence[_Side], names: Sequence[str]) -> list[tuple[int, str]]:
    """Which part comes first and what it is called, then the other. Errors: UsageError for names that do not tell."""
    order = [edge.uid for edge in piece.edges]
    first = 0 if any(edge.uid == order[0] for edge in sides[0].edges) else 1
    taken = {p.name for p in pattern.pieces} - {piece.name}
    if not names:
        return [(first, _numbered(piece.name, 1, taken)), (1 - first, _numbered(piece.name, 2, taken))]
    if len(names) != 2:
        raise UsageError(f"a cut makes two pieces, and {len(names)} names are given; give two")
    called = [name.partition(".")[0] for name in names]
    wanted = [name.partition(".")[2] for name in names]
    if called[0] == called[1]:
        raise UsageError(f"both parts would be called {called[0]}; give two names")
    for name in called:
        if name in taken:
            raise UsageError(f"there is a piece '{name}' already; give another name")
    found: list[int | None] = [None, None]
    for k, edge in enumerate(wanted):
        if not edge:
            continue
        having = [i for i, side in enumerate(sides) if edge in {e.name for e in side.edges[:-1]}]
        if not having:
            piece.edge(edge)  # says which there are
        if len(having) != 1:
            raise UsageError(f"both parts have a piece of {piece.name}.{edge}; name an edge that only {called[k]} has")
        found[k] = having[0]
    if found[0] is not None and found[0] == found[1]:
        raise UsageError(
            f"{piece.name}.{wanted[0]} and {piece.name}.{wanted[1]} lie on one part; name an edge of each, or of one"
        )
    one = found[0] if found[0] is not None else (1 - found[1] if found[1] is not None else first)
    return [(one, called[0]), (1 - one, called[1])]


def _numbered(name: str, count: int, taken: set[str]) -> str:
    return free_name(f"{name}-{count}", taken)


def _settled(piece: Piece, ways: Mapping[str, Ways], new: Sequence[Edge]) -> Piece:
    """The piece whose darts and buttons referred to edges of the other part: its own stretch, or the new edge."""
    own = {edge.uid for edge in piece.edges} | {item.uid for item in piece.lines}
    panel = next((edge.uid for edge in new if edge.uid in own), "")
    if not panel:
        return piece

    def here(uid: str) -> str:
        if uid in own or uid in ("", "open"):
            return uid
        return next((way.to for way in ways.get(uid, ()) if way.to in own), "")

    return replace(
        piece,
        darts=tuple(
            replace(dart, pressed=here(dart.pressed) or (panel if dart.pressed else "")) for dart in piece.darts
        ),
        buttons=tuple(replace(button, on=here(button.on)) for button in piece.buttons),
    )

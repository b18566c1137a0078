"""A piece cut in two along a course: the outline parted, new edges and the seam between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten, point, split, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.nearest import nearest, nearest_place
from flatcut.geometry.region import contains, ring_area
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.panels.chains import Course, not_named, refuse_crossing_itself
from flatcut.panels.faces import Face, Side, Span, close, face, under
from flatcut.panels.links import MEET
from flatcut.panels.parted import balanced, marks_parted
from flatcut.pattern.defaults import ALLOWANCES
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.renewing import free_name
from flatcut.pattern.sourcing import with_sources
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Allowance, Dart, Edge, Pattern, Piece, RunPart, Seam, area
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import cycle, rebuilt
from flatcut.reshape.ways import Way, Ways

TINY = 0.01
"""mm: a cut that ends so near to a corner ends in it."""
NO_AREA = 1.0
"""mm²: a part with less cloth than this is none."""


@dataclass(frozen=True, kw_only=True)
class Cut:
    """What came of it. parts: the two pieces, that with the start of the first edge first, both named as the piece was;
    edges: their new edges; lines: what became of lines, as in a `Change`; dropped: sentences."""

    pattern: Pattern
    parts: tuple[Piece, Piece]
    edges: tuple[Edge, Edge]
    lines: Mapping[str, Ways]
    dropped: tuple[str, ...]


def cut(pattern: Pattern, piece: Piece, way: Course, edge: str, *, within: float) -> Cut:
    """The pattern with a piece cut in two along a course.

    edge: name of the new edges; within: mm that the legs of a dart may lie apart where it is closed.
    Errors: UsageError, GeometryError when the course does not part the piece in two.
    """
    spans, way, first = _opened(piece, way)
    _refuse_leaving(piece, spans, way)
    uids = Uids(pattern.uids())
    faces = [face(piece, ring, way, k, within) for k, ring in enumerate((spans[:first], spans[first:]))]
    sides, ways, halves = _edges(piece, faces, edge, uids)
    start = next(k for k, side in enumerate(sides) if any(own.uid == piece.edges[0].uid for own in side.edges))
    if start:
        sides, faces = sides[::-1], faces[::-1]
    parts = [_part(piece, side, own, way) for side, own in zip(sides, faces, strict=True)]
    still = _held(piece, faces)
    moved = 1 - still
    parts[moved] = replace(parts[moved], uid=uids.fresh("part", piece.uid, edge), origin="", cut_drawn="")
    for own in parts[moved].edges:
        total = sum(map(length, own.parts))
        if own.uid in {e.uid for e in piece.edges}:
            ways.setdefault(own.uid, (Way(0.0, total, own.uid, 0.0, total),))
    done, broken, said = marks_parted(piece, parts, faces, way, still, halves, uids)
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
        lines=broken,
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


def _opened(piece: Piece, way: Course) -> tuple[list[Span], Course, int]:
    """The outline from the start of the course on, the course with its ends upon it, and where it meets its end."""
    spans: list[Span] = []
    reached: dict[str, float] = {}
    for item in cycle(piece):
        low = reached.get(item.of, 0.0) if item.part else 0.0
        high = low + length(item.curve) if item.part else 0.0
        reached[item.of] = high
        spans.append(Span(item, low, high))
    along, back = list(way.along), list(way.back)
    if way.start is None:
        k = _broken(piece, spans, along[0].start)
        spans = [*spans[k:], *spans[:k]]
        at = spans[0].item.curve.start
        along[0], back[-1] = starting_at(along[0], at), ending_at(back[-1], at)
    else:
        k = _mouth(spans, way.start)
        spans = [*spans[k + 2 :], *spans[:k]]
    if way.end is None:
        k = _broken(piece, spans, along[-1].end)
        at = spans[k - 1].item.curve.end
        along[-1], back[0] = ending_at(along[-1], at), starting_at(back[0], at)
    else:
        k = _mouth(spans, way.end)
        spans = [*spans[:k], *spans[k + 2 :]]
    return spans, replace(way, along=tuple(along), back=tuple(back)), k


def _mouth(spans: Sequence[Span], dart: Dart) -> int:
    return next(k for k, span in enumerate(spans) if span.item.of == dart.uid and span.item.leg == 0)


def _broken(piece: Piece, spans: list[Span], at: Array) -> int:
    """Before which span the outline is open at a place now; `spans` has a span more if it was parted there."""
    found = [(nearest_place(span.item.curve, at), k) for k, span in enumerate(spans) if span.item.part]
    (u, _), k = min(found, key=lambda one: one[0][1])
    span = spans[k]
    size = span.high - span.low
    along = length_to(span.item.curve, u)
    if along <= TINY or along >= size - TINY:
        return k if along <= TINY else k + 1
    before, after = split(span.item.curve, u)
    middle = span.low + along
    spans[k : k + 1] = [
        Span(replace(span.item, curve=before), span.low, middle),
        Span(replace(span.item, curve=after, first=False), middle, span.high),
    ]
    return k + 1


def _refuse_leaving(piece: Piece, spans: Sequence[Span], way: Course) -> None:
    """Errors: UsageError, GeometryError when a line leaves the piece, crosses a dart or itself."""
    name = way.name(piece)
    refuse_crossing_itself(piece, way)
    crossed = [one.dart for one in way.overs]
    ends = (way.along[0].start, way.along[-1].end)
    own = [at for dart in (*way.darts, *crossed) for leg in dart.legs for at in (leg.start, leg.end)]
    for side in way.sides:
        for dart in piece.darts:
            if dart in way.darts or dart in crossed:
                continue
            tips = [tip for tip in dart.points if float(nearest(side, tip)[1]) <= MEET]
            if any(sum(_ends_at(one, tip) for one in way.darts) > 1 for tip in tips):
                raise UsageError(
                    f"{name} runs along {' and '.join(one.name for one in way.darts)}, and dart "
                    f"{piece.name}.{dart.name} ends in the same point; a cut has one dart on either side of a point: "
                    "take the third in first with: "
                    f"pivot {piece.name}.{dart.name} --to={piece.name}.{way.darts[0].name}, or bring its point "
                    "elsewhere with back-off"
                )
            if tips or any(crossings(side, leg) for leg in dart.legs):
                raise UsageError(not_named(piece, dart, name))
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
    middles = np.array([point(side, k + 0.5) for side in way.along for k in range(len(side))])
    legs = [leg for dart in way.darts for leg in dart.legs]
    outside = middles[~contains(ring, middles)]
    off = [at for at in outside if not any(float(nearest(leg, at)[1]) <= MEET for leg in legs)]
    if off:
        raise GeometryError(
            f"{name} leaves the piece near x {off[0][0]:.1f}, y {off[0][1]:.1f} mm; draw it inside, from edge to edge"
        )


def _ends_at(dart: Dart, tip: Array) -> bool:
    return any(float(np.hypot(*(at - tip))) <= MEET for at in dart.points)


# The parts ------------------------------------------------------------------------------------------------------------


def _edges(
    piece: Piece, faces: Sequence[Face], name: str, uids: Uids
) -> tuple[list[Side], dict[str, Ways], dict[tuple[str, int], str]]:
    """The two parts as edges and outline, the new edge last; what became of the edges that were cut through; uids of
    halves of darts by that of the dart and the number of the point."""
    runs: list[tuple[int, list[tuple[Span, int]]]] = []
    for k, own in enumerate(faces):
        before = ""
        for j, block in enumerate(own.outline):
            for span in block:
                if span.item.part:
                    if span.item.of != before:
                        runs.append((k, []))
                    before = span.item.of
                # a dart that stays opens between two parts of the outline, so never first here
                runs[-1][1].append((span, j))
    order = [edge.uid for edge in piece.edges]
    known: dict[tuple[int, str], int] = {}
    taken_uids: set[str] = set()
    named: dict[int, Edge] = {}
    for i in sorted(range(len(runs)), key=lambda i: _rank(order, runs[i][1])):
        k, run = runs[i]
        old = piece.edge_of(next(span.item.of for span, _ in run if span.item.part))
        count = known[k, old.uid] = known.get((k, old.uid), 0) + 1
        called = old.name if count == 1 else free_name(old.name, piece.names() | {e.name for e in named.values()})
        uid = old.uid if old.uid not in taken_uids else uids.fresh("cut", old.uid, called, str(i))
        taken_uids.add(uid)
        named[i] = replace(old, uid=uid, name=called)
    sides = [Side(), Side()]
    ways: dict[str, list[Way]] = {}
    for i, (k, run) in enumerate(runs):
        edge, reached = named[i], 0.0
        sides[k].edges.append(edge)
        for span, j in run:
            item = under(span.item, faces[k].cells[j].matrix)
            if j and span is faces[k].outline[j][0]:
                # the second leg of a dart is closed onto the first, whose foot stays
                item = replace(item, curve=starting_at(item.curve, sides[k].items[-1].curve.end))
            if item.part:
                ways.setdefault(item.of, []).append(
                    Way(span.low, span.high, edge.uid, reached, reached + span.high - span.low)
                )
                reached += span.high - span.low
                item = replace(item, of=edge.uid)
            sides[k].items.append(item)
    halves: dict[tuple[str, int], str] = {}
    for side, own in zip(sides, faces, strict=True):
        new = Edge(
            uid=uids.fresh("panel", piece.uid, name, str(len(side.edges))),
            name=name,
            parts=(),
            allowance=Allowance(width=ALLOWANCES["seam"]) if any(edge.allowance for edge in piece.edges) else None,
        )
        close(side, own, new, halves, uids)
    whole = {edge.uid for edge in piece.edges if _untouched(edge, ways[edge.uid])}
    return sides, {uid: tuple(sorted(some)) for uid, some in ways.items() if uid not in whole}, halves


def _rank(order: Sequence[str], run: Sequence[tuple[Span, int]]) -> tuple[int, float]:
    part = next(span for span, _ in run if span.item.part)
    return order.index(part.item.of), part.low


def _untouched(edge: Edge, ways: Sequence[Way]) -> bool:
    return all(way.to == edge.uid and abs(way.start - way.at) < 1e-9 for way in ways)


def _part(piece: Piece, side: Side, own: Face, way: Course) -> Piece:
    """A part with its outline and the darts that open on it or lie inside; marks are parted later."""
    order = [edge.uid for edge in piece.edges]
    old = [edge for edge in side.edges if edge.uid in order]
    first = min(old, key=lambda e: order.index(e.uid)) if old else side.edges[0]
    k = side.edges.index(first)
    standing = {item.of for item in side.items}
    darts = {dart.uid: dart for dart in piece.darts if dart.uid in standing} | side.darts
    made = rebuilt(replace(piece, edges=(*side.edges[k:], *side.edges[:k])), side.items, darts)
    ring = [item.curve for item in cycle(made)]
    if abs(ring_area(flatten(chain(ring, within=1e-6), tolerance=0.01))) < NO_AREA:
        raise GeometryError(f"a part of {piece.name} would have no area; draw the line through the piece")
    if (area(made) > 0) != (area(piece) > 0) or outline_crossing(made) is not None:
        closed = f", its darts {' and '.join(one.dart.name for one in own.closes)} closed" if own.closes else ""
        raise GeometryError(
            f"a part of {piece.name} would lie over itself{closed}; draw the line so that it parts {piece.name} in two"
        )
    used = {*way.darts, *(one.dart for one in way.overs)}
    inner = [dart for dart in piece.darts if dart.uid not in darts and dart not in used]
    inside = []
    for dart in inner:
        cell = own.cell_at(dart.points.mean(axis=0)) if dart.double or dart.form == "lines" else None
        if cell is not None:
            legs = tuple(transform(leg, cell.matrix) for leg in dart.legs)
            inside.append(replace(dart, legs=(legs[0], legs[1])) if len(own.cells) > 1 else dart)
    place = {dart.uid: i for i, dart in enumerate(piece.darts)}
    called = {dart.name: i for i, dart in enumerate(piece.darts)}
    now = sorted((*made.darts, *inside), key=lambda d: place.get(d.uid, called.get(d.name, 0)))
    made = replace(made, darts=tuple(now), cut_by_hand=None)
    if made.cut_as == "fold" and not any(edge.use == "fold" for edge in made.edges):
        made = replace(made, cut_as="pair", quantity=2 * made.quantity)
    return made


def _held(piece: Piece, faces: Sequence[Face]) -> int:
    """Which part goes on as the piece that was: that with the most of the grain line, else the larger."""
    shares = []
    for own in faces:
        on = 0
        if piece.grain is not None:
            samples = np.linspace(piece.grain.start, piece.grain.end, 33)
            on = sum(cell.has(samples) for cell in own.cells)
        shares.append((on, own.area))
    return 0 if shares[0] >= shares[1] else 1


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

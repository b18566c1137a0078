"""Any chain of changes to any piece: what stands on it stands where it stood on the cloth, or is named as dropped.

Judged without what carries it: the test itself works out which part of the cloth a step moves, and how (closed forms:
a turn about the dart's point by the angle between its feet; about a hinge by 2 asin(gap / 2H); a shift across a line;
nothing), and holds every mark, width, corner, take-up, dart, line and seam against the place where its cloth went.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from flatcut.errors import FlatcutError
from flatcut.geometry.affine import IDENTITY, Affine
from flatcut.geometry.curves import chain, flatten, line, point
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import renewed
from flatcut.pattern.runs import run_curves, walk
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Allowance,
    Button,
    Corner,
    Dart,
    Edge,
    Hole,
    Line,
    NamedPoint,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    Stretch,
    outline,
)
from flatcut.pattern.walking import drawn_length, point_at, sewn_length, to_drawn
from flatcut.pattern.widths import bands, width_at
from tests.strategies import Uids as Named
from tests.strategies import pieces

NEAR = 0.01
"""mm: what stands so near to where it stood on the cloth stands there."""

# Pieces with all that can stand on an edge ----------------------------------------------------------------------------


@st.composite
def positions(draw: st.DrawFn, total: float, low: float = 0.03, high: float = 0.97) -> Position:
    share = draw(st.floats(low, high))
    mode = draw(st.sampled_from(("fraction", "start", "end")))
    return Position(mode=mode, value={"fraction": share, "start": share * total}.get(mode, (1 - share) * total))


@st.composite
def furnished(draw: st.DrawFn) -> Pattern:
    """A random piece with notches, widths, buttons, holes of darts, lines over it, and seams to another piece."""
    uid = Named()
    piece = draw(pieces(uid, "front"))
    piece = replace(piece, cut_by_hand=None, cut_as="single", side="", material="", quantity=1)
    # no fold or centre, which steps refuse to bend
    edges = [replace(e, use="seam" if e.use in ("fold", "centre") else e.use) for e in piece.edges]
    edges = [draw(_wide(edge)) for edge in edges]
    for k, edge in enumerate(edges):
        through = draw(st.sampled_from(("", edge.uid, edges[(k + 1) % len(edges)].uid)))
        if edge.corner.kind:
            edges[k] = replace(edge, corner=replace(edge.corner, through=through))
    names = iter(f"x{k}" for k in range(20))
    notches = list(piece.notches)
    for edge in edges:
        notches += [
            Notch(uid=uid(), edge=edge.uid, at=draw(positions(sewn_length(edge))))
            for _ in range(draw(st.integers(0, 2)))
        ]
    middle = np.zeros(2)
    at = draw(st.floats(0.1, 0.9))
    here, there = edges[0], edges[len(edges) // 2]
    across = line(point_at(here, 0.8 * drawn_length(here))[0], point_at(there, 0.5 * drawn_length(there))[0])
    lines = (
        *piece.lines,
        Line(uid=uid(), name="slash", curve=across),
        Line(uid=uid(), name="balance", curve=line((-45.0, 20 * at), (45.0, -15.0))),
    )
    on = draw(st.sampled_from(edges))
    button = Button(uid=uid(), kind="button", at=point_at(on, at * drawn_length(on))[0] * 0.9, size=11.0, on=on.uid)
    holes = (*piece.holes, *(Hole(uid=uid(), dart=d.uid, of="point", by=10.0) for d in piece.darts if not d.double))
    points = (
        *piece.points,
        NamedPoint(uid=uid(), name="apex", at=middle),
        NamedPoint(uid=uid(), name=next(names), at=np.array([70.0, 50])),
    )
    piece = replace(
        piece,
        edges=tuple(edges),
        notches=tuple(notches),
        lines=lines,
        points=points,
        holes=holes,
        buttons=(*piece.buttons, button),
    )
    if draw(st.booleans()):
        piece = _v_in_outline(piece, uid)
    mate = renewed(piece, Uids([piece.uid, *Pattern(pieces=(piece,)).uids()]), name="mate")
    mate = moved(mate, Affine.translation(900, 40))
    seams = []
    for k, edge in enumerate(piece.edges):
        if not draw(st.booleans()) or edge.name.startswith("leg"):
            continue
        total = sewn_length(edge)
        ends = sorted((draw(st.floats(0, 1)), draw(st.floats(0, 1))))
        whole = draw(st.booleans()) or ends[1] - ends[0] < 0.05
        stretch = (
            {}
            if whole
            else {
                "start": Position(mode="start", value=ends[0] * total),
                "end": Position(mode="fraction", value=ends[1]),
            }
        )
        part = RunPart(piece=piece.uid, of=edge.uid, backwards=draw(st.booleans()), **stretch)
        seams.append(Seam(uid=uid(), a=(part,), b=(RunPart(piece=mate.uid, of=mate.edges[k].uid),)))
    seams.append(
        Seam(
            uid=uid(),
            a=(RunPart(piece=piece.uid, of=lines[-1].uid),),
            b=(RunPart(piece=mate.uid, of=mate.lines[-1].uid),),
        )
    )
    return Pattern(pieces=(piece, mate), seams=tuple(seams))


@st.composite
def _wide(draw: st.DrawFn, edge: Edge) -> Edge:
    """The edge with other widths on one or two stretches, none over another."""
    if draw(st.booleans()):
        return edge
    total, stretches = sewn_length(edge), []
    for low, high in ((0.05, 0.45), (0.55, 0.95)):
        if draw(st.booleans()):
            ends = [draw(positions(total, low, low + 0.15)), draw(positions(total, high - 0.15, high))]
            width = draw(st.floats(5, 40))
            stretches.append(
                Stretch(start=ends[0], end=ends[1], width=width, end_width=draw(st.none() | st.floats(5, 40)))
            )
    return replace(edge, allowance=Allowance(width=draw(st.floats(5, 30)), stretches=tuple(stretches)))


def _v_in_outline(piece: Piece, uid: Named) -> Piece:
    """The piece with its cut-in dart left as a V of two edges, between two edges of the same use."""
    dart = next((d for d in piece.darts if d.form == "cut" and not d.double), None)
    if dart is None:
        return piece
    first = piece.edge_of(dart.host)
    legs = [Edge(uid=uid(), name=f"leg{k}", parts=(leg,)) for k, leg in enumerate(dart.legs)]
    rest = Edge(uid=uid(), name="rest", parts=first.parts[1:], use=first.use, allowance=Allowance(width=40.0))
    first = replace(first, parts=first.parts[:1], takeups=(), corner=Corner())
    gone = {n.uid for n in piece.notches if n.edge == first.uid}
    notch = Notch(uid=uid(), edge=rest.uid, at=Position(mode="start", value=drawn_length(rest) / 3))
    return replace(
        piece,
        edges=(first, *legs, rest, *piece.edges[1:]),
        darts=tuple(d for d in piece.darts if d is not dart),
        notches=(*(n for n in piece.notches if n.uid not in gone), notch),
        holes=tuple(h for h in piece.holes if h.dart != dart.uid),
    )


# Steps, and where they take the cloth ---------------------------------------------------------------------------------

T = TypeVar("T")
Where = Callable[[np.ndarray], np.ndarray | None]
"""Where a place of the cloth, (2,) mm, is after a step; None where the cloth is gone."""


@dataclass(frozen=True, kw_only=True)
class Stepped:
    """A step taken. near: mm that it says it redraws the edges by; whole: no edge was made longer or shorter."""

    before: Pattern
    after: Pattern
    where: Where
    near: float = NEAR
    whole: bool = True


def still(at: np.ndarray) -> np.ndarray:
    return at


def run(pattern: Pattern, command: str, *target: str, **options: object) -> Pattern:
    return load(command)(target=target, **options)(pattern)


def ring(piece: Piece) -> np.ndarray:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.001)


def drawn(draw: st.DrawFn, piece: Piece) -> Edge:
    return draw(st.sampled_from(piece.edges))


def one_of(draw: st.DrawFn, things: list[T]) -> T:
    """One of them. Errors: IndexError when there is none."""
    return things[draw(st.integers(0, max(0, len(things) - 1)))]


def split(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    edge = drawn(draw, pattern.pieces[0])
    at = draw(st.floats(2, 98))
    return Stepped(
        before=pattern,
        where=still,
        after=run(pattern, "edge", f"front.{edge.name}@{at:.4f}%", split=True, names=(edge.name, f"{edge.name}s")),
    )


def new_dart(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """A dart cut in, as its feet come out; one drawn inside takes no cloth away."""
    edge = drawn(draw, pattern.pieces[0])
    at, form = draw(st.floats(10, 85)), draw(st.sampled_from(("cut", "lines")))
    feet = (f"front.{edge.name}@{at:.4f}%", f"front.{edge.name}@{at + 6:.4f}%")
    after = run(pattern, "dart", feet=feet, point="front.apex", form=form, name=f"n{len(pattern.steps)}")
    if form == "lines":
        return Stepped(before=pattern, after=after, where=still)
    return Stepped(before=pattern, after=after, where=_without(after.pieces[0].darts[-1]), whole=False)


def _without(dart: Dart) -> Where:
    """What lies in a dart's mouth, or on its cap beyond it, is gone."""
    apex = dart.points[0]
    feet = [apex + 1.4 * (foot - apex) for foot in dart.feet]
    mouth = shapely.Polygon([feet[0], apex, feet[1]]).buffer(0.02)
    return lambda at: None if mouth.contains(shapely.Point(at)) else at


def corner_dart(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    piece = pattern.pieces[0]
    edge = drawn(draw, piece)
    target = f"front.{edge.name}/{piece.after(edge).name}"
    after = run(
        pattern, "dart", target, intake=draw(st.floats(5, 15)), point="front.apex", name=f"n{len(pattern.steps)}"
    )
    dart = after.pieces[0].darts[-1]
    wedge = shapely.Polygon([dart.feet[0], dart.points[0], dart.feet[1], edge.end]).buffer(0.02)
    near = NEAR + after.steps[-1].figures[-3].value  # drawn on by so much
    return Stepped(
        before=pattern,
        after=after,
        near=near,
        whole=False,
        where=lambda at: None if wedge.contains(shapely.Point(at)) else at,
    )


def v_to_dart(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    after = run(pattern, "dart", "front.leg0/leg1", name="from-v")
    return Stepped(before=pattern, after=after, where=still)


def other_form(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    dart = one_of(draw, [d for d in pattern.pieces[0].darts if not d.double])
    form = "lines" if dart.form == "cut" else "cut"
    after = run(pattern, "dart", f"front.{dart.name}", form=form)
    return Stepped(before=pattern, after=after, where=_without(dart) if form == "cut" else still, whole=False)


def flare(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    dart = one_of(draw, [d for d in pattern.pieces[0].darts if not d.double])
    after = run(pattern, "release", f"front.{dart.name}", to="flare")
    return Stepped(before=pattern, after=after, where=_without(dart) if dart.form == "lines" else still, whole=False)


def pivot(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    piece = pattern.pieces[0]
    dart = one_of(draw, [d for d in piece.darts if not d.double])
    if dart.form == "lines":
        pattern = run(pattern, "dart", f"front.{dart.name}", form="cut")
    pattern = run(pattern, "dart", f"front.{dart.name}", equal=True)
    piece = pattern.pieces[0]
    dart = next(d for d in piece.darts if d.uid == dart.uid)
    edge, share = drawn(draw, piece), draw(st.sampled_from((0.4, 1.0)))
    at = draw(st.floats(5, 95))
    target = point_at(edge, to_drawn(edge, at / 100 * sewn_length(edge)))[0]
    after = run(pattern, "pivot", f"front.{dart.name}", to=f"front.{edge.name}@{at:.4f}%", share=share)
    apex, (one, two) = dart.points[0], dart.feet
    angle = math.atan2(*(two - apex)[::-1]) - math.atan2(*(one - apex)[::-1])
    angle = (angle + math.pi) % (2 * math.pi) - math.pi
    # the part that follows foot 2, and the other one
    parts = _parted(ring(piece), two, target, [apex])
    return _turned(pattern, after, parts, [Affine.rotation(s * share * angle, tuple(apex)) for s in (-1, 1)])


def _parted(around: np.ndarray, start: np.ndarray, end: np.ndarray, way: list[np.ndarray]) -> list[shapely.Polygon]:
    """The ring cut in two from a place on it to another over the points of `way`: from start to end, and the rest."""
    shape = shapely.LinearRing(around)
    a, b = (shape.project(shapely.Point(at)) for at in (start, end))
    found = []
    for first, last, ends in ((a, b, (start, end)), (b, a, (end, start))):
        last += shape.length if last < first else 0.0
        at = [shape.project(shapely.Point(node)) for node in around[:-1]]
        between = sorted(p + lap for p in at for lap in (0.0, shape.length) if first < p + lap < last)
        nodes = [shape.interpolate(p % shape.length).coords[0] for p in between]
        back = way[::-1] if first == a else way
        found.append(shapely.Polygon([ends[0], *nodes, ends[1], *back]))
    return found


def _turned(
    before: Pattern, after: Pattern, parts: list[shapely.Polygon], matrices: list[Affine], *, whole: bool = True
) -> Stepped:
    """One of two parts was moved: which one the corners tell that lie in one of them only."""
    was, now = before.pieces[0], after.pieces[0]
    for k, matrix in enumerate(matrices):
        way = (matrix, IDENTITY) if k == 0 else (IDENTITY, matrix)

        def where(at: np.ndarray, way: tuple[Affine, Affine] = way) -> np.ndarray | None:
            if at[0] > 500:
                return at  # the other piece
            away = [part.distance(shapely.Point(at)) for part in parts]
            if abs(away[0] - away[1]) < 0.02:
                return None  # on the cut itself: it goes to both sides
            return way[int(away[1] < away[0])].apply(at)

        told = [(where(e.end), now.edge_of(e.uid).end) for e in was.edges]
        if all(a is None or np.hypot(*(a - b)) < NEAR for a, b in told):
            return Stepped(before=before, after=after, where=where, whole=whole)
    raise AssertionError("neither part was turned as it should be")


def opened(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """Along a straight line from edge to edge: hinged at its end, or shifted; what it becomes lies in the gap."""
    piece = pattern.pieces[0]
    along = next(item for item in piece.lines if item.name == "slash").curve
    gap, hinged, to = draw(st.floats(2, 30)), draw(st.booleans()), draw(st.sampled_from(("flare", "gathers", "pleat")))
    after = run(pattern, "spread", "front.slash", amount=gap, within=0, to=to, **({"at": "start"} if hinged else {}))
    event(f"opened to {to}")
    p, q = along.start, along.end
    if hinged:
        turn = 2 * math.asin(gap / 2 / math.dist(p, q))
        ways = [Affine.rotation(s * turn, tuple(q)) for s in (1, -1)]
    else:
        across = np.array([-(q - p)[1], (q - p)[0]]) / math.dist(p, q) * gap
        ways = [Affine.translation(*(s * across)) for s in (1, -1)]
    parts = _parted(ring(piece), p, q, [])
    for matrices in (ways, ways[::-1]):
        try:
            return _turned(pattern, after, parts, matrices, whole=False)
        except AssertionError:
            continue
    raise AssertionError("the part beside the line was moved otherwise")


def join(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """To a copy of itself turned about the middle of a straight edge; its marks lie where they lay on the copy."""
    piece = pattern.pieces[0]
    straight = [e for e in piece.edges if len(e.parts) == 1 and len(e.parts[0]) == 1 and e.parts[0].straight[0]]
    edge = one_of(draw, straight)
    turn = Affine.rotation(math.pi, tuple((edge.start + edge.end) / 2))
    copy = renewed(moved(piece, turn), Uids(pattern.uids()), name="copy")
    index = piece.edges.index(edge)
    copy = replace(
        copy,
        edges=tuple(replace(e, name=f"{e.name}j") for e in copy.edges),
        darts=tuple(replace(d, name=f"{d.name}j") for d in copy.darts),
        lines=tuple(replace(item, name=f"{item.name}j") for item in copy.lines),
        points=tuple(replace(p, name=f"{p.name}j") for p in copy.points),
    )
    away = Affine.translation(-2000, 300) @ Affine.rotation(draw(st.floats(-3, 3)))
    before = replace(pattern, pieces=(*pattern.pieces, moved(copy, away)))
    after = run(before, "join", f"front.{edge.name}", f"copy.{copy.edges[index].name}")
    back = away.inverse()
    return Stepped(before=before, after=after, where=lambda at: back.apply(at) if at[0] < -1000 else at)


def panels(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """Cut in two along a straight line from edge to edge: both parts stay where they are."""
    after = run(pattern, "cut", "front.slash", names=("front", f"rest{len(pattern.steps)}"))
    return Stepped(before=pattern, after=after, where=still, whole=False)


def trued(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """An edge made fair: what stands on it moves by no more than it says the line is moved."""
    edge = drawn(draw, pattern.pieces[0])
    after = run(pattern, "true", f"front.{edge.name}", within=draw(st.floats(0.5, 8)))
    moves = [figure.value for figure in after.steps[-1].figures if "largest move" in figure.label]
    return Stepped(before=pattern, after=after, where=still, near=NEAR + max(moves, default=0.0), whole=False)


def cut_and_joined(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """In two along a line and one again: everything is where it was; what the cut says counts too."""
    parted = run(pattern, "cut", "front.slash", edge=f"c{len(pattern.steps)}")
    edge = f"c{len(pattern.steps)}"
    order = draw(st.permutations((f"front-1.{edge}", f"front-2.{edge}")))
    after = run(parted, "join", *order, name="front", notches=False)
    last = after.steps[-1]
    last = replace(last, warnings=(*parted.steps[-1].warnings, *last.warnings))
    return Stepped(before=pattern, after=replace(after, steps=(*after.steps[:-1], last)), where=still)


def moved_place(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """A place of an edge moved, less and less to its ends: nothing moves by more."""
    edge, by = drawn(draw, pattern.pieces[0]), draw(st.floats(-6, 6))
    after = run(pattern, "move", f"front.{edge.name}@{draw(st.floats(20, 80)):.3f}%", by=by)
    return Stepped(before=pattern, after=after, where=still, near=NEAR + abs(by), whole=False)


def extended(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """An edge carried on: it alone is elsewhere, what stands on the others stays."""
    edge = drawn(draw, pattern.pieces[0])
    after = run(pattern, "extend", f"front.{edge.name}", by=draw(st.floats(3, 40)))
    own = shapely.MultiLineString([flatten(part, tolerance=1e-3) for part in edge.parts]).buffer(0.02)
    return Stepped(
        before=pattern,
        after=after,
        whole=False,
        where=lambda at: None if own.contains(shapely.Point(at)) else at,
    )


def contoured(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """A wedge closed about a dart's point: what lies in it is gone, one of the two parts beside it is turned."""
    piece = pattern.pieces[0]
    dart = one_of(draw, [d for d in piece.darts if not d.double and d.form == "cut"])
    edge, share, amount = drawn(draw, piece), draw(st.floats(10, 90)), draw(st.floats(1, 6))
    target = point_at(edge, to_drawn(edge, share / 100 * sewn_length(edge)))[0]
    words = {"amount": (amount,), "at": ("edge",), "into": f"front.{dart.name}", "reach": 0}
    after = run(pattern, "contour", f"front.{edge.name}@{share:.4f}%", **words)
    apex = dart.points[0]
    turn = 2 * math.asin(amount / 2 / math.dist(apex, target))
    parts = _parted(ring(piece), dart.feet[1], target, [apex])
    stepped = _turned(pattern, after, parts, [Affine.rotation(s * turn, tuple(apex)) for s in (-1, 1)], whole=False)
    beside = shapely.Point(target).buffer(8 * amount + 3)

    def where(at: np.ndarray) -> np.ndarray | None:
        away = math.atan2(*(at - apex)[::-1]) - math.atan2(*(target - apex)[::-1])
        away = abs((away + math.pi) % (2 * math.pi) - math.pi)
        in_wedge = away < 0.6 * turn and at[0] <= 500
        return None if in_wedge or beside.contains(shapely.Point(at)) else stepped.where(at)

    return replace(stepped, where=where)


def slit(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """A slit at an end of an edge: the edge is parted there, and everything else stays."""
    piece = pattern.pieces[0]
    edge = drawn(draw, piece)
    words = {"length": draw(st.floats(5, 30)), "slit": True, "hem": f"front.{piece.after(edge).name}"}
    after = run(pattern, "vent", f"front.{edge.name}", **words)
    known = {e.uid for e in _all_edges(pattern)}
    # below its end nothing is sewn any more, on neither side
    free = [part for e in _all_edges(after) if e.uid not in known for part in e.parts]
    opened = shapely.MultiLineString([flatten(part, tolerance=1e-3) for part in free]).buffer(0.02)
    return Stepped(
        before=pattern,
        after=after,
        where=lambda at: None if opened.contains(shapely.Point(at)) else at,
    )


def width_folded(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """A pleat of the width that is there: beside its folds, where the edge is shaped, everything stays."""
    edge, depth, at = drawn(draw, pattern.pieces[0]), draw(st.floats(1, 4)), draw(st.floats(20, 70))
    stretch = f"front.{edge.name}@{at:.3f}%..{at + 10:.3f}%"
    after = run(pattern, "pleat", stretch, depth=depth, from_width=True, pressed="end", name=f"w{len(pattern.steps)}")
    (takeup,) = [t for e in after.pieces[0].edges for t in e.takeups if t not in edge.takeups and t.kind == "pleat"][
        -1:
    ]
    host = next(e for e in after.pieces[0].edges if takeup in e.takeups)
    own = shapely.MultiPoint([point_at(host, s)[0] for s in np.linspace(takeup.start, takeup.end, 9)]).buffer(depth)
    return Stepped(
        before=pattern, after=after, whole=False, where=lambda at: None if own.contains(shapely.Point(at)) else at
    )


def swung(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """A seam turned at its hem, on both pieces: it and the hems lie elsewhere, what stands inside stays."""
    piece, mate = pattern.piece("front"), pattern.piece("mate")
    whole = [
        (edge, other, part.backwards)
        for edge, other in zip(piece.edges, mate.edges, strict=True)
        for seam in pattern.seams
        if (part := seam.a[0]).of == edge.uid
        and (part.start, part.end) == (None, None)
        and [other.uid] == [p.of for p in seam.b]
    ]
    edge, other, backwards = one_of(draw, whole)
    # the seam ends where the edge does on this piece, and where the other one does or begins
    hem = piece.after(edge)
    below = mate.edges[mate.edges.index(other) - 1] if backwards else mate.after(other)
    pattern = run(pattern, "edge", f"front.{hem.name}", use="hem")
    total = drawn_length(hem) + drawn_length(below)
    by, at = draw(st.floats(-8, 8)), draw(st.floats(10, 70))
    share = (drawn_length(hem) + by) / total
    after = run(pattern, "swing", f"front.{edge.name}", about=f"front.{edge.name}@{at:.3f}%", share=share)
    turned = [part for e in (edge, hem, other, below) for part in e.parts]
    moved = shapely.MultiLineString([flatten(part, tolerance=1e-3) for part in turned]).buffer(0.02)
    for was in (edge, other):
        now = next(e for e in _all_edges(after) if e.uid == was.uid)
        assert drawn_length(now) == pytest.approx(drawn_length(was), abs=0.2)
    return Stepped(
        before=pattern,
        after=after,
        where=lambda place: None if moved.contains(shapely.Point(place)) else place,
        near=NEAR + 1.5 * abs(by),
        whole=False,
    )


def shifted(draw: st.DrawFn, pattern: Pattern) -> Stepped:
    """One rule for all points: another size of the same size elsewhere."""
    right, up = draw(st.floats(-40, 40)), draw(st.floats(-40, 40))
    rows = f"point,right,up,from,to|front,{right:.3f},{up:.3f},front.apex,mate.apex"
    one, two = (next(p.at for p in pattern.piece(name).points if p.name == "apex") for name in ("front", "mate"))
    way = two - one
    turn = Affine.rotation(math.atan2(way[1], way[0]) + math.pi / 2)
    shift = turn.apply([round(right, 3), -round(up, 3)])
    after = load("grade")(rules=rows, size="other")(pattern)
    return Stepped(before=pattern, after=after, where=lambda at: at if at[0] > 500 else at + shift)


Step = Callable[[st.DrawFn, Pattern], Stepped]


def possible(pattern: Pattern) -> list[Step]:
    """The steps for which the piece has what they take."""
    piece = pattern.pieces[0]
    found: list[Step] = [split, new_dart, corner_dart, join, opened, panels, trued, cut_and_joined]
    found += [moved_place, extended, slit, width_folded, shifted, swung]
    if "leg0" in piece.names():
        return [v_to_dart, *found]
    if any(not dart.double for dart in piece.darts):
        found = [pivot, pivot, other_form, flare, contoured, *found]
    return found


# What stands where ----------------------------------------------------------------------------------------------------


def place(edge: Edge, at: Position) -> np.ndarray:
    """Where a position on an edge lies, (2,) mm."""
    total = sewn_length(edge)
    return point_at(edge, to_drawn(edge, min(max(at.along(total), 0.0), total)))[0]


def marks(pattern: Pattern) -> Iterator[tuple[tuple[str, ...], np.ndarray]]:
    """Everything by what it is, and where it lies."""
    for piece in pattern.pieces:
        for notch in piece.notches:
            yield ("notch", notch.uid), place(piece.edge_of(notch.edge), notch.at)
        for hole in piece.holes:
            if hole.at is not None:
                yield ("hole", hole.uid), hole.at
        for button in piece.buttons:
            yield ("button", button.uid), button.at
        for named in piece.points:
            yield ("point", named.uid), named.at
        for edge in piece.edges:
            for takeup in edge.takeups:
                if takeup.kind != "dart":
                    for which, at in (("from", takeup.start), ("to", takeup.end)):
                        yield ("take-up", takeup.uid, which), point_at(edge, at)[0]


def named(stepped: Stepped, *words: str) -> bool:
    """Whether a warning of the step names it."""
    return any(all(word in said for word in words) for said in stepped.after.steps[-1].warnings)


def judge(stepped: Stepped) -> None:
    judge_marks(stepped)
    _judge_darts(stepped)
    _judge_widths(stepped)
    _judge_corners(stepped)
    _judge_lines(stepped)
    _judge_seams(stepped)


def judge_marks(stepped: Stepped) -> None:
    before, after, where, near = stepped.before, stepped.after, stepped.where, stepped.near
    now = dict(marks(after))
    for key, at in marks(before):
        went = where(at)
        if key not in now:
            assert went is None or key[0] == "take-up" or named(stepped, key[0], " of "), f"{key} is lost"
        elif key[0] == "notch" and went is not None and _gathered(stepped, now[key]):
            sewn = [_sewn(pattern, key[1]) for pattern in (before, after)]
            assert abs(sewn[0] - sewn[1]) < near, f"{key} meets its mate at {sewn} mm along its edge"
        elif went is not None and not (key[0] == "notch" and named(stepped, "notch", "taken out or folded away")):
            assert np.hypot(*(now[key] - went)) <= near, f"{key} stands {now[key]}, its cloth is at {went}"


def _sewn(pattern: Pattern, uid: str) -> float:
    """How far along its edge, as it is sewn, a notch stands, mm."""
    (found,) = [(piece, notch) for piece in pattern.pieces for notch in piece.notches if notch.uid == uid]
    piece, notch = found
    return notch.at.along(sewn_length(piece.edge_of(notch.edge)))


def _gathered(stepped: Stepped, at: np.ndarray) -> bool:
    """Whether a place lies where the step gathers an edge: there the cloth is drawn up under what it is sewn to."""
    known = {t.uid for edge in _all_edges(stepped.before) for t in edge.takeups}
    return any(
        t.start - NEAR <= along <= t.end + NEAR
        for edge, along in _on(_all_edges(stepped.after), at)
        for t in edge.takeups
        if t.kind == "gathers" and t.uid not in known
    )


def _judge_darts(stepped: Stepped) -> None:
    now = {d.uid: d for piece in stepped.after.pieces for d in piece.darts}
    holes = {hole.uid for piece in stepped.after.pieces for hole in piece.holes}
    for piece in stepped.before.pieces:
        for dart in piece.darts:
            pair = now.get(dart.uid)
            if pair is not None and pair.form == "lines" and not pair.double:
                host = next(e for p in stepped.after.pieces for e in p.edges if e.uid == pair.host)
                assert (
                    shapely.MultiLineString([flatten(c, tolerance=1e-3) for c in host.parts]).distance(
                        shapely.MultiPoint(pair.feet)
                    )
                    < stepped.near + 0.05
                ), f"{dart.name} stands on another edge"
        for hole in piece.holes:
            if hole.dart:
                assert hole.uid in holes or named(stepped, "drill hole"), "a drill hole is lost"


def _all_edges(pattern: Pattern) -> list[Edge]:
    return [edge for piece in pattern.pieces for edge in piece.edges]


def _on(edges: list[Edge], at: np.ndarray) -> list[tuple[Edge, float]]:
    """Edges that a place lies on, and where along them, mm drawn."""
    found = []
    for edge in edges:
        reached = 0.0
        for part in edge.parts:
            shape = shapely.LineString(flatten(part, tolerance=1e-4))
            if shape.distance(shapely.Point(at)) < NEAR:
                found.append((edge, reached + shape.project(shapely.Point(at))))
            reached += shape.length
    return found


def _judge_widths(stepped: Stepped) -> None:
    edges = _all_edges(stepped.after)
    for edge in _all_edges(stepped.before):
        if edge.allowance is None or edge.allowance.end_width is not None:
            continue  # what tapers along the whole edge tapers along the whole of it still
        steps = [end for band in bands(edge) for end in (band.start, band.end)]
        for share in (0.07, 0.23, 0.41, 0.5, 0.66, 0.83, 0.96):
            at = share * drawn_length(edge)
            went = stepped.where(point_at(edge, at)[0])
            if went is None or min(abs(at - step) for step in steps) < 0.1 + stepped.near:
                continue
            band = next(b for b in bands(edge) if b.start <= at <= b.end)
            if band.width != band.end_width and not stepped.whole:
                continue  # a taper runs evenly from end to end, which stand, whatever was put in between
            slope = max(abs(b.end_width - b.width) / max(b.end - b.start, 1.0) for b in bands(edge))
            widths = [width_at(other, along) for other, along in _on(edges, went)]
            if stepped.near > NEAR and not widths:
                continue  # the edge is redrawn there
            wanted = width_at(edge, at)
            if not widths:
                assert edge.name.rstrip("j") in ("leg0", "leg1") or _joined(stepped, edge), f"{edge.name} is gone"
                continue
            least = min(abs(width - wanted) for width in widths)
            assert least <= NEAR + 2 * slope * (0.02 + stepped.near), f"{edge.name} has {widths}, {wanted} before"


def _joined(stepped: Stepped, edge: Edge) -> bool:
    """Whether it is an edge along which two pieces were joined."""
    return edge.uid not in {other.uid for other in _all_edges(stepped.after)}


def _judge_corners(stepped: Stepped) -> None:
    now = [(edge.end, edge, piece.after(edge)) for piece in stepped.after.pieces for edge in piece.edges]
    for piece in stepped.before.pieces:
        for edge in piece.edges:
            if not edge.corner.kind:
                continue
            went = stepped.where(edge.end)
            if went is None:
                continue
            here = [(e, following) for at, e, following in now if np.hypot(*(at - went)) <= stepped.near]
            kept = [
                e.corner for e, _ in here if (e.corner.kind, e.corner.limit) == (edge.corner.kind, edge.corner.limit)
            ]
            corner = f"{piece.name}.{edge.name}/{piece.after(edge).name}"
            assert kept or named(stepped, "corner", corner), f"the corner {corner} was {edge.corner.kind}"
            # squared through, or turned about, the edge on the same side of it
            if kept and edge.corner.through in (edge.uid, piece.after(edge).uid):
                sides = [(e.uid, following.uid) for e, following in here if e.corner in kept]
                side = int(edge.corner.through != edge.uid)
                assert any(c.through == s[side] for c, s in zip(kept, sides, strict=True)), f"{corner} goes otherwise"


def _judge_lines(stepped: Stepped) -> None:
    now = [shapely.LineString(flatten(item.curve, tolerance=1e-3)) for p in stepped.after.pieces for item in p.lines]
    for piece in stepped.before.pieces:
        for item in piece.lines:
            if item.name.startswith("slash"):
                continue  # along which it was opened
            for share in (0.02, 0.3, 0.7, 0.98):
                went = stepped.where(point(item.curve, share * len(item.curve)))
                if went is not None:
                    away = min(shape.distance(shapely.Point(went)) for shape in now)
                    assert away < stepped.near, f"{item.name} is {away} mm off its cloth"


def _walked(pattern: Pattern, run: tuple[RunPart, ...]) -> list[np.ndarray]:
    return [flatten(curve, tolerance=1e-3) for step in walk(pattern, run) for curve in run_curves(step)]


def _judge_seams(stepped: Stepped) -> None:
    now = {seam.uid: seam for seam in stepped.after.seams}
    feet = [foot for p in stepped.before.pieces for dart in p.darts if not dart.double for foot in dart.feet]
    for seam in stepped.before.seams:
        if seam.uid not in now:
            assert named(stepped, "seam of") or named(stepped, "notch") or not seam.b, "a seam is lost"
            continue
        was, is_now = _walked(stepped.before, seam.a), _walked(stepped.after, now[seam.uid].a)
        shape = shapely.MultiLineString(is_now)
        for curve in was:
            for at in curve[:: max(1, len(curve) // 5)]:
                went = stepped.where(at)
                if went is not None:
                    away = shape.distance(shapely.Point(went))
                    assert away < stepped.near + 0.005, f"a seam is {away} mm off its cloth"
        for k, end in ((0, was[0][0]), (-1, was[-1][-1])):
            went = stepped.where(end)
            # both feet of a dart are one place of its seam
            if went is not None and all(math.dist(foot, end) > NEAR for foot in feet):
                if _gathered(stepped, is_now[k][k]):
                    sewn = [walk(p, s.a)[k] for p, s in ((stepped.before, seam), (stepped.after, now[seam.uid]))]
                    ends = [(step.start, step.end)[(k == -1) == step.forward] for step in sewn]
                    assert abs(ends[0] - ends[1]) < stepped.near + 0.005, f"a seam ends {ends} mm along its edge"
                    continue
                away = math.dist(is_now[k][k], went)
                assert away < stepped.near + 0.005, f"a seam ends {away} mm off its cloth"


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much],
)
@given(furnished(), st.data())
def test_after_any_chain_of_changes_everything_stands_on_its_cloth(pattern: Pattern, data: st.DataObject) -> None:
    for _ in range(data.draw(st.integers(1, 4))):
        step = data.draw(st.sampled_from(possible(pattern)))
        try:
            stepped = step(data.draw, pattern)
        except (FlatcutError, IndexError, StopIteration) as error:
            event(f"{step.__name__} refused")
            del error
            continue
        event(step.__name__)
        judge(stepped)
        pattern = stepped.after

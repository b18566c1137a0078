"""An outline opened along a stretch of one of its edges: what is left of that edge on both sides, and all the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.curves import Curve, chain, reverse, signed_area, split
from flatcut.geometry.length import place_at
from flatcut.geometry.welding import starting_at
from flatcut.pattern.places import Place
from flatcut.pattern.spots import edge_of
from flatcut.pattern.values import Dart, Edge, Pattern, Piece, area
from flatcut.pattern.walking import SLACK, drawn_length, drawn_of, sewn_at, to_drawn
from flatcut.reshape.cycle import Item, cycle

TINY = 0.01
"""mm: a stretch that ends so near to an end of its edge ends there."""

AT_NODE = 1e-6
"""Of a span: a place this near to a node is the node."""


@dataclass(frozen=True, kw_only=True)
class Side:
    """One of two edges that are joined, and from where to where along it, mm as drawn."""

    piece: Piece
    edge: Edge
    low: float
    high: float

    @property
    def name(self) -> str:
        """The edge as it is written."""
        return f"{self.piece.name}.{self.edge.name}"

    @property
    def whole(self) -> bool:
        """Whether it is joined from end to end."""
        return self.low <= SLACK and self.high >= drawn_length(self.edge) - SLACK


def side(piece: Piece, edge: Edge, low: float, high: float) -> Side:
    """A stretch of an edge; one that ends at a hair's breadth from a node of it, or from an end, ends there."""
    nodes = [drawn_of(edge, k, u) for k, part in enumerate(edge.parts) for u in range(len(part) + 1)]
    ends = []
    for at in (low, high):
        node = min(nodes, key=lambda here: abs(here - at))
        ends.append(node if abs(node - at) <= TINY else at)
    return Side(piece=piece, edge=edge, low=ends[0], high=ends[1])


def named_side(pattern: Pattern, place: Place) -> Side:
    """The edge or the stretch that a place names. Errors: UsageError."""
    piece, edge = edge_of(pattern, place)
    if place.at is None:
        return side(piece, edge, 0.0, drawn_length(edge))
    if place.to is None:
        raise UsageError(f"'{place}' is one place; a stretch has two, such as {piece.name}.{edge.name}@0..1/2")
    low, high = (to_drawn(edge, sewn_at(edge, at)) for at in (place.at, place.to))
    found = side(piece, edge, low, high)
    if found.high - found.low <= 0.0:
        raise UsageError(f"'{place}' has no length; write the place nearer the start of {edge.name} first")
    return found


@dataclass(frozen=True, kw_only=True)
class Span:
    """An item of an outline, and from where to where along the edge it comes from it runs as drawn, mm.

    block: tells what is left of an edge before the stretch (0) from what is left beyond it (1).
    """

    item: Item
    low: float = 0.0
    high: float = 0.0
    block: int = 0

    @property
    def key(self) -> tuple[str, int]:
        """What tells one edge of the opened outline from the others."""
        return self.item.of, self.block


@dataclass(frozen=True, kw_only=True)
class Opened:
    """An outline without a stretch, walked from the end of that round to its start.

    post, pre: what is left of the edge beyond its end and before its start; around: the other edges; inside: the
    stretch itself, parts and legs of darts.
    """

    post: tuple[Span, ...]
    around: tuple[Span, ...]
    pre: tuple[Span, ...]
    inside: tuple[Span, ...]

    @property
    def curves(self) -> list[Curve]:
        """The parts of the stretch, in order."""
        return [span.item.curve for span in self.inside if span.item.part]

    @property
    def darts(self) -> list[str]:
        """Uids of the darts that open on the stretch, in order."""
        return [span.item.of for span in self.inside if span.item.leg == 0]


def opened(one: Side) -> Opened:
    """The outline of a piece without the stretch. Errors: UsageError for an edge that goes all round or a dart at its
    ends."""
    piece, edge = one.piece, one.edge
    if len(piece.edges) < 2:
        raise UsageError(f"{one.name} goes all round the piece; split it with edge --split first")
    if edge.takeups:
        raise UsageError(f"{one.name} has {edge.takeups[0].kind} in it; take that out before it is joined")
    spans: list[Span] = []
    reached = 0.0
    for item in cycle(piece):
        size = drawn_length(Edge(uid="", name="", parts=(item.curve,))) if item.part else 0.0
        reached = 0.0 if item.part and (not spans or item.of != _edge_before(spans)) else reached
        spans.append(Span(item=item, low=reached, high=reached + size))
        reached += size
    for at in (one.low, one.high):
        _break(spans, edge.uid, at)
    mine = [k for k, span in enumerate(spans) if span.item.of == edge.uid]
    first = next(k for k in mine if spans[k].low >= one.low - TINY)
    last = next(k for k in reversed(mine) if spans[k].high <= one.high + TINY)
    found = Opened(
        post=tuple(replace(span, block=1) for span in spans[last + 1 : mine[-1] + 1]),
        around=(*spans[mine[-1] + 1 :], *spans[: mine[0]]),
        pre=tuple(spans[mine[0] : first]),
        inside=tuple(spans[first : last + 1]),
    )
    beside = [*(found.post or found.around)[:1], *(found.pre or found.around)[-1:]]
    for span in beside:
        if not span.item.part:
            raise UsageError(_at_the_end(piece, span.item.of, one))
    return found


def _edge_before(spans: Sequence[Span]) -> str:
    return next((span.item.of for span in reversed(spans) if span.item.part), "")


def _break(spans: list[Span], uid: str, at: float) -> None:
    """The part of an edge on which a place lies in two, unless it lies at an end of it."""
    for k, span in enumerate(spans):
        if span.item.of == uid and span.low + TINY < at < span.high - TINY:
            u = place_at(span.item.curve, at - span.low)
            # at a node, not beside it: a span without length is a node that nobody drew
            u = float(round(u)) if abs(u - round(u)) < AT_NODE else u
            first, second = split(span.item.curve, u)
            spans[k : k + 1] = [
                replace(span, item=replace(span.item, curve=first), high=at),
                replace(span, item=replace(span.item, curve=second, first=False), low=at),
            ]
            return


def _at_the_end(piece: Piece, uid: str, one: Side) -> str:
    dart = next(d for d in piece.darts if d.uid == uid)
    return f"dart {piece.name}.{dart.name} opens on {one.name}; move it to another edge with pivot first"


def refuse_dart_in(piece: Piece, spans: Sequence[Span], one: Side) -> None:
    """Errors: UsageError when a dart opens on what is to be the leg of another."""
    for span in spans:
        if not span.item.part:
            raise UsageError(_at_the_end(piece, span.item.of, one))


def refuse_alone(held: Side, here: Opened, other: Side, there: Opened) -> None:
    """Errors: UsageError for a dart on one of the joined edges that has none opposite."""
    mine, theirs = here.darts, there.darts
    if len(mine) != len(theirs):
        one, uids = (held, mine) if len(mine) > len(theirs) else (other, theirs)
        raise UsageError(_at_the_end(one.piece, uids[-1], one))


def grown_together(still: Piece, held: Opened, laid: Piece, onto: Opened) -> list[Dart]:
    """Darts that meet foot to foot on the joined stretches, as darts with two points.

    The name and the uid are those of the piece that stays.
    """
    mine, theirs = held.darts, onto.darts[::-1]
    found = []
    for a, b in zip(mine, theirs, strict=True):
        dart, other = (next(d for d in p.darts if d.uid == uid) for p, uid in ((still, a), (laid, b)))
        found.append(_double(dart, other, area(still)))
    return found


def ends_of_grown(still: Piece, held: Opened, onto: Opened, grown: Sequence[Dart]) -> dict[str, tuple[str, str]]:
    """By the uid of each dart that grew together with another: the uid of what they are now, and which point of it,
    upper or lower, was its own."""
    ends = {}
    for a, b, dart in zip(held.darts, onto.darts[::-1], grown, strict=True):
        apex = next(d for d in still.darts if d.uid == a).points[0]
        first, second = (float(np.hypot(*(apex - at))) for at in dart.points)
        words = ("upper", "lower") if first < second else ("lower", "upper")
        ends[a], ends[b] = (dart.uid, words[0]), (dart.uid, words[1])
    return ends


def _double(dart: Dart, other: Dart, way: float) -> Dart:
    sides = []
    for to, on in ((dart.legs[0], other.legs[1]), (other.legs[0], dart.legs[1])):
        back = reverse(to)
        sides.append(chain([back, starting_at(reverse(on), back.end)]))
    one, two = sides
    two = starting_at(two, one.end)
    upper = one.start[1] <= one.end[1]
    legs = (one, two) if upper else (two, one)
    # the legs run round the other way than the outline, as those of a block do: which was the first is not known
    if signed_area(chain(legs)) * way > 0:
        legs = reverse(legs[1]), reverse(legs[0])
    return replace(dart, legs=legs, form="lines", host="", after=0)

"""New darts: cut into an edge or a corner, or drawn on an edge."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from flatcut.darts.dart_forms import ALIKE
from flatcut.darts.darting import dart_of
from flatcut.darts.feet import ways_beside
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, tangent
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Piece, TakeUp
from flatcut.pattern.walking import drawn_length, drawn_of, part_at, point_at
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import Item, cycle, rebuilt, with_edge
from flatcut.reshape.ways import Way, kept_ends
from flatcut.units import plain

MOST = 30.0
"""mm that a foot may stand off the drawn edge before the dart is refused: the edge would be another one."""
ON_EDGE = 1e-6
"""mm: a foot this near to the edge stands on it."""
FLATTEST = 120.0
"""Degrees: a wider wedge is no dart."""


def cut_into_edge(
    piece: Piece, edge: Edge, drawn: float, apex: Array, intake: float, dart: Dart
) -> tuple[Change, float]:
    """A new dart cut into an edge, and how far its feet stand off the drawn edge, mm.

    The dart is symmetric about the way from its point to the place at `drawn` mm, so its legs are equal and the intake
    is exact; where the edge is not square to it the ends of the edge are drawn on to the feet.
    dart: gives uid, name, pressed. Errors: GeometryError, UsageError.
    """
    middle = point_at(edge, drawn)[0]
    tall = float(np.hypot(*(middle - apex)))
    _refuse_flat(intake, tall)
    k, u = part_at(edge, drawn)
    part = edge.parts[k]
    if not 0 < u < len(part):
        raise UsageError(f"that is the end of {piece.name}.{edge.name}; write the corner to put a dart there")
    along = unit(middle - apex)
    across = np.array([-along[1], along[0]])
    tangent_way = point_at(edge, drawn)[1]
    if across @ tangent_way < 0:
        across = -across
    feet = middle - intake / 2 * across, middle + intake / 2 * across
    places = [_met(piece, edge, part, apex, foot, u, side) for foot, side in zip(feet, (-1, 1), strict=True)]
    strays = [float(np.hypot(*(chosen - foot))) for (_, chosen), foot in zip(places, feet, strict=True)]
    if max(strays) > MOST:
        raise GeometryError(
            f"{piece.name}.{edge.name} runs too slantwise there for that point; choose a place more square to it"
        )
    before = ending_at(section(part, 0.0, places[0][0]), feet[0])
    after = starting_at(section(part, places[1][0], len(part)), feet[1])
    _refuse_takeups(piece, edge, drawn_of(edge, k, places[0][0]), drawn_of(edge, k, places[1][0]))
    reach = drawn_of(edge, k, places[0][0]), drawn_of(edge, k, places[1][0])
    return _cut(piece, edge, k, (before, after), reach, apex, dart), max(strays)


def _met(piece: Piece, edge: Edge, part: Curve, apex: Array, foot: Array, u: float, side: int) -> tuple[float, Array]:
    """Where the line of a leg meets the edge, on that side of the dart's middle: place and point."""
    ray = line(apex, apex + 3 * (foot - apex))
    met = [c for c in crossings(part, ray) if (c.u - u) * side > 0]
    if not met:
        raise UsageError(
            f"{piece.name}.{edge.name} is too short beside the dart; choose another place or a smaller intake"
        )
    best = min(met, key=lambda c: abs(c.u - u))
    return best.u, best.point


def cut_into_corner(piece: Piece, edge: Edge, apex: Array, intake: float, dart: Dart) -> tuple[Change, float]:
    """A new dart in the corner at the end of an edge, and how far its feet stand off the edges, mm.

    A foot on each edge, both as far from the point. Where the edges allow that only beyond the corner, the one that
    stops short is drawn straight on. Errors: GeometryError when no two such places are `intake` apart.
    """
    following = piece.after(edge)
    part_1, part_2 = edge.parts[-1], following.parts[0]
    far = float(np.hypot(*(edge.end - apex)))
    _refuse_flat(intake, far)
    if piece.cut_in(edge, len(edge.parts) - 1) is not None:
        raise UsageError(f"a dart stands in the corner {edge.name}/{following.name} already; pivot into it instead")
    found = _corner_feet(part_1, part_2, apex, intake)
    if found is None:
        raise GeometryError(
            f"no two places on {edge.name} and {following.name} are as far from the point as each other and "
            f"{plain(intake)} mm apart; pivot a dart into the corner instead"
        )
    foot_1, foot_2 = found
    strays = [float(nearest(part, foot)[1]) for part, foot in ((part_1, foot_1), (part_2, foot_2))]
    ends = _shortened(part_1, foot_1, strays[0]), reverse(_shortened(reverse(part_2), foot_2, strays[1]))
    items = cycle(piece)
    last = max(k for k, item in enumerate(items) if item.of == edge.uid)
    first = min(k for k, item in enumerate(items) if item.of == following.uid)
    items[last] = replace(items[last], curve=ends[0])
    items[first] = replace(items[first], curve=ends[1])
    legs = [Item(of=dart.uid, curve=line(foot_1, apex), leg=0), Item(of=dart.uid, curve=line(apex, foot_2), leg=1)]
    items[last + 1 : last + 1] = legs
    made = rebuilt(piece, items, {d.uid: d for d in (*piece.darts, dart)})
    return Change(pieces=(made,), ways=ways_beside(piece, made, dart_of(made, dart.uid))), max(strays)


def _shortened(part: Curve, foot: Array, stray: float) -> Curve:
    """The part up to a foot on it, or drawn on to one beyond its end."""
    if stray > ON_EDGE:
        return ending_at(part, foot)
    u, _ = nearest(part, foot)
    return ending_at(section(part, 0.0, float(u)), foot)


def _corner_feet(part_1: Curve, part_2: Curve, apex: Array, intake: float) -> tuple[Array, Array] | None:
    """Two places as far from the apex as each other and `intake` apart, beside the corner that the parts share.

    One stands on its edge; the other on its own, or on its straight extension beyond the corner.
    """
    found = _level_with(reverse(part_1), part_2, apex, intake)
    if found is not None:
        return found
    found = _level_with(part_2, reverse(part_1), apex, intake)
    return None if found is None else (found[1], found[0])


def _level_with(own: Curve, other: Curve, apex: Array, intake: float) -> tuple[Array, Array] | None:
    """The place on `own` and its mate on `other`, both parts leaving the corner."""
    both = chain([line(other.start - 2 * intake * tangent(other, 0.0), other.start), other])

    def mate(s: float) -> tuple[Array, Array] | None:
        here = point(own, place_at(own, s))
        places = _circle(both, apex, float(np.hypot(*(here - apex))))
        return None if not places else (here, point(both, min(places, key=lambda u: abs(u - 1.0))))

    def wide(s: float) -> float:
        pair = mate(s)
        return np.inf if pair is None else float(np.hypot(*(pair[1] - pair[0])))

    steps = np.linspace(0.0, min(1.5 * intake, length(own)), 25)[1:]
    low = 0.0
    for s in map(float, steps):
        if wide(s) >= intake:
            high = s
            break
        low = s
    else:
        return None
    for _ in range(50):
        middle = (low + high) / 2
        low, high = (middle, high) if wide(middle) < intake else (low, middle)
    pair = mate(low)
    # a jump over the wanted width is no solution
    return pair if pair is not None and abs(wide(low) - intake) <= 1e-6 else None


def _circle(curve: Curve, centre: Array, radius: float) -> list[float]:
    """Places where a curve is `radius` from `centre`: roots of a polynomial of degree six on each span."""
    found = []
    for k, p in enumerate(curve.controls - centre):
        powers = np.array([p[0], 3 * (p[1] - p[0]), 3 * (p[0] - 2 * p[1] + p[2]), p[3] - p[0] + 3 * (p[1] - p[2])])
        x, y = powers[::-1].T
        away = np.convolve(x, x) + np.convolve(y, y)
        away[-1] -= radius * radius
        # the cubic term of a straight span is rounding noise, and would send roots astray
        away[np.abs(away) < 1e-9 * np.abs(away).max()] = 0.0
        roots = np.roots(away)
        real = roots.real[np.abs(roots.imag) < 1e-6]
        found += [k + float(t) for t in real if -1e-9 <= t <= 1 + 1e-9]
    return found


def drawn_on_edge(piece: Piece, edge: Edge, ends: tuple[float, float], apex: Array, dart: Dart, uids: Uids) -> Change:
    """A dart drawn inside, its feet at two drawn distances along an edge; the edge stays as it is."""
    start, end = sorted(ends)
    total = drawn_length(edge)
    if start < 0 or end > total:
        raise UsageError(f"{piece.name}.{edge.name} is too short for that dart; choose another place")
    _refuse_takeups(piece, edge, start, end)
    if part_at(edge, start)[0] != part_at(edge, end)[0]:
        raise UsageError(f"another dart stands between the feet on {piece.name}.{edge.name}; choose another place")
    feet = point_at(edge, start)[0], point_at(edge, end)[0]
    takeup = TakeUp(uid=uids.fresh("takeup", edge.uid, dart.uid), kind="dart", start=start, end=end, amount=end - start)
    drawn = replace(dart, form="lines", host=edge.uid, after=0, legs=(line(feet[0], apex), line(apex, feet[1])))
    made = with_edge(piece, replace(edge, takeups=(*edge.takeups, takeup)), [*piece.darts, drawn])
    return Change(pieces=(made,), ways={edge.uid: (Way(0.0, total, edge.uid, 0.0, total),)})


def cut_between(piece: Piece, edge: Edge, ends: tuple[float, float], apex: Array, dart: Dart) -> Change:
    """A dart cut in whose feet stand at two drawn distances along an edge; legs as they come out."""
    start, end = sorted(ends)
    (k, u), (j, v) = part_at(edge, start), part_at(edge, end)
    part = edge.parts[k]
    if k != j or not 0 < u < v < len(part):
        raise UsageError(f"the feet must stand inside {piece.name}.{edge.name}, with no dart between them")
    _refuse_takeups(piece, edge, start, end)
    beside = section(part, 0.0, u), section(part, v, len(part))
    return _cut(piece, edge, k, beside, (start, end), apex, dart)


def _cut(
    piece: Piece, edge: Edge, k: int, beside: tuple[Curve, Curve], reach: tuple[float, float], apex: Array, dart: Dart
) -> Change:
    """A dart between two curves that take the place of part `k` of an edge from its end at `reach` (mm drawn) on."""
    items = cycle(piece)
    number = [i for i, item in enumerate(items) if item.of == edge.uid][k]
    before, after = beside
    items[number : number + 1] = [
        replace(items[number], curve=before),
        Item(of=dart.uid, curve=line(before.end, apex), leg=0),
        Item(of=dart.uid, curve=line(apex, after.start), leg=1),
        replace(items[number], curve=after),
    ]
    made = rebuilt(piece, items, {d.uid: d for d in (*piece.darts, replace(dart, form="cut"))})
    total, now = drawn_length(edge), drawn_length(made.edge_of(edge.uid))
    foot = length(before) + sum(length(p) for p in edge.parts[:k])
    first, last = min(reach[0], foot), min(total - reach[1], now - foot)
    return Change(pieces=(made,), ways={edge.uid: kept_ends(edge.uid, total, now, first, last)})


def _refuse_flat(intake: float, tall: float) -> None:
    if tall < 1.0 or math.degrees(2 * math.atan(intake / 2 / tall)) > FLATTEST:
        raise UsageError(
            f"a dart {plain(intake)} mm wide and {plain(tall)} mm long is no dart; make it narrower or longer"
        )


def _refuse_takeups(piece: Piece, edge: Edge, start: float, end: float) -> None:
    for takeup in edge.takeups:
        if takeup.end > start + ALIKE and takeup.start < end - ALIKE:
            raise UsageError(f"{piece.name}.{edge.name} has a {takeup.kind} there already; choose a place beside it")

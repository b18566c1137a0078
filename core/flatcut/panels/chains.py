"""The course of a cut: lines and darts one after the other, from one place of the outline to another.

Along a dart the course has two sides: each leg becomes part of the edge of one panel, and what lies between them goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations
from typing import TypeAlias

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, line, point, reverse, section
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.values import Dart, Line, Piece, area
from flatcut.units import plain

MEET = 0.1
"""mm: ends this near are one place, the width of a pencil line."""
ORDERS = 6
"""So many lines and darts are put in order; more are taken as they are named."""

Link: TypeAlias = Line | Dart


@dataclass(frozen=True, kw_only=True)
class Course:
    """A cut from its start to its end.

    along, back: its two sides, the second running from the end to the start; a part of which the outline runs on the
    same way round as the piece's lies to the right of both on a clockwise piece. start, end: the darts at whose mouths
    it begins and ends; None for a place on an edge. lines, darts: what it is made of.
    """

    along: Curve
    back: Curve
    start: Dart | None
    end: Dart | None
    lines: tuple[Line, ...]
    darts: tuple[Dart, ...]


def course(piece: Piece, links: Sequence[Link]) -> Course:
    """The course of a cut over lines and darts of a piece, darts cut into the outline or with two points.

    Errors: UsageError for links that do not follow on one another, or that do not come from and lead to the outline.
    """
    darts = tuple(link for link in links if isinstance(link, Dart))
    whole = [part for link in links for part in ([link] if isinstance(link, Dart) else _beside(link, darts))]
    placed = _in_order(piece, whole)
    right = area(piece) > 0
    sides = [_sides(link, turned, right) for link, turned in placed]
    first, last = placed[0][0], placed[-1][0]
    for link in {first.uid: first, last.uid: last}.values():
        if isinstance(link, Dart) and link.double:
            raise UsageError(
                f"{piece.name}.{link.name} has two points inside the piece; name also the lines to the outline"
            )
    along = [one for one, _ in sides]
    back = [other for _, other in sides][::-1]
    return Course(
        along=_welded(along, [link for link, _ in placed]),
        back=_welded(back, [link for link, _ in placed][::-1]),
        start=first if isinstance(first, Dart) else None,
        end=last if isinstance(last, Dart) else None,
        lines=tuple(link for link in links if isinstance(link, Line)),
        darts=darts,
    )


def _beside(item: Line, darts: Sequence[Dart]) -> list[Link]:
    """A line without what of it lies inside darts whose points it runs over."""
    places = [0.0, float(len(item.curve))]
    for dart in darts:
        for tip in dart.points:
            u, away = nearest(item.curve, tip)
            if float(away) <= MEET:
                places.append(float(u))
    places.sort()
    bounds = [(a, b) for a, b in pairwise(places) if _long(item.curve, a, b)]
    if len(bounds) < 2:
        return [item]
    kept = [(a, b) for a, b in bounds if not any(_inside(dart, point(item.curve, (a + b) / 2)) for dart in darts)]
    return [replace(item, curve=section(item.curve, a, b)) for a, b in kept]


def _long(curve: Curve, a: float, b: float) -> bool:
    ends = point(curve, np.array([a, (a + b) / 2, b]))
    return bool(b > a and np.hypot(*(ends[1:] - ends[0]).T).max() > MEET)


def _inside(dart: Dart, at: Array) -> bool:
    legs = list(dart.legs)
    around = legs if dart.double else [*legs, line(legs[1].end, legs[0].start)]
    return bool(contains(flatten(chain(around, within=1e-3), tolerance=0.02), at[None])[0])


def _ends(link: Link) -> tuple[Array | None, Array | None]:
    """Where a link is gone on from: the ends of a line, the points of a dart; None at a dart's mouth."""
    if isinstance(link, Line):
        return link.curve.start, link.curve.end
    return (link.points[0], link.points[1]) if link.double else (None, link.points[0])


def _in_order(piece: Piece, links: Sequence[Link]) -> list[tuple[Link, bool]]:
    """The links as they follow on one another, and whether each is gone over from its end."""
    orders = permutations(links) if len(links) <= ORDERS else [tuple(links)]
    best: tuple[float, list[tuple[Link, bool]], int] = (np.inf, [], 0)
    nearest_two = (links[0], links[-1])
    for order in orders:
        for turned in (False, True):
            gap, placed, k = _followed(order, turned)
            if gap <= MEET:
                return placed
            if gap < best[0]:
                best, nearest_two = (gap, placed, k), (order[k], order[k + 1])
    if len(links) == 1:
        dart = links[0]
        raise UsageError(
            f"along {piece.name}.{dart.name} alone nothing is cut off; name also what the cut goes on along from its"
            " point to the outline"
        )
    one, other = (f"{piece.name}.{link.name}" for link in nearest_two)
    apart = f" lie {plain(best[0])} mm apart" if np.isfinite(best[0]) else " do not follow on one another"
    raise UsageError(
        f"{one} and {other}{apart}, and a cut is one line; draw a line from one to the other, or bring a dart's point"
        " there with back-off --to"
    )


def _followed(order: Sequence[Link], turned: bool) -> tuple[float, list[tuple[Link, bool]], int]:
    """The largest gap between links in an order, how each is gone over, and after which link the gap is."""
    placed, widest, where = [(order[0], turned)], 0.0, 0
    first = _ends(order[0])
    reached = first[0] if turned else first[1]
    if len(order) == 1:
        return (0.0 if isinstance(order[0], Line) else np.inf), placed, 0
    if len(order) > 1 and isinstance(order[0], Dart) and turned and not order[0].double:
        return np.inf, placed, 0
    for k, link in enumerate(order[1:]):
        ends = _ends(link)
        gaps = [np.inf if end is None or reached is None else float(np.hypot(*(end - reached))) for end in ends]
        back = gaps[1] < gaps[0]
        if min(gaps) > widest:
            widest, where = min(gaps), k
        placed.append((link, back))
        reached = ends[0] if back else ends[1]
    return widest, placed, where


def _sides(link: Link, turned: bool, right: bool) -> tuple[Curve, Curve]:
    """The two sides of a link as it is gone over: along it for one part, back for the other."""
    if isinstance(link, Line):
        forth = reverse(link.curve) if turned else link.curve
        return forth, reverse(forth)
    if not link.double:
        # from the mouth to the point, or `turned` from the point to the mouth
        return (link.legs[1], link.legs[0]) if turned else (link.legs[0], link.legs[1])
    down, up = link.legs
    upper, lower = link.points
    across = np.array([-(lower - upper)[1], (lower - upper)[0]])
    down_is_right = float((down.nodes - upper).mean(axis=0) @ across) > float((up.nodes - upper).mean(axis=0) @ across)
    if turned:
        return (reverse(down), reverse(up)) if down_is_right != right else (up, down)
    return (down, up) if down_is_right == right else (reverse(up), reverse(down))


def _welded(curves: Sequence[Curve], links: Sequence[Link]) -> Curve:
    """Curves that follow on one another as one; at a dart the line gives way, a dart's point stands."""
    found = list(curves)
    for k in range(len(found) - 1):
        if isinstance(links[k], Dart):
            found[k + 1] = starting_at(found[k + 1], found[k].end)
        else:
            found[k] = ending_at(found[k], found[k + 1].start)
    return chain(found, within=1e-6)


def refuse_meeting_itself(name: str, places: Sequence[Array]) -> None:
    """Errors: GeometryError when there is a place where the course crosses itself."""
    if len(places):
        x, y = places[0]
        raise GeometryError(f"{name} crosses itself near x {x:.1f}, y {y:.1f} mm; draw it without a loop")

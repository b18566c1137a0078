"""What a cut is made of: stretches of lines and darts, and the chains that follow from end to end of them.

A line that runs over a dart is in two stretches, one on each side of it: what lies inside the dart is no cloth.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from typing import TypeAlias

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, line, point, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains
from flatcut.panels.crossed import Over, at_its_point, over
from flatcut.pattern.values import Dart, Line, Piece
from flatcut.units import plain

MEET = 0.1
"""mm: ends this near are one place, the width of a pencil line."""

Thing: TypeAlias = Line | Dart


@dataclass(frozen=True, kw_only=True)
class Link:
    """A stretch of a line, or a dart that the cut runs along. ends: where it is gone on from: the ends of a stretch,
    the points of a dart; None at a dart's mouth."""

    thing: Thing
    curve: Curve | None = None

    @property
    def ends(self) -> tuple[Array | None, Array | None]:
        """Its start and its end."""
        if self.curve is not None:
            return self.curve.start, self.curve.end
        assert isinstance(self.thing, Dart)
        points = self.thing.points
        return (points[0], points[1]) if self.thing.double else (None, points[0])


@dataclass(frozen=True, kw_only=True)
class Chain:
    """Links as they follow on one another, whether each is gone over from its end, and between which of them a dart
    is run over: by the number of the link before it."""

    links: tuple[Link, ...]
    turned: tuple[bool, ...]
    overs: Mapping[int, Over]

    @property
    def ends(self) -> tuple[Array | None, Array | None]:
        """Where it begins and ends; None at the mouth of a dart."""
        return self.links[0].ends[self.turned[0]], self.links[-1].ends[not self.turned[-1]]


End: TypeAlias = tuple[int, int]


def laid_out(piece: Piece, things: Sequence[Thing]) -> tuple[list[Link], list[Dart]]:
    """The links of lines and darts of a piece, and those of the darts that lines run over."""
    darts = [thing for thing in things if isinstance(thing, Dart)]
    links = [link for thing in things if isinstance(thing, Line) for link in _stretches(thing, darts)]
    ends = [end for link in links for end in link.ends if end is not None]
    across = [dart for dart in darts if len({leg for end in ends if (leg := leg_at(dart, end)) is not None}) == 2]
    across += [dart for dart in darts if dart not in across and _through_point(dart, ends)]
    return [*(Link(thing=d) for d in darts if d not in across), *links], across


def _through_point(dart: Dart, ends: Sequence[Array]) -> bool:
    """Whether lines come to the point of a dart and go on from it."""
    return not dart.double and sum(float(np.hypot(*(end - dart.points[0]))) <= MEET for end in ends) > 1


def _stretches(item: Line, darts: Sequence[Dart]) -> list[Link]:
    """A line without what of it lies inside darts whose points or legs it runs over."""
    places = [0.0, float(len(item.curve))]
    for dart in darts:
        touched = [nearest(item.curve, tip) for tip in dart.points]
        places += [float(u) for u, away in touched if float(away) <= MEET]
        places += [c.u for leg in dart.legs for c in crossings(item.curve, leg)]
    places.sort()
    bounds = [(a, b) for a, b in pairwise(places) if _long(item.curve, a, b)]
    if len(bounds) < 2:
        return [Link(thing=item, curve=item.curve)]
    kept = [(a, b) for a, b in bounds if not any(inside(dart, point(item.curve, (a + b) / 2)) for dart in darts)]
    return [Link(thing=item, curve=section(item.curve, a, b)) for a, b in kept]


def _long(curve: Curve, a: float, b: float) -> bool:
    if not b > a:
        return False
    ends = point(curve, np.array([a, (a + b) / 2, b]))
    return bool(np.hypot(*(ends[1:] - ends[0]).T).max() > MEET)


def lens(dart: Dart) -> Array:
    """The cloth that a dart takes in, as a ring (n, 2)."""
    legs = list(dart.legs)
    around = legs if dart.double else [*legs, line(legs[1].end, legs[0].start)]
    return flatten(chain(around, within=1e-3), tolerance=0.02)


def inside(dart: Dart, at: Array) -> bool:
    """Whether a place lies in the cloth that a dart takes in."""
    return bool(contains(lens(dart), at[None])[0])


def leg_at(dart: Dart, at: Array) -> int | None:
    """The leg of a dart on which a place lies; None for none, and at its points."""
    if any(float(np.hypot(*(at - tip))) <= MEET for tip in dart.points):
        return None
    away = [float(nearest(leg, at)[1]) for leg in dart.legs]
    k = int(np.argmin(away))
    return k if away[k] <= MEET else None


def chains(links: Sequence[Link], across: Sequence[Dart], poles: Mapping[str, int], piece: Piece) -> list[Chain]:
    """The links put together, each end to the one that it meets or comes to over a dart; one chain or several.

    poles: by uid of a dart across which of its points the line is measured from, where it is not the first.
    """
    mates: dict[End, End] = {}
    overs: dict[frozenset[End], Dart] = {}
    for _, one, other, dart in sorted(_pairs(links, across, poles), key=lambda pair: pair[0]):
        if one in mates or other in mates:
            continue
        mates[one], mates[other] = other, one
        if dart is not None:
            overs[frozenset((one, other))] = dart
    found, seen = [], set[int]()
    for k in range(len(links)):
        if k in seen:
            continue
        first = _first_end(k, mates)
        steps: list[End] = [first]
        while (following := mates.get((steps[-1][0], 1 - steps[-1][1]))) is not None and following != first:
            steps.append(following)
        seen |= {i for i, _ in steps}
        own = [links[i] for i, _ in steps]
        turned = [bool(end) for _, end in steps]
        between: dict[int, Over] = {}
        for n, ((i, end), (j, start)) in enumerate(pairwise(steps)):
            crossed = overs.get(frozenset(((i, 1 - end), (j, start))))
            if crossed is None:
                continue
            own[n], own[n + 1], between[n] = _over(
                piece, crossed, (own[n], turned[n]), (own[n + 1], turned[n + 1]), poles
            )
        found.append(Chain(links=tuple(own), turned=tuple(turned), overs=between))
    return found


def _first_end(k: int, mates: Mapping[End, End]) -> End:
    """The end at which the chain of a link begins; that of the link itself where it goes round in a ring."""
    at: End = (k, 0)
    while at in mates:
        i, end = mates[at]
        at = (i, 1 - end)
        if at == (k, 0):
            break
    return at


def _pairs(
    links: Sequence[Link], across: Sequence[Dart], poles: Mapping[str, int]
) -> Iterator[tuple[tuple[int, float], End, End, Dart | None]]:
    """Ends that may meet, those that do before those that come together over a dart, each with mm between them."""
    ends = [((i, e), at) for i, link in enumerate(links) for e, at in enumerate(link.ends) if at is not None]
    for (one, p), (other, q) in combinations(ends, 2):
        if one[0] == other[0]:
            continue
        gap = float(np.hypot(*(p - q)))
        if gap <= MEET:
            met = [d for d in across if not d.double and float(np.hypot(*(p - d.points[0]))) <= MEET]
            if len(met) > 1:
                raise UsageError(
                    f"the cut runs over the points of {' and '.join(dart.name for dart in met)} at once; cut along the"
                    " darts, or bring one point elsewhere with back-off"
                )
            yield (0, 0.0), one, other, met[0] if met else None
        for dart in across:
            legs = leg_at(dart, p), leg_at(dart, q)
            if None not in legs and legs[0] != legs[1]:
                yield (1, gap), one, other, dart


def _over(
    piece: Piece, dart: Dart, before: tuple[Link, bool], after: tuple[Link, bool], poles: Mapping[str, int]
) -> tuple[Link, Link, Over]:
    """Both stretches with their ends as far from the dart's point as each other, and how the dart is run over."""
    (one, turned), (other, back) = before, after
    assert one.curve is not None
    assert other.curve is not None
    joint = one.curve.start if turned else one.curve.end
    if float(np.hypot(*(joint - dart.points[0]))) <= MEET:
        return one, other, at_its_point(dart, one.curve, other.curve, (turned, back))
    first, second, crossed = over(piece, dart, one.curve, other.curve, (turned, back), poles.get(dart.uid, 0))
    return replace(one, curve=first), replace(other, curve=second), crossed


def refuse_apart(piece: Piece, found: Sequence[Chain], loose: Collection[int]) -> None:
    """Errors: UsageError for chains of which ends lie inside the piece, each number in `loose` twice two times that.

    loose: numbers of ends: twice that of the chain, and one more for its end.
    """
    if len(loose) < 2:
        k = next(iter(loose))
        link = found[k // 2].links[-1 if k % 2 else 0]
        if isinstance(link.thing, Dart):
            raise UsageError(
                f"along {piece.name}.{link.thing.name} alone nothing is cut off; name also what the cut goes on along"
                " from its point to the outline"
            )
        return
    best = (np.inf, 0, 0)
    for a, b in combinations(loose, 2):
        p, q = (found[k // 2].ends[k % 2] for k in (a, b))
        one, two = (found[k // 2].links[-1 if k % 2 else 0] for k in (a, b))
        if p is not None and q is not None and one.thing.uid != two.thing.uid:
            best = min(best, (float(np.hypot(*(p - q))), a, b))
    if not np.isfinite(best[0]):
        thing = found[next(iter(loose)) // 2].links[0].thing
        if isinstance(thing, Dart):
            raise UsageError(
                f"{piece.name}.{thing.name} has two points inside the piece; name also the lines to the outline"
            )
        return
    named = [f"{piece.name}.{found[k // 2].links[-1 if k % 2 else 0].thing.name}" for k in best[1:]]
    raise UsageError(
        f"{named[0]} and {named[1]} lie {plain(best[0])} mm apart, and a cut is one line; draw a line from one to the"
        " other, or bring a dart's point there with back-off --to"
    )

"""The course of a cut: lines and darts one after the other, from one place of the outline to another.

Along a dart the course has two sides: each leg becomes part of the edge of one panel, and what lies between them goes.
Across a dart it goes on from the other leg, and each part keeps its share of the dart.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, chain, reverse
from flatcut.geometry.intersect import crossings, self_crossings
from flatcut.geometry.nearest import nearest
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.panels.crossed import Over
from flatcut.panels.links import MEET, Chain, Link, Thing, chains, laid_out, leg_at, refuse_apart
from flatcut.pattern.values import Dart, Line, Piece, area
from flatcut.units import plain

NO_SHARE = -1
"""In the place of the number of a point: the part has nothing of the dart."""


@dataclass(frozen=True, kw_only=True)
class Course:
    """A cut from its start to its end.

    along, back: its two sides in stretches between the darts that it runs across, those of the second from the end to
    the start; a part of which the outline runs on the same way round as the piece's lies to the right of both on a
    clockwise piece. overs: those darts, from the start on. start, end: the darts at whose mouths it begins and ends;
    None for a place on an edge. lines, darts: what it is made of, darts along which it runs.
    """

    along: tuple[Curve, ...]
    back: tuple[Curve, ...]
    overs: tuple[Over, ...]
    start: Dart | None
    end: Dart | None
    lines: tuple[Line, ...]
    darts: tuple[Dart, ...]

    @property
    def sides(self) -> tuple[Curve, ...]:
        """All stretches of both sides."""
        return (*self.along, *self.back)

    @property
    def used(self) -> set[str]:
        """uids of the lines and the darts along which it runs."""
        return {item.uid for item in self.lines} | {dart.uid for dart in self.darts}

    def name(self, piece: Piece) -> str:
        """What a sentence calls it."""
        return f"{piece.name}.{self.lines[0].name}" if self.lines else f"the cut of {piece.name}"

    def named(self) -> str:
        """The name of the line, or of the first dart where it runs along darts only."""
        things: tuple[Thing, ...] = (*self.lines, *self.darts)
        return things[0].name

    def pole(self, over: Over, *, right: bool) -> int | None:
        """The point of a dart run across that lies to the right of the course, or to the left; None for its mouth.

        NO_SHARE on the other side than the mouth of a dart that is run across right at its point.
        """
        if over.mouth_right is not None:
            return None if over.mouth_right == right else NO_SHARE
        one, two = over.places
        aside = [float(cross(two - one, tip - one)) for tip in over.dart.points]
        k = int(np.argmax(aside) if right else np.argmin(aside))
        return k if (aside[k] > 0) == right else None


def next_course(
    piece: Piece, things: Sequence[Thing], poles: Mapping[str, int], *, again: bool
) -> tuple[Course | None, list[Dart]]:
    """A course from outline to outline over lines and darts of a piece, and the darts among them that it never meets.

    None where nothing is left to be cut. poles: as for `chains`; again: whether this is a part that was cut before: a
    dart that nothing comes to any more is one that was run across.
    Errors: UsageError for things that do not follow on one another, or that do not come from and lead to the outline.
    """
    links, _ = laid_out(piece, things)
    lines = [link for link in links if link.curve is not None]
    idle = [link.thing for link in links if isinstance(link.thing, Dart) and _idle(piece, link.thing, links)]
    spare = [dart for dart in idle if again or _whole(piece, lines)]
    links = [link for link in links if link.thing not in spare]
    missed = [] if again else spare
    if not links:
        return None, missed
    across = [thing for thing in things if isinstance(thing, Dart) and all(link.thing is not thing for link in links)]
    found = chains(links, [dart for dart in across if dart not in spare], poles, piece)
    loose: list[int] = []
    for k, one in enumerate(found):
        off = [2 * k + i for i, end in enumerate(one.ends) if end is not None and _off(piece, end) > MEET]
        others = [two for two in found if two is not one]
        held = [i for i in off if not _on_another(one.ends[i % 2], others)]
        if not off:
            _refuse_ring(piece, one)
            return _course(piece, one), missed
        loose += held or off
    for k in loose:
        end = found[k // 2].ends[k % 2]
        assert end is not None
        _refuse_not_named(piece, things, end)
        _refuse_half_over(piece, things, found[k // 2], end)
    refuse_apart(piece, found, loose)
    end = found[loose[0] // 2].ends[loose[0] % 2]
    assert end is not None
    raise UsageError(_ends_off(piece, things, end))


def _whole(piece: Piece, lines: Sequence[Link]) -> bool:
    """Whether there are lines, and each of their ends lies on the outline or on another of them."""
    return bool(lines) and all(
        _off(piece, end) <= MEET
        or any(float(nearest(other.curve, end)[1]) <= MEET for other in lines if other is not link and other.curve)
        for link in lines
        for end in link.ends
        if end is not None
    )


def _idle(piece: Piece, dart: Dart, links: Sequence[Link]) -> bool:
    """Whether nothing of the cut comes to a point of a dart, nor the outline."""
    if any(_off(piece, tip) <= MEET for tip in dart.points):
        return False
    ends = [end for link in links if link.thing is not dart for end in link.ends if end is not None]
    return not any(float(np.hypot(*(end - tip))) <= MEET for end in ends for tip in dart.points)


def _off(piece: Piece, at: Array) -> float:
    """mm from a place to the nearest edge."""
    return min(float(nearest(part, at)[1]) for edge in piece.edges for part in edge.parts)


def _on_another(end: Array | None, others: Sequence[Chain]) -> bool:
    curves = [link.curve for one in others for link in one.links if link.curve is not None]
    curves += [leg for one in others for link in one.links if isinstance(link.thing, Dart) for leg in link.thing.legs]
    return end is not None and any(float(nearest(curve, end)[1]) <= MEET for curve in curves)


def _refuse_ring(piece: Piece, one: Chain) -> None:
    first, last = one.ends
    if first is not None and last is not None and len(one.links) > 1 and float(np.hypot(*(first - last))) <= MEET:
        raise UsageError(f"{piece.name}.{one.links[0].thing.name} ends where it begins; draw the cut from edge to edge")


def _refuse_not_named(piece: Piece, things: Sequence[Thing], end: Array) -> None:
    """Errors: UsageError for a line that comes to a leg of a dart that the cut does not name."""
    for dart in piece.darts:
        if dart not in things and any(float(nearest(leg, end)[1]) <= MEET for leg in dart.legs):
            raise UsageError(not_named(piece, dart, _cut_of(piece, things)))


def _cut_of(piece: Piece, things: Sequence[Thing]) -> str:
    lines = [thing.name for thing in things if isinstance(thing, Line)]
    return f"{piece.name}.{lines[0]}" if lines else f"the cut of {piece.name}"


def _refuse_half_over(piece: Piece, things: Sequence[Thing], one: Chain, end: Array) -> None:
    """Errors: UsageError for a line that comes to one leg of a dart only."""
    for dart in things:
        if isinstance(dart, Dart) and leg_at(dart, end) is not None:
            line = next(link.thing.name for link in one.links if link.curve is not None)
            raise UsageError(
                f"{piece.name}.{line} comes to one leg of dart {piece.name}.{dart.name} and neither to its point nor"
                " over the other leg; draw it to the point, or right across the dart"
            )


def _ends_off(piece: Piece, things: Sequence[Thing], end: Array) -> str:
    off, name = plain(_off(piece, end), 1), _cut_of(piece, things)
    return (
        f"{name} ends {off} mm off the outline of {piece.name}; draw it from edge to edge, or name also what the cut"
        " goes on along"
    )


def not_named(piece: Piece, dart: Dart, name: str) -> str:
    """The sentence on a dart that a cut meets without its name."""
    return (
        f"{name} meets dart {piece.name}.{dart.name}, which is not named; name it too: a cut runs along a dart where it"
        " comes to its point, and else across it; or move the dart away with pivot first"
    )


def _course(piece: Piece, one: Chain) -> Course:
    right = area(piece) > 0
    placed = list(zip(one.links, one.turned, strict=True))
    cuts = [0, *(n + 1 for n in sorted(one.overs)), len(placed)]
    along, back = [], []
    for a, b in pairwise(cuts):
        sides = [_sides(link, turned, right) for link, turned in placed[a:b]]
        own = [link for link, _ in placed[a:b]]
        along.append(_welded([side for side, _ in sides], own))
        back.append(_welded([side for _, side in sides][::-1], own[::-1]))
    first, last = one.links[0].thing, one.links[-1].thing
    things = list({link.thing.uid: link.thing for link in one.links}.values())
    return Course(
        along=tuple(along),
        back=tuple(back[::-1]),
        overs=tuple(one.overs[n] for n in sorted(one.overs)),
        start=first if isinstance(first, Dart) else None,
        end=last if isinstance(last, Dart) else None,
        lines=tuple(thing for thing in things if isinstance(thing, Line)),
        darts=tuple(thing for thing in things if isinstance(thing, Dart)),
    )


def _sides(link: Link, turned: bool, right: bool) -> tuple[Curve, Curve]:
    """The two sides of a link as it is gone over: along it for one part, back for the other."""
    if link.curve is not None:
        forth = reverse(link.curve) if turned else link.curve
        return forth, reverse(forth)
    dart = link.thing
    assert isinstance(dart, Dart)
    if not dart.double:
        # from the mouth to the point, or `turned` from the point to the mouth
        return (dart.legs[1], dart.legs[0]) if turned else (dart.legs[0], dart.legs[1])
    down, up = dart.legs
    upper, lower = dart.points
    across = np.array([-(lower - upper)[1], (lower - upper)[0]])
    down_is_right = float((down.nodes - upper).mean(axis=0) @ across) > float((up.nodes - upper).mean(axis=0) @ across)
    if turned:
        return (reverse(down), reverse(up)) if down_is_right != right else (up, down)
    return (down, up) if down_is_right == right else (reverse(up), reverse(down))


def _welded(curves: Sequence[Curve], links: Sequence[Link]) -> Curve:
    """Curves that follow on one another as one; at a dart the line gives way, a dart's point stands."""
    found = list(curves)
    for k in range(len(found) - 1):
        if isinstance(links[k].thing, Dart):
            found[k + 1] = starting_at(found[k + 1], found[k].end)
        else:
            found[k] = ending_at(found[k], found[k + 1].start)
    return chain(found, within=1e-6)


def refuse_crossing_itself(piece: Piece, way: Course) -> None:
    """Errors: GeometryError when there is a place where the course crosses itself."""
    for place in _own_crossings(way):
        x, y = place
        raise GeometryError(f"{way.name(piece)} crosses itself near x {x:.1f}, y {y:.1f} mm; draw it without a loop")


def _own_crossings(way: Course) -> Iterator[Array]:
    for side in way.sides:
        yield from (c.point for c in self_crossings(side, closed=False))
    for k, one in enumerate(way.along):
        for other in way.along[k + 1 :]:
            met = [c.point for c in crossings(one, other)]
            # over the very point of a dart the second stretch begins where the first ends
            yield from (at for at in met if max(float(np.hypot(*(at - end))) for end in (one.end, other.start)) > MEET)

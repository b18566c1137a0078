"""Where a line cuts a piece apart: from edge to edge, with the outline split at both its ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, point, reverse, split
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.nearest import nearest_place
from flatcut.geometry.region import contains
from flatcut.pattern.values import Line, Piece
from flatcut.reshape.cycle import Item, cycle
from flatcut.units import plain

REACH = 2.0
"""mm: a line that stops this near to the outline ends on it."""
OVER = 10.0
"""mm that a line may stick out of the outline and still end on it, as it does where a wide wedge was opened."""
NODE = 0.01
"""mm: an end this near to a node of the outline is that node, so that no span of no length is left beside it."""
FLAT = 0.02
"""mm: chords of the rings that only say on which part something lies."""


@dataclass(frozen=True, kw_only=True)
class Slash:
    """A line that cuts a piece in two.

    items: the outline, split where the line ends; start, end: numbers of the items that begin at the line's start and
    at its end. The first part of the piece runs from `start` up to `end`, the second on from `end`.
    """

    line: Line
    items: tuple[Item, ...]
    start: int
    end: int

    @property
    def first(self) -> tuple[int, ...]:
        """Numbers of the items of the part that follows the line's start, in outline order."""
        return _from_to(self.start, self.end, len(self.items))

    @property
    def second(self) -> tuple[int, ...]:
        """Those of the other part, from the line's end on."""
        return _from_to(self.end, self.start, len(self.items))

    def at(self, k: int) -> Array:
        """The place of the outline where the line starts (0) or ends (1), (2,)."""
        return self.items[(self.start, self.end)[k] % len(self.items)].curve.start

    def edges(self, k: int) -> tuple[str, ...]:
        """uids of the edge, or of both edges at a corner, on which the line starts (0) or ends (1)."""
        here = (self.start, self.end)[k]
        beside = (self.items[here - 1], self.items[here % len(self.items)])
        return tuple(dict.fromkeys(item.of for item in beside if item.part))


def _from_to(start: int, end: int, count: int) -> tuple[int, ...]:
    return tuple((start + k) % count for k in range((end - start) % count))


def slash(piece: Piece, line: Line) -> Slash:
    """The line as a cut through the piece.

    Errors: UsageError when an end lies on no edge, GeometryError when the line leaves the piece or crosses a dart.
    """
    name = f"{piece.name}.{line.name}"
    items = cycle(piece)
    items, start = _opened_at(piece, items, line.curve.start, f"the start of {name}")
    before = len(items)
    items, end = _opened_at(piece, items, line.curve.end, f"the end of {name}")
    if end <= start and len(items) > before:
        start += 1
    count = len(items)
    if start % count == end % count:
        raise UsageError(f"{name} starts and ends at one place of the outline, so it cuts nothing; draw it across")
    found = Slash(line=line, items=tuple(items), start=start % count, end=end % count)
    _refuse_ways(piece, found, name)
    return found


def _opened_at(piece: Piece, items: list[Item], at: Array, what: str) -> tuple[list[Item], int]:
    """The outline split at the place nearest to `at`, and the number of the item that begins there."""
    best: tuple[float, int, float] | None = None
    within = min(float(np.hypot(*(item.curve.nodes - at).T).min()) for item in items) + NODE
    for k, item in enumerate(items):
        if _box_away(item.curve, at) > within:
            continue  # most of the outline: something else is nearer than the box of its controls
        u, away = nearest_place(item.curve, at)
        # where an edge and a dart's leg meet, it is the edge that is meant
        away -= NODE / 2 if item.part else 0.0
        if best is None or away < best[0] - 1e-12:
            best = (away, k, u)
    assert best is not None
    away, k, u = best
    if away > REACH and (away > OVER or contains(_around(items), at[None])[0]):
        raise UsageError(f"{what} lies {plain(away)} mm off the outline; draw the line on to an edge or a corner")
    item = items[k]
    if not item.part:
        dart = next(d.name for d in piece.darts if d.uid == item.of)
        raise UsageError(f"{what} lies on the dart {piece.name}.{dart}; end it on an edge, or move the dart away first")
    takeup = _fold_at(piece, items, k, u)
    if takeup:
        raise UsageError(f"{what} lies inside a {takeup} of its edge; choose a place beside it")
    curve = item.curve
    node = round(u)
    if abs(length_to(curve, u) - length_to(curve, node)) <= NODE:
        u = float(node)
    if u <= 0:
        return items, k
    if u >= len(curve):
        return items, k + 1
    before, after = split(curve, u)
    halves = [replace(item, curve=before), replace(item, curve=after)]
    return [*items[:k], *halves, *items[k + 1 :]], k + 1


def _box_away(curve: Curve, at: Array) -> float:
    """mm from a place (2,) to the box of a curve's controls, which the curve does not leave."""
    controls = curve.controls.reshape(-1, 2)
    outside = np.maximum(np.maximum(controls.min(axis=0) - at, at - controls.max(axis=0)), 0.0)
    return float(np.hypot(outside[0], outside[1]))


def _fold_at(piece: Piece, items: list[Item], k: int, u: float) -> str:
    """What is folded at a place of an item, or ''."""
    edge = piece.edge_of(items[k].of)
    drawn = sum(length(item.curve) for item in items[:k] if item.of == edge.uid) + length_to(items[k].curve, u)
    for takeup in edge.takeups:
        if takeup.kind in ("dart", "pleat", "tuck") and takeup.start + NODE < drawn < takeup.end - NODE:
            return takeup.kind
    return ""


def _refuse_ways(piece: Piece, found: Slash, name: str) -> None:
    curve = found.line.curve
    total = length(curve)
    ring = _around(found.items)
    outside = ~contains(ring, np.array([curve.start, curve.end]))
    first, last = (OVER if out else REACH for out in outside)
    names = {e.uid: e.name for e in piece.edges} | {d.uid: d.name for d in piece.darts}
    for item in found.items:
        for c in crossings(curve, item.curve):
            along = length_to(curve, c.u)
            if first < along < total - last:
                raise GeometryError(
                    f"{name} crosses {piece.name}.{names[item.of]} on its way; draw it inside the piece from edge to "
                    "edge, beside the darts"
                )
    shares = np.array([min(0.3, first / total), 0.5, 1 - min(0.3, last / total)])
    if not contains(ring, point(curve, len(curve) * shares)).all():
        _refuse_on_fold(piece, curve, name)
        raise GeometryError(f"{name} runs outside the piece; draw it inside from edge to edge")
    for dart in piece.darts:
        if (dart.double or dart.form == "lines") and any(crossings(curve, leg) for leg in dart.legs):
            raise GeometryError(f"{name} crosses the dart {piece.name}.{dart.name}; draw it beside the dart")


def _refuse_on_fold(piece: Piece, curve: Curve, name: str) -> None:
    """GeometryError when a line lies on a fold edge, where a piece cannot be cut in two."""
    for edge in piece.edges:
        ends = np.array([curve.start, curve.end])
        if edge.use == "fold" and max(nearest_place(part, at)[1] for part in edge.parts[:1] for at in ends) <= REACH:
            beside = piece.after(edge).name
            raise GeometryError(
                f"{name} lies on the fold edge {piece.name}.{edge.name}, where nothing can be cut open; half a box or "
                f"inverted pleat is put there with: pleat {piece.name}.{beside} --kind=inverted --on-fold"
            )


def _around(items: Sequence[Item]) -> Array:
    """The outline as a ring of points (n, 2)."""
    return flatten(chain([item.curve for item in items], within=1e-6), tolerance=FLAT)


def refuse_crossed(piece: Piece, lines: list[Line]) -> None:
    """GeometryError with the place when two of the lines cross or touch elsewhere than at an end that they share."""
    for k, one in enumerate(lines):
        for other in lines[k + 1 :]:
            for c in crossings(one.curve, other.curve):
                ends = [
                    min(length_to(a.curve, u), length(a.curve) - length_to(a.curve, u))
                    for a, u in ((one, c.u), (other, c.v))
                ]
                if max(ends) > NODE:
                    raise GeometryError(
                        f"{piece.name}.{one.name} and {piece.name}.{other.name} meet at x {plain(float(c.point[0]))}, "
                        f"y {plain(float(c.point[1]))} mm inside the piece; open one first, then draw the other anew"
                    )


def rings(found: Slash) -> tuple[Array, Array]:
    """The outlines (n, 2) of the first part and of the second, each closed along the line."""
    cut = found.line.curve
    return (
        _ring([found.items[k].curve for k in found.first], reverse(cut)),
        _ring([found.items[k].curve for k in found.second], cut),
    )


def _ring(curves: list[Curve], cut: Curve) -> Array:
    outer = flatten(chain(curves, within=1e-6), tolerance=FLAT)
    return np.concatenate([outer, flatten(cut, tolerance=FLAT)])


def regions(piece: Piece, slashes: list[Slash]) -> list[tuple[float, Array]]:
    """The parts that lines leave of a piece: the area of each in mm², and a place on the outline in its midst.

    The place is the middle of the longest stretch of the outline that the part has.
    """
    lines = [s.line for s in slashes]
    # a line alone has split the outline already
    alone = slashes[0] if len(slashes) == 1 else None
    items = list(alone.items) if alone else cycle(piece)
    marks = [(alone.start, alone.end)] if alone else []
    for one in () if alone else lines:
        ends: list[int] = []
        for at in (one.curve.start, one.curve.end):
            before = len(items)
            items, k = _opened_at(piece, items, at, one.name)
            if len(items) > before:
                marks = [(a + (a >= k), b + (b >= k)) for a, b in marks]
                ends = [a + (a >= k) for a in ends]
            ends.append(k % len(items))
        marks.append((ends[0], ends[1]))
    count = len(items)
    sides: dict[tuple[bool, ...], list[int]] = {}
    firsts = [set(_from_to(a, b, count)) for a, b in marks]
    for k in range(count):
        sides.setdefault(tuple(k in first for first in firsts), []).append(k)
    found = []
    for numbers in sides.values():
        longest = max(numbers, key=lambda k: length(items[k].curve))
        curve = items[longest].curve
        found.append((_area(items, numbers, lines), point(curve, len(curve) / 2)))
    return found


def _area(items: list[Item], numbers: list[int], lines: list[Line]) -> float:
    points: list[Array] = []
    for k, following in pairwise([*numbers, numbers[0]]):
        points.append(flatten(items[k].curve, tolerance=FLAT))
        here, there = items[k].curve.end, items[following].curve.start
        if np.hypot(*(there - here)) > REACH:
            ways = [curve for one in lines for curve in (one.curve, reverse(one.curve))]
            way = min(ways, key=lambda c: float(np.hypot(*(c.start - here)) + np.hypot(*(c.end - there))))
            points.append(flatten(way, tolerance=FLAT))
    ring = np.concatenate(points)
    x, y = (ring - ring[0]).T
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2

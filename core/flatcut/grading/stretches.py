"""The outline of a piece in stretches between stations: corners, feet of darts, and places that have a rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, section, tangent
from flatcut.geometry.length import length, lengths_to, place_at
from flatcut.grading.spanned import Follow, followed_by
from flatcut.pattern.values import Edge, Piece, Position

NEAR = 1e-3
"""mm: a place this near to the end of a part is that end."""
NODE = 1.0
"""mm: a place with a rule this near to a node is that node: where a line was cut for a rule it is not cut anew."""
SMOOTH = 1.0
"""Degrees: a joint that turns by less is smooth, and stays so."""
ROUNDS, DONE = 60, 1e-11
"""Rounds of the search at most, and the change in mm at which it ends."""


@dataclass(frozen=True)
class Stretch:
    """A stretch of a part of an edge (uid), from station to station."""

    edge: str
    part: int
    curve: Curve
    start: int
    end: int


@dataclass
class Stations:
    """Where stretches begin and end. after: whether a dart stands between a station and the next one."""

    names: list[str] = field(default_factory=list)
    dart: dict[int, tuple[str, int]] = field(default_factory=dict)
    """uid of the dart whose foot a station is, and which foot."""
    at: dict[tuple[str, int], list[tuple[float, int]]] = field(default_factory=dict)
    """By edge and part: mm from the start of the part, and the station."""

    def foot(self, dart: str, which: int) -> int:
        """The station of a dart's foot."""
        return next(k for k, own in self.dart.items() if own == (dart, which))


@dataclass(frozen=True)
class Ring:
    """The outline as stretches in order. stations: what they are called; joints: whether it runs
    on smoothly from each stretch to the next."""

    stretches: tuple[Stretch, ...]
    stations: Stations
    joints: tuple[bool, ...]


def ring_of(piece: Piece, ruled: Mapping[tuple[str, int], Iterable[float]]) -> Ring:
    """The outline of a piece, its parts cut at places that have a rule: mm along the part, by edge (uid) and part."""
    found: list[Stretch] = []
    stations = Stations()
    names = stations.names

    def new(name: str) -> int:
        names.append(name)
        return len(names) - 1

    first = here = new(_corner(piece, piece.edges[-1]))
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            whole = length(part)
            nodes = lengths_to(part, np.arange(len(part) + 1.0))[1:-1]
            inner = sorted(_at_node(at, nodes) for at in ruled.get((edge.uid, k), ()) if NEAR < at < whole - NEAR)
            inner = [at for j, at in enumerate(inner) if j == 0 or at - inner[j - 1] > NEAR]
            last = edge is piece.edges[-1] and k == len(edge.parts) - 1
            dart = piece.cut_in(edge, k)
            marks = [(0.0, here)]
            u = 0.0
            for at in inner:
                on = np.flatnonzero(nodes == at)
                v = float(on[0] + 1) if len(on) else place_at(part, at)
                station = new(f"{piece.name}.{edge.name}@{at:.1f}")
                found.append(Stretch(edge.uid, k, section(part, u, v), here, station))
                marks.append((at, station))
                u, here = v, station
            end = new(_corner(piece, edge)) if dart is not None or not last else first
            rest = section(part, u, len(part)) if u else part
            found.append(Stretch(edge.uid, k, rest, here, end))
            marks.append((whole, end))
            stations.at[edge.uid, k] = marks
            here = end
            if dart is not None:
                stations.dart[end] = (dart.uid, 0)
                here = first if last else new(_corner(piece, edge))
                stations.dart[here] = (dart.uid, 1)
    return Ring(tuple(found), stations, tuple(_smooth(found)))


def _at_node(at: float, nodes: Array) -> float:
    near = float(nodes[np.abs(nodes - at).argmin()]) if len(nodes) else np.inf
    return near if abs(near - at) <= NODE else at


def _corner(piece: Piece, edge: Edge) -> str:
    return f"{piece.name}.{edge.name}/{piece.after(edge).name}"


def _smooth(stretches: list[Stretch]) -> Iterable[bool]:
    for one, two in zip(stretches, [*stretches[1:], *stretches[:1]], strict=True):
        ways = tangent(one.curve, float(len(one.curve)), before=True), tangent(two.curve, 0.0)
        yield one.end == two.start and bool(ways[0] @ ways[1] > np.cos(np.radians(SMOOTH)))


@dataclass(frozen=True)
class Moved:
    """What a graded outline is: by stretch its curve as it is now; by station how far it went, (2,)."""

    curves: tuple[Curve, ...]
    shifts: Array
    taken_along: tuple[str, ...]
    """Stations without a rule of their own, by name."""


def moved(ring: Ring, given: Mapping[int, Array]) -> Moved:
    """The outline with stations where their rules bring them; those without one go with the nearest that have one.

    given: how far stations go, one at least; both feet of a dart or neither. What follows is taken half from the
    outline as it was and half from what it becomes, so that the way back is the same way. Errors: GeometryError for a
    stretch that cannot follow.
    """
    before = [stretch.curve.controls for stretch in ring.stretches]
    now = [np.array(controls) for controls in before]
    count = len(ring.stations.names)
    chains = _chains(ring, given)
    for _ in range(ROUNDS):
        half = [(a + b) / 2 for a, b in zip(before, now, strict=True)]
        shifts = np.full((count, 2), np.nan)
        for station, shift in given.items():
            shifts[station] = shift
        for chain in chains:
            _take_along(ring, chain, half, shifts)
        ways = [_way(ring, k, half[k], shifts) for k in range(len(half))]
        made = [a + way(h) for a, h, way in zip(before, half, ways, strict=True)]
        _run_on(ring, before, half, ways, shifts, made)
        for stretch, controls in zip(ring.stretches, made, strict=True):
            controls[0, 0] = stretch.curve.start + shifts[stretch.start]
            controls[-1, 3] = stretch.curve.end + shifts[stretch.end]
            _straighten(controls, stretch.curve)
        change = max(float(np.abs(a - b).max()) for a, b in zip(now, made, strict=True))
        now = made
        if change < DONE:
            break
    curves = tuple(Curve(controls, s.curve.straight) for controls, s in zip(now, ring.stretches, strict=True))
    names = ring.stations.names
    return Moved(curves, shifts, tuple(dict.fromkeys(names[k] for k in range(count) if k not in given)))


def miscounted(ring: Ring, curves: Sequence[Curve], station: int, mode: str, value: float) -> float:
    """By how many mm a place that is counted along its edge lies too far along it, in the mean of before and now.

    mode, value: as of a Position, along the drawn edge.
    """
    edge = next(stretch.edge for stretch in ring.stretches if stretch.start == station)
    up_to = rest = 0.0
    passed = False
    for stretch, now in zip(ring.stretches, curves, strict=True):
        if stretch.edge == edge:
            passed = passed or stretch.start == station
            both = (length(stretch.curve) + length(now)) / 2
            up_to, rest = (up_to, rest + both) if passed else (up_to + both, rest)
    return up_to - Position(mode=mode, value=value).along(up_to + rest)


@dataclass(frozen=True)
class _Chain:
    """Stretches (their numbers) from a station that has a rule to the next one that has."""

    stretches: tuple[int, ...]


def _chains(ring: Ring, given: Mapping[int, Array]) -> list[_Chain]:
    """The runs of stretches between stations with a rule that pass stations without one."""
    order = ring.stretches
    count = len(order)
    starts = [k for k in range(count) if order[k].start in given]
    found = []
    for k, first in enumerate(starts):
        after = starts[(k + 1) % len(starts)]
        run = [first]
        while (run[-1] + 1) % count != after:
            run.append((run[-1] + 1) % count)
        open_ends = [order[j].end for j in run] + [order[j].start for j in run]
        if any(station not in given for station in open_ends):
            found.append(_Chain(tuple(run)))
    return found


def _take_along(ring: Ring, chain: _Chain, half: list[Array], shifts: Array) -> None:
    """Give the stations inside a chain the shift that its two ends tell; both feet of a dart the same."""
    order = ring.stretches
    first, last = order[chain.stretches[0]], order[chain.stretches[-1]]
    ends = shifts[[first.start, last.end]]
    points = np.concatenate([half[k].reshape(-1, 2) for k in chain.stretches])
    way = followed_by(points, ends)
    if way is None:
        names = ring.stations.names
        raise _turns_back(names[first.start], names[last.end])
    pairs = [(order[a].end, order[b].start) for a, b in zip(chain.stretches, chain.stretches[1:], strict=False)]
    for j, (one, two) in enumerate(pairs):
        middle = (half[chain.stretches[j]][-1, 3] + half[chain.stretches[j + 1]][0, 0]) / 2
        shifts[[one, two]] = way(middle)


def _way(ring: Ring, k: int, half: Array, shifts: Array) -> Follow:
    stretch = ring.stretches[k]
    found = followed_by(half.reshape(-1, 2), shifts[[stretch.start, stretch.end]])
    if found is None:
        names = ring.stations.names
        raise _turns_back(names[stretch.start], names[stretch.end])
    return found


def _turns_back(one: str, two: str) -> GeometryError:
    return GeometryError(
        f"the outline turns back between {one} and {two}, whose rules differ; give a rule to a point between them"
    )


def _run_on(
    ring: Ring, before: list[Array], half: list[Array], ways: list[Follow], shifts: Array, made: list[Array]
) -> None:
    """Handles beside a smooth joint go alike on both sides, so that it stays smooth."""
    count = len(made)
    for k, smooth in enumerate(ring.joints):
        if not smooth:
            continue
        after = (k + 1) % count
        station = ring.stretches[k].end
        rates = [ways[k].rate, ways[after].rate]
        straight = bool(ring.stretches[k].curve.straight[-1]), bool(ring.stretches[after].curve.straight[0])
        # beside a straight span its direction is what the curve has to keep to
        rate = rates[straight.index(True)] if any(straight) else (rates[0] + rates[1]) / 2
        joint = half[k][-1, 3]
        made[k][-1, 2] = before[k][-1, 2] + shifts[station] + (half[k][-1, 2] - joint) @ rate.T
        made[after][0, 1] = before[after][0, 1] + shifts[station] + (half[after][0, 1] - joint) @ rate.T


def _straighten(controls: Array, curve: Curve) -> None:
    """Handles of straight spans at thirds of them."""
    controls[1:, 0] = controls[:-1, 3]
    straight = curve.straight
    third = (controls[:, 3] - controls[:, 0]) / 3
    controls[straight, 1] = (controls[:, 0] + third)[straight]
    controls[straight, 2] = (controls[:, 3] - third)[straight]


def along(before: Curve, now: Curve, *, each: int = 8) -> tuple[Array, Array]:
    """mm along a stretch as it was and along it as it is now, of the same places, ascending."""
    places = np.linspace(0.0, float(len(before)), each * len(before) + 1)
    return lengths_to(before, places), lengths_to(now, places)

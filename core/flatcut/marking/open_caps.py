"""The cut line over darts that are pressed open with edges that differ.

Each half of such a dart is cut along its own side's cut line, mirrored. Folded to one side the cap is symmetric, and
the cut line of its near half is the one wanted; so the cut line is made for both ways of folding, the first half is
taken from the one and the second from the other, and on the dart's axis they are joined by a step.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.nearest import nearest
from flatcut.geometry.welding import joined
from flatcut.marking.caps import AFTER, BEFORE
from flatcut.marking.rims import Rim, width
from flatcut.pattern.values import Dart

PLACES = (0.5, 0.6, 0.4, 0.7, 0.3, 0.8, 0.2, 0.9, 0.1)
"""Where along an edge between two darts both cut lines are looked for, its middle first."""
ALIKE = 0.04
"""mm: where both cut lines follow one edge they are this near to each other: each strays from the offset by half of it
at most."""

Line = tuple[Curve, tuple[str, ...]]
"""A closed cut line and the uid of each span's edge."""


def folded_both_ways(stretches: Sequence[Rim]) -> tuple[list[Rim], ...]:
    """The stretches with every uneven dart folded to its first side, and to its second; once where none is uneven."""
    uneven = {dart.uid for dart in uneven_darts(stretches)}
    if not uneven:
        return (list(stretches),)
    return _folded(stretches, uneven, BEFORE), _folded(stretches, uneven, AFTER)


def uneven_darts(stretches: Sequence[Rim]) -> list[Dart]:
    """The darts whose two halves do not end in one place once the allowance is added, in outline order."""
    found = []
    for dart, halves in _darts(stretches):
        first, second = halves[0], halves[-1]
        if len(halves) > 2 or width(first.edge) != width(second.edge):
            found.append(dart)
    return found


def _darts(stretches: Sequence[Rim]) -> list[tuple[Dart, list[Rim]]]:
    groups: dict[str, list[Rim]] = {}
    for rim in stretches:
        if rim.dart is not None:
            groups.setdefault(rim.dart.uid, []).append(rim)
    return [(rims[0].dart, rims) for rims in groups.values() if rims[0].dart is not None]


def _folded(stretches: Sequence[Rim], uneven: set[str], side: str) -> list[Rim]:
    halves = {dart.uid: rims for dart, rims in _darts(stretches)}
    found = []
    for rim in stretches:
        if rim.dart is None or rim.dart.uid not in uneven:
            found.append(rim)
            continue
        mine = halves[rim.dart.uid]
        if rim is not mine[0]:
            continue
        mirror = Affine.reflection(rim.dart.points[0], rim.dart.points[0] + _axis(rim.dart))
        if side == BEFORE:
            image = reverse(transform(mine[0].curve, mirror))
            found += [rim, rim._replace(curve=_ends(image, mine[0].curve.end, mine[-1].curve.end))]
        else:
            image = reverse(transform(mine[-1].curve, mirror))
            found += [mine[-1]._replace(curve=_ends(image, rim.curve.start, mine[-1].curve.start)), mine[-1]]
    return found


def _axis(dart: Dart) -> Array:
    apex = dart.points[0]
    return unit(unit(dart.feet[0] - apex) + unit(dart.feet[1] - apex))


def _ends(curve: Curve, start: Array, end: Array) -> Curve:
    """The curve with its ends on points that differ from them by rounding only."""
    controls = np.array(curve.controls)
    controls[0, 0], controls[-1, 3] = start, end
    return Curve(controls, curve.straight)


def spliced(stretches: Sequence[Rim], first: Line, second: Line) -> Line:
    """One cut line of the two: up to each dart's axis the first, from it on the second.

    stretches: as they are drawn; first, second: folded to each dart's first and second side.
    Errors: GeometryError where the two have no place in common between two darts.
    """
    darts = uneven_darts(stretches)
    names = [rim.edge.uid for rim in stretches]
    ups = [(_on_axis(first[0], dart, stretches), _on_axis(second[0], dart, stretches)) for dart in darts]
    switches = [_common(stretches, names, dart, first, second) for dart in darts]
    curve: Curve | None = None
    owners: list[str] = []
    for k in range(len(darts)):
        (to, back), (_, onto), (start, _) = ups[k], switches[k], switches[k - 1]
        for part, names_of in (
            _part(first, start, to),
            _step(first[0], to, second[0], back),
            _part(second, back, onto),
        ):
            if part is None:
                continue
            count = 0 if curve is None else len(curve)
            curve = part if curve is None else joined(curve, part)
            # where two spans became one, the second's edge is the first's
            owners += names_of[len(names_of) - (len(curve) - count) :]
    assert curve is not None
    controls = np.array(curve.controls)
    controls[-1, 3] = controls[0, 0]
    return Curve(controls, curve.straight), tuple(owners)


def _on_axis(curve: Curve, dart: Dart, stretches: Sequence[Rim]) -> float:
    apex = dart.points[0]
    peak = next(rim.curve.end for rim in stretches if rim.dart is not None and rim.dart.uid == dart.uid)
    ray = line(apex, apex + 3 * float(np.hypot(*(peak - apex))) * _axis(dart))
    met = crossings(curve, ray)
    if not met:
        raise GeometryError(f"the cut line does not reach the fold of {dart.name}; press it to one side")
    return min(met, key=lambda c: float(np.hypot(*(c.point - peak)))).u


def _common(stretches: Sequence[Rim], names: list[str], dart: Dart, first: Line, second: Line) -> tuple[float, float]:
    """A place after the dart, before the next one, where both cut lines follow the same edge, on each of them."""
    last = max(k for k, rim in enumerate(stretches) if rim.dart is not None and rim.dart.uid == dart.uid)
    after = stretches[(last + 1) % len(stretches)]
    for share in PLACES:
        u, _ = nearest(first[0], point(after.curve, share * len(after.curve)))
        at = point(first[0], float(u))
        v, away = nearest(second[0], at)
        if away <= ALIKE:
            return float(u), float(v)
    raise GeometryError(
        f"the edge beside {dart.name} is too short for a dart that is pressed open; press it to one side with"
        " dart --pressed before the allowance is given"
    )


def _step(first: Curve, u: float, second: Curve, v: float) -> tuple[Curve | None, list[str]]:
    start, end = point(first, u), point(second, v)
    return (line(start, end), [""]) if np.hypot(*(end - start)) > 1e-9 else (None, [])


def _part(ring: Line, u: float, v: float) -> tuple[Curve, list[str]]:
    """The stretch of a closed line from place u on to place v, and the edges of its spans."""
    curve, owners = ring
    n = len(curve)
    u, v = _rounded(u) % n, _rounded(v)
    v = v if v > 0 else float(n)
    if v > u:
        return section(curve, u, v), list(owners[int(u) : int(np.ceil(v))])
    one, two = section(curve, u, n), section(curve, 0.0, v)
    return chain([one, two], within=1e-6), list(owners[int(u) :] + owners[: int(np.ceil(v))])


def _rounded(u: float) -> float:
    return float(round(u)) if abs(u - round(u)) < 1e-7 else u

"""A wedge of looseness between an edge and a point, made ready to be closed: cut out as a dart that nobody will sew."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, signed_angle, unit
from flatcut.geometry.curves import Curve, chain, flatten, line, point, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.region import contains
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.values import Dart, Edge, Mark, Piece, outline
from flatcut.pattern.walking import drawn_of, part_at, point_at
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import Item, cycle, rebuilt
from flatcut.reshape.ways import SHORT, Way
from flatcut.units import plain

NEAR = 0.01
"""mm: what lies so near to the point or to the edge touches there."""
SMALL = 1e-4
"""Radians: a wedge that is no wedge."""
WIDEST = 45.0
"""Degrees: more looseness than this is no wedge but another draft."""


@dataclass(frozen=True, kw_only=True)
class Wedge:
    """A wedge cut out. change: the piece with it as a dart, uid `dart`; wide: mm between its feet on the edge as drawn;
    step: mm by which one foot lay farther from the point than the other; each moved by half of that along its ray.
    reach: mm of the edge beside each foot that moved with it; at: drawn mm of the first foot now.
    """

    change: Change
    dart: str
    wide: float
    step: float
    at: float


def wedge_angle(amount: float, away: float) -> float:
    """Radians of a wedge `amount` mm wide, measured straight across at `away` mm from its point.

    >>> round(math.degrees(wedge_angle(6.0, 90.0)), 4)
    3.8204
    """
    if amount >= 2 * away:
        raise UsageError(f"a wedge {plain(amount)} mm wide so near to its point is no wedge; give less")
    return 2 * math.asin(amount / 2 / away)


def wedge(piece: Piece, edge: Edge, drawn: float, apex: Array, radians: float, uid: str, *, reach: float) -> Wedge:
    """The piece with a wedge cut out about the ray from `apex` (2,) to the place at `drawn` mm of an edge.

    Its sides are straight and `radians` apart. Where the edge lies aslant it meets them unequally far from the point;
    then both feet come to the middle, and `reach` mm of the edge beside each goes with it.
    Errors: UsageError at a corner or over a dart or fullness, GeometryError where a side leaves the piece.
    """
    if not SMALL < radians < math.radians(WIDEST):
        raise UsageError(
            f"a wedge of {math.degrees(radians):.2f}° is not closed by contouring; give one up to {WIDEST:.0f}°"
        )
    middle, way = point_at(edge, drawn)
    k, u = part_at(edge, drawn)
    part = edge.parts[k]
    turn = 1.0 if float(cross(middle - apex, way)) > 0 else -1.0
    found = [_met(piece, edge, part, apex, middle, u, -turn * radians / 2, -1)]
    found.append(_met(piece, edge, part, apex, middle, u, turn * radians / 2, 1))
    (u1, first), (u2, second) = found
    s1, s2 = drawn_of(edge, k, u1), drawn_of(edge, k, u2)
    for takeup in edge.takeups:
        if takeup.end > s1 and takeup.start < s2:
            raise UsageError(f"{piece.name}.{edge.name} has a {takeup.kind} there; choose a place beside it")
    far = [float(np.hypot(*(foot - apex))) for foot in (first, second)]
    feet = [apex + sum(far) / 2 * unit(foot - apex) for foot in (first, second)]
    for met, away in zip((first, second), far, strict=True):
        _refuse_crossed(piece, line(apex, met), away)
    before, old_1, new_1 = _end_moved(section(part, 0.0, u1), feet[0], reach, at_end=True)
    after, old_2, new_2 = _end_moved(section(part, u2, float(len(part))), feet[1], reach, at_end=False)
    items = cycle(piece)
    number = [i for i, item in enumerate(items) if item.part and item.of == edge.uid][k]
    items[number : number + 1] = [
        replace(items[number], curve=before),
        Item(of=uid, curve=line(feet[0], apex), leg=0),
        Item(of=uid, curve=line(apex, feet[1]), leg=1),
        Item(of=edge.uid, curve=after),
    ]
    dart = Dart(uid=uid, name=uid, legs=(line(feet[0], apex), line(apex, feet[1])), host=edge.uid, after=k)
    made = rebuilt(piece, items, {d.uid: d for d in (*piece.darts, dart)})
    made = made.with_marks(lambda mark: _out_of(mark, apex, feet))
    start = drawn_of(edge, k, 0.0)
    total = drawn_of(edge, len(edge.parts) - 1, float(len(edge.parts[-1])))
    at, size = start + length(before), length(after)
    ways = (
        Way(0.0, s1 - old_1, edge.uid, 0.0, at - new_1),
        Way(s1 - old_1, s1, edge.uid, at - new_1, at),
        Way(s2, s2 + old_2, edge.uid, at, at + new_2),
        Way(
            s2 + old_2,
            total,
            edge.uid,
            at + new_2,
            at + size + total - s2 - length(section(part, u2, float(len(part)))),
        ),
    )
    kept = tuple(w for w in ways if w.end - w.start > SHORT and w.till - w.at > SHORT)
    return Wedge(
        change=Change(pieces=(made,), ways={edge.uid: kept}),
        dart=uid,
        wide=float(np.hypot(*(second - first))),
        step=abs(far[0] - far[1]),
        at=at,
    )


def _met(
    piece: Piece, edge: Edge, part: Curve, apex: Array, middle: Array, u: float, turn: float, side: int
) -> tuple[float, Array]:
    """Where a side of the wedge meets the edge, on that side of its middle: place and point."""
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = middle - apex
    way = np.array([cos * x - sin * y, sin * x + cos * y])
    met = [c for c in crossings(part, line(apex, apex + 4 * way)) if (c.u - u) * side > -1e-9]
    if not met:
        raise UsageError(
            f"the wedge at {piece.name}.{edge.name} is wider than the edge beside it; choose a place farther from its "
            "corners and darts, or give less"
        )
    best = min(met, key=lambda c: abs(c.u - u))
    if not 1e-9 < best.u < len(part) - 1e-9:
        raise UsageError(f"the wedge at {piece.name}.{edge.name} reaches a corner; choose a place farther from it")
    return best.u, best.point


def _end_moved(curve: Curve, to: Array, reach: float, *, at_end: bool) -> tuple[Curve, float, float]:
    """The curve with an end put elsewhere, `reach` mm of it moved; how long that stretch was and is."""
    size = length(curve)
    own = min(reach, size)
    if at_end:
        u = place_at(curve, size - own)
        moved = ending_at(section(curve, u, float(len(curve))), to)
        whole = chain([section(curve, 0.0, u), moved], within=1e-6) if u > 1e-9 else moved
    else:
        u = place_at(curve, own)
        moved = starting_at(section(curve, 0.0, u), to)
        rest = u < len(curve) - 1e-9
        whole = chain([moved, section(curve, u, float(len(curve)))], within=1e-6) if rest else moved
    if float(np.hypot(*((curve.end if at_end else curve.start) - to))) < NEAR:
        # nothing moves, so no node is put in
        return (ending_at(curve, to) if at_end else starting_at(curve, to)), 0.0, 0.0
    return whole, own, length(moved)


def _refuse_crossed(piece: Piece, side: Curve, size: float) -> None:
    """GeometryError unless a side of the wedge lies inside the piece and crosses nothing on its way."""
    ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.02)
    for curve in outline(piece):
        for c in crossings(side, curve):
            if NEAR < length_to(side, c.u) < size - NEAR:
                raise GeometryError(
                    f"between the point and the edge the wedge crosses the outline of {piece.name} near "
                    f"x {c.point[0]:.1f}, y {c.point[1]:.1f} mm; choose a place that the point reaches inside the piece"
                )
    for dart in piece.darts:
        if (dart.double or dart.form == "lines") and any(
            length_to(side, c.u) > NEAR for leg in dart.legs for c in crossings(side, leg)
        ):
            raise GeometryError(f"the wedge crosses the dart {piece.name}.{dart.name}; choose another place")
    if not contains(ring, point(side, np.array([0.03, 0.5, 0.95]))).all():
        raise GeometryError(
            f"between the point and the edge the wedge leaves {piece.name}; choose a place that the point reaches"
        )


def _out_of(mark: Mark, apex: Array, feet: list[Array]) -> Mark:
    """A mark that lies inside the wedge, on the line to which it is closed."""
    at = mark.standing()
    if at is None or float(np.hypot(*(at - apex))) < NEAR:
        return mark
    whole = signed_angle(feet[0] - apex, feet[1] - apex)
    own = signed_angle(feet[0] - apex, at - apex)
    inside = min(0.0, whole) < own < max(0.0, whole) and float(np.hypot(*(at - apex))) <= max(
        float(np.hypot(*(foot - apex))) for foot in feet
    )
    return mark.moved(Affine.rotation(-own, (float(apex[0]), float(apex[1])))) if inside else mark


def parted_evenly(places: list[float], least: float) -> bool:
    """Whether places along an edge, mm, lie so far apart that what is closed at one does not touch the next.

    >>> parted_evenly([10.0, 90.0, 50.0], 30.0), parted_evenly([10.0, 30.0], 30.0)
    (True, False)
    """
    return all(b - a >= least for a, b in pairwise(sorted(places)))

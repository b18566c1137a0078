"""A dart's angle carried about its point to another place: one part of the piece turns rigidly against the other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from flatcut.darts.darting import EQUAL, closing_angle, dart_of, single, straight_leg, straight_legs
from flatcut.darts.pressing import kept_pressing
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, line, point, reverse, split, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.region import contains, ring_area
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.mirrored import between
from flatcut.pattern.motions import Motion
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Edge, Piece
from flatcut.pattern.walking import part_at
from flatcut.reshape.cycle import Item, cycle, item_under, rebuilt
from flatcut.reshape.holding import KEPT, held
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.reshape.turning import Turn, travelled
from flatcut.reshape.ways import Ways
from flatcut.units import plain

ONE_POINT = 0.01
"""mm: two points closer than this are one pivot point."""
NODE = 0.01
"""mm: a place this near to a node of the edge is that node, so that no span of no length is left beside it."""
FLAT = 0.02
"""mm: chords of the rings that only say on which part a mark lies."""


@dataclass(frozen=True, kw_only=True)
class Target:
    """Where a dart goes: place `u` on part `part` of an edge, or a dart that is there. The corner is the end place.

    slash: the way from the dart's point to the edge along which it opens, and uid of the line that it is; None for the
    straight way.
    """

    edge: str = ""
    part: int = 0
    u: float = 0.0
    dart: str = ""
    slash: Curve | None = None
    line: str = ""


@dataclass(frozen=True, kw_only=True)
class Pivoted:
    """piece: after the step; broken: what became of lines inside, by uid. dart: uid of the dart at the target.

    moved: names of edges that moved, `held`: that did not; reason: why; radians: signed turn; largest: mm that the
    farthest node moved; bent: names of fold and centre edges that are no longer straight;
    motion: of the part that moved.
    """

    piece: Piece
    broken: Mapping[str, Ways]
    dart: str
    moved: tuple[str, ...]
    held: tuple[str, ...]
    reason: str
    radians: float
    largest: float
    bent: tuple[str, ...]
    motion: Motion


def pivoted(
    piece: Piece, dart: Dart, to: Target, *, share: float, uids: Uids, name: str = "", hold: str = ""
) -> Pivoted:
    """Carry `share` (0 to 1] of a cut-in dart's angle to `to`.

    The angle is that between the straight ways from the point to the feet. Legs that are curved go with their side of
    the piece; a dart that is carried off whole takes their bow along, as large as its new legs are long.
    name: of a dart born at the target, which needs one when a part of the angle stays; hold: uid of the edge that
    stays still. Errors: UsageError, GeometryError; each says what to do.
    """
    single(piece, dart, "pivoted")
    _refuse_uneven(piece, dart)
    apex = dart.points[0]
    whole = share >= 1 - 1e-12
    arcs, cuts = _parted(piece, dart, to, apex)
    rings = [_region(arc, apex, cuts[-1], first=k == 0) for k, arc in enumerate(arcs)]
    sides = [{item.of for item in arc} for arc in arcs]
    moving, reason = _mover(piece, sides, rings, hold)
    radians = closing_angle(dart) * min(share, 1.0) * (-1 if moving else 1)
    matrix = Affine.rotation(radians, (float(apex[0]), float(apex[1])))
    turn = Turn(moving=rings[moving], still=rings[1 - moving], cuts=cuts, matrix=matrix)
    carried, broken = travelled(piece, turn, uids)
    reach = max(float(np.hypot(*(item.curve.nodes - apex).T).max()) for item in arcs[moving])
    arcs[moving] = [item_under(item, matrix) for item in arcs[moving]]
    darts = {d.uid: d for d in carried.darts if not (whole and to.dart and d.uid == dart.uid)}
    target, legs = to.dart, []
    if not target:
        target = dart.uid if whole else uids.fresh("pivot", dart.uid, name)
        darts[target] = replace(dart, uid=target, name=name or dart.name, origin="")
        feet = arcs[0][-1].curve.end, arcs[1][0].curve.start
        if to.slash is None:
            both = _carried_leg(dart.legs[0], feet[0], apex, whole), _carried_leg(dart.legs[1], apex, feet[1], whole)
        else:
            along = [transform(to.slash, matrix) if k == moving else to.slash for k in (0, 1)]
            both = between(reverse(along[0]), feet[0], apex), between(along[1], apex, feet[1])
        legs = [Item(of=target, curve=leg, leg=k) for k, leg in enumerate(both)]
    if whole:
        arcs = _closed(arcs, moving)
    result = rebuilt(carried, [*arcs[0], *legs, *arcs[1]], darts)
    if not to.dart:
        there = kept_pressing(result, dart_of(result, target))
        result = replace(result, darts=tuple(there if d.uid == target else d for d in result.darts))
    _refuse_crossed_legs(result)
    refuse_overlap(result, advice="turn by less")
    return Pivoted(
        piece=result,
        broken=broken,
        dart=target,
        moved=tuple(e.name for e in piece.edges if e.uid in sides[moving] - sides[1 - moving]),
        held=tuple(e.name for e in piece.edges if e.uid in sides[1 - moving] - sides[moving]),
        reason=reason,
        radians=radians,
        largest=2 * reach * math.sin(abs(radians) / 2),
        bent=tuple(e.name for e in piece.edges if e.use in KEPT and e.uid in sides[0] & sides[1]),
        motion=Motion.of(piece.uid, rings[moving], matrix),
    )


def _carried_leg(leg: Curve, start: Array, end: Array, whole: bool) -> Curve:
    """The leg of a dart at its new place: straight, or with the bow that it had."""
    if not whole or straight_leg(leg):
        return line(start, end)
    return between(transform(leg, Affine.similarity((leg.start, leg.end), (start, end))), start, end)


def _refuse_crossed_legs(piece: Piece) -> None:
    """GeometryError when curved legs that were brought nearer to each other cross."""
    for dart in piece.darts:
        if dart.double or straight_legs(dart):
            continue
        reach = [float(np.hypot(*(c.point - dart.points[0]))) for c in crossings(*dart.legs)]
        if max(reach, default=0.0) > ONE_POINT:
            raise GeometryError(
                f"the curved legs of {piece.name}.{dart.name} would cross; move less of it, or all of it"
            )


def _refuse_uneven(piece: Piece, dart: Dart) -> None:
    first, second = (length(leg) for leg in dart.legs)
    name = f"{piece.name}.{dart.name}"
    if abs(first - second) > EQUAL:
        raise UsageError(
            f"the legs of {name} are {plain(first)} and {plain(second)} mm long, so it cannot be closed; "
            f"make them equal with: dart {name} --equal"
        )


def _parted(piece: Piece, dart: Dart, to: Target, apex: Array) -> tuple[list[list[Item]], tuple[Curve, ...]]:
    """The outline in two arcs, from the dart's second leg to the target and on to its first; the lines of the cut."""
    items, place, cuts = _opened(piece, dart, to, apex)
    source = next(k for k, item in enumerate(items) if item.of == dart.uid and item.leg == 1)
    ring = [*items[source:], *items[:source]]
    first = (place - source) % len(items)
    if not first:
        raise UsageError(f"{piece.name}.{dart.name} is already there; choose another place")
    return [ring[:first], ring[first:]], cuts


def _opened(piece: Piece, dart: Dart, to: Target, apex: Array) -> tuple[list[Item], int, tuple[Curve, ...]]:
    """The outline split at the target: the items, the number of the first after it, and what parts the piece."""
    items = cycle(piece)
    if to.dart:
        other = dart_of(piece, to.dart)
        _refuse_other_point(piece, other, apex)
        place = next(k for k, item in enumerate(items) if item.of == to.dart and item.leg == 1)
        return items, place, (*dart.legs, *other.legs)
    index = _item_of(piece, items, to)
    curve = items[index].curve
    u = _snapped(curve, to.u)
    if 0 < u < len(curve):
        before, after = split(curve, u)
        items[index : index + 1] = [replace(items[index], curve=before), replace(items[index], curve=after)]
        place = index + 1
    else:
        place = index if u <= 0 else index + 1
        place %= len(items)
        if not items[place - 1].part or not items[place].part:
            beside = items[place - 1] if not items[place - 1].part else items[place]
            there = dart_of(piece, beside.of)
            raise UsageError(f"{piece.name}.{there.name} stands there; name it as the target, or another place")
    foot = items[place % len(items)].curve.start
    slash = line(apex, foot) if to.slash is None else between(to.slash, apex, foot)
    _refuse_unreachable(piece, items, slash, "the straight way" if to.slash is None else "the line")
    return items, place, (*dart.legs, slash)


def _refuse_other_point(piece: Piece, other: Dart, apex: Array) -> None:
    name = f"{piece.name}.{other.name}"
    single(piece, other, "opened further")
    away = float(np.hypot(*(other.points[0] - apex)))
    if away > ONE_POINT:
        raise UsageError(
            f"{name} ends {plain(away)} mm from the pivot point, so it cannot take the angle; "
            f"bring its point there first with: back-off {name} --to=PLACE"
        )


def _item_of(piece: Piece, items: list[Item], to: Target) -> int:
    numbers = [k for k, item in enumerate(items) if item.part and item.of == to.edge]
    return numbers[to.part]


def _snapped(curve: Curve, u: float) -> float:
    node = round(u)
    return float(node) if abs(length_to(curve, u) - length_to(curve, node)) <= NODE else u


def _refuse_unreachable(piece: Piece, items: list[Item], slash: Curve, way: str) -> None:
    """GeometryError unless the way from the point to the target lies inside and crosses nothing."""
    reach = length(slash)
    if reach < 1.0:
        raise UsageError("the target lies at the dart's point; choose another place")
    names = {e.uid: e.name for e in piece.edges} | {d.uid: d.name for d in piece.darts}
    for item in items:
        for c in crossings(slash, item.curve):
            if NODE < length_to(slash, c.u) < reach - NODE:
                raise GeometryError(
                    f"{way} from the point to the target crosses {piece.name}.{names[item.of]}; "
                    "choose a place that the point reaches inside the piece"
                )
    ring = flatten(chain([item.curve for item in items], within=1e-6), tolerance=FLAT)
    if not contains(ring, point(slash, len(slash) * np.array([0.02, 0.5, 0.98]))).all():
        raise GeometryError(
            f"{way} from the point to the target leaves the piece; choose a place that it reaches inside"
        )
    for dart in piece.darts:
        if (dart.double or dart.form == "lines") and any(crossings(slash, leg) for leg in dart.legs):
            raise GeometryError(
                f"the way to the target crosses the dart {piece.name}.{dart.name}; choose another place"
            )


def _region(arc: list[Item], apex: Array, slash: Curve, *, first: bool) -> Array:
    """The ring of one part: its outline closed along what parts the piece, and over the pivot point."""
    points = flatten(chain([item.curve for item in arc], within=1e-6), tolerance=FLAT)
    if slash.straight.all():
        return np.concatenate([points, apex[None]])
    way = flatten(slash, tolerance=FLAT)
    return np.concatenate([points, way[::-1]] if first else [way, points])


def _mover(piece: Piece, sides: list[set[str]], rings: list[Array], hold: str) -> tuple[int, str]:
    """The number of the part that moves, and why the other is held. sides: uids of what has a part on each."""
    edge, reason = held(piece, sides[0] & sides[1], hold, by="the cut")
    if edge is not None:
        return int(edge.uid in sides[0]), reason
    return int(abs(ring_area(rings[0])) > abs(ring_area(rings[1]))), "it is the larger part"


def _closed(arcs: list[list[Item]], moving: int) -> list[list[Item]]:
    """Both parts without the legs of the dart between them; what was moved is put on what was not."""
    first, second = arcs[0][1:], arcs[1][:-1]
    if moving == 0:
        first[0] = replace(first[0], curve=starting_at(first[0].curve, second[-1].curve.end))
    else:
        second[-1] = replace(second[-1], curve=ending_at(second[-1].curve, first[0].curve.start))
    return [first, second]


def target_at(piece: Piece, edge: Edge, drawn: float) -> Target:
    """The target at a drawn distance along an edge."""
    part, u = part_at(edge, drawn)
    for takeup in edge.takeups:
        if takeup.kind in ("dart", "pleat", "tuck") and takeup.start < drawn < takeup.end:
            raise UsageError(f"{piece.name}.{edge.name} has a {takeup.kind} there; choose a place beside it")
    return Target(edge=edge.uid, part=part, u=u)

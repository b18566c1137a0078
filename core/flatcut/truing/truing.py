"""A line over darts and seams made fair: laid together, faired, and cut apart again where the joints are.

A joint slides along its dart's leg or its seam, run straight on: so legs stay equal, both edges of a seam change by the
same length, and once sewn the line runs on without a kink.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError, Option
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, tangent, transform
from flatcut.geometry.fair import Fairer, Fairing
from flatcut.geometry.fairness import Fairness, fairness
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to, place_at, span_lengths
from flatcut.geometry.nearest import nearest
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.mirrored import between
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.runs import Walked
from flatcut.pattern.seam_ends import end_way
from flatcut.pattern.values import Pattern, Piece
from flatcut.truing.following import followed
from flatcut.truing.together import Joint, Laid, laid_together

TAPED = 1.0
"""mm between two parts laid together that is drawn over: legs that differ a little."""
KINK = 0.5
"""Degrees that a line turns at a node and is said to have a kink there."""
LEFT = 0.1
"""Degrees of a kink that may be left at a joint; more is a fault of the program and refused."""
BESIDE = 3.0
"""A joint is looked for on the fair line within so many times the stated distance, and a little."""
FAIR = 20.0
"""A change of curvature (length³ · ∫ (dk/ds)² ds) that a fair garment line has: necklines and armholes have 1 to 20."""
BENDS, SIDES, TIGHT = 5, 2, 1000.0
"""Extrema of curvature, changes of side and change of curvature that a smooth line may have and is left as it is: a
neckline bends behind and in front, a side seam in and out; what bends within a tenth of itself is a corner."""
ALIKE = 2.0
"""Two lines whose change of curvature differs by less than this factor are equally fair to the eye."""
SHARES = (0.1, 0.25, 0.5)
"""Parts of the stated distance that are tried before all of it is used."""
FIRST = 0.1
"""mm within which a line with a slight kink is tried first: less than a pencil's width."""
SLIGHT = 3.0
"""Degrees of a kink that so short a distance may suffice for; a sharper one is not worth the trial."""
ON_EDGE = 0.05
"""mm: what ends this near to an edge ends on it."""
SLIVER = 0.1
"""mm: a shorter span at the end of a part is drawn into the next one, which runs on by so much."""
CHECKED = 200
"""Places on a part at which its move is measured."""


@dataclass(frozen=True, kw_only=True)
class TruedJoint:
    """Degrees by which the line turned at a joint before and turns now, and how far the joint moved, mm."""

    name: str
    before: float
    after: float
    moved: float


@dataclass(frozen=True, kw_only=True)
class Trued:
    """pattern: after the step; joints: what was closed or sewn; kink: degrees of the sharpest turn within the line
    before; largest: mm, the farthest that the line moved; change: mm by which the whole line is longer; changed: the
    names of all edges that are drawn anew; dropped: what could not be carried over, in sentences.
    """

    pattern: Pattern
    joints: tuple[TruedJoint, ...]
    kink: float
    largest: float
    change: float
    changed: tuple[tuple[str, str], ...]
    dropped: tuple[str, ...]


def trued(pattern: Pattern, run: Sequence[Walked], *, within: float, reach: float | None = None) -> Trued:
    """The pattern with one fair line along a run, its darts closed and its seams laid together.

    within: mm that the line may move. reach: mm to either side of each kink that are redrawn, None for the whole line.
    Errors: UsageError for a run that is no line, GeometryError where no fair line stays that near.
    """
    laid, joints = laid_together(pattern, run)
    whole = chain([part.curve for part in laid], within=TAPED)
    ends = np.cumsum([0, *(len(part.curve) for part in laid)])
    new = _faired(whole, within, reach)
    cuts = [0.0, *(_place(new, joint, within) for joint in joints), float(len(new))]
    if any(b - a <= 1e-9 for a, b in pairwise(cuts)):
        raise GeometryError("the fair line misses a part of the run; allow less, or name a longer stretch")
    spots = [point(new, u) for u in cuts[1:-1]]
    pieces = {piece.uid: piece for piece in pattern.pieces}
    for k, (part, (u, v)) in enumerate(zip(laid, pairwise(cuts), strict=True)):
        back = part.matrix.inverse()
        curve = transform(_without_slivers(section(new, u, v)), back)
        start, end = (spots[k - 1] if k else None), (spots[k] if k < len(spots) else None)
        pieces[part.piece.uid] = _redrawn(pieces[part.piece.uid], part, curve, start is not None, end is not None)
    for k, joint in enumerate(joints):
        pieces = _joint_moved(pieces, joint, spots[k], laid[k], laid[k + 1])
    done = [marks_followed(old, pieces[old.uid]) if pieces[old.uid] is not old else old for old in pattern.pieces]
    after, dropped = followed(pattern, done)
    told = tuple(
        TruedJoint(
            name=joint.name,
            before=_kink_at(whole, float(ends[k + 1])),
            after=_kink_left(after, joint, laid[k], laid[k + 1]),
            moved=float(np.hypot(*(spots[k] - joint.at))),
        )
        for k, joint in enumerate(joints)
    )
    _gated(pattern, after, joints, told)
    return Trued(
        pattern=after,
        joints=told,
        kink=fairness(whole).kink,
        largest=largest_move(whole, new),
        change=length(new) - length(whole),
        changed=_changed(pattern, after),
        dropped=dropped,
    )


def _without_slivers(curve: Curve) -> Curve:
    """A part of the fair line, without a first or last span that is left where a node of the line lies beside a cut."""
    size = span_lengths(curve)
    if len(curve) > 1 and size[0] < SLIVER:
        curve = starting_at(Curve(curve.controls[1:], curve.straight[1:]), curve.start)
    if len(curve) > 1 and size[-1] < SLIVER:
        curve = ending_at(Curve(curve.controls[:-1], curve.straight[:-1]), curve.end)
    return curve


def sharpest(pattern: Pattern, run: Sequence[Walked]) -> float:
    """Degrees of the sharpest turn within a run, laid together."""
    laid, _ = laid_together(pattern, run)
    return fairness(chain([part.curve for part in laid], within=TAPED)).kink


def smooth(line: Fairness) -> bool:
    """Whether a line has neither kinks nor lumps, so that there is nothing to true."""
    few = line.extrema <= BENDS and line.inflections <= SIDES and line.mvc <= TIGHT
    return line.kink < LEFT and (few or line.mvc <= FAIR)


def _faired(whole: Curve, within: float, reach: float | None) -> Curve:
    if reach is None:
        return _least_moved(whole, within)
    total = length(whole)
    places = [length_to(whole, float(k)) for k in range(1, len(whole)) if _kink_at(whole, float(k)) > KINK]
    if not places:
        return whole
    windows: list[list[float]] = []
    for at in places:
        a, b = max(0.0, at - reach), min(total, at + reach)
        if windows and a <= windows[-1][1]:
            windows[-1][1] = b
        else:
            windows.append([a, b])
    parts, done = [], 0.0
    for a, b in windows:
        u, v = place_at(whole, a), place_at(whole, b)
        if u > done:
            parts.append(section(whole, done, u))
        parts.append(_least_moved(section(whole, u, v), within))
        done = v
    if done < len(whole):
        parts.append(section(whole, done, len(whole)))
    return chain(parts, within=1e-6)


def _least_moved(whole: Curve, within: float) -> Curve:
    """The fair line that moves no more than it need.

    Where the line has a kink that is the nearest one that is as even to the eye as the line was beside the kink. A line
    without one stays as it is, bent as it was drawn; one that is lumpy is made as even as the distance allows, or
    nearly so. One that bends to a side to which it did not is the last choice.
    """
    was = fairness(whole)
    if smooth(was):
        return whole
    enough = max(FAIR, ALIKE * was.mvc if was.kink >= LEFT else 0.0)
    tried: list[Fairing] = []
    fairer = Fairer([whole])
    for distance in _distances(within, was.kink):
        try:
            tried.append(fairer.within(distance))
        except GeometryError:
            if distance == within:
                raise
            continue
        if tried[-1].after.mvc <= enough and tried[-1].after.inflections <= was.inflections:
            return tried[-1].curve
    best = [found for found in tried if found.after.inflections <= was.inflections] or tried
    least = max(min(found.after.mvc for found in best), enough / ALIKE)
    return next(found for found in best if found.after.mvc <= ALIKE * least).curve


def _distances(within: float, kink: float) -> Iterator[float]:
    """mm that are tried in turn: a slight kink needs no more than a hair's breadth, however much is allowed."""
    if LEFT <= kink < SLIGHT and SHARES[0] * within > FIRST:
        yield FIRST
    yield from (share * within for share in SHARES)
    yield within


def _place(new: Curve, joint: Joint, within: float) -> float:
    """Where a joint comes to lie on the fair line."""
    if joint.way.any():
        away = BESIDE * within + 1.0
        met = crossings(new, line(joint.at - away * joint.way, joint.at + away * joint.way))
        if met:
            return float(min(met, key=lambda c: float(np.hypot(*(c.point - joint.at)))).u)
        raise GeometryError(
            f"the line runs along {joint.name}, so it cannot be trued over it; true it on each side by itself"
        )
    return float(nearest(new, joint.at)[0])


def _redrawn(piece: Piece, part: Laid, curve: Curve, moves_start: bool, moves_end: bool) -> Piece:
    """The piece with a stretch of an edge's part along a curve, given in walking direction in the piece's frame."""
    edge = piece.edge_of(part.edge.uid)
    if not part.forward:
        curve, moves_start, moves_end = reverse(curve), moves_end, moves_start
    old = edge.parts[part.part]
    # the ends of the whole line stay where they were to the last digit
    curve = between(
        curve,
        curve.start if moves_start else point(old, part.u0),
        curve.end if moves_end else point(old, part.u1),
    )
    rest = [section(old, 0.0, part.u0)] if part.u0 > 1e-9 else []
    rest.append(curve)
    if part.u1 < len(old) - 1e-9:
        rest.append(section(old, part.u1, len(old)))
    parts = list(edge.parts)
    parts[part.part] = chain(rest, within=1e-6)
    changed = replace(edge, parts=tuple(parts))
    return replace(piece, edges=tuple(changed if e.uid == edge.uid else e for e in piece.edges))


def _joint_moved(pieces: dict[str, Piece], joint: Joint, spot: Array, one: Laid, two: Laid) -> dict[str, Piece]:
    """The pieces with the legs or the seam's edges of a joint drawn on to where it lies now."""
    found = dict(pieces)
    feet = one.matrix.inverse().apply(spot), two.matrix.inverse().apply(spot)
    if joint.dart:
        piece = _with_feet(found[one.piece.uid], joint.dart, feet if one.forward else feet[::-1])
        for part, foot, at_end in ((one, feet[0], one.forward), (two, feet[1], not two.forward)):
            piece = _ended(piece, part.edge.uid, part.part, foot, at_end=at_end)
        found[piece.uid] = piece
        return found
    for part, foot, at_end in ((one, feet[0], one.forward), (two, feet[1], not two.forward)):
        found[part.piece.uid] = _ended(found[part.piece.uid], part.edge.uid, part.part, foot, at_end=at_end)
    # the seam of the first begins where that ends, the seam of the second ends where that begins
    for sewn, foot, at_end in zip(joint.seam, feet, (not one.forward, two.forward), strict=False):
        piece = found[sewn.piece]
        last = len(piece.edge_of(sewn.edge).parts) - 1
        own = sewn.closing.inverse().apply(foot)
        piece = _ended(piece, sewn.edge, last if at_end else 0, own, at_end=at_end)
        if sewn.dart:
            piece = _with_feet(piece, sewn.dart, (own, foot) if at_end else (foot, own))
        found[sewn.piece] = piece
    return found


def _with_feet(piece: Piece, uid: str, feet: tuple[Array, Array]) -> Piece:
    darts = tuple(
        replace(d, legs=(starting_at(d.legs[0], feet[0]), ending_at(d.legs[1], feet[1]))) if d.uid == uid else d
        for d in piece.darts
    )
    return replace(piece, darts=darts)


def _ended(piece: Piece, edge: str, part: int, at: Array, *, at_end: bool) -> Piece:
    """The piece with an end of an edge's part at a point, in the direction that it had."""
    own = piece.edge_of(edge)
    parts = list(own.parts)
    old = parts[part]
    if float(np.hypot(*((old.end if at_end else old.start) - at))) < 1e-9:
        parts[part] = between(old, old.start if at_end else at, at if at_end else old.end)
    else:
        parts[part] = ending_at(old, at) if at_end else starting_at(old, at)
    changed = replace(own, parts=tuple(parts))
    return replace(piece, edges=tuple(changed if e.uid == edge else e for e in piece.edges))


def marks_followed(old: Piece, new: Piece) -> Piece:
    """The new piece with lines and named points that lay on a moved edge brought back onto it."""
    moved = [(a, b) for a, b in zip(old.edges, new.edges, strict=True) if a.parts is not b.parts and a.parts != b.parts]

    def onto(at: Array) -> Array | None:
        for a, b in moved:
            for was, now in zip(a.parts, b.parts, strict=True):
                low, high = was.controls.min(axis=(0, 1)) - ON_EDGE, was.controls.max(axis=(0, 1)) + ON_EDGE
                if not ((low <= at) & (at <= high)).all():
                    continue
                u, away = nearest(was, at)
                if away <= ON_EDGE:
                    ends = {0.0: now.start, float(len(was)): now.end}
                    return ends.get(float(u), np.asarray(point(now, float(nearest(now, at)[0]))))
        return None

    lines = []
    for item in new.lines:
        start, end = onto(item.curve.start), onto(item.curve.end)
        curve = item.curve if start is None else starting_at(item.curve, start)
        lines.append(replace(item, curve=curve if end is None else ending_at(curve, end)))
    points = []
    for spot in new.points:
        at = onto(spot.at)
        points.append(spot if at is None else replace(spot, at=at))
    return replace(new, lines=tuple(lines), points=tuple(points))


def _kink_at(curve: Curve, u: float) -> float:
    into, out = tangent(curve, u, before=True), tangent(curve, u)
    return float(np.degrees(abs(np.arctan2(cross(into, out), into @ out))))


def _kink_left(after: Pattern, joint: Joint, one: Laid, two: Laid) -> float:
    """Degrees by which the line is not straight at a joint once it is closed or sewn, from the angles on the pieces."""
    angles = 0.0
    for part, at_end in ((one, one.forward), (two, not two.forward)):
        piece = after.piece_of(part.piece.uid)
        curve = piece.edge_of(part.edge.uid).parts[part.part]
        way = -tangent(curve, float(len(curve)), before=True) if at_end else tangent(curve, 0.0)
        for a, b in _angles(piece, joint, part, way, at_end):
            angles += float(np.degrees(np.arccos(np.clip(a @ b, -1.0, 1.0))))
    return abs(180.0 - angles)


def _angles(piece: Piece, joint: Joint, part: Laid, way: Array, at_end: bool) -> list[tuple[Array, Array]]:
    """The directions between which the piece lies at an end of a part: up to a leg, the seam or the next edge."""
    if joint.dart:
        dart = next(d for d in piece.darts if d.uid == joint.dart)
        return [(way, tangent(dart.legs[0], 0.0) if at_end else -end_way(dart.legs[1]))]
    edge = piece.edge_of(part.edge.uid)
    beside = piece.after(edge) if at_end else next(e for e in piece.edges if piece.after(e).uid == edge.uid)
    across = tangent(beside.parts[0], 0.0) if at_end else -end_way(beside.parts[-1])
    keeper = edge if at_end else beside
    dart_in = piece.cut_in(keeper, len(keeper.parts) - 1)
    if dart_in is None:
        return [(way, across)]
    legs = tangent(dart_in.legs[0], 0.0), -end_way(dart_in.legs[1])
    return [(way, legs[0]), (legs[1], across)] if at_end else [(way, legs[1]), (legs[0], across)]


def _gated(before: Pattern, after: Pattern, joints: Sequence[Joint], told: Sequence[TruedJoint]) -> None:
    """Errors: GeometryError where the outline crosses itself now, or a closed dart or a seam still has a kink."""
    for old, new in zip(before.pieces, after.pieces, strict=True):
        where = outline_crossing(new) if new is not old else None
        if where is not None:
            raise GeometryError(
                f"{new.name} would cross itself near x {where[0]:.1f}, y {where[1]:.1f} mm; allow less with ",
                Option("within"),
            )
    for joint, now in zip(joints, told, strict=True):
        if now.after > LEFT and joint.way.any():
            raise GeometryError(f"a kink of {now.after:.2f}° would be left at {joint.name}; redraw the line there")


def largest_move(old: Curve, new: Curve) -> float:
    """mm, the farthest that either curve lies from the other."""
    away = 0.0
    for a, b in ((old, new), (new, old)):
        away = max(away, float(nearest(b, point(a, np.linspace(0.0, len(a), CHECKED * len(a) + 1)))[1].max()))
    return away


def _changed(before: Pattern, after: Pattern) -> tuple[tuple[str, str], ...]:
    found = []
    for old, new in zip(before.pieces, after.pieces, strict=True):
        for a, b in zip(old.edges, new.edges, strict=True):
            if any(not np.array_equal(p.controls, q.controls) for p, q in zip(a.parts, b.parts, strict=True)):
                found.append((new.name, b.name))
    return tuple(found)

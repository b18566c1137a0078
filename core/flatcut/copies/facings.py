"""Facings: the band of a piece along edges of it, darts closed, with a seam to each edge and a free inner edge."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.copies.unrolling import Unrolled, unrolled
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, flatten, line, point, reverse, section, tangent
from flatcut.geometry.flowing import flowing, square_to
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to, place_at, places_at
from flatcut.geometry.offset import offset_curve
from flatcut.geometry.region import ring_area, subtracted
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.graining import laid
from flatcut.pattern.moving import moved
from flatcut.pattern.outline_crossing import outline_crossing
from flatcut.pattern.renewing import free_name
from flatcut.pattern.sources import Source, Taken, taken
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Allowance,
    Caption,
    Edge,
    Grain,
    Line,
    Notch,
    Piece,
    Position,
    area,
    held_marks,
    outline,
)
from flatcut.pattern.walking import sewn_length
from flatcut.units import plain

NARROWER = 0.1
"""Part of its width by which a facing may be narrower, beside what an edge leans along which its width is measured."""
OUTSIDE = 1.0
"""mm² that a facing may lie off its piece: rounding of curves."""
SEWN = ("seam", "opening")
LOOKS = 3
"""Places between its ends at which the inner edge keeps its distance; as many give a quarter circle within 0.01 mm."""
FREE = 0.4
"""Part of the edge at a seam over which the inner edge comes round to be square to it; half of that at a fold."""


@dataclass(frozen=True, kw_only=True)
class Facing:
    """piece: the facing; named: uid of each faced edge to that of the facing's; inner: its free edge.

    others: likewise of edges that are sewn as those of the piece, with the end of the edge that the facing has, or
    whole. widths: mm at its first and last end; closed: names of the darts that were closed.
    """

    piece: Piece
    named: dict[str, str]
    others: dict[tuple[str, str], str]
    inner: Edge
    widths: tuple[float, float]
    closed: tuple[str, ...]


def faced(
    piece: Piece,
    along: Sequence[Edge],
    named: Collection[str],
    *,
    widths: tuple[float, float],
    drawn: Line | None,
    roll: float,
    name: str,
    material: str,
    step: str,
    uids: Uids,
) -> Facing:
    """The facing of edges that follow one another on a piece, those of them that are `named` (uids) sewn to it.

    widths: mm at its first and last end along the outline; drawn: a line on the piece that is its inner edge instead.
    roll: mm by which it is shorter at the inner end of each seam beside it. Errors: UsageError, GeometryError.
    """
    flat = unrolled(piece, along)
    curves = [curve for _, curve in flat.along]
    whole = all(edge.uid in named for edge, _ in flat.along)
    if drawn is not None:
        inner, lead, trail = _cut(piece, flat, _drawn(flat, drawn), roll)
    elif whole and len(flat.along) > 1:
        inner, lead, trail = _cut(piece, flat, _round(piece, flat, widths), roll)
    else:
        inner, lead, trail = (
            _through(piece, flat, widths, roll, _beside(piece, flat, widths))
            if whole
            else _spanning(piece, flat, named, widths, roll)
        )
    closed = flat.closed(length(lead), length(trail))
    if drawn is not None and closed:
        names = " and ".join(f"{piece.name}.{dart.name}" for dart in closed)
        raise UsageError(f"{names} is closed in the facing, so a drawn line does not fit it; give a width instead")
    new: dict[str, Edge] = {}
    uid = uids.fresh("facing", piece.uid, name)
    order: list[Edge] = []
    for edge, curve in (
        (flat.before[0], lead),
        *zip((e for e, _ in flat.along), curves, strict=True),
        (flat.after[0], trail),
    ):
        use = "seam" if edge.uid in named else edge.use
        made = Edge(
            uid=uids.fresh("facing", uid, edge.uid),
            name=edge.name,
            parts=(curve,),
            use=use,
            words=edge.words,
            centre=edge.centre,
            allowance=_width(edge, faced=edge.uid in named),
        )
        new[edge.uid] = made
        order.append(made)
    free = Edge(
        uid=uids.fresh("facing", uid, "inner"),
        name=free_name("inner", piece.names()),
        parts=(reverse(inner),),
        use="finished",
    )
    on_fold = any(edge.use == "fold" for edge in order)
    cut_as = "fold" if on_fold else ("pair" if piece.cut_as == "fold" else piece.cut_as)
    quantity = {("fold", "pair"): 2 * piece.quantity}.get((piece.cut_as, cut_as), piece.quantity)
    bare = Piece(
        uid=uid,
        name=name,
        edges=(*order, free),
        quantity=quantity,
        cut_as=cut_as,
        side=piece.side,
        material=material or piece.material,
        source=Source(kind="facing", of=(piece.uid,), line=step, taken=_taken(piece, flat, lead, trail)),
    )
    done = replace(bare, **held_marks((*_notches(piece, flat, new, lead, trail, uids), *_grain(piece, bare), _LABEL)))
    _gate(piece, done, flat, inner, widths, named, judged=drawn is None, whole=not closed)
    ends = length(lead), length(trail)
    others = {(flat.before[0].uid, "end"): order[0].uid, (flat.after[0].uid, "start"): order[-1].uid}
    others |= {(edge.uid, "whole"): new[edge.uid].uid for edge, _ in flat.along if edge.uid not in named}
    return Facing(
        # sewn right side to right side: of a piece that is no pair it is cut as the mirror image
        piece=moved(done, Affine.scaling(-1, 1)) if piece.one_sided else done,
        named={old: edge.uid for old, edge in new.items() if old in named},
        others=others,
        inner=free,
        widths=ends,
        closed=tuple(dart.name for dart in closed),
    )


_LABEL = Caption(text="facing")


def _width(edge: Edge, *, faced: bool) -> Allowance | None:
    if edge.allowance is None or edge.use in ("fold", "centre"):
        return edge.allowance
    if faced and edge.use == "hem":
        return None
    return Allowance(width=edge.allowance.width)


# The inner edge -------------------------------------------------------------------------------------------------------


def _round(piece: Piece, flat: Unrolled, widths: tuple[float, float]) -> Curve:
    """Parallels to edges that meet at corners, one line from end to end, before it is cut at the edges beside."""
    inward = -1.0 if area(piece) > 0 else 1.0
    if widths[0] != widths[1]:
        raise UsageError("a facing round a corner has one width; give one with ", Option("width"))
    found = [offset_curve(c, inward * widths[0], name=f"{piece.name}.{e.name}") for e, c in flat.along]
    whole = found[0]
    for (edge, _), following in zip(flat.along[1:], found[1:], strict=True):
        whole = _met(piece, edge, whole, following)
    return whole


def _met(piece: Piece, edge: Edge, one: Curve, two: Curve) -> Curve:
    """Two parallels cut where they meet, or joined where one ends as the other begins."""
    met = crossings(one, two)
    if met:
        at = max(met, key=lambda c: c.u)
        return chain([section(one, 0.0, at.u), starting_at(section(two, at.v, float(len(two))), at.point)], within=1e-3)
    if float(np.hypot(*(one.end - two.start))) < 1.0:
        return chain([one, starting_at(two, one.end)], within=1e-6)
    raise GeometryError(
        f"the facing has no inner edge at the start of {piece.name}.{edge.name}; draw it, and name the line with ",
        Option("inner"),
    )


def _beside(piece: Piece, flat: Unrolled, widths: tuple[float, float]) -> list[Array]:
    """Places at which the inner edge beside one edge lies, from the one to the other width."""
    curve = flat.along[0][1]
    free = [FREE if edge.use in SEWN else FREE / 2 for edge in (flat.before[0], flat.after[0])]
    share = np.linspace(free[0], 1.0 - free[1], LOOKS)
    places = places_at(curve, length(curve) * share)
    wide = widths[0] + (widths[1] - widths[0]) * (3 * share**2 - 2 * share**3)
    way = tangent(curve, places)
    normal = (1.0 if area(piece) > 0 else -1.0) * np.stack([-way[:, 1], way[:, 0]], axis=1)
    return list(point(curve, places) + wide[:, None] * normal)


def _spanning(
    piece: Piece, flat: Unrolled, named: Collection[str], widths: tuple[float, float], roll: float
) -> tuple[Curve, Curve, Curve]:
    """A smooth line across edges that are faced together, bent away from them where it would come too near."""
    made = _through(piece, flat, widths, roll, ())
    rows = np.concatenate([flatten(curve, tolerance=0.02) for edge, curve in flat.along if edge.uid in named])
    points = flatten(made[0], tolerance=0.1)
    found = [_foot(at, rows) for at in points]
    near = [float(np.hypot(*(at - foot))) for at, foot in zip(points, found, strict=True)]
    worst = int(np.argmin(near))
    if near[worst] >= min(widths) or not 0 < worst < len(points) - 1:
        return made
    away = found[worst] + min(widths) * unit(points[worst] - found[worst])
    return _through(piece, flat, widths, roll, [away])


def _foot(at: Array, rows: Array) -> Array:
    """The place on the chords between points (n, 2) that is nearest to one (2,)."""
    start, way = rows[:-1], np.diff(rows, axis=0)
    size = np.maximum((way * way).sum(axis=1), 1e-18)
    feet: Array = start + np.clip(((at - start) * way).sum(axis=1) / size, 0.0, 1.0)[:, None] * way
    foot: Array = feet[int(np.argmin(np.hypot(*(feet - at).T)))]
    return foot


def _through(
    piece: Piece, flat: Unrolled, widths: tuple[float, float], roll: float, between: Sequence[Array]
) -> tuple[Curve, Curve, Curve]:
    """A smooth line through places, square to the edges beside at these widths along them, and the stretches of those.

    With roll a stretch of a seam ends so far inside; it leaves the corner as the seam does and ends parallel to it, so
    that the facings of both pieces run on into each other at either end.
    """
    sides = []
    for (edge, curve), wide in (((flat.before[0], reverse(flat.before[1])), widths[0]), (flat.after, widths[1])):
        if length(curve) <= wide:
            what = " and ".join(f"{piece.name}.{faced.name}" for faced, _ in flat.along)
            raise GeometryError(
                f"the facing of {what} is {plain(wide)} mm wide, and {piece.name}.{edge.name} beside it is "
                f"{plain(length(curve))} mm long; make it narrower"
            )
        u = place_at(curve, wide)
        sides.append((edge, section(curve, 0.0, u), tangent(curve, u, before=True), roll if edge.use in SEWN else 0.0))
    ends = [stretch.end for _, stretch, _, _ in sides]
    toward = (between[0] if between else ends[1]) - ends[0], ends[1] - (between[-1] if between else ends[0])
    ways = [square_to(way) * np.sign(square_to(way) @ to) for (_, _, way, _), to in zip(sides, toward, strict=True)]
    stretches = []
    for (_, stretch, way, by), along in zip(sides, (ways[0], -ways[1]), strict=True):
        moved = stretch.end + by * along
        stretches.append(flowing([stretch.start, moved], leave=tangent(stretch, 0.0), arrive=way) if by else stretch)
    inner = flowing([stretches[0].end, *between, stretches[1].end], leave=ways[0], arrive=ways[1])
    return inner, reverse(stretches[0]), stretches[1]


def _drawn(flat: Unrolled, drawn: Line) -> Curve:
    """A line on the piece in the direction of the outline."""
    near = [float(np.hypot(*(end - flat.along[0][1].start))) for end in (drawn.curve.start, drawn.curve.end)]
    return drawn.curve if near[0] <= near[1] else reverse(drawn.curve)


def _cut(piece: Piece, flat: Unrolled, inner: Curve, roll: float) -> tuple[Curve, Curve, Curve]:
    """The inner edge from end to end, and the stretches of the edges beside it, shortened for roll there."""
    reach = 2.0 * max(length(inner), 50.0)
    way_in, way_out = tangent(inner, 0.0), tangent(inner, float(len(inner)), before=True)
    size = length(inner)
    onward = chain(
        [line(inner.start - reach * way_in, inner.start), inner, line(inner.end, inner.end + reach * way_out)],
        within=1e-6,
    )
    low, high = reach, reach + size
    (first, before), (last, after) = flat.before, flat.after
    lead = _rolled(
        onward, reverse(before), roll if first.use in SEWN else 0.0, low, first=True, where=f"{piece.name}.{first.name}"
    )
    trail = _rolled(
        onward, after, roll if last.use in SEWN else 0.0, high, first=False, where=f"{piece.name}.{last.name}"
    )
    (u, stretch_in), (v, stretch_out) = lead, trail
    cut = section(onward, u, v)
    cut = ending_at(starting_at(cut, stretch_in.end), stretch_out.end)
    return cut, reverse(stretch_in), stretch_out


def _rolled(inner: Curve, beside: Curve, roll: float, near: float, *, first: bool, where: str) -> tuple[float, Curve]:
    """Where the inner edge meets an edge beside the facing, and the stretch of that from the corner on.

    With roll its inner end lies so far along the inner edge, and the stretch bends there from the corner on.
    """
    met = crossings(inner, beside)
    if not met:
        raise GeometryError(f"the inner edge of the facing never meets {where}; make it narrower, or draw it")
    at = min(met, key=lambda c: abs(length_to(inner, c.u) - near))
    stretch = section(beside, 0.0, at.v)
    if roll <= 0:
        return at.u, ending_at(stretch, at.point)
    along = length_to(inner, at.u) + (roll if first else -roll)
    u = place_at(inner, along)
    # it leaves the corner as the piece does, and the facings of both pieces run on into each other at its inner end
    ways = tangent(stretch, 0.0), tangent(stretch, float(len(stretch)), before=True)
    return u, flowing([stretch.start, point(inner, u)], leave=ways[0], arrive=ways[1])


# What stands on it ----------------------------------------------------------------------------------------------------


def _taken(piece: Piece, flat: Unrolled, lead: Curve, trail: Curve) -> tuple[Taken, ...]:
    from_end = Position(mode="end", value=min(round(length(lead), 3), sewn_length(flat.before[0])))
    from_start = Position(mode="start", value=min(round(length(trail), 3), sewn_length(flat.after[0])))
    return (
        taken(piece.uid, flat.before[0], start=from_end),
        *(taken(piece.uid, edge) for edge, _ in flat.along),
        taken(piece.uid, flat.after[0], end=from_start),
    )


def _notches(piece: Piece, flat: Unrolled, new: dict[str, Edge], lead: Curve, trail: Curve, uids: Uids) -> list[Notch]:
    """The notches of the piece on what the facing has of its edges."""
    found = []
    for notch in piece.notches:
        if notch.edge not in new:
            continue
        total = sewn_length(piece.edge_of(notch.edge))
        at, place = notch.at.along(total), notch.at
        if notch.edge == flat.before[0].uid:
            if total - at > length(lead):
                continue
            place = Position(mode="end", value=total - at)
        elif notch.edge == flat.after[0].uid:
            if at > length(trail):
                continue
            place = Position(mode="start", value=at)
        edge = new[notch.edge]
        found.append(replace(notch, uid=uids.fresh("facing", edge.uid, notch.uid), edge=edge.uid, at=place))
    return found


def _grain(piece: Piece, facing: Piece) -> tuple[Grain, ...]:
    if piece.grain is None:
        return ()
    start, end, _ = laid(facing, unit(piece.grain.end - piece.grain.start))
    return (replace(piece.grain, start=start, end=end),)


# The gate -------------------------------------------------------------------------------------------------------------


def _gate(
    piece: Piece,
    facing: Piece,
    flat: Unrolled,
    inner: Curve,
    widths: tuple[float, float],
    named: Collection[str],
    *,
    judged: bool,
    whole: bool,
) -> None:
    """Errors: GeometryError for a facing that crosses itself, lies off its piece or is narrower than asked.

    Chords and areas judge what curves made.
    """
    where = outline_crossing(facing)
    if where is not None:
        raise GeometryError(
            f"{facing.name} would cross itself near x {where[0]:.1f}, y {where[1]:.1f} mm; make it narrower"
        )
    if whole:
        mine, its = (flatten(chain(outline(p), within=1e-6), tolerance=0.02) for p in (facing, piece))
        off = sum(abs(ring_area(part.ring)) for part in subtracted(mine, [its]))
        strip = 0.05 * sum(length(c) for _, c in flat.along)
        if off > OUTSIDE + strip:
            raise GeometryError(
                f"{facing.name} would lie off {piece.name} by {plain(off / 100, 1)} cm²; make it narrower"
            )
    if judged:
        rows = np.concatenate([flatten(curve, tolerance=0.02) for edge, curve in flat.along if edge.uid in named])
        near = _distance(flatten(inner, tolerance=0.5), rows)
        if near < min(widths) * _lean(flat) * (1 - NARROWER):
            raise GeometryError(
                f"the inner edge of {facing.name} comes within {plain(near, 1)} mm of what is faced, and"
                f" {plain(min(widths), 1)} mm were asked; make it wider, or draw it, and name the line with ",
                Option("inner"),
            )


def _lean(flat: Unrolled) -> float:
    """The part of its width along the edges beside by which a facing is wide square to what it faces, at its ends."""
    (_, before), (_, first), (_, last), (_, after) = flat.before, flat.along[0], flat.along[-1], flat.after
    ends = (
        (tangent(before, float(len(before)), before=True), tangent(first, 0.0)),
        (tangent(last, float(len(last)), before=True), tangent(after, 0.0)),
    )
    return min(abs(float(cross(one, two))) for one, two in ends)


def _distance(points: Array, rows: Array) -> float:
    """The least mm of points (n, 2) from the chords between points (m, 2) that follow one another."""
    return min(float(np.hypot(*(_foot(at, rows) - at))) for at in points)

"""An opening at the end of a seam: an extension that laps under, or a slit."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.drafting.ends import across, end_part, neighbour, outward, refuse_dart
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, reverse, section, tangent
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.offset import offset_curve
from flatcut.geometry.welding import ending_at, joined, starting_at
from flatcut.pattern.renewing import free_name
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Corner, Edge, Line, Notch, Piece, Position
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.reshape.change import Change
from flatcut.reshape.cycle import Item, cycle, rebuilt
from flatcut.reshape.ways import Way, Ways
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Vent:
    """change: the piece with its vent; edges: names of the new edges; upright: mm of the vent's free edge; fold: name
    of the line on which it is folded, '' for a slit; square: degrees between the hem and the fold at the hem.
    """

    change: Change
    edges: tuple[str, ...]
    upright: float
    fold: str
    square: float


def vented(
    piece: Piece,
    seam: Edge,
    tall: float,
    width: float,
    slope: float,
    uids: Uids,
    *,
    at_end: bool,
    lapped: bool,
    fold: bool,
) -> Vent:
    """The piece with its seam open over the last `tall` mm before the hem.

    width, slope: of the extension, mm and degrees between its top and the seam; lapped false: a slit, whose edge is the
    seam's own. fold: the old seam line is folded, else it only shows where the other side comes to lie.
    Errors: UsageError, GeometryError.
    """
    refuse_dart(piece, seam, at_end=at_end)
    hem = neighbour(piece, seam, at_end=at_end)
    part = end_part(seam, at_end=at_end)
    size = length(part)
    if not 1.0 < tall < size - 1.0:
        raise GeometryError(
            f"{piece.name}.{seam.name} is {plain(size)} mm long there, and the vent {plain(tall)} mm; make it shorter"
        )
    u = place_at(part, size - tall)
    upper, lower = section(part, 0.0, u), section(part, u, float(len(part)))
    new: list[tuple[Edge, Curve]] = []
    lines: tuple[Line, ...] = ()
    hem_part = reverse(end_part(hem, at_end=not at_end))
    inward = tangent(hem_part, 0.0)
    down = outward(seam, at_end=at_end)
    square = math.degrees(math.acos(float(np.clip(-down @ inward, -1, 1))))
    upright, folded = tall, ""
    if lapped:
        top, free, corner = _extension(piece, lower, inward, width, slope, at_end=at_end)
        upright = length(free)
        hem_part = joined(line(corner, hem_part.start), hem_part)
        for name, curve in (("vent-top", top), ("vent", free)):
            new.append((_edge(seam, free_name(name, piece.names()), uids), curve))
        folded = free_name("vent-fold", piece.names())
        old = lower if at_end else reverse(lower)
        kind = "fold" if fold else "placement"
        lines = (Line(uid=uids.fresh("vent", seam.uid, folded), name=folded, curve=old, kind=kind),)
    else:
        new.append((_edge(seam, free_name("slit", piece.names()), uids), lower))
    made, ways = _put_in(piece, seam, hem, upper, new, hem_part, at_end=at_end)
    made = replace(made, lines=(*made.lines, *lines))
    return Vent(
        change=Change(pieces=(made,), ways=ways),
        edges=tuple(edge.name for edge, _ in new),
        upright=upright,
        fold=folded,
        square=square,
    )


def with_notch(piece: Piece, seam: str, uids: Uids, *, at_end: bool) -> Piece:
    """The piece with a notch where a seam (uid) ends above its vent, in the place of one that stands there."""
    end = Position(mode="end" if at_end else "start", value=0.0)
    size = sewn_length(piece.edge_of(seam))
    kept = tuple(n for n in piece.notches if n.edge != seam or abs(n.at.along(size) - end.along(size)) > 0.1)
    return replace(piece, notches=(*kept, Notch(uid=uids.fresh("notch", seam, "vent"), edge=seam, at=end)))


def _edge(seam: Edge, name: str, uids: Uids) -> Edge:
    allowance = None if seam.allowance is None else replace(seam.allowance, stretches=(), end_width=None)
    uid = uids.fresh("vent", seam.uid, name)
    return Edge(uid=uid, name=name, parts=seam.parts[:1], use="opening", allowance=allowance, corner=Corner())


def _extension(
    piece: Piece, lower: Curve, inward: Array, width: float, slope: float, *, at_end: bool
) -> tuple[Curve, Curve, Array]:
    """The sloping top and the free edge of an extension, walked toward the hem, and its corner there.

    lower: the seam beside it, toward the hem; inward: how the hem leaves the seam. The extension is folded about the
    seam, so its hem is the mirror image of the piece's own.
    """
    side = tangent(lower, 0.0)
    out = across(piece, side if at_end else -side)
    drop = width / math.tan(math.radians(slope))
    if drop >= length(lower):
        raise GeometryError(
            f"the top of the vent would slope down by {plain(drop)} mm and reach the hem; make it narrower or steeper"
        )
    shoulder = lower.start + width * out + drop * side
    last = tangent(lower, float(len(lower)), before=True)
    flipped = Affine.reflection(lower.end, lower.end + last).apply(lower.end + inward) - lower.end
    out_end = across(piece, last if at_end else -last)
    rise = float(flipped @ out_end)
    if rise < 0.2:
        raise GeometryError("the hem runs along the seam at the vent; square it there first")
    corner = lower.end + width / rise * flipped
    if lower.straight.all():
        free = line(shoulder, corner)
    else:
        left = float(np.array([last[1], -last[0]]) @ out_end) > 0
        whole = offset_curve(lower, width if left else -width)
        at = float(nearest(whole, shoulder)[0])
        free = ending_at(starting_at(section(whole, at, float(len(whole))), shoulder), corner)
    return line(lower.start, shoulder), free, corner


def _put_in(
    piece: Piece, seam: Edge, hem: Edge, upper: Curve, new: list[tuple[Edge, Curve]], hem_part: Curve, *, at_end: bool
) -> tuple[Piece, dict[str, Ways]]:
    """The outline with new edges between the seam and the hem, all curves walked toward the hem."""
    items = cycle(piece)
    numbers = [k for k, item in enumerate(items) if item.part and item.of == seam.uid]
    hems = [k for k, item in enumerate(items) if item.part and item.of == hem.uid]
    between = [Item(of=edge.uid, curve=curve) for edge, curve in new]
    whole, total = drawn_length(seam), drawn_length(hem)
    kept = whole - length(end_part(seam, at_end=at_end)) + length(upper)
    longer = length(hem_part) - length(end_part(hem, at_end=not at_end))
    order = list(piece.edges)
    place = next(k for k, edge in enumerate(order) if edge.uid == seam.uid)
    if at_end:
        items[hems[0]] = replace(items[hems[0]], curve=hem_part)
        items[numbers[-1]] = replace(items[numbers[-1]], curve=upper)
        items[numbers[-1] + 1 : numbers[-1] + 1] = between
        order[place + 1 : place + 1] = [edge for edge, _ in new]
        ways: dict[str, Ways] = {
            seam.uid: (Way(0.0, kept, seam.uid, 0.0, kept),),
            hem.uid: (Way(0.0, total, hem.uid, longer, total + longer),),
        }
    else:
        items[hems[-1]] = replace(items[hems[-1]], curve=reverse(hem_part))
        items[numbers[0]] = replace(items[numbers[0]], curve=reverse(upper), first=False)
        items[numbers[0] : numbers[0]] = [replace(one, curve=reverse(one.curve)) for one in reversed(between)]
        order[place:place] = [edge for edge, _ in reversed(new)]
        ways = {
            seam.uid: (Way(whole - kept, whole, seam.uid, 0.0, kept),),
            hem.uid: (Way(0.0, total, hem.uid, 0.0, total),),
        }
    made = rebuilt(replace(piece, edges=tuple(order)), items, {dart.uid: dart for dart in piece.darts})
    return made, ways


def refuse_folded(piece: Piece, seam: Edge) -> None:
    """UsageError for an edge that is cut on the fold, where nothing opens."""
    if seam.use == "fold":
        raise UsageError(
            f"{piece.name}.{seam.name} is a fold; make it a seam first with: edge {piece.name}.{seam.name} --use=seam"
        )

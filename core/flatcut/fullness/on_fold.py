"""A pleat on the fold of a piece that is cut on the fold: half of it lies on the pattern.

Of an inverted pleat the fold edge is the middle. It moves straight out by twice the depth: where it was is the outer
fold, half way the inner one. The edges that it joins run on as they lie when the pleat is folded: mirrored across the
outer fold as far as the inner one, and that mirrored across the inner one (closed form). Nothing else moves.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, Option, UsageError
from flatcut.fullness.pleats import arrow
from flatcut.fullness.slashing import FLAT
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, flatten, line, reverse, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import shared_place
from flatcut.pattern.mirrored import between, mirrored_half
from flatcut.pattern.notch_setting import usual_depth
from flatcut.pattern.renewing import free_name, numbered
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Line, Notch, Pattern, Piece, Position, TakeUp, area, checked_name
from flatcut.pattern.walking import drawn_length, drawn_of, sewn_length, to_sewn
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import with_edge
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.reshape.ways import Way
from flatcut.units import plain

BOW = 0.01
"""mm: a fold edge that strays no more from its chord is straight."""
MISSED = 0.02
"""mm that the folded pleat may lie beside its edge."""


@dataclass(frozen=True, kw_only=True)
class AtFold:
    """pattern: with the pleat; takeups: edge (uid) and what is taken up there; dropped: what could not be carried."""

    pattern: Pattern
    takeups: tuple[tuple[str, TakeUp], ...]
    dropped: tuple[str, ...]


def fold_beside(piece: Piece, edge: Edge) -> tuple[Edge, bool]:
    """The fold edge that an edge meets, and whether it does so at its start. Errors: UsageError."""
    before = next(other for other in piece.edges if piece.after(other).uid == edge.uid)
    found = [(other, first) for other, first in ((before, True), (piece.after(edge), False)) if other.use == "fold"]
    if len(found) != 1:
        name = f"{piece.name}.{edge.name}"
        if found:
            raise UsageError(f"{name} lies between two fold edges; make one of them a seam with: edge NAME --use=seam")
        raise UsageError(
            f"{name} meets no fold edge, and a pleat on the fold stands where it does; say which edge is the fold "
            f"with: edge {piece.name}.NAME --use=fold"
        )
    fold, first = found[0]
    away = float(nearest(line(fold.start, fold.end), flatten(chain(fold.parts), tolerance=FLAT))[1].max())
    if len(fold.parts) > 1 or away > BOW:
        raise UsageError(f"{piece.name}.{fold.name} is not straight, so nothing can be folded along it; redraw it")
    return fold, first


def place_beside(piece: Piece, edge: Edge, fold: Edge, away: float) -> float:
    """Sewn mm of an edge at which it is so many mm away from the fold that it meets. Errors: UsageError.

    The fold of half a box lies there, parallel to the fold of the piece.
    """
    way = unit(fold.end - fold.start)
    into = np.array([-way[1], way[0]]) * (1.0 if area(piece) > 0 else -1.0)
    far = drawn_length(edge) * way
    ray = line(fold.start + away * into - far, fold.end + away * into + far)
    met = [to_sewn(edge, drawn_of(edge, k, c.u)) for k, part in enumerate(edge.parts) for c in crossings(part, ray)]
    if not met:
        raise UsageError(
            f"{piece.name}.{edge.name} does not reach {plain(away)} mm from the fold, where half a box would end; make "
            "it narrower"
        )
    return min(met) if piece.after(fold).uid == edge.uid else max(met)


def opened_at_fold(
    pattern: Pattern, piece: Piece, fold: Edge, depth: float, name: str, *, taking: frozenset[str] = frozenset()
) -> AtFold:
    """The pattern with half an inverted pleat at the fold edge of a piece; depth: mm that it is folded under.

    taking: uids of the edges on which it is taken up, none for both; the other one hangs open.
    Errors: UsageError, GeometryError; each says what to do.
    """
    checked_name(name, kind="pleats' name")
    before = next(other for other in piece.edges if piece.after(other).uid == fold.uid)
    after = piece.after(fold)
    if before.uid == after.uid:
        raise UsageError(f"{piece.name}.{before.name} runs from the fold edge to the fold edge; make two edges of it")
    way = unit(fold.end - fold.start)
    out = np.array([way[1], -way[0]]) * (1.0 if area(piece) > 0 else -1.0)
    _refuse_darts(piece, fold, -depth * out)
    far = (drawn_length(fold) + 10 * depth) * way
    inner = line(fold.start + depth * out - far, fold.end + depth * out + far)
    uids = Uids(pattern.uids())
    for uid in sorted(taking - {before.uid, after.uid}):
        raise UsageError(
            f"{piece.name}.{piece.edge_of(uid).name} does not meet {piece.name}.{fold.name}, so no pleat on the fold "
            f"is taken up there; name {before.name} or {after.name} with ",
            Option("taken-up"),
        )
    taking = taking or frozenset({before.uid, after.uid})
    made, takeups, ways, ends = piece, [], {}, []
    for edge, at_end in ((before, True), (after, False)):
        away = reverse(edge.parts[-1]) if at_end else edge.parts[0]
        half = _half(piece, edge, away, fold, inner, depth)
        back = transform(reverse(half), Affine.reflection(inner.start, inner.end))
        cap = chain([between(half, away.start, half.end), between(back, half.end, away.start + 2 * depth * out)])
        _refuse_missed(cap, away, away.start, out, depth, f"{piece.name}.{edge.name}")
        ends.append(half.end)
        size, total = length(cap), drawn_length(edge)
        # at the start of an edge all that is on it begins later by so much
        shift = 0.0 if at_end else size
        start = total if at_end else 0.0
        fresh = uids.fresh("takeup", edge.uid, fold.uid)
        takeup = TakeUp(uid=fresh, kind="pleat", start=start, end=start + size, amount=size)
        kept = [replace(t, start=t.start + shift, end=t.end + shift) for t in edge.takeups]
        if edge.uid in taking:
            kept.append(takeup)
            takeups.append((edge.uid, takeup))
        longer = chain([reverse(away), cap], within=1e-6)
        parts = (*edge.parts[:-1], longer) if at_end else (reverse(longer), *edge.parts[1:])
        made = with_edge(made, replace(edge, parts=parts, takeups=tuple(sorted(kept, key=lambda t: t.start))))
        ways[edge.uid] = (Way(0.0, total, edge.uid, shift, total + shift),)
    moved = line(fold.start + 2 * depth * out, fold.end + 2 * depth * out)
    made = with_edge(made, replace(fold, parts=(moved,)))
    refuse_overlap(made, advice="make the pleat less deep")
    lines = _lines(piece, line(fold.start, fold.end), line(ends[0], ends[1]), moved, name, uids)
    made = replace(made, lines=(*made.lines, *lines))
    pattern, dropped = applied(pattern, Change(pieces=(made,), ways=ways))
    made = pattern.piece_of(piece.uid)
    notches = [_notch(made.edge_of(e.uid), uids, at_end=e is before) for e in (before, after) if e.uid in taking]
    pattern = pattern.with_piece(replace(made, notches=(*made.notches, *notches)))
    return AtFold(pattern=pattern, takeups=tuple(takeups), dropped=dropped)


def _half(piece: Piece, edge: Edge, away: Curve, fold: Edge, inner: Curve, depth: float) -> Curve:
    """The edge that leaves the fold, mirrored across it as far as the inner fold."""
    name = f"{piece.name}.{edge.name}"
    reached = float(np.abs(cross(unit(fold.end - fold.start), away.nodes - fold.start)).max())
    if reached < depth:
        raise GeometryError(
            f"{name} reaches {plain(reached)} mm from the fold, less than the pleat is deep; make it less deep"
        )
    half = mirrored_half(away, (fold.start, fold.end), inner, reach=depth, name=name)
    total = drawn_length(edge)
    near = (0.0, length(half)) if edge.uid == piece.after(fold).uid else (total - length(half), total)
    for takeup in edge.takeups:
        if takeup.kind in ("dart", "pleat", "tuck") and takeup.end > near[0] and takeup.start < near[1]:
            raise GeometryError(
                f"the pleat on the fold would lie over a {takeup.kind} of {name} {plain(takeup.start)} mm from its "
                "start; make it less deep, or put it in before that one"
            )
    return half


def _refuse_missed(cap: Curve, away: Curve, corner: Array, out: Array, depth: float, name: str) -> None:
    """GeometryError when the pleat, folded to and fro by how far out its places are, misses the edge under it."""
    places = flatten(cap, tolerance=FLAT)
    far = (places - corner) @ out
    folded = places - (far + np.where(far <= depth, far, 2 * depth - far))[:, None] * out
    off = float(nearest(away, folded)[1].max())
    if off > MISSED:
        raise GeometryError(f"the folded pleat would miss {name} by {plain(off)} mm; make it less deep")


def _refuse_darts(piece: Piece, fold: Edge, into: Array) -> None:
    strip = np.array([fold.start, fold.end, fold.end + into, fold.start + into])
    for dart in piece.darts:
        met = shared_place(strip, np.concatenate([flatten(leg, tolerance=FLAT) for leg in dart.legs]))
        if met is not None:
            raise GeometryError(
                f"the pleat on the fold would be folded over the dart {piece.name}.{dart.name} near x "
                f"{plain(float(met[0]))}, y {plain(float(met[1]))} mm; make it less deep, or release the dart first"
            )


def _lines(piece: Piece, outer: Curve, inner: Curve, middle: Curve, name: str, uids: Uids) -> list[Line]:
    """The outer and the inner fold, and the arrow from the outer one to the middle, which is the fold edge."""
    label, taken, found = numbered(name, piece.names()), piece.names(), []
    for word, curve, kind in (("fold", outer, "fold"), ("inner", inner, "fold"), ("way", arrow(outer, middle), "")):
        called = free_name(f"{label}-{word}", taken)
        taken.add(called)
        made = Line(uid=uids.fresh("fold", piece.uid, called), name=called, curve=curve)
        found.append(replace(made, kind=kind) if kind else made)
    return found


def _notch(edge: Edge, uids: Uids, *, at_end: bool) -> Notch:
    """A notch where the pleat is folded: it is cut at the outer fold and at the middle."""
    place = Position(mode="end" if at_end else "start", value=0.0)
    depth = usual_depth(edge, sewn_length(edge) if at_end else 0.0)
    return Notch(uid=uids.fresh("notch", edge.uid, "fold"), edge=edge.uid, at=place, depth=depth)

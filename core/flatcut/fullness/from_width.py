"""Pleats folded out of the width that is there: no cloth is put in, and the edge is sewn so much shorter.

What lies between the outer folds of each is folded over, and the edge there is shaped as for any pleat (`pleats`), so
that folded it lies on the seam line. Where the edge runs aslant to the folds its two sides no longer meet, by how much
is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flatcut.errors import GeometryError, Option, UsageError
from flatcut.fullness.pleating import Row
from flatcut.fullness.pleats import FIRST, OPEN, SECOND, fold_shares, folds_drawn, shaped_end
from flatcut.fullness.slashing import FLAT
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, flatten, line, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to, place_at
from flatcut.geometry.region import shared_place
from flatcut.pattern.notch_setting import with_notches
from flatcut.pattern.places import Place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import named_edge, on_edge
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Line, Pattern, Piece, TakeUp, checked_name
from flatcut.pattern.walking import drawn_of, part_at, to_drawn, to_sewn
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import with_edge
from flatcut.reshape.holding import KEPT
from flatcut.reshape.ways import Moved
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class InWidth:
    """A pleat to be folded where the edge is `middle` mm sewn, `wide` mm of cloth in all, pressed as `Fold` says."""

    middle: float
    wide: float
    pressed: str


@dataclass(frozen=True, kw_only=True)
class FoldedWidth:
    """pattern: with the pleats; takeups: on the edge; off: mm by which a folded pleat misses the seam line at most.

    notches: figures of those set; dropped: what could not be carried over.
    """

    pattern: Pattern
    takeups: tuple[TakeUp, ...]
    off: float
    notches: tuple[Figure, ...]
    dropped: tuple[str, ...]


def folded_from_width(
    pattern: Pattern, piece: Piece, row: Row, pleats: Sequence[InWidth], *, stitched: float, name: str
) -> FoldedWidth:
    """The pattern with pleats of the width that the row's edge has; their folds are drawn `stitched` mm long.

    pleats: in their order along the edge. Errors: UsageError, GeometryError; each says what to do.
    """
    checked_name(name, kind="pleats' name")
    before = piece.edge_of(row.edge)
    # all are found on the edge as it is, and shaped from its end on, so that no place has moved when its turn comes
    places = [_rays(piece, before, row, one, stitched) for one in pleats]
    for (_, this), (_, following) in pairwise(places):
        if following[0] < this[1] - 1e-6:
            raise _no_room(piece, before)
    _refuse_folded(piece, before, [span for _, span in places])
    uids = Uids(pattern.uids())
    taken, lined, rows = piece.names(), piece, []
    for (rays, _), one in zip(places, pleats, strict=True):
        _refuse_darts(piece, rays, f"{piece.name}.{numbered(name, taken)}")
        label = numbered(name, taken)
        taken.add(label)
        opened = Line(uid=uids.fresh("pleat", piece.uid, label), name=label, curve=rays[len(rays) // 2])
        lined = replace(lined, lines=(*lined.lines, opened))
        lined, folded = folds_drawn(lined, opened, rays[::-1], one.pressed, uids)
        taken |= lined.names()
        rows.append(folded)
    edge, moved, off = before, Moved.identity(_total(before)), 0.0
    takeups: list[TakeUp] = []
    for (rays, span), one, folded in reversed(list(zip(places, pleats, rows, strict=True))):
        k, _ = part_at(edge, (span[0] + span[1]) / 2)
        part, reached = edge.parts[k], drawn_of(edge, k, 0.0)
        low, high = span[0] - reached, span[1] - reached
        # as far as it lies flat: up to the pleats beside this one
        flat = _flat_beside(span, places)
        first, last = max(flat[0] - reached, 0.0), min(flat[1] - reached, length(part))
        nets = (
            section(part, place_at(part, first), place_at(part, low)),
            section(part, place_at(part, high), place_at(part, last)),
        )
        # the second part of the piece comes first along an edge at which a line starts
        toward = {OPEN: "open", FIRST: "after"}.get(one.pressed, "before")
        label = next(item.name for item in lined.lines if item.uid == folded.opened)
        end = shaped_end(part, (low, high), rays, toward, nets, f"{piece.name}.{label}")
        off = max(off, end.off)
        total = _total(edge)
        old = np.array([0.0, reached + end.were[0], reached + end.were[1], total])
        longer = (end.high - end.low) - (end.were[1] - end.were[0])
        now = np.array([0.0, reached + end.low, reached + end.high, total + longer])
        edge = replace(edge, parts=tuple(end.curve if i == k else p for i, p in enumerate(edge.parts)))
        moved = moved.then(old, now)
        takeups = [replace(t, start=t.start + longer, end=t.end + longer) for t in takeups]
        start, till = reached + end.low, reached + end.high
        fresh = uids.fresh("takeup", edge.uid, folded.opened)
        takeups.insert(0, TakeUp(uid=fresh, kind="pleat", start=start, end=till, amount=till - start))
    kept = [replace(t, start=moved(t.start), end=moved(t.end)) for t in before.takeups]
    edge = replace(edge, takeups=tuple(sorted((*kept, *takeups), key=lambda t: t.start)))
    change = Change(pieces=(with_edge(lined, edge),), ways={edge.uid: moved.ways(edge.uid)})
    after, dropped = applied(pattern, change)
    edge = after.piece_of(piece.uid).edge_of(edge.uid)
    own = {t.uid for t in takeups}
    found = tuple(t for t in edge.takeups if t.uid in own)
    ends = sorted({round(to_sewn(edge, t.start), 6) for t in found})
    after, notches = with_notches(after, edge.uid, ends, "notch, pleat")
    return FoldedWidth(pattern=after, takeups=found, off=off, notches=tuple(notches), dropped=dropped)


def side_toward(piece: Piece, row: Row, middle: float, pressed: Place | None) -> str:
    """To which part of the piece a pleat is pressed: FIRST is what follows it along the edge, SECOND what comes before.

    middle: where it stands, mm sewn; pressed: an edge of the piece, None for the fold or centre edge, or else for what
    comes before. Errors: UsageError where the edge lies neither on the one side nor on the other.
    """
    spot = on_edge(piece, piece.edge_of(row.edge), middle)
    assert spot.tangent is not None
    aside = np.array([-row.across[1], row.across[0]])
    aside = aside if aside @ spot.tangent > 0 else -aside
    if pressed is None:
        kept = [edge for edge in piece.edges if edge.use in KEPT and edge.uid != row.edge]
        if not kept:
            return SECOND
        edge = kept[0]
    else:
        edge = named_edge(piece, pressed)
    far = np.concatenate([(part.nodes - spot.point) @ aside for part in edge.parts])
    if edge.uid == row.edge or far.min() * far.max() < 0:
        name = f"{piece.name}.{edge.name}"
        raise UsageError(
            f"{name} lies on both sides of the pleat at {plain(middle)} mm; name an edge on one side of it"
        )
    return FIRST if far.sum() > 0 else SECOND


def _total(edge: Edge) -> float:
    return float(sum(length(part) for part in edge.parts))


def _flat_beside(
    span: tuple[float, float], places: Sequence[tuple[list[Curve], tuple[float, float]]]
) -> tuple[float, float]:
    """From where to where the edge lies flat about a pleat, mm drawn."""
    spans = [other for _, other in places]
    low = max((end for _, end in spans if end <= span[0] + 1e-6), default=0.0)
    high = min((start for start, _ in spans if start >= span[1] - 1e-6), default=float("inf"))
    return min(low, span[0] - 1e-3), max(high, span[1] + 1e-3)


def _no_room(piece: Piece, edge: Edge) -> UsageError:
    return UsageError(
        f"the pleats do not lie side by side on {piece.name}.{edge.name}; make them less deep, or give them more of "
        "the edge"
    )


def _rays(piece: Piece, edge: Edge, row: Row, one: InWidth, stitched: float) -> tuple[list[Curve], tuple[float, float]]:
    """The folds of a pleat from the edge into the piece, along the edge, and where the outer ones stand, mm drawn."""
    spot = on_edge(piece, edge, one.middle)
    assert spot.tangent is not None
    aside = np.array([-row.across[1], row.across[0]])
    aside = aside if aside @ spot.tangent > 0 else -aside
    k, _ = part_at(edge, to_drawn(edge, one.middle))
    part = edge.parts[k]
    folds, places = [], []
    for share in fold_shares(one.pressed):
        at = spot.point + (float(share) - 0.5) * one.wide * aside
        far = 2 * one.wide + 20.0
        ray = line(at - far * row.across, at + far * row.across)
        met = min(crossings(part, ray), key=lambda c: float(np.hypot(*(c.point - at))), default=None)
        if met is None:
            raise UsageError(
                f"{piece.name}.{edge.name} has no {plain(one.wide / 2)} mm on both sides of "
                f"{plain(one.middle)} mm to be folded, up to its end or a dart; make the pleat less deep, or put it "
                "elsewhere"
            )
        folds.append(line(met.point, met.point + stitched * row.across))
        places.append(drawn_of(edge, k, 0.0) + length_to(part, met.u))
    if places != sorted(places):
        raise GeometryError(
            f"{piece.name}.{edge.name} turns too much for a pleat to be folded there; make it less deep"
        )
    return folds, (places[0], places[-1])


def _refuse_folded(piece: Piece, edge: Edge, spans: Sequence[tuple[float, float]]) -> None:
    for takeup in edge.takeups:
        for low, high in spans:
            if takeup.start < high and low < takeup.end:
                raise UsageError(
                    f"{piece.name}.{edge.name} is taken up already from {plain(takeup.start)} to {plain(takeup.end)} "
                    f"mm ({takeup.kind}); fold the pleats beside it"
                )


def _refuse_darts(piece: Piece, rays: Sequence[Curve], name: str) -> None:
    """Errors: GeometryError where the folded cloth, or what it is folded over, has a dart in it."""
    wide = rays[-1].start - rays[0].start
    strip = np.array([rays[0].start - wide, rays[-1].start + wide, rays[-1].end + wide, rays[0].end - wide])
    for dart in piece.darts:
        legs: Array = np.concatenate([flatten(leg, tolerance=FLAT) for leg in dart.legs])
        met = shared_place(strip, legs)
        if met is not None:
            raise GeometryError(
                f"the pleat {name} would be folded over the dart {piece.name}.{dart.name} near"
                f" x {plain(float(met[0]))}, y {plain(float(met[1]))} mm; put the pleats beside the dart, or release "
                "the dart first"
            )


def refuse_beyond_width(name: str, room: float, wide: float, count: int) -> None:
    """Errors: UsageError when so many pleats of `wide` mm each want more than the `room` mm that there are."""
    if wide * count > room + 1e-6:
        pleats = "a pleat takes" if count == 1 else f"{count} pleats take"
        raise UsageError(
            f"{pleats} {plain(wide * count)} mm of {name}, and there are {plain(room)} mm; make them less deep with ",
            Option("depth"),
            ", or give them more of the edge",
        )

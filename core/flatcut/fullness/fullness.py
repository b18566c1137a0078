"""Fullness put into a piece: lines opened one after the other, edges redrawn, and what is taken up again written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.fullness.blending import blended, to_and_fro
from flatcut.fullness.gathers import gathered
from flatcut.fullness.growing import Carried, sewn_ways, with_mouths, with_places, with_takeups
from flatcut.fullness.pleats import OPEN, Fold, Folded, fold_lines, shaped_end, to_outline
from flatcut.fullness.slashing import NODE
from flatcut.fullness.spreading import Opening, Spread, spread_along
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, section
from flatcut.geometry.length import length, place_at
from flatcut.pattern.notch_setting import with_notches
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Pattern, Piece, TakeUp
from flatcut.pattern.walking import drawn_length, drawn_of, part_at, sewn_length, to_sewn
from flatcut.reshape.cycle import with_edge

FLARE, GATHERS, PLEAT = "flare", "gathers", "pleat"
MISS = 20.0
"""mm that a line may end beside a redrawn edge and still be drawn on to it: folds lie aslant in deep pleats."""


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A line (uid), by how many mm it is opened at its start and end, what comes of it, and how a pleat is folded."""

    line: str
    gaps: tuple[float, float]
    result: str = FLARE
    fold: Fold | None = None


@dataclass(kw_only=True)
class _Opened:
    """An opening where it stands now: from where to where, mm of the drawn edge."""

    opening: Opening
    start: float
    end: float


@dataclass(frozen=True, kw_only=True)
class Fullness:
    """pattern: with all done. spreads: one by line. blends: edge (uid), largest move and change of length of each that
    was redrawn; refused: edge (uid) and why it was not, '' when it was and is wavy; takeups: edge (uid) and what was
    written there; off: mm by which a folded pleat misses its seam line; evened: mm that the ends of leaning folds were
    moved; notches: figures of those set.
    """

    pattern: Pattern
    piece: Piece
    spreads: tuple[Spread, ...]
    blends: tuple[tuple[str, float, float], ...]
    refused: tuple[tuple[str, str], ...]
    takeups: tuple[tuple[str, TakeUp], ...]
    off: float
    evened: float
    notches: tuple[Figure, ...]


def with_fullness(
    pattern: Pattern,
    piece: Piece,
    wanted: Sequence[Wanted],
    *,
    still: Array,
    within: float,
    taking: frozenset[str],
    either_side: float | None = None,
) -> Fullness:
    """The pattern with a piece opened along lines.

    still: a place (2,) on the outline of the part that stays; within: mm that a redrawn edge may move, 0 for none to be
    redrawn; taking: uids of edges on which gathers and pleats are taken up. Errors: UsageError, GeometryError.
    """
    uids = Uids(pattern.uids())
    before = piece
    ways: dict[str, Carried] = {}
    opened: list[_Opened] = []
    spreads: list[Spread] = []
    folded: dict[str, Folded] = {}
    for want in wanted:
        along = next(item for item in piece.lines if item.uid == want.line)
        done = spread_along(piece, along, want.gaps, still=still, uids=uids)
        _account(before, done, ways, opened)
        piece = with_takeups(done.piece, before, ways)
        if want.fold is not None:
            piece, folded[want.line] = fold_lines(piece, done, want.fold, uids)
        spreads.append(done)
    results = {want.line: want.result for want in wanted}
    blends: list[tuple[str, float, float]] = []
    refused: list[tuple[str, str]] = []
    if within > 0:
        piece = _redrawn(piece, before, ways, opened, results, within, blends, refused)
    piece, off, evened = _shaped(piece, before, ways, opened, folded, taking)
    piece = with_mouths(with_takeups(piece, before, ways), ways)
    grown = piece
    piece, takeups, taken = _taken_up(piece, before, opened, results, taking, either_side, uids)
    if within > 0 or folded:
        piece = _lines_on(piece, opened, folded)
    pattern = with_places(pattern, piece, sewn_ways(before, grown, piece, ways, taken))
    figures: list[Figure] = []
    for uid, takeup in takeups:
        edge = pattern.piece_of(piece.uid).edge_of(uid)
        ends = {round(to_sewn(edge, at), 6) for at in (takeup.start, takeup.end)}
        pattern, more = with_notches(pattern, uid, sorted(ends), f"notch, {takeup.kind}")
        figures += more
    return Fullness(
        pattern=pattern,
        piece=pattern.piece_of(piece.uid),
        spreads=tuple(spreads),
        blends=tuple(blends),
        refused=tuple(refused),
        takeups=takeups,
        off=off,
        evened=evened,
        notches=tuple(figures),
    )


def _account(before: Piece, done: Spread, ways: dict[str, Carried], opened: list[_Opened]) -> None:
    """Take the openings of one line into account: how far places moved along their edges."""
    by: dict[str, float] = {}
    for opening in sorted(done.openings, key=lambda o: (o.edge, o.start)):
        shift = by.get(opening.edge, 0.0)
        start, end = opening.start + shift, opening.end + shift
        way = ways.get(opening.edge) or Carried.identity(drawn_length(before.edge_of(opening.edge)))
        ways[opening.edge] = way.opened(start, end, opening.width)
        more = opening.width - (end - start)
        for other in opened:
            if other.opening.edge == opening.edge and other.start >= end - 1e-6:
                other.start, other.end = other.start + more, other.end + more
        opened.append(_Opened(opening=opening, start=start, end=start + opening.width))
        by[opening.edge] = shift + more


def _redrawn(
    piece: Piece,
    before: Piece,
    ways: dict[str, Carried],
    opened: list[_Opened],
    results: dict[str, str],
    within: float,
    blends: list[tuple[str, float, float]],
    refused: list[tuple[str, str]],
) -> Piece:
    """The piece with its opened edges made fair, where they are not folded."""
    for uid in ways:
        edge = piece.edge_of(uid)
        here = [o for o in opened if o.opening.edge == uid]
        folds = [at for o in here if results[o.opening.line] == PLEAT for at in (o.start, o.end)]
        parts, places, become, reached = [], [0.0], [0.0], 0.0
        moved = change = 0.0
        for k, part in enumerate(edge.parts):
            total = length(part)
            spans = [
                (o.start - reached, o.end - reached)
                for o in here
                if results[o.opening.line] != PLEAT and reached - 1e-6 <= o.start and o.end <= reached + total + 1e-6
            ]
            sway = to_and_fro(before.edge_of(uid).parts[k])
            done = blended(part, spans, [at - reached for at in folds], within=within, sway=sway)
            parts.append(done.curve)
            places += [reached + float(at) for at in done.places[1:]]
            become += [become[-1] + float(step) for step in np.cumsum(np.diff(done.become))]
            moved, change = max(moved, done.deviation), change + done.change
            if done.refused:
                refused.append((uid, done.refused))
            elif done.wavy:
                refused.append((uid, ""))
            reached += total
        piece = with_edge(piece, replace(edge, parts=tuple(parts)))
        _carry(uid, np.array(places), np.array(become), ways, opened)
        if moved > 0:
            blends.append((uid, moved, change))
    return piece


def _carry(uid: str, places: Array, become: Array, ways: dict[str, Carried], opened: list[_Opened]) -> None:
    ways[uid] = ways[uid].then(places, become)
    for other in opened:
        if other.opening.edge == uid:
            other.start, other.end = (float(np.interp(at, places, become)) for at in (other.start, other.end))


def _shaped(
    piece: Piece,
    before: Piece,
    ways: dict[str, Carried],
    opened: list[_Opened],
    folded: dict[str, Folded],
    taking: frozenset[str],
) -> tuple[Piece, float, float]:
    """The piece with its pleats' ends shaped on the edges that take them up; largest misfit and evening, mm."""
    off = evened = 0.0
    for one in opened:
        fold = folded.get(one.opening.line)
        if fold is None or one.opening.edge not in taking or one.opening.width <= 0:
            continue
        edge = piece.edge_of(one.opening.edge)
        lines = {item.uid: item for item in piece.lines}
        row = [lines[uid].curve for uid in fold.row]
        # at the line's start the second part comes first along the outline
        if one.opening.at == 0:
            row.reverse()
        side = {OPEN: "open", "first": ("after", "before"), "second": ("before", "after")}[fold.pressed]
        toward = side if isinstance(side, str) else side[one.opening.at]
        k, reached = _part_of(edge.parts, one)
        name = f"{piece.name}.{lines[fold.opened].name}"
        nets = _nets(before.edge_of(edge.uid), ways[edge.uid].was(one.start))
        end = shaped_end(edge.parts[k], (one.start - reached, one.end - reached), row, toward, nets, name)
        total = sum(length(part) for part in edge.parts)
        places = np.array([0.0, reached + end.were[0], reached + end.were[1], total])
        grown = (end.high - end.low) - (end.were[1] - end.were[0])
        become = np.array([0.0, reached + end.low, reached + end.high, total + grown])
        parts = tuple(end.curve if i == k else part for i, part in enumerate(edge.parts))
        piece = with_edge(piece, replace(edge, parts=parts))
        _carry(edge.uid, places, become, ways, opened)
        one.start, one.end = reached + end.low, reached + end.high
        off, evened = max(off, end.off), max(evened, end.evened)
    return piece, off, evened


def _nets(edge: Edge, at: float) -> tuple[Curve, Curve]:
    """The edge as it was before and after a place (mm drawn), as far as it lies flat there."""
    k, u = part_at(edge, at)
    part, first = edge.parts[k], drawn_of(edge, k, 0.0)
    folds = [t for t in edge.takeups if t.kind in ("dart", "pleat", "tuck")]
    low = max([first, *(t.end for t in folds if first <= t.end <= at - NODE)])
    high = min([first + length(part), *(t.start for t in folds if at + NODE <= t.start <= first + length(part))])
    ends = place_at(part, low - first), place_at(part, high - first)
    return section(part, min(ends[0], u - 1e-6), u), section(part, u, max(ends[1], u + 1e-6))


def _part_of(parts: Sequence[Curve], one: _Opened) -> tuple[int, float]:
    """The number of the part that an opening is on, and mm of the edge before it."""
    reached = 0.0
    for k, part in enumerate(parts):
        total = length(part)
        if one.end <= reached + total + 1e-6:
            return k, reached
        reached += total
    raise AssertionError("an opening lies on a part of its edge")


def _taken_up(
    piece: Piece,
    before: Piece,
    opened: list[_Opened],
    results: dict[str, str],
    taking: frozenset[str],
    either_side: float | None,
    uids: Uids,
) -> tuple[Piece, tuple[tuple[str, TakeUp], ...], dict[str, list[tuple[float, float]]]]:
    """The piece with pleats and gathers written on its edges; those; and by edge what they take up."""
    found: list[tuple[str, TakeUp]] = []
    taken: dict[str, list[tuple[float, float]]] = {}
    for uid in dict.fromkeys(o.opening.edge for o in opened):
        if uid not in taking:
            continue
        edge = piece.edge_of(uid)
        here = [o for o in opened if o.opening.edge == uid and o.opening.width > 0 and _wider(o)]
        pleats = [o for o in here if results[o.opening.line] == PLEAT]
        for one in pleats:
            fresh = uids.fresh("takeup", uid, one.opening.line)
            pleat = TakeUp(uid=fresh, kind="pleat", start=one.start, end=one.end, amount=one.end - one.start)
            edge = replace(edge, takeups=tuple(sorted((*edge.takeups, pleat), key=lambda t: t.start)))
            found.append((uid, pleat))
        drawn_up = [o for o in here if results[o.opening.line] == GATHERS]
        spans = [(o.start, o.end) for o in drawn_up]
        if spans:
            edge, made = gathered(piece, edge, spans, either_side=either_side, uids=uids)
            edge, made = _as_sewn(edge, before.edge_of(uid), made, opened, [*pleats, *drawn_up])
            found += [(uid, takeup) for takeup in made]
        if spans or pleats:
            taken[uid] = [(o.start, o.end) for o in pleats] + spans
        piece = with_edge(piece, edge)
    return piece, tuple(sorted(found, key=lambda item: item[1].start)), taken


def _as_sewn(
    edge: Edge, before: Edge, made: Sequence[TakeUp], opened: list[_Opened], taken: list[_Opened]
) -> tuple[Edge, tuple[TakeUp, ...]]:
    """The edge with its last gathers taking up what a redrawn edge is longer or shorter too, so that it sews as before.

    taken: the openings that are taken up; the others make the edge longer.
    """
    hanging = [o for o in opened if o.opening.edge == edge.uid and o not in taken]
    wanted = sewn_length(before) + sum((o.end - o.start) - (o.opening.end - o.opening.start) for o in hanging)
    last = replace(made[-1], amount=made[-1].amount + sewn_length(edge) - wanted)
    takeups = tuple(last if t.uid == last.uid else t for t in edge.takeups)
    return replace(edge, takeups=takeups), (*made[:-1], last)


def _wider(one: _Opened) -> bool:
    """Whether cloth was added, not taken out with a step left in the edge."""
    return one.opening.end - one.opening.start < one.opening.width


def _lines_on(piece: Piece, opened: list[_Opened], folded: dict[str, Folded]) -> Piece:
    """The piece with the opened lines and the folds ending on the edges as they are drawn now."""
    for line_uid in dict.fromkeys(o.opening.line for o in opened):
        parts = [part for o in opened if o.opening.line == line_uid for part in piece.edge_of(o.opening.edge).parts]
        fold = folded.get(line_uid)
        for uid in fold.row if fold else (line_uid,):
            piece = to_outline(piece, uid, parts, reach=MISS)
    return piece

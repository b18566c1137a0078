"""Fullness put into a piece: lines opened one after the other, edges redrawn, and what is taken up again written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from flatcut.fullness.blending import blended, to_and_fro
from flatcut.fullness.gathers import gathered, gathered_over
from flatcut.fullness.growing import Grown, Opened
from flatcut.fullness.pleats import OPEN, End, Fold, Folded, fold_lines, shaped_end, to_outline
from flatcut.fullness.slashing import NODE, Slash
from flatcut.fullness.spreading import Spread, spread_along
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, section
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.pattern.notch_setting import with_notches, without_notches
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Figure, Pattern, Piece, TakeUp
from flatcut.pattern.walking import drawn_of, part_at, sewn_length, to_sewn
from flatcut.reshape.change import Change, applied
from flatcut.reshape.cycle import with_edge
from flatcut.reshape.ways import Way

FLARE, GATHERS, PLEAT = "flare", "gathers", "pleat"
MISS = 20.0
"""mm that a line may end beside a redrawn edge and still be drawn on to it: folds lie aslant in deep pleats."""
OFF = 0.5
"""mm: a line that ends so far beside its edge is told."""


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """A line (uid), by how many mm it is opened at its start and end, what comes of it, and how a pleat is folded."""

    line: str
    gaps: tuple[float, float]
    result: str = FLARE
    fold: Fold | None = None


@dataclass(frozen=True, kw_only=True)
class Fullness:
    """pattern: with all done. spreads: one by line. blends: edge (uid), largest move and change of length of each that
    was redrawn; refused: edge (uid) and why it was not, '' when it was and is wavy; takeups: edge (uid) and what was
    written there; off: mm by which a folded pleat misses its seam line; evened: mm that the ends of leaning folds were
    moved; notches: figures of those set; dropped: what could not be carried over; ending_off: lines that end beside the
    redrawn edges, by name, and by how many mm.
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
    dropped: tuple[str, ...]
    ending_off: tuple[tuple[str, float], ...] = ()


def with_fullness(
    pattern: Pattern,
    piece: Piece,
    wanted: Sequence[Wanted],
    *,
    still: Array,
    within: float,
    taking: frozenset[str],
    either_side: float | None = None,
    over: tuple[str, float, float] | None = None,
    first: Slash | None = None,
) -> Fullness:
    """The pattern with a piece opened along lines.

    still: a place (2,) on the outline of the part that stays; within: mm that a redrawn edge may move, 0 for none to be
    redrawn; taking: uids of edges on which gathers and pleats are taken up; over: an edge (uid) and from where
    to where all its gathers lie, mm sewn, where that is stated; first: the first line as a cut, where that is known.
    Errors: UsageError, GeometryError.
    """
    uids = Uids(pattern.uids())
    grown = Grown(piece=piece, before=piece)
    spreads: list[Spread] = []
    folded: dict[str, Folded] = {}
    for want in wanted:
        along = next(item for item in grown.piece.lines if item.uid == want.line)
        cut = first if grown.piece is piece else None  # the next ones cut what the first one has opened
        done = spread_along(grown.piece, along, want.gaps, still=still, uids=uids, cut=cut)
        grown = grown.opened_by(done)
        if want.fold is not None:
            lined, folded[want.line] = fold_lines(grown.piece, done, want.fold, uids)
            grown = grown.drawn(lined)
        spreads.append(done)
    results = {want.line: want.result for want in wanted}
    blends: list[Blend] = []
    if within > 0:
        grown, blends = _redrawn(grown, results, within)
    grown, off, evened = _shaped(grown, folded, taking)
    piece = grown.piece
    if within > 0 or folded:
        piece = _lines_on(piece, grown.openings, folded)
    taken = {uid: _taken(grown, uid, results) for uid in grown.moved if uid in taking}
    pattern, dropped = applied(pattern, _folded_flat(grown, piece, taken, uids))
    pattern, takeups = _taken_up(pattern, grown, taken, results, either_side, over, uids)
    figures: list[Figure] = []
    for uid, takeup in takeups:
        edge = pattern.piece_of(piece.uid).edge_of(uid)
        pattern = without_notches(pattern, uid, _old_ends(grown.before.edge_of(uid), edge, takeup))
        ends = {round(to_sewn(edge, at), 6) for at in (takeup.start, takeup.end)}
        pattern, more = with_notches(pattern, uid, sorted(ends), f"notch, {takeup.kind}")
        figures += more
    return Fullness(
        pattern=pattern,
        piece=pattern.piece_of(piece.uid),
        spreads=tuple(spreads),
        blends=tuple((b.edge, b.deviation, b.change) for b in blends if b.deviation > 0),
        refused=tuple((b.edge, why) for b in blends for why in b.refused),
        takeups=takeups,
        off=off,
        evened=evened,
        notches=tuple(figures),
        dropped=dropped,
        ending_off=_ending_off(piece, grown.openings, folded) if within > 0 or folded else (),
    )


def _old_ends(before: Edge, edge: Edge, takeup: TakeUp) -> list[float]:
    """Sewn mm where gathers ended that are part of this take-up now, and it does not."""
    gone = [t for t in before.takeups if t.kind == "gathers" and t not in edge.takeups]
    now = [to_sewn(edge, at) for at in (takeup.start, takeup.end)]
    return [
        at
        for t in gone
        for at in (to_sewn(before, t.start), to_sewn(before, t.end))
        if abs(at - now[0]) > 1e-6 < abs(at - now[1])
    ]


class Blend(NamedTuple):
    """An edge (uid) that was made fair: its largest move and change of length, mm; for each part why it was not, or ''.

    refused: '' for a part that was, and is wavy.
    """

    edge: str
    deviation: float
    change: float
    refused: tuple[str, ...]


def _redrawn(grown: Grown, results: Mapping[str, str], within: float) -> tuple[Grown, list[Blend]]:
    """The piece with its opened edges made fair, where they are not folded."""
    blends = []
    for uid in grown.moved:
        edge = grown.piece.edge_of(uid)
        here = [o for o in grown.openings if o.opening.edge == uid]
        folds = [at for o in here if results[o.opening.line] == PLEAT for at in (o.start, o.end)]
        parts, places, become, refused, reached = [], [0.0], [0.0], [], 0.0
        moved = change = 0.0
        for k, part in enumerate(edge.parts):
            total = length(part)
            spans = [
                (o.start - reached, o.end - reached)
                for o in here
                if results[o.opening.line] != PLEAT and reached - 1e-6 <= o.start and o.end <= reached + total + 1e-6
            ]
            sway = to_and_fro(grown.before.edge_of(uid).parts[k])
            done = blended(part, spans, [at - reached for at in folds], within=within, sway=sway)
            parts.append(done.curve)
            places += [reached + float(at) for at in done.places[1:]]
            become += [become[-1] + float(step) for step in np.cumsum(np.diff(done.become))]
            moved, change = max(moved, done.deviation), change + done.change
            if done.refused or done.wavy:
                refused.append(done.refused)
            reached += total
        grown = grown.redrawn(replace(edge, parts=tuple(parts)), np.array(places), np.array(become))
        blends.append(Blend(uid, moved, change, tuple(refused)))
    return grown, blends


def _shaped(grown: Grown, folded: Mapping[str, Folded], taking: frozenset[str]) -> tuple[Grown, float, float]:
    """The piece with its pleats' ends shaped on the edges that take them up; largest misfit and evening, mm."""
    off = evened = 0.0
    for k in range(len(grown.openings)):
        one = grown.openings[k]
        fold = folded.get(one.opening.line)
        if fold is None or one.opening.edge not in taking or one.opening.width <= 0:
            continue
        end, grown = _shaped_end(grown, k, fold)
        off, evened = max(off, end.off), max(evened, end.evened)
    return grown, off, evened


def _shaped_end(grown: Grown, number: int, fold: Folded) -> tuple[End, Grown]:
    """One end of a pleat shaped, and the piece with it."""
    one = grown.openings[number]
    edge = grown.piece.edge_of(one.opening.edge)
    lines = {item.uid: item for item in grown.piece.lines}
    row = [lines[uid].curve for uid in fold.row]
    # at the line's start the second part comes first along the outline
    if one.opening.at == 0:
        row.reverse()
    side = {OPEN: "open", "first": ("after", "before"), "second": ("before", "after")}[fold.pressed]
    toward = side if isinstance(side, str) else side[one.opening.at]
    k, reached = _part_of(edge.parts, one)
    name = f"{grown.piece.name}.{lines[fold.opened].name}"
    nets = _nets(grown.before.edge_of(edge.uid), grown.moved[edge.uid].was(one.start))
    end = shaped_end(edge.parts[k], (one.start - reached, one.end - reached), row, toward, nets, name)
    total = sum(length(part) for part in edge.parts)
    places = np.array([0.0, reached + end.were[0], reached + end.were[1], total])
    wider = (end.high - end.low) - (end.were[1] - end.were[0])
    become = np.array([0.0, reached + end.low, reached + end.high, total + wider])
    parts = tuple(end.curve if i == k else part for i, part in enumerate(edge.parts))
    grown = grown.redrawn(replace(edge, parts=parts), places, become)
    return end, grown.standing(number, reached + end.low, reached + end.high)


def _nets(edge: Edge, at: float) -> tuple[Curve, Curve]:
    """The edge as it was before and after a place (mm drawn), as far as it lies flat there."""
    k, u = part_at(edge, at)
    part, first = edge.parts[k], drawn_of(edge, k, 0.0)
    folds = [t for t in edge.takeups if t.kind in ("dart", "pleat", "tuck")]
    low = max([first, *(t.end for t in folds if first <= t.end <= at - NODE)])
    high = min([first + length(part), *(t.start for t in folds if at + NODE <= t.start <= first + length(part))])
    ends = place_at(part, low - first), place_at(part, high - first)
    return section(part, min(ends[0], u - 1e-6), u), section(part, u, max(ends[1], u + 1e-6))


def _part_of(parts: Sequence[Curve], one: Opened) -> tuple[int, float]:
    """The number of the part that an opening is on, and mm of the edge before it."""
    reached = 0.0
    for k, part in enumerate(parts):
        total = length(part)
        if one.end <= reached + total + 1e-6:
            return k, reached
        reached += total
    raise AssertionError("an opening lies on a part of its edge")


def _taken(grown: Grown, uid: str, results: Mapping[str, str]) -> tuple[list[Opened], list[Opened]]:
    """The openings on an edge that are folded in pleats, and those that are gathered."""
    here = [o for o in grown.openings if o.opening.edge == uid and o.opening.width > 0 and _wider(o)]
    return (
        [o for o in here if results[o.opening.line] == PLEAT],
        [o for o in here if results[o.opening.line] == GATHERS],
    )


def _folded_flat(
    grown: Grown, piece: Piece, taken: Mapping[str, tuple[list[Opened], list[Opened]]], uids: Uids
) -> Change:
    """The change from the piece as it was to the one that is opened, with all that is taken up folded flat in place.

    So a place that is kept along the sewn line stays: to the seam nothing has changed there.
    """
    for uid, (pleats, gathers) in taken.items():
        edge = piece.edge_of(uid)
        flat = tuple(
            TakeUp(uid=uids.fresh("flat", uid, str(k)), kind="pleat", start=o.start, end=o.end, amount=o.end - o.start)
            for k, o in enumerate((*pleats, *gathers))
        )
        piece = with_edge(piece, replace(edge, takeups=(*edge.takeups, *flat)))
    return Change(pieces=(piece,), ways=grown.ways())


def _taken_up(
    pattern: Pattern,
    grown: Grown,
    taken: Mapping[str, tuple[list[Opened], list[Opened]]],
    results: Mapping[str, str],
    either_side: float | None,
    over: tuple[str, float, float] | None,
    uids: Uids,
) -> tuple[Pattern, tuple[tuple[str, TakeUp], ...]]:
    """The pattern with pleats and gathers in place of what is folded flat, and those by edge."""
    found: list[tuple[str, TakeUp]] = []
    flat = pattern.piece_of(grown.piece.uid)
    piece, ways = flat, {}
    for uid, (pleats, drawn_up) in taken.items():
        before = {takeup.uid for takeup in grown.before.edge_of(uid).takeups}
        edge = piece.edge_of(uid)
        edge = replace(edge, takeups=tuple(t for t in edge.takeups if t.uid in before))
        for one in pleats:
            fresh = uids.fresh("takeup", uid, one.opening.line)
            pleat = TakeUp(uid=fresh, kind="pleat", start=one.start, end=one.end, amount=one.end - one.start)
            edge = replace(edge, takeups=tuple(sorted((*edge.takeups, pleat), key=lambda t: t.start)))
            found.append((uid, pleat))
        if drawn_up:
            spans = [(o.start, o.end) for o in drawn_up]
            edge, made = gathered(piece, edge, spans, either_side=either_side, uids=uids)
            edge, made = _as_sewn(edge, grown.before.edge_of(uid), made, grown.openings, [*pleats, *drawn_up])
            if over and over[0] == uid:
                edge, made = gathered_over(piece, edge, spans, over[1:])
            found += [(uid, takeup) for takeup in made]
        piece = with_edge(piece, edge)
        if pleats or drawn_up:
            ways[uid] = (Way(0.0, sewn_length(flat.edge_of(uid)), uid, 0.0, sewn_length(edge)),)
    pattern = applied(pattern, Change(pieces=(piece,), ways=ways, sewn=True)).pattern
    return pattern, tuple(sorted(found, key=lambda item: item[1].start))


def _as_sewn(
    edge: Edge, before: Edge, made: Sequence[TakeUp], opened: Sequence[Opened], taken: Sequence[Opened]
) -> tuple[Edge, tuple[TakeUp, ...]]:
    """The edge with its last gathers taking up what a redrawn edge is longer or shorter too, so that it sews as before.

    taken: the openings that are taken up; the others make the edge longer.
    """
    hanging = [o for o in opened if o.opening.edge == edge.uid and o not in taken]
    wanted = sewn_length(before) + sum((o.end - o.start) - (o.opening.end - o.opening.start) for o in hanging)
    last = replace(made[-1], amount=made[-1].amount + sewn_length(edge) - wanted)
    takeups = tuple(last if t.uid == last.uid else t for t in edge.takeups)
    return replace(edge, takeups=takeups), (*made[:-1], last)


def _wider(one: Opened) -> bool:
    """Whether cloth was added, not taken out with a step left in the edge."""
    return one.opening.end - one.opening.start < one.opening.width


def _ending_off(piece: Piece, opened: Sequence[Opened], folded: Mapping[str, Folded]) -> tuple[tuple[str, float], ...]:
    """Opened lines and folds that end beside the edges on which they were opened, and by how many mm."""
    found = []
    lines = {item.uid: item for item in piece.lines}
    for one in opened:
        parts = piece.edge_of(one.opening.edge).parts
        fold = folded.get(one.opening.line)
        for uid in fold.row if fold else (one.opening.line,):
            curve = lines[uid].curve
            end = curve.end if one.opening.at else curve.start
            away = min(float(nearest(part, end)[1]) for part in parts)
            if away > OFF:
                found.append((lines[uid].name, away))
    return tuple(found)


def _lines_on(piece: Piece, opened: Sequence[Opened], folded: Mapping[str, Folded]) -> Piece:
    """The piece with the opened lines and the folds ending on the edges as they are drawn now."""
    for line_uid in dict.fromkeys(o.opening.line for o in opened):
        parts = [part for o in opened if o.opening.line == line_uid for part in piece.edge_of(o.opening.edge).parts]
        fold = folded.get(line_uid)
        for uid in fold.row if fold else (line_uid,):
            piece = to_outline(piece, uid, parts, reach=MISS)
    return piece

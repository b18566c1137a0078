"""Two pieces made into one along an edge of each, or along a stretch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten
from flatcut.geometry.nearest import nearest
from flatcut.geometry.region import contains, ring_area, united
from flatcut.pattern.motions import Motion
from flatcut.pattern.moving import moved
from flatcut.pattern.notch_setting import twin_of
from flatcut.pattern.sourcing import with_sources
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Notch, Pattern, Piece, Position, area, outline
from flatcut.pattern.walking import SLACK, points_at, sewn_at, to_sewn
from flatcut.reshape.change import Change, applied
from flatcut.sewing.gathering import as_one, together
from flatcut.sewing.laying import LOOKS, Apart, apart, brought, laid_along
from flatcut.sewing.opened import Opened, Side, ends_of_grown, grown_together, opened, refuse_alone
from flatcut.sewing.taping import Meeting, Taped, taped
from flatcut.units import plain

OVER = 100.0
"""mm² that two pieces may lie over each other besides the strip at the joined edges: rounding of curves."""
ONE = 0.01
"""mm: notches this near to each other stand in one place."""
NO_OVERLAP = 1.0
"""mm²: legs that cross by less than this lie on each other."""


@dataclass(frozen=True, kw_only=True)
class Joined:
    """What came of it. opens: the darts that opened; meetings: where edges became one; dropped: notches taken out;
    motion: how the other piece was laid along the one that stays.
    """

    pattern: Pattern
    piece: Piece
    apart: Apart
    opens: tuple[Dart, ...]
    meetings: tuple[Meeting, ...]
    dropped: int
    warnings: tuple[str, ...]
    motion: Motion


def joined(
    pattern: Pattern, held: Side, other: Side, *, within: float, name: str, opens: Sequence[str], notched: bool
) -> Joined:
    """The pattern with the piece of `other` laid along `held` and made one with it, named `name`; `held` stays.

    within: mm of gap or overlap that is taped over, both ends to the middle. opens: names of the darts that open beyond
    the stretch. notched: a notch where two edges became one. Errors: UsageError for edges, names or pieces that cannot
    become one.
    """
    still, piece = held.piece, other.piece
    whole_of = as_one(held, other)
    here, there = opened(held), opened(other)
    refuse_alone(held, here, other, there)
    laid, off = _laid(held, here, other, there, within)
    over = opened(replace(other, piece=laid, edge=laid.edge_of(other.edge.uid)))
    doubled = grown_together(still, here, laid, over)
    ends = ends_of_grown(still, here, over, doubled)
    uids = Uids(pattern.uids())
    made = taped(held, here, laid, over, opens, uids)
    _refuse_lying_over(made, held, laid, off)
    rest, said, lines = together(made, held, laid, doubled, ends, within=max(within, off.largest))
    whole = replace(rest, name=name, **whole_of)
    before = _without_notches(pattern, held, other)
    change = Change(pieces=(whole,), ways={**made.ways, **lines}, gone=(laid.uid,))
    after, dropped = applied(before, change)
    after = _as_one(after, still.uid)
    if notched:
        after = _notched(after, still.uid, made.meetings, uids)
    after = replace(after, pieces=with_sources(after.pieces, {piece.uid: (still.uid,)}))
    lost = sum(len(p.notches) for p in pattern.pieces) - sum(len(p.notches) for p in before.pieces)
    done = after.piece_of(still.uid)
    return Joined(
        pattern=after,
        piece=done,
        apart=off,
        opens=tuple(dart for dart in done.darts if dart.uid in {d.uid for d in made.opens}),
        meetings=made.meetings,
        dropped=lost,
        warnings=(*said, *_lost(before, pattern), *dropped),
        motion=Motion.of(piece.uid, _ring(piece), laid_along(here.curves, there.curves)),
    )


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.02)


def laid_beside(held: Side, other: Side) -> tuple[Piece, float, Affine]:
    """The piece of `other` laid along `held`, mm by which places at equal shares of both stay apart at most, how.

    Nothing on it changes; darts in the edges stay as open as they are. Errors: UsageError for one that lies mirrored.
    """
    _refuse_mirrored(held, other)
    to = points_at(held.edge, np.linspace(held.low, held.high, LOOKS))
    at = points_at(other.edge, np.linspace(other.high, other.low, LOOKS))
    matrix = brought(at, to)
    return moved(other.piece, matrix), float(np.hypot(*(matrix.apply(at) - to).T).max()), matrix


def _refuse_mirrored(held: Side, other: Side) -> None:
    still, piece = held.piece, other.piece
    if (area(still) > 0) != (area(piece) > 0):
        raise UsageError(f"{piece.name} lies mirrored, and {still.name} does not; flip one of them over first")


def _moved(held: Side, here: Opened, other: Side, there: Opened) -> Piece:
    _refuse_mirrored(held, other)
    return moved(other.piece, laid_along(here.curves, there.curves))


def _laid(held: Side, here: Opened, other: Side, there: Opened, within: float) -> tuple[Piece, Apart]:
    """The other piece where it lies along the one that stays, and how far they are apart. Errors: UsageError."""
    still = held.piece
    laid = _moved(held, here, other, there)
    off = apart(
        here.curves,
        opened(replace(other, piece=laid, edge=laid.edge_of(other.edge.uid))).curves,
        clockwise=area(still) > 0,
    )
    if off.largest > within + SLACK:
        kind = "gap" if off.gap >= off.overlap else "overlap"
        enough = plain(math.ceil(10 * off.largest - SLACK) / 10)
        raise UsageError(
            f"{held.name} and {other.name} lie up to {plain(off.largest)} mm apart ({kind}) when one"
            " is laid along the other; make them alike, or tape over it with ",
            Option("within", f"{enough}mm"),
        )
    return laid, off


def _refuse_lying_over(made: Taped, held: Side, laid: Piece, off: Apart) -> None:
    """Errors: UsageError where the two pieces lie over each other beyond what is joined."""
    still = held.piece
    turn = 1.0 if area(still) > 0 else -1.0
    for dart in made.opens:
        gap = -turn * ring_area(flatten(chain(dart.legs, within=1e-6), tolerance=0.02))
        if gap < -NO_OVERLAP:
            wide = float(np.hypot(*(dart.feet[0] - dart.feet[1])))
            raise UsageError(_over(still, laid, wide, -gap))
    rings = [flatten(chain(outline(p), within=1e-6), tolerance=0.02) for p in (still, laid)]
    alone = sum(abs(ring_area(ring)) for ring in rings)
    both = sum(abs(ring_area(p.ring)) - sum(abs(ring_area(h)) for h in p.holes) for p in united(rings))
    if alone - both > OVER + off.overlap * math.dist(held.edge.start, held.edge.end):
        deep = [
            float(
                nearest(
                    chain(
                        [
                            *outline(p),
                        ],
                        within=1e-6,
                    ),
                    ring[contains(other, ring)],
                )[1].max(initial=0.0)
            )
            for p, ring, other in ((still, rings[1], rings[0]), (laid, rings[0], rings[1]))
        ]
        raise UsageError(_over(still, laid, max(deep), alone - both))


def _over(still: Piece, laid: Piece, wide: float, size: float) -> str:
    return (
        f"{still.name} and {laid.name} would lie over each other by {plain(size / 100, 1)} cm², up to"
        f" {plain(wide, 1)} mm; join a stretch that ends where they part, or take off what lies over"
    )


def _without_notches(pattern: Pattern, *sides: Side) -> Pattern:
    """The pattern without the notches on what is joined."""
    for one in sides:
        piece = pattern.piece_of(one.piece.uid)
        low, high = to_sewn(one.edge, one.low), to_sewn(one.edge, one.high)
        total = to_sewn(one.edge, float("inf"))
        kept = tuple(
            notch
            for notch in piece.notches
            if notch.edge != one.edge.uid or not (one.whole or low < notch.at.along(total) < high)
        )
        pattern = pattern.with_piece(replace(piece, notches=kept))
    return pattern


def _lost(before: Pattern, pattern: Pattern) -> list[str]:
    said = []
    for was, now in zip(pattern.pieces, before.pieces, strict=True):
        for edge in was.edges:
            count = sum(n.edge == edge.uid for n in was.notches) - sum(n.edge == edge.uid for n in now.notches)
            if count:
                said.append(
                    f"{count} {'notch' if count == 1 else 'notches'} of {was.name}.{edge.name} went with that edge"
                )
    return said


def _as_one(pattern: Pattern, uid: str) -> Pattern:
    """The pattern with notches that stood in the corners of both pieces, where a cut had put one on each, as one."""
    piece = pattern.piece_of(uid)
    twins = {twin_of(notch.uid): notch for notch in piece.notches}

    def doubled(notch: Notch) -> bool:
        first = twins.get(notch.uid)
        if first is None or first.edge != notch.edge:
            return False
        edge = piece.edge_of(notch.edge)
        return abs(sewn_at(edge, first.at) - sewn_at(edge, notch.at)) <= ONE

    kept = tuple(notch for notch in piece.notches if not doubled(notch))
    return pattern if len(kept) == len(piece.notches) else pattern.with_piece(replace(piece, notches=kept))


def _notched(pattern: Pattern, uid: str, meetings: Sequence[Meeting], uids: Uids) -> Pattern:
    """The pattern with a notch where two edges became one and no dart stands; a fold has no cut edge to notch."""
    piece = pattern.piece_of(uid)
    notches = list(piece.notches)
    for meeting in meetings:
        edge = piece.edge_of(meeting.edge)
        if meeting.opens or edge.use in ("fold", "centre"):
            continue
        at = Position(mode="start", value=to_sewn(edge, meeting.at))
        if any(n.edge == edge.uid and abs(sewn_at(edge, n.at) - at.value) <= ONE for n in notches):
            continue
        notches.append(Notch(uid=uids.fresh("join", edge.uid, str(len(notches))), edge=edge.uid, at=at))
    return pattern.with_piece(replace(piece, notches=tuple(notches)))

"""A pattern in another size by rules: its pieces, and all that refers to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.curves import point
from flatcut.grading.gates import (
    ASIDE,
    Turned,
    misfits,
    refuse_folded,
    refuse_turned_fold,
    unequal_legs,
)
from flatcut.grading.pieces import graded_piece, shift_of, turned_upright
from flatcut.grading.rules import Go
from flatcut.pattern.spots import find, spots
from flatcut.pattern.values import Dart, Line, Pattern, Piece
from flatcut.reshape.change import Change, applied
from flatcut.reshape.overlapping import refuse_overlap
from flatcut.reshape.ways import Ways
from flatcut.units import plain


@dataclass(frozen=True, kw_only=True)
class Graded:
    """The pattern in the other size. farthest: mm that a point goes at most, and which; turned: the largest change of
    shape; warnings: what went with its neighbours, what could not be carried, and what fits no longer.
    """

    pattern: Pattern
    moved: int
    farthest: float
    turned: Turned
    warnings: tuple[str, ...]


def graded(pattern: Pattern, goes: Sequence[Go]) -> Graded:
    """Every piece that has rules in another size, and what refers to it. Errors: FlatcutError.

    A rule table whose points all stay gives the very pattern.
    """
    names = list(dict.fromkeys(go.place.piece for go in goes))
    for name in names:
        pattern.piece(name)
    ways: dict[str, Ways] = {}
    pieces: list[Piece] = []
    said: list[str] = []
    for name in names:
        own = [go for go in goes if go.place.piece == name]
        if all(not np.abs(go.by).max() > 0 for go in own):
            continue
        made = graded_piece(pattern, pattern.piece(name), own)
        refuse_overlap(made.piece, advice="its rules do not go together there")
        pieces.append(made.piece)
        ways |= made.ways
        if made.along:
            said.append(f"{', '.join(made.along)}: no rule, so carried along with the points beside")
    untouched = [piece.name for piece in pattern.pieces if piece.name not in names]
    if untouched:
        said.append(f"no rules for {', '.join(untouched)}: left as in the size before")
    if not pieces:
        return Graded(pattern=pattern, moved=0, farthest=0.0, turned=Turned(0.0, "", np.zeros(2)), warnings=tuple(said))
    after, dropped = applied(pattern, Change(pieces=tuple(pieces), ways=ways, sewn=True))
    turned = []
    for piece in pieces:
        was, now = pattern.piece_of(piece.uid), after.piece_of(piece.uid)
        turned.append(refuse_folded(was, now))
        refuse_turned_fold(was, now)
        said += unequal_legs(was, now)
    said += _beside(pattern, after, goes)
    said += dropped
    said += misfits(pattern, after)
    return Graded(
        pattern=after,
        moved=len(pieces),
        farthest=max(_farthest(pattern.piece_of(p.uid), after.piece_of(p.uid)) for p in pieces),
        turned=max(turned, key=lambda one: one.degrees),
        warnings=tuple(said),
    )


def _farthest(before: Piece, after: Piece) -> float:
    """mm from nodes of an outline to where they are now, at most."""
    far = 0.0
    for was, now in zip(before.edges, after.edges, strict=True):
        for one, two in zip(was.parts, now.parts, strict=True):
            ends = np.array([point(two, 0.0) - one.start, point(two, float(len(two))) - one.end])
            far = max(far, float(np.hypot(*ends.T).max()))
    return far


def _beside(before: Pattern, after: Pattern, goes: Sequence[Go]) -> list[str]:
    """Points that stand beside their rules, as a dart's point may so that its legs are equal.

    Errors: GeometryError for a corner or another place that is not where its rule says.
    """
    found = []
    whole = {go.place.piece: go for go in goes if not go.place.name}
    for go in goes:
        if not go.place.name:
            continue
        piece, thing = find(before, go.place)
        turn = turned_upright(before, piece, [own for own in goes if own.place.piece == piece.name])
        shift = shift_of(before, go, turn)
        if piece.name in whole:
            shift = shift + shift_of(before, whole[piece.name], turn)
        if isinstance(thing, Line) and go.place.at is None and not go.place.other:
            continue
        if isinstance(thing, Dart) and not go.place.part:
            if thing.double:
                continue
            go = replace(go, place=replace(go.place, part="point"))
        if isinstance(thing, Dart) and go.place.part in ("mouth", "foot-1", "foot-2") and thing.form == "lines":
            continue
        was, now = spots(before, go.place), spots(after, go.place)
        if len(was) != len(now):
            raise UsageError(f"'{go.place}' is another place in the new size; name the corner itself")
        off = max(float(np.hypot(*(b.point - a.point - shift))) for a, b in zip(was, now, strict=True))
        # both feet of a dart that stands in a corner are that corner
        if off > ASIDE and (isinstance(thing, Dart) or len(was) > 1):
            found.append(f"{go.place} stands {plain(off)} mm beside its rule, so that the legs of the dart are equal")
        elif off > ASIDE and not (go.place.at is not None and go.place.at.mode != "fraction"):
            moves = go.place.at is not None or go.place.other not in {edge.name for edge in piece.edges}
            if not moves:
                raise GeometryError(
                    f"{go.place} would lie {plain(off)} mm off its rule; the rules beside it differ too much"
                )
    return found

"""What two pieces that become one have on them, as what the one piece has."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.length import length
from flatcut.pattern.graining import SHARE
from flatcut.pattern.graining import laid as centred
from flatcut.pattern.renewing import free_name
from flatcut.pattern.values import Dart, Grain, Hole, NamedPoint, Piece
from flatcut.pattern.walking import SLACK
from flatcut.reshape.turning import MEET, rejoined
from flatcut.reshape.ways import Way, Ways
from flatcut.sewing.opened import Side
from flatcut.sewing.taping import BENT_FOLD, Taped
from flatcut.units import plain


def as_one(held: Side, other: Side) -> dict[str, Any]:
    """How the one piece is cut. A pair that is joined to a piece on the fold becomes part of it.

    Errors: UsageError for pieces that cannot be one.
    """
    a, b = held.piece, other.piece
    for one in (held, other):
        if one.edge.use == "fold":
            raise UsageError(
                f"{one.name} is the fold, and both halves of {one.piece.name} are one piece along it; to sew it there,"
                f" first edge {one.name} --use=seam and label {one.piece.name} --cut=pair"
            )
    found: dict[str, Any] = {}
    kinds = {a.cut_as: a, b.cut_as: b}
    if set(kinds) == {"fold", "pair"} and kinds["pair"].quantity == 2 * kinds["fold"].quantity:
        found = {"cut_as": "fold", "quantity": kinds["fold"].quantity}
    for field, what in (("cut_as", "cut as"), ("quantity", "cut"), ("side", "for side"), ("material", "of")):
        first, second = getattr(a, field), getattr(b, field)
        if field not in found and first != second and (field in ("cut_as", "quantity") or (first and second)):
            raise UsageError(
                f"{a.name} is {what} {first} and {b.name} {second}: they are no one piece; make them alike with label"
            )
    return {**found, "side": a.side or b.side, "material": a.material or b.material}


def together(
    made: Taped,
    held: Side,
    laid: Piece,
    doubled: Sequence[Dart],
    ends: Mapping[str, tuple[str, str]],
    *,
    within: float,
) -> tuple[Piece, list[str], dict[str, Ways]]:
    """The piece with all that lies on both, sentences on what that changes, and what became of its lines.

    doubled: darts that grew together, with the uids that they had on the piece that stays; ends: of which of them, and
    of which of its points, a dart is a half now. Lines of one name whose ends meet within `within` mm are one line,
    points of one name so near one point; what else has a name that is taken gets another. Named points that a cut left
    of a dart which opens again go, for it has its own.
    Errors: UsageError for two folds.
    """
    still, whole = held.piece, made.piece
    folds = list(dict.fromkeys(edge.name for edge in whole.edges if edge.use == "fold"))
    if len(folds) > 1:
        raise UsageError(f"the piece would have the folds {' and '.join(folds)}; a piece is cut on one fold")
    there = {dart.uid: dart for dart in (*whole.darts, *doubled)}
    own = [dart.uid for dart in (*still.darts, *made.opens)]
    kept = [there[uid] for uid in own]
    theirs = [dart for dart in whole.darts if dart.uid not in own]
    taken = replace(whole, darts=tuple(kept), lines=still.lines, points=still.points).names()
    renamed = list(made.renamed)
    darts = _named(theirs, taken, renamed)
    again = {f"{dart.name}-{word}" for dart in made.opens for word in ("point", "mouth")}
    still = replace(still, points=tuple(p for p in still.points if p.name not in again))
    points = [p for p in laid.points if p.name not in again and not any(_one_point(p, q, within) for q in still.points)]
    # a line of one name on both is one line, in parts where the ends do not meet
    ours = {(line.name, line.kind) for line in still.lines}
    others = [line for line in laid.lines if (line.name, line.kind) not in ours]
    fresh = {line.uid: line for line in _named(others, taken | {p.name for p in points}, [])}
    every = [*still.lines, *(fresh.get(line.uid, line) for line in laid.lines)]
    home = {line.uid: piece for piece in (still, laid) for line in piece.lines}
    names_of_both = {line.name for line in every}
    lines, ways = rejoined(every, names_of_both, lambda a, b: home[a.uid] is not home[b.uid], within=within)
    for line in laid.lines:  # a seam of a line has to learn on which piece that is now
        size = length(line.curve)
        ways.setdefault(line.uid, (Way(0.0, size, line.uid, 0.0, size),))
    names = {line.uid: line.name for line in laid.lines}
    renamed += [(names[x.uid], x.name) for x in lines if x.uid in names and names[x.uid] != x.name]
    points = _named(points, taken | {x.name for x in lines}, renamed)
    whole = replace(
        whole,
        darts=(*kept, *darts),
        lines=tuple(lines),
        points=(*still.points, *points),
        holes=tuple(_of_whole(hole, ends) for hole in (*still.holes, *laid.holes)),
        cut_by_hand=None,  # it was drawn about one of the two
        buttons=(*still.buttons, *laid.buttons),
        others=(*still.others, *laid.others),
        grain=still.grain or laid.grain,
    )
    said = [f"{laid.name}.{old} is {new} now, as {still.name} has a {old} too" for old, new in renamed]
    whole = replace(whole, grain=_long_enough(whole))
    return whole, [*_told(still, laid), *said], ways


def _of_whole(hole: Hole, ends: Mapping[str, tuple[str, str]]) -> Hole:
    """A drill hole short of the point of a dart that has two now."""
    if hole.dart not in ends or hole.of != "point":
        return hole
    dart, of = ends[hole.dart]
    return replace(hole, dart=dart, of=of)


def _named(things: Sequence[Any], taken: set[str], renamed: list[tuple[str, str]]) -> list[Any]:
    """The things with names that are free; `taken` and `renamed` grow."""
    found = []
    for thing in things:
        name = free_name(thing.name, taken)
        taken.add(name)
        if name != thing.name:
            renamed.append((thing.name, name))
        found.append(replace(thing, name=name))
    return found


def _one_point(p: NamedPoint, q: NamedPoint, within: float) -> bool:
    """Whether two points are one: of one name, and no farther from each other than the edges that are taped."""
    return p.name == q.name and float(np.hypot(*(p.at - q.at))) <= max(within, MEET)


def _told(still: Piece, laid: Piece) -> list[str]:
    """What is to be said of two pieces that are one now."""
    said = []
    if still.cut_by_hand is not None or laid.cut_by_hand is not None:
        said.append("the cut line that was drawn by hand was about one of the two; it is made anew")
    off = _grain_off(still, laid)
    if off > BENT_FOLD:
        said.append(f"the grain of {laid.name} ran {plain(off, 1)}° off that of {still.name}, which is kept")
    return said


def _long_enough(whole: Piece) -> Grain | None:
    """The grain line, centred again where it is short for the whole; it keeps its direction and the line it lies on."""
    grain = whole.grain
    if grain is None:
        return None
    long = float(np.linalg.norm(grain.end - grain.start))
    start, end, reach = centred(whole, (grain.end - grain.start) / long, through=(grain.start + grain.end) / 2)
    if long > SHARE * reach - SLACK or float(np.linalg.norm(end - start)) < long:
        return grain
    return replace(grain, start=start, end=end)


def _grain_off(still: Piece, laid: Piece) -> float:
    """Degrees between the grain lines of both, 0 where one has none."""
    if still.grain is None or laid.grain is None:
        return 0.0
    ways = [grain.end - grain.start for grain in (still.grain, laid.grain)]
    cos = abs(float(ways[0] @ ways[1])) / float(np.linalg.norm(ways[0]) * np.linalg.norm(ways[1]))
    return math.degrees(math.acos(min(cos, 1.0)))

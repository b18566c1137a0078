"""Two pieces made into one along a whole edge of each."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.errors import Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, flatten, tangent
from flatcut.geometry.region import ring_area, united
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.graining import SHARE
from flatcut.pattern.graining import laid as centred
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Edge, Grain, Pattern, Piece, area, outline
from flatcut.pattern.walking import SLACK, drawn_length
from flatcut.reshape.change import Change, applied
from flatcut.reshape.splitting import merged
from flatcut.sewing.laying import Apart, apart, laid_along
from flatcut.units import plain

MEETS = 2.0
"""Degrees between two edges of one name up to which they become one (common practice, no source)."""
BENT_FOLD = 0.1
"""Degrees that a fold may be off straight where two are joined: cloth folds along a straight line."""
OVER = 100.0
"""mm² that two pieces may lie over each other besides the strip at the joined edges: rounding of curves."""


@dataclass(frozen=True, kw_only=True)
class Joined:
    """What came of it. kinks: degrees at each edge that was made one, by its name; dropped: notches taken out."""

    pattern: Pattern
    piece: Piece
    apart: Apart
    kinks: dict[str, float]
    dropped: int
    warnings: tuple[str, ...]


def joined(
    pattern: Pattern, held: tuple[Piece, Edge], other: tuple[Piece, Edge], *, within: float, name: str
) -> Joined:
    """The pattern with `other` laid along `held` and made one piece with it, named `name`; `held` stays where it is.

    within: mm of gap or overlap that is taped over, both ends to the middle. Errors: UsageError for edges, names or
    pieces that cannot become one.
    """
    (still, a), (piece, b) = held, other
    for one, edge in (held, other):
        _fit_to_join(one, edge)
    _refuse_unlike(still, piece)
    clockwise = area(still) > 0
    if clockwise != (area(piece) > 0):
        raise UsageError(f"{piece.name} lies mirrored, and {still.name} does not; flip one of them over first")
    matrix = laid_along(a.parts[0], b.parts[0])
    off = apart(a.parts[0], b.parts[0], matrix, clockwise=clockwise)
    if off.largest > within + SLACK:
        kind = "gap" if off.gap >= off.overlap else "overlap"
        enough = plain(math.ceil(10 * off.largest - SLACK) / 10)
        raise UsageError(
            f"{still.name}.{a.name} and {piece.name}.{b.name} lie up to {plain(off.largest)} mm apart ({kind}) when one"
            f" is laid along the other; make them alike, or tape over it with ",
            Option("within", f"{enough}mm"),
        )
    laid = moved(piece, matrix)
    _refuse_lying_over(still, laid, off.overlap * math.dist(a.start, a.end))
    edges, into, kinks = _edges(still, a, laid, laid.edge_of(b.uid))
    whole, ways = merged(_whole(still, laid, edges, name), into)
    first = still.edges[0 if still.edges[0].uid != a.uid else 1].uid
    start = [edge.uid for edge in whole.edges].index(into.get(first, first))
    whole = replace(whole, edges=(*whole.edges[start:], *whole.edges[:start]))
    whole = replace(whole, grain=_long_enough(whole))
    _refuse_clash(still, laid, whole)
    # where an edge was taped its length is another now
    old = {edge.uid: drawn_length(edge) for edge in (*still.edges, *piece.edges)}
    ways = {uid: (way._replace(end=old[uid]),) for uid, (way,) in ways.items()}
    dropped = sum(notch.edge in (a.uid, b.uid) for notch in (*still.notches, *piece.notches))
    after, said = applied(pattern, Change(pieces=(whole,), ways=ways, gone=(laid.uid,)))
    pieces = tuple(replace(p, source=name) if p.source in (still.name, piece.name) else p for p in after.pieces)
    after = replace(after, pieces=pieces)
    return Joined(
        pattern=after,
        piece=after.piece_of(still.uid),
        apart=off,
        kinks=kinks,
        dropped=dropped,
        warnings=(*_told(still, laid), *said),
    )


def _fit_to_join(piece: Piece, edge: Edge) -> None:
    """Errors: UsageError for an edge with something in it that a joined line cannot have."""
    what = f"{piece.name}.{edge.name}"
    if len(piece.edges) < 2:
        raise UsageError(f"{what} goes all round the piece; split it with edge --split first")
    before = next(e for e in piece.edges if piece.after(e).uid == edge.uid)
    darts = [d for d in piece.darts if d.host == edge.uid]
    darts += [d for d in (piece.cut_in(before, len(before.parts) - 1),) if d is not None]
    if darts:
        raise UsageError(f"dart {piece.name}.{darts[0].name} opens on {what}; move it to another edge with pivot first")
    if edge.takeups:
        raise UsageError(f"{what} has {edge.takeups[0].kind} in it; take that out before it is joined")


def _refuse_unlike(a: Piece, b: Piece) -> None:
    for field, what in (("cut_as", "cut as"), ("quantity", "cut"), ("side", "for side"), ("material", "of")):
        first, second = getattr(a, field), getattr(b, field)
        if first != second and (field in ("cut_as", "quantity") or (first and second)):
            raise UsageError(
                f"{a.name} is {what} {first} and {b.name} {second}: they are no one piece; make them alike with label"
            )


def _refuse_lying_over(still: Piece, laid: Piece, strip: float) -> None:
    rings = [flatten(chain(outline(p), within=1e-6), tolerance=0.02) for p in (still, laid)]
    alone = sum(abs(ring_area(ring)) for ring in rings)
    together = sum(abs(ring_area(p.ring)) - sum(abs(ring_area(h)) for h in p.holes) for p in united(rings))
    if alone - together > OVER + strip:
        raise UsageError(
            f"{still.name} and {laid.name} would lie over each other by {plain((alone - together) / 100, 1)} cm²; they"
            " cannot be one piece"
        )


def _edges(still: Piece, a: Edge, laid: Piece, b: Edge) -> tuple[list[Edge], dict[str, str], dict[str, float]]:
    """The edges of the whole in order, which of them (uids) become part of which, and the angle there in degrees."""
    k, j = ([e.uid for e in p.edges].index(edge.uid) for p, edge in ((still, a), (laid, b)))
    own, new = [*still.edges[k + 1 :], *still.edges[:k]], [*laid.edges[j + 1 :], *laid.edges[:j]]
    at_start, at_end = _angle(own[-1], new[0]), _angle(new[-1], own[0])
    # taped to the middle: the corners of both pieces give way by half
    first, second = (own[-1].end + new[0].start) / 2, (new[-1].end + own[0].start) / 2
    own, new = _taped(own, second, first), _taped(new, first, second)
    into, kinks = {}, {}
    for before, after, angle in ((own[-1], new[0], at_start), (new[-1], own[0], at_end)):
        if before.name != after.name:
            continue
        _refuse_two(still, laid, before, after, angle)
        kinks[before.name] = angle
        mine, other = (before, after) if before.uid == own[-1].uid else (after, before)
        into[other.uid] = mine.uid
    return [*own, *new], into, kinks


def _angle(first: Edge, second: Edge) -> float:
    """Degrees between the end of one edge and the start of the next."""
    out, into = first.parts[-1], second.parts[0]
    cos = float(tangent(out, float(len(out)), before=True) @ tangent(into, 0.0))
    return math.degrees(math.acos(min(max(cos, -1.0), 1.0)))


def _taped(edges: list[Edge], start: Array, end: Array) -> list[Edge]:
    """Edges that follow one another with the first point and the last moved a hair."""
    first = replace(edges[0], parts=(starting_at(edges[0].parts[0], start), *edges[0].parts[1:]))
    edges = [first, *edges[1:]]
    last = edges[-1]
    return [*edges[:-1], replace(last, parts=(*last.parts[:-1], ending_at(last.parts[-1], end)))]


def _refuse_two(still: Piece, laid: Piece, first: Edge, second: Edge, angle: float) -> None:
    """Errors: UsageError when two edges of one name cannot be one."""
    both = f"{still.name}.{first.name} and {laid.name}.{first.name}"
    if angle > MEETS:
        raise UsageError(
            f"{both} would meet at {plain(angle, 1)}°, too much of a corner for one edge; rename one with edge --names"
        )
    if first.use != second.use:
        raise UsageError(
            f"{both} would become one edge, and one is {first.use}, the other {second.use}; make them alike with edge"
        )
    if first.use == "fold" and angle > BENT_FOLD:
        raise UsageError(f"{both} would be one fold with a bend of {plain(angle)}° in it; draw it straight first")


def _whole(still: Piece, laid: Piece, edges: list[Edge], name: str) -> Piece:
    """The one piece with all that is on both. Errors: UsageError for two folds."""
    folds = [edge.name for edge in edges if edge.use == "fold"]
    if len(set(folds)) > 1:
        raise UsageError(f"the piece would have the folds {' and '.join(folds)}; a piece is cut on one fold")
    return replace(
        still,
        name=name,
        edges=tuple(edges),
        darts=(*still.darts, *laid.darts),
        lines=(*still.lines, *laid.lines),
        points=(*still.points, *laid.points),
        holes=(*still.holes, *laid.holes),
        cut_by_hand=None,  # it was drawn about one of the two
        buttons=(*still.buttons, *laid.buttons),
        others=(*still.others, *laid.others),
        grain=still.grain or laid.grain,
        side=still.side or laid.side,
        material=still.material or laid.material,
    )


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
    length = float(np.linalg.norm(grain.end - grain.start))
    start, end, reach = centred(whole, (grain.end - grain.start) / length, through=(grain.start + grain.end) / 2)
    if length > SHARE * reach - SLACK or float(np.linalg.norm(end - start)) < length:
        return grain
    return replace(grain, start=start, end=end)


def _refuse_clash(still: Piece, laid: Piece, whole: Piece) -> None:
    names = [thing.name for thing in whole.things()]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise UsageError(
            f"{still.name} and {laid.name} both have {', '.join(twice)}, and only edges of one name that run on into"
            " each other become one; rename one of each first"
        )


def _grain_off(still: Piece, laid: Piece) -> float:
    """Degrees between the grain lines of both, 0 where one has none."""
    if still.grain is None or laid.grain is None:
        return 0.0
    ways = [grain.end - grain.start for grain in (still.grain, laid.grain)]
    cos = abs(float(ways[0] @ ways[1])) / float(np.linalg.norm(ways[0]) * np.linalg.norm(ways[1]))
    return math.degrees(math.acos(min(cos, 1.0)))

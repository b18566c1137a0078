"""Marks that go with the part of a piece they lie on, when one part of it is turned against the other.

A line over the cut is broken there. Where the turn closes a dart, the two halves of one line become one again.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, line, point, reverse, section, transform
from flatcut.geometry.intersect import crossings
from flatcut.geometry.length import length, length_to
from flatcut.geometry.region import contains, ring_centroid
from flatcut.geometry.welding import joined
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, Grain, Line, Mark, Piece
from flatcut.reshape.ways import Way, Ways, composed

MEET = 0.01
"""mm: ends of lines this close are one place."""


@dataclass(frozen=True, kw_only=True)
class Turn:
    """One part of a piece turned against the other.

    moving, still: the outlines of both parts as rings (n, 2); cuts: the curves along which they part; matrix: what
    happens to the moving part.
    """

    moving: Array
    still: Array
    cuts: tuple[Curve, ...]
    matrix: Affine


def travelled(piece: Piece, turn: Turn, uids: Uids) -> tuple[Piece, dict[str, Ways]]:
    """The piece with its marks, grain and inner darts where the turn takes them, and what became of its lines.

    The outline is not touched. A line that is broken keeps its name in all its parts.
    """
    lines: list[Line] = []
    broken: dict[str, Ways] = {}
    for item in piece.lines:
        sections = _sections(item.curve, turn)
        for k, (start, end, moves) in enumerate(sections):
            curve = item.curve if len(sections) == 1 else section(item.curve, start, end)
            curve = transform(curve, turn.matrix) if moves else curve
            if k == 0:
                lines.append(replace(item, curve=curve))
                if len(sections) > 1:
                    broken[item.uid] = (_way(item.curve, start, end, item.uid),)
                continue
            uid = uids.fresh("broken", item.uid, str(k))
            broken[item.uid] += (_way(item.curve, start, end, uid),)
            lines.append(replace(item, uid=uid, curve=curve, origin=""))
    old = {item.uid: item for item in piece.lines}

    def apart(a: Line, b: Line) -> bool:
        one, other = old.get(a.uid), old.get(b.uid)
        return one is None or other is None or _together(one, other, MEET) is None

    whole, again = rejoined(lines, {item.name for item in (*lines, *piece.lines)}, apart)
    carried = replace(
        piece.with_marks(lambda mark: _mark(mark, turn)),
        lines=whole,
        darts=tuple(_inner(dart, turn) for dart in piece.darts),
        grain=piece.grain and recentred(piece.grain, turn),
    )
    return carried, composed(broken, again)


def _way(curve: Curve, start: float, end: float, to: str) -> Way:
    """The way of the section of a line from place `start` to place `end` that is a line of its own now."""
    first, last = length_to(curve, start), length_to(curve, end)
    return Way(first, last, to, 0.0, last - first)


def _inner(dart: Dart, turn: Turn) -> Dart:
    """A dart that is not part of the outline moves as a whole."""
    if dart.form == "cut" and not dart.double:
        return dart
    middle = np.concatenate([dart.points, dart.feet]).mean(axis=0)
    if not _moves(middle, turn):
        return dart
    return replace(dart, legs=(transform(dart.legs[0], turn.matrix), transform(dart.legs[1], turn.matrix)))


def _mark(mark: Mark, turn: Turn) -> Mark:
    """A mark that keeps a place by itself; one on an edge or dart goes with that, lines and the grain are seen to."""
    at = mark.standing()
    return mark.moved(turn.matrix) if at is not None and _moves(at, turn) else mark


def _moves(at: Array, turn: Turn) -> bool:
    """Whether a place lies on the moving part; between or outside both it goes with the nearer one."""
    if contains(turn.moving, at[None])[0]:
        return True
    if contains(turn.still, at[None])[0]:
        return False
    return _away(turn.moving, at) < _away(turn.still, at) - MEET


def _away(ring: Array, at: Array) -> float:
    p, q = ring, np.roll(ring, -1, axis=0)
    along = q - p
    size = np.maximum((along * along).sum(axis=1), 1e-18)
    t = np.clip(((at - p) * along).sum(axis=1) / size, 0.0, 1.0)
    return float(np.hypot(*(p + t[:, None] * along - at).T).min())


def _sections(curve: Curve, turn: Turn) -> list[tuple[float, float, bool]]:
    """The stretches of a line that stay whole, place to place, and whether each moves; none lies over an open dart."""
    ends = curve.start, curve.end
    met = [c for cut in turn.cuts for c in crossings(curve, cut)]
    # a line that ends at the point about which the parts turn is not broken there
    met = [c for c in met if min(float(np.hypot(*(c.point - end))) for end in ends) > MEET]
    places = [0.0, *sorted({round(c.u, 9) for c in met}), float(len(curve))]
    found: list[tuple[float, float, str]] = []
    for a, b in pairwise(places):
        middle = point(curve, (a + b) / 2)[None]
        side = "moving" if contains(turn.moving, middle)[0] else ""
        side = side or ("still" if contains(turn.still, middle)[0] else "")
        found.append((a, b, side))
    sides = {side for _, _, side in found if side}
    if len(sides) < 2:
        whole = _moves(point(curve, len(curve) / 2), turn) if not sides else sides == {"moving"}
        return [(0.0, float(len(curve)), whole)]
    runs: list[list[float | str]] = []
    for a, b, side in found:
        if runs and (side in (runs[-1][2], "") or not runs[-1][2]):
            # over a dart that both sides keep together, or outside the piece, the line is not broken
            if side and not runs[-1][2]:
                runs[-1][2] = side
            if side or b == places[-1]:
                runs[-1][1] = b
            continue
        runs.append([a, b, side])
    return [(float(a), float(b), side == "moving") for a, b, side in runs]


def rejoined(
    lines: Sequence[Line], names: Collection[str], apart: Callable[[Line, Line], bool], *, within: float = MEET
) -> tuple[tuple[Line, ...], dict[str, Ways]]:
    """Lines whose ends have come together and whose names say that they were one, as one again; what became of each.

    names: all that lines have or had, as older drawings number the parts of a line; apart: whether two did not meet
    before, as two that were drawn end to end stay two; within: mm between ends that meet.
    """
    found = list(lines)
    ways: dict[str, Ways] = {}

    def again(a: Line, b: Line) -> tuple[Curve, Way, Way] | None:
        if a is b or not _belong(a, b, names) or not apart(a, b):
            return None
        return _together(a, b, within)

    k = 0
    while k < len(found):
        mate, together = next(((m, one) for m in found if (one := again(found[k], m)) is not None), (found[k], None))
        if together is None:
            k += 1
            continue
        curve, *both = together
        ways = composed(ways, {uid: (way,) for uid, way in zip((found[k].uid, mate.uid), both, strict=True)})
        found[k] = replace(found[k], curve=curve)
        found.remove(mate)
        k = 0
    return tuple(found), ways


def _stem(name: str) -> str:
    """The name without the number that a break gives it.

    >>> _stem("hip-2"), _stem("hip-line")
    ('hip', 'hip-line')
    """
    return re.sub(r"-\d+$", "", name)


def _belong(a: Line, b: Line, whole: Collection[str]) -> bool:
    """Whether two lines are parts of one: of one name, or numbered as those of one of `whole`, `a` before `b`."""
    stem = _stem(b.name)
    numbered = stem != b.name and (a.name == stem or (_stem(a.name) == stem and a.name < b.name and stem in whole))
    return a.kind == b.kind and (a.name == b.name or numbered)


def _together(a: Line, b: Line, within: float) -> tuple[Curve, Way, Way] | None:
    """Two lines as one where ends of theirs meet, in the direction of the first, and the ways of both along it."""
    size, more = length(a.curve), length(b.curve)
    whole = size + more
    first, last = (Way(0.0, size, a.uid, at, at + size) for at in (0.0, more))
    back = reverse(b.curve)
    if np.hypot(*(a.curve.end - b.curve.start)) <= within:
        return joined(a.curve, b.curve), first, Way(0.0, more, a.uid, size, whole)
    if np.hypot(*(b.curve.end - a.curve.start)) <= within:
        return joined(b.curve, a.curve), last, Way(0.0, more, a.uid, 0.0, more)
    if np.hypot(*(a.curve.end - b.curve.end)) <= within:
        return joined(a.curve, back), first, Way(0.0, more, a.uid, whole, size)
    if np.hypot(*(a.curve.start - b.curve.start)) <= within:
        return joined(back, a.curve), last, Way(0.0, more, a.uid, more, 0.0)
    return None


def recentred(grain: Grain, turn: Turn) -> Grain:
    """The grain line, which keeps the direction it has on the part that stays still.

    It goes to the middle of that part, and is shortened there, only when it would lie off the cloth.
    """
    along = grain.end - grain.start
    moved = replace(turn, moving=turn.matrix.apply(turn.moving))
    if _on_cloth(moved, grain.start, grain.end):
        return grain
    centre = ring_centroid(turn.still)
    for share in (1.0, 0.75, 0.5, 0.3, 0.2, 0.1):
        start, end = centre - share / 2 * along, centre + share / 2 * along
        if contains(turn.still, _sampled(start, end)).all():
            return replace(grain, start=start, end=end)
    return grain


def _on_cloth(turn: Turn, start: Array, end: Array) -> bool:
    places = _sampled(start, end)
    return bool((contains(turn.still, places) | contains(turn.moving, places)).all())


def _sampled(start: Array, end: Array) -> Array:
    return point(line(start, end), np.linspace(0.0, 1.0, 33))

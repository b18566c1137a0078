"""Squared and turned corners (common practice, no source): ends that fit the way a corner is sewn.

Squared: the STITCH line of the edge sewn first runs on to the other edge's cut line at Q; its allowance ends square
there. With angles that add up to 180° both panels then have the same |SQ| = b / sin γ, so their cut edges coincide.

Turned: the hem is folded on its stitch line, so beyond it the cut edge of the side is the mirror image of the side's
own cut edge about the hem's tangent at the seam end S. Exact for straight hems; on a curved hem the rest is eased.

One corner at a time: each edge is a chain of rows with its straight extension, and chains meet where their chords do,
made exact by Newton.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.offset_exact import Parallels, Rows, crossing, line_rows, parallels, stacked, trace

CHORDS = 32
"""Chords per curved span when two chains are looked at for where they meet; two crossings closer than one chord apart
may be taken for each other, and the ring's gate then decides."""


STEADY = 0.05
"""Least 1 + k d of an offset that a step may begin at."""


RUNS_ON_BELOW = 15.0
"""Degrees: where the stitch line turns by less it runs on, and nothing ends there."""


class Part(NamedTuple):
    """A piece of a corner: a stretch of a row of its own (a straight one has width 0)."""

    row: Parallels
    t0: float
    t1: float
    start: Array
    end: Array


class End(NamedTuple):
    """Where the run of an edge ends or begins: row, place (outside 0 to 1 on the extension) and point."""

    row: int
    t: float
    point: Array


class Special(NamedTuple):
    """A solved corner: where edge one is left and edge two entered, the parts between, and how many of the parts belong
    to the allowance of edge one (the others to edge two's)."""

    leave: End
    enter: End
    parts: tuple[Part, ...]
    split: int
    warning: str = ""
    whole: bool = False
    """Whether the edges' bands reach their full ends all the same: a step only adds to what the allowances cover."""


class Chain(NamedTuple):
    """Rows of one edge in walking order as chords: points (m + 1, 2), and for each point its row and place there."""

    points: Array
    row: Rows
    t: Array


def sampled(p: Parallels, rows: Rows, *, before: float, beyond: float) -> Chain:
    """The chain of consecutive rows, run on by `before` mm at its start and `beyond` mm at its end."""
    row = [np.full(2 if p.straight[r] else CHORDS + 1, r, dtype=np.intp) for r in rows]
    t = [np.linspace(0.0, 1.0, len(part)) for part in row]
    number, place = np.concatenate(row), np.concatenate(t)
    ends = np.array([rows[0], rows[-1]], dtype=np.intp)
    speed = [_speed(p, row, last=bool(k)) for k, row in enumerate(ends.tolist())]
    number = np.concatenate([ends[:1], number, ends[1:]])
    place = np.concatenate([[-before / speed[0]], place, [1 + beyond / speed[1]]])
    return Chain(trace(p, number, place).point, number, place)


def _speed(p: Parallels, row: int, *, last: bool) -> float:
    """The pace at which a row runs straight on before its start, or beyond its end."""
    c = p.controls[row]
    way = c[3] - c[2] if last else c[1] - c[0]
    return 3 * math.hypot(*way.tolist())


def _runs_straight(p: Parallels, chain: Chain, k: int) -> bool:
    """Whether the chord of a chain from its point k is the row itself: of a straight row, and where a row runs on."""
    row, (t0, t1) = chain.row[k], chain.t[k : k + 2].tolist()
    return bool(row == chain.row[k + 1] and (p.straight[row] or max(t0, t1) <= 0 or min(t0, t1) >= 1))


def first_meeting(p: Parallels, a: Chain, b: Chain, *, near: Array | None = None) -> tuple[End, End] | None:
    """The crossing of two chains that comes first along `a`, or that lies nearest to a point, as an end on each.

    None when they do not cross.
    """
    pa, pb = a.points[:-1, None], b.points[None, :-1]
    va, vb = np.diff(a.points, axis=0)[:, None], np.diff(b.points, axis=0)[None]
    det = cross(va, vb)
    safe = np.where(np.abs(det) < 1e-12, np.inf, det)
    s, r = cross(pb - pa, vb) / safe, cross(pb - pa, va) / safe
    slack = 1e-9
    hit = np.isfinite(safe) & (s >= -slack) & (s <= 1 + slack) & (r >= -slack) & (r <= 1 + slack)
    rank = np.arange(len(s))[:, None] + s
    if near is not None:
        rank = np.linalg.norm(pa + np.where(hit, s, 0.0)[..., None] * va - near, axis=-1)
    for i, j in sorted(zip(*np.nonzero(hit), strict=True), key=lambda ij: float(rank[ij])):
        row_a, row_b = a.row[i : i + 2], b.row[j : j + 2]
        ta = a.t[i] + s[i, j] * (a.t[i + 1] - a.t[i]) if row_a[0] == row_a[1] else a.t[i]
        tb = b.t[j] + r[i, j] * (b.t[j + 1] - b.t[j]) if row_b[0] == row_b[1] else b.t[j]
        if _runs_straight(p, a, i) and _runs_straight(p, b, j):
            at = a.points[i] + s[i, j] * (a.points[i + 1] - a.points[i])
            return End(int(row_a[0]), float(ta), at), End(int(row_b[0]), float(tb), at)
        found = crossing(p, row_a[:1], np.array([ta]), row_b[:1], np.array([tb]))
        if found.met[0]:
            point = found.point[0]
            return End(int(row_a[0]), float(found.ta[0]), point), End(int(row_b[0]), float(found.tb[0]), point)
    return None


class Corner(NamedTuple):
    """A corner to be solved: rows of the two edges, and words for messages."""

    one: Rows
    two: Rows
    limit: float
    name: str
    name_one: str
    name_two: str


def solve_special(p: Parallels, c: Corner, kind: str) -> Special | str:
    """A corner of one of the kinds of this module; or, where the allowances overlap instead of spreading out or do not
    reach each other so, why it is mitred instead."""
    rows = np.concatenate([c.one, c.two])
    one, two = np.split(np.arange(len(rows)), [len(c.one)])
    # of its own two edges alone: what else is offset in the same call costs nothing here
    found = _solved(p.taken(rows), c._replace(one=one, two=two), kind)
    if isinstance(found, str):
        return found
    leave, enter = (end._replace(row=int(rows[end.row])) for end in (found.leave, found.enter))
    return found._replace(leave=leave, enter=enter)


def _solved(p: Parallels, c: Corner, kind: str) -> Special | str:
    _, along_one, along_two = _node(p, c)
    turn = float(np.degrees(np.arctan2(cross(along_one, along_two), along_one @ along_two)))
    if turn <= 0:
        return f"{c.name} is hollow toward the allowance ({180 - turn:.0f}°): its cut lines are trimmed, not {kind}"
    if turn < RUNS_ON_BELOW:
        return f"{c.name} is all but straight ({180 - turn:.0f}°): its cut lines run on, and are not {kind}"
    shape = squared if kind.startswith("squared") else turned
    try:
        return shape(p, c, kind.endswith("first"))
    except GeometryError as error:
        return f"{error}: it is mitred"


def met_far(p: Parallels, c: Corner) -> Special | None:
    """The crossing of two whole edges' offsets, run on, that lies nearest to the seam end: for corners where the last
    span of one and the first of the other do not meet. None where there is none, or one that is reached only by running
    on beyond the limit."""
    node = p.controls[c.two[0], 0]
    most = c.limit * max(p.far[c.one[-1]], p.near[c.two[0]])
    leave, enter = _sound_end(p, c.one, last=True), _sound_end(p, c.two, last=False)
    one = sampled(p, c.one[c.one <= leave.row], before=0.0, beyond=most if leave.t == 1.0 else 0.0)
    two = sampled(p, c.two[c.two >= enter.row], before=most if enter.t == 0.0 else 0.0, beyond=0.0)
    if leave.t < 1.0:
        one = _onward(one, leave, backward=True)
    if enter.t > 0.0:
        two = _onward(two, enter, backward=False)
    met = first_meeting(p, one, two, near=node)
    if met is None:
        return None
    run_on = (met[0].row == c.one[-1] and met[0].t > 1) or (met[1].row == c.two[0] and met[1].t < 0)
    if run_on and np.linalg.norm(met[0].point - node) > most:
        return None
    return Special(*met, (), 0)


def stepped(p: Parallels, c: Corner) -> Special:
    """A straight line from the end of one offset to the start of the next; at a hollow corner, where that would lie
    under the wider of the two allowances, by way of the seam end."""
    leave, enter = _sound_end(p, c.one, last=True), _sound_end(p, c.two, last=False)
    node, along_one, along_two = _node(p, c)
    hollow = cross(along_one, along_two) <= 0
    path = [leave.point, *([node] if hollow else []), enter.point]
    parts = tuple(_line(a, b) for a, b in pairwise(path) if (a != b).any())
    return Special(leave, enter, parts, len(parts) - 1, whole=True)


def _sound_end(p: Parallels, rows: Rows, *, last: bool) -> End:
    """The end (or start) of an edge's offset, or, where the edge is hollow and its radius there is less than the width,
    so that the offset folds back, the first place inside where it no longer does."""
    end = rows[-1] if last else rows[0]
    for row in rows[::-1] if last else rows:
        t = np.linspace(1.0, 0.0, 129) if last else np.linspace(0.0, 1.0, 129)
        at = trace(p, np.full(len(t), row), t)
        good = np.flatnonzero(at.factor > STEADY)
        if len(good):
            return End(int(row), float(t[good[0]]), at.point[good[0]])
    return End(int(end), 1.0 if last else 0.0, trace(p, np.array([end]), np.array([1.0 if last else 0.0])).point[0])


def squared(p: Parallels, c: Corner, through_first: bool) -> Special:
    """The squared corner, the stitch line of edge one (or two) run on. Errors: GeometryError, see the messages."""
    node, along_one, along_two = _node(p, c)
    turn = float(np.arctan2(cross(along_one, along_two), along_one @ along_two))
    tau = along_one if through_first else -along_two
    sewn, other = (c.one, c.two) if through_first else (c.two, c.one)
    normal = np.array([tau[1], -tau[0]]) if through_first else np.array([-tau[1], tau[0]])
    own, across = (p.far[c.one[-1]], p.near[c.two[0]]) if through_first else (p.near[c.two[0]], p.far[c.one[-1]])
    width = max(own, across)
    most = c.limit * width
    chain = sampled(p, other, before=4 * most if through_first else 0.0, beyond=0.0 if through_first else 4 * most)
    stitch, table = _probe(p, node, node + most * tau)
    met = first_meeting(table, stitch, chain)
    warning = ""
    if across == 0:
        q = End(int(other[0] if through_first else other[-1]), 0.0 if through_first else 1.0, node)
    elif met is not None:
        q = met[1]
    else:
        gamma = 180 - np.degrees(turn)
        if turn < np.pi / 2:
            name = c.name_one if through_first else c.name_two
            raise GeometryError(
                f"{c.name} has an angle of {gamma:.0f}°: the stitch line of {name} does not reach the other cut line "
                f"within {c.limit:g} widths"
            )
        base = node + most * tau
        square, table = _probe(p, base, base - 4 * most * normal)
        met = first_meeting(table, square, chain)
        if met is None:
            raise GeometryError(f"{c.name} is too sharp ({gamma:.0f}°) to be squared")
        q = met[1]
        warning = f"the squared end at {c.name} ({gamma:.0f}°) is cut off {c.limit:g} widths from the seam end"
    # the foot: on the sewn edge's own cut line run on, square to its stitch line from Q
    row, t = (int(sewn[-1]), 1.0) if through_first else (int(sewn[0]), 0.0)
    at = trace(p, np.array([row]), np.array([t]))
    way = at.tangent[0] if through_first else -at.tangent[0]
    grow = float((q.point - at.point[0]) @ tau / (way @ tau))
    speed = _speed(p, row, last=through_first)
    place = q.point if own == 0 and not warning else at.point[0] + grow * way  # to the last bit, where it is one point
    foot = End(row, t + (grow if through_first else -grow) / speed, place)
    if through_first:
        return Special(foot, q, (_line(foot.point, q.point),), 1, warning)
    return Special(q, foot, (_line(q.point, foot.point),), 0, warning)


def turned(p: Parallels, c: Corner, about_first: bool) -> Special:
    """The turned corner, mirrored about edge one (or two): the hem. Errors: GeometryError, see the messages."""
    node, along_one, along_two = _node(p, c)
    tau = along_one if about_first else -along_two
    hem, side = (c.one, c.two) if about_first else (c.two, c.one)
    name_hem, name_side = (c.name_one, c.name_two) if about_first else (c.name_two, c.name_one)
    depth = p.far[hem[-1]] if about_first else p.near[hem[0]]
    width = p.near[side[0]] if about_first else p.far[side[-1]]
    reach = 4 * c.limit * max(depth, width)

    def run_on(rows: Parallels, index: Rows, at_start: bool) -> Chain:
        return sampled(rows, index, before=reach if at_start else 0.0, beyond=0.0 if at_start else reach)

    if width == 0:
        base = End(int(side[0]), 0.0, node) if about_first else End(int(side[-1]), 1.0, node)
    else:
        fold, table = _probe(p, node, node + reach * tau)
        met = first_meeting(table, fold, run_on(p, side, about_first))
        if met is None:
            raise GeometryError(f"at {c.name} the cut line of {name_side} does not reach the fold line of {name_hem}")
        base = met[1]
    # The mirror image, in ring order: from the hem's cut line in to the fold (hem first), or from the fold out to it.
    table = stacked([p, mirrored(p, side, node, tau)])
    image = len(p) + np.arange(len(side))
    start = End(len(p) + int(side[-1]) - base.row, 1 - base.t, base.point)
    met = first_meeting(
        table, _onward(run_on(table, image, not about_first), start, about_first), run_on(p, hem, not about_first)
    )
    if met is None:
        raise GeometryError(
            f"at {c.name} the allowance of {name_hem} ({depth:g} mm), turned up, reaches past the end of {name_side}"
        )
    tip, end = met
    if about_first:
        parts = _stretch(table, tip, start)
        return Special(end, base, parts, len(parts))
    return Special(base, end, _stretch(table, start, tip), 0)


def mirrored(p: Parallels, rows: Rows, node: Array, tau: Array) -> Parallels:
    """Consecutive rows mirrored about the line through `node` along `tau` and walked the other way, the last row first:
    so their widths stay on the left."""
    back = rows[::-1]
    v = p.controls[back, ::-1] - node
    image = node + 2 * (v @ tau)[..., None] * tau - v
    return parallels(image, p.straight[back], p.far[back], p.near[back])


def _probe(p: Parallels, start: Array, end: Array) -> tuple[Chain, Parallels]:
    """A straight chain, and the table with its row added."""
    table = stacked([p, line_rows(start[None], end[None])])
    return Chain(np.array([start, end]), np.full(2, len(p), dtype=np.intp), np.array([0.0, 1.0])), table


def _onward(chain: Chain, start: End, backward: bool) -> Chain:
    """The part of a chain from a place on, walked forward or backward."""
    place = chain.row + chain.t
    keep = place < start.row + start.t if backward else place > start.row + start.t
    turn = slice(None, None, -1 if backward else 1)
    return Chain(
        np.concatenate([[start.point], chain.points[keep][turn]]),
        np.concatenate([[start.row], chain.row[keep][turn]]),
        np.concatenate([[start.t], chain.t[keep][turn]]),
    )


def _stretch(table: Parallels, a: End, b: End) -> tuple[Part, ...]:
    """The parts of consecutive rows from one place to another; curved rows get lines for their extensions."""
    parts: list[Part] = []
    here = a.point
    for row in range(a.row, b.row + 1):
        only = table.taken(np.array([row]))
        t0, t1 = a.t if row == a.row else 0.0, b.t if row == b.row else 1.0
        ends = trace(only, np.zeros(2, dtype=np.intp), np.array([0.0, 1.0])).point
        goal = b.point if row == b.row else ends[1]
        if only.straight[0] or t1 <= 0 or t0 >= 1:  # on the row's extension alone
            parts.append(_line(here, goal))
        else:
            if t0 < 0:
                parts.append(_line(here, ends[0]))
                here = ends[0]
            stop = ends[1] if t1 > 1 else goal
            if min(t1, 1.0) > max(t0, 0.0):
                parts.append(Part(only, max(t0, 0.0), min(t1, 1.0), here, stop))
                here = stop
            if t1 > 1:
                parts.append(_line(here, goal))
        here = goal
    return tuple(part for part in parts if (part.start != part.end).any())


def _node(p: Parallels, c: Corner) -> tuple[Array, Array, Array]:
    """The seam end and the directions of the two stitch lines there."""
    before, after = c.one[-1], c.two[0]
    d1 = p.power[1, before] + 2 * p.power[2, before] + 3 * p.power[3, before]
    d2 = p.power[1, after]
    return p.controls[after, 0], d1 / np.linalg.norm(d1), d2 / np.linalg.norm(d2)


def _line(a: Array, b: Array) -> Part:
    return Part(line_rows(a[None], b[None]), 0.0, 1.0, a, b)

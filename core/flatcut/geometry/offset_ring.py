"""From many outlines to one table of exact rows, and from solved joints back to one ring of cubics per outline.

The one conversion: inside the kernel the wanted side is always on the LEFT of the walk as seen on the screen. A
clockwise outline has its outside there; where the wanted side is on the right (an anticlockwise outline outward, a
clockwise one inward) the drawing is mirrored, y to -y, which is exact, and the answer is mirrored back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.arrays import Ints as Ints
from flatcut.geometry.curves import Curve
from flatcut.geometry.length import span_lengths
from flatcut.geometry.offset_corners import BEVEL, TIP, WELD, Joints
from flatcut.geometry.offset_exact import Parallels, Places, Rows, parallels, stacked, traced
from flatcut.geometry.offset_feet import bend_of
from flatcut.geometry.offset_fit import PLACES, Stretches, UnfitError, fit_stretches
from flatcut.geometry.offset_special import Special
from flatcut.geometry.offset_values import Drawn, drawn

ABSORBED = 0.5
"""mm: shorter extensions at a tip become part of the curve, if they are also ..."""

ABSORBED_SHARE = 0.05
"""... shorter than this part of its pace at the end (a third of which is its handle)."""

FOLD = 0.02
"""Least 1 + k d of a stretch that is fitted without looking for loops: the ring is gated afterwards, so a fold between
the places looked at is still found."""


@dataclass(frozen=True, eq=False, repr=False)
class Chains:
    """All spans of all chains (closed outlines or open curves), one row each.

    rows: the exact offsets, mirrored where that puts the wanted side on the left; chain: (n,) which chain; edge: (n,)
    which of its edges; after: (n,) the row that follows, -1 at the end of an open chain; last: (n,) whether the row is
    the last of its edge, so that a corner follows; mirrored: (chains,); area: (chains,) mm² as walked here, clockwise
    positive; first: (chains + 1,) where each chain's rows begin.
    """

    rows: Parallels
    chain: Ints
    edge: Ints
    after: Rows
    last: BoolArray
    mirrored: BoolArray
    area: Array
    first: Ints


def gather(
    edges: Sequence[Sequence[Curve]],
    widths: Sequence[Sequence[tuple[float, float]]],
    right: Sequence[bool] | None,
    inward: bool,
) -> Chains:
    """The table for chains of edges; widths are those at the start and end of each edge.

    right: for open chains, whether the wanted side lies on the right; None: closed, decided by `inward`.
    """
    return gathered(drawn(edges, widths), right, inward)


def gathered(d: Drawn, right: Sequence[bool] | None, inward: bool) -> Chains:
    """As `gather`, of what is in one table."""
    controls, straight, flat_widths = d.controls.copy(), d.straight, d.widths
    count = np.append(0, d.ends)
    edge_number = np.repeat(np.arange(len(d.ends)), count[1:] - count[:-1])
    last = np.zeros(len(controls), dtype=np.bool_)
    last[d.ends - 1] = True

    first = count[d.first]
    chain = np.repeat(np.arange(len(first) - 1), first[1:] - first[:-1])
    after = np.arange(1, len(controls) + 1)
    after[first[1:] - 1] = first[:-1] if right is None else -1

    near, far = flat_widths[edge_number].T.copy()
    for k in np.flatnonzero(flat_widths[:, 0] != flat_widths[:, 1]):
        share = np.concatenate([[0.0], np.cumsum(span_lengths(d.curves[k]))])
        here = flat_widths[k, 0] + (flat_widths[k, 1] - flat_widths[k, 0]) * share / share[-1]
        here[-1] = flat_widths[k, 1]
        near[edge_number == k], far[edge_number == k] = here[:-1], here[1:]

    area = areas(controls, chain, len(first) - 1)
    mirrored = (area > 0) == inward if right is None else np.array(right, dtype=np.bool_)
    if mirrored.any():
        controls[mirrored[chain], :, 1] *= -1.0
        area = np.where(mirrored, -area, area)
    joined = slice(None) if right is None else after >= 0
    controls[after[joined], 0] = controls[joined, 3]  # welded to the last bit
    rows = parallels(controls, straight, near, far)
    return Chains(rows, chain, edge_number - d.first[chain], after, last, mirrored, area, first)


_AREA = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20
"""∫ x dy - y dx over a cubic, in Bernstein form."""


def areas(controls: Array, chain: Ints, count: int) -> Array:
    """Signed areas as in `curves.signed_area`, of `count` chains of spans at once, (count,) mm²."""
    first = np.searchsorted(chain, np.arange(count))
    c = controls - controls[np.minimum(first, len(controls) - 1)[chain], :1]
    x, y = c[..., 0], c[..., 1]
    return np.bincount(chain, weights=((x @ _AREA) * y).sum(axis=1), minlength=count).astype(np.float64)


class Runs(NamedTuple):
    """What is left of each row (n,): from and to places and points, and the points where the joints reach it.

    A curved row does not run on itself: from `reach_in` to `start` and from `end` to `reach_out` there are lines.
    kept: False where a corner of a special kind has swallowed the row.
    """

    t0: Array
    t1: Array
    start: Array
    end: Array
    reach_in: Array
    reach_out: Array
    kept: BoolArray


def runs_between(
    c: Chains, joint_rows: Rows, joints: Joints, specials: Mapping[int, Special], *, tolerance: float
) -> Runs:
    """The runs of all rows once the joints after `joint_rows` are solved; `specials` overrule them, by their row."""
    p, n = c.rows, len(c.rows)
    at_start, at_end = p.ends
    start, end = at_start.point, at_end.point
    t0, t1 = np.zeros(n), np.ones(n)
    reach_in, reach_out = start.copy(), end.copy()
    kept = np.ones(n, dtype=np.bool_)
    tip = joints.state == TIP
    tipped = (tip | (joints.state == BEVEL))[:, None]
    follow = c.after[joint_rows]
    reach_out[joint_rows] = np.where(tipped, joints.tips[:, 0], joints.end)
    reach_in[follow] = np.where(tipped, joints.tips[:, 1], joints.start)
    t1[joint_rows], t0[follow] = np.minimum(joints.leave, 1.0), np.maximum(joints.enter, 0.0)
    near = WELD * tolerance
    # a short extension is drawn into its curve: two more nodes at every small kink would be a nuisance
    for t, sign, rows, at, grown in (
        (t1, 1.0, joint_rows, at_end, _sizes(reach_out - end)),
        (t0, -1.0, follow, at_start, _sizes(reach_in - start)),
    ):
        short = rows[tip & (grown[rows] > near) & (grown[rows] < ABSORBED)]
        if len(short):
            speed = _sizes(at.pace[short]) / np.maximum(np.abs(at.factor[short]), FOLD) + 1e-300
            more = grown[short] / speed
            taken = more < ABSORBED_SHARE
            t[short[taken]] = sign * more[taken] + (sign > 0)
    for row, special in specials.items():
        leave, enter = special.leave, special.enter
        reach_out[leave.row], t1[leave.row] = leave.point, min(leave.t, 1.0)
        reach_in[enter.row], t0[enter.row] = enter.point, max(enter.t, 0.0)
        kept[leave.row + 1 : row + 1] = False
        kept[c.after[row] : enter.row] = False
    keep_end = (t1 == 1.0) & ~p.straight & (np.abs(reach_out - end).max(axis=1) > near)
    keep_start = (t0 == 0.0) & ~p.straight & (np.abs(reach_in - start).max(axis=1) > near)
    end = np.where(keep_end[:, None], end, reach_out)
    start = np.where(keep_start[:, None], start, reach_in)
    return Runs(t0, t1, start, end, reach_in, reach_out, kept)


def _sizes(v: Array) -> Array:
    """Lengths of vectors (n, 2)."""
    return np.sqrt(v[:, 0] * v[:, 0] + v[:, 1] * v[:, 1])


class Courses(NamedTuple):
    """Rows (k,) that are bent and run on, and what `traced` finds at PLACES of what is left of each."""

    rows: Rows
    at: Places


def courses(c: Chains, runs: Runs) -> Courses:
    """The courses of all rows that have one: of those at no width the span itself is cut."""
    p = c.rows
    bent = np.flatnonzero((runs.t1 > runs.t0) & ~p.straight & ((p.near != 0) | (p.far != 0)))
    return Courses(bent, traced(p, bent, runs.t0[bent, None] + (runs.t1 - runs.t0)[bent, None] * PLACES))


def sound(c: Chains, runs: Runs, course: Courses, *, least: float = FOLD) -> BoolArray:
    """Which rows keep a stretch that runs forward and does not fold back."""
    p = c.rows
    way, left = p.controls[:, 3] - p.controls[:, 0], runs.end - runs.start
    forward = np.where(p.straight, left[:, 0] * way[:, 0] + left[:, 1] * way[:, 1] > 0, runs.t1 > runs.t0)
    forward[course.rows[course.at.factor.min(axis=1) <= least]] = False
    return np.asarray(forward | ~runs.kept, dtype=np.bool_)


class Spans(NamedTuple):
    """Finished spans in ring order: controls (k, 4, 2), straight (k,), chain (k,), source (k,) the number of the edge,
    or -1-k for a piece of corner k."""

    controls: Array
    straight: BoolArray
    chain: Ints
    source: Ints

    def of(self, chosen: BoolArray) -> Spans:
        """Some of them."""
        return Spans(self.controls[chosen], self.straight[chosen], self.chain[chosen], self.source[chosen])


def after_in_ring(chain: Ints) -> Ints:
    """The number of the span that follows each in its ring; chain (n,), in order: whose they are."""
    begin = np.flatnonzero(chain[1:] != chain[:-1]) + 1
    after = np.arange(1, len(chain) + 1)
    after[np.concatenate([begin, [len(chain)]]) - 1] = np.concatenate([[0], begin])
    return after


def without_crumbs(spans: Spans, least: float) -> Spans:
    """Rings without straight spans shorter than `least` mm: the span after one begins where it did."""
    crumb = spans.straight & (_sizes(spans.controls[:, 3] - spans.controls[:, 0]) < least)
    if not crumb.any():
        return spans
    crumb[1:] &= ~crumb[:-1] | (spans.chain[1:] != spans.chain[:-1])
    after = after_in_ring(spans.chain)
    crumb &= ~crumb[after] & (np.bincount(spans.chain)[spans.chain] > 3)
    if not crumb.any():
        return spans
    controls, following = spans.controls.copy(), after[crumb]
    controls[following, :2] += (controls[crumb, 0] - controls[following, 0])[:, None]
    lines = following[spans.straight[following]]
    step = (controls[lines, 3] - controls[lines, 0]) / 3
    controls[lines, 1], controls[lines, 2] = controls[lines, 0] + step, controls[lines, 3] - step
    return Spans(controls[~crumb], spans.straight[~crumb], spans.chain[~crumb], spans.source[~crumb])


LEAD_IN, RUN, LEAD_OUT, BETWEEN = range(4)
SLOTS = 4
"""Of a row, in their order."""


def assemble(
    c: Chains, chosen: BoolArray, runs: Runs, course: Courses, specials: Mapping[int, Special], *, tolerance: float
) -> Spans:
    """The spans of the chosen chains' rows and of their joints, in ring order. Errors: UnfitError with a row."""
    p = c.rows
    mine = chosen[c.chain] & runs.kept
    bent = np.flatnonzero(mine & ~p.straight)
    parts = [(s.leave.row, part) for s in specials.values() if mine[s.leave.row] for part in s.parts]
    # what is straight, by row and slot: from each of these places to the next
    line = np.stack([runs.reach_in, runs.start, runs.end, runs.reach_out, runs.reach_in[c.after]], axis=1)
    differ = line[:, 1:] != line[:, :-1]
    there = (differ[..., 0] | differ[..., 1]) & mine[:, None]
    there[:, RUN] = mine & p.straight
    there[:, BETWEEN] &= c.after >= 0
    if specials:
        there[[s.leave.row for s in specials.values()], BETWEEN] = False
    lines = np.flatnonzero(there)

    # one fit for all that is curved: the rows' own runs, and the curved parts of special corners
    bowed = [(row, part) for row, part in parts if not part.row.straight[0]]
    table = stacked([p, *(part.row for _, part in bowed)])
    own = Stretches(bent, runs.t0[bent], runs.t1[bent], runs.start[bent], runs.end[bent])
    stretches = own.and_more(len(p), [(b.t0, b.t1, b.start, b.end) for _, b in bowed])
    try:
        fitted, owner = fit_stretches(table, stretches, tolerance=tolerance, known=(course.rows, course.at))
    except UnfitError as error:
        k = error.number
        raise UnfitError(int(bent[k]) if k < len(bent) else bowed[k - len(bent)][0]) from None

    flat = [(row, part) for row, part in parts if part.row.straight[0]]
    row_of = np.append(bent, np.array([row for row, _ in bowed], dtype=np.intp))[owner]
    place = [row_of * SLOTS + np.where(owner < len(bent), RUN, BETWEEN), lines]
    controls = [fitted, _line(line[:, :-1].reshape(-1, 2)[lines], line[:, 1:].reshape(-1, 2)[lines])]
    if flat:
        place.append(np.array([row for row, _ in flat]) * SLOTS + BETWEEN)
        controls.append(_line(np.array([part.start for _, part in flat]), np.array([part.end for _, part in flat])))
    key = np.concatenate(place)
    if parts:  # those of one corner in their order
        number = {id(part): k for k, (_, part) in enumerate(parts)}
        nth = np.zeros(len(key), dtype=np.intp)
        nth[len(key) - len(flat) :] = [number[id(part)] for _, part in flat]
        of_part = np.flatnonzero(owner >= len(bent))
        nth[of_part] = np.array([number[id(part)] for _, part in bowed], dtype=np.intp)[owner[of_part] - len(bent)]
        order = np.lexsort((nth, key))
    else:
        order = np.argsort(key, kind="stable")  # the pieces of a fit keep theirs
    row, slot = np.divmod(key[order], SLOTS)
    spans = np.concatenate(controls)[order]
    return Spans(spans, order >= len(fitted), c.chain[row], _sources(c, specials, row, slot))


def _sources(c: Chains, specials: Mapping[int, Special], row: Rows, slot: Ints) -> Ints:
    """Edge numbers of runs, corner numbers (-1-k) of what lies between edges; inside an edge all is the edge's."""
    count = np.bincount(c.chain, weights=c.last).astype(np.intp)[c.chain]
    leaves, enters = c.last.copy(), np.zeros(len(c.rows), dtype=np.bool_)
    enters[c.after[c.last & (c.after >= 0)]] = True
    if specials:
        leaves[[s.leave.row for s in specials.values()]] = True
        enters[[s.enter.row for s in specials.values()]] = True
    edge = c.edge[row]
    answer = np.where((slot >= LEAD_OUT) & leaves[row], -1 - edge, edge)
    return np.asarray(np.where((slot == LEAD_IN) & enters[row], -1 - (edge - 1) % count[row], answer))


def _line(a: Array, b: Array) -> Array:
    step = (b - a) / 3
    made = np.empty((len(a), 4, 2))
    made[:, 0], made[:, 1], made[:, 2], made[:, 3] = a, a + step, b - step, b
    return made


def flat_rings(controls: Array, straight: BoolArray, owner: Ints, *, tolerance: float) -> tuple[Array, Ints]:
    """Points along spans within `tolerance` mm (each span without its end), and the owner of each point.

    The number of chords is Wang's bound as in `curves.flatten`, for spans of many rings at once.
    """
    count = np.where(straight, 1, np.maximum(1, np.ceil(np.sqrt(0.75 * bend_of(controls) / tolerance)))).astype(np.intp)
    span = np.repeat(np.arange(len(count)), count)
    t = (np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count)) / count[span]
    # x and y apart: along an axis of two numbers numpy is slow
    c0, c1, c2, c3 = (np.take(c, span, axis=1) for c in np.ascontiguousarray(controls.transpose(1, 2, 0)))
    s = 1 - t
    points = s * s * s * c0 + 3 * s * s * t * c1 + 3 * s * t * t * c2 + t * t * t * c3
    return np.ascontiguousarray(points.T), owner[span]

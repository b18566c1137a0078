"""From many outlines to one table of exact rows, and from solved joints back to one ring of cubics per outline.

The one conversion: inside the kernel the wanted side is always on the LEFT of the walk as seen on the screen. A
clockwise outline has its outside there; where the wanted side is on the right (an anticlockwise outline outward, a
clockwise one inward) the drawing is mirrored, y to -y, which is exact, and the answer is mirrored back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.curves import Curve
from flatcut.geometry.length import span_lengths
from flatcut.geometry.offset_corners import BEVEL, TIP, WELD, Joints
from flatcut.geometry.offset_exact import Parallels, Rows, parallels, trace
from flatcut.geometry.offset_fit import Stretches, fit_stretches

Ints = NDArray[np.intp]

CHECKS = np.linspace(0.0, 1.0, 17)
"""Where a stretch is asked whether it folds back; the ring is gated afterwards, so a fold between is still found."""

FOLD = 0.02
"""Least 1 + k d of a stretch that is fitted without looking for loops."""


@dataclass(frozen=True, eq=False)
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
    flat = [c for chain in edges for c in chain]
    flat_widths = np.array([w for chain in widths for w in chain], dtype=np.float64).reshape(-1, 2)
    spans = np.array([len(c) for c in flat], dtype=np.intp)
    controls = np.concatenate([c.controls for c in flat])
    straight = np.concatenate([c.straight for c in flat])
    edge_number = np.repeat(np.arange(len(flat)), spans)
    last = np.zeros(len(controls), dtype=np.bool_)
    last[np.cumsum(spans) - 1] = True

    per_chain = np.array([len(chain) for chain in edges], dtype=np.intp)
    edge_first = np.concatenate([[0], np.cumsum(per_chain)])
    first = np.concatenate([[0], np.cumsum(spans)])[edge_first]
    chain = np.repeat(np.arange(len(edges)), np.diff(first))
    after = np.arange(1, len(controls) + 1)
    after[first[1:] - 1] = first[:-1] if right is None else -1

    near, far = flat_widths[edge_number].T.copy()
    for k in np.flatnonzero(flat_widths[:, 0] != flat_widths[:, 1]):
        share = np.concatenate([[0.0], np.cumsum(span_lengths(flat[k]))])
        here = flat_widths[k, 0] + (flat_widths[k, 1] - flat_widths[k, 0]) * share / share[-1]
        here[-1] = flat_widths[k, 1]
        near[edge_number == k], far[edge_number == k] = here[:-1], here[1:]

    area = _areas(controls, chain, len(edges), first)
    mirrored = (area > 0) == inward if right is None else np.array(right, dtype=np.bool_)
    if mirrored.any():
        controls[mirrored[chain], :, 1] *= -1.0
        area = np.where(mirrored, -area, area)
    joined = after >= 0
    controls[after[joined], 0] = controls[joined, 3]  # welded to the last bit
    rows = parallels(controls, straight, near, far)
    return Chains(rows, chain, edge_number - edge_first[chain], after, last, mirrored, area, first)


def _areas(controls: Array, chain: Ints, count: int, first: Ints) -> Array:
    """Signed areas as in `curves.signed_area`, of all chains at once."""
    c = controls - controls[first[chain], :1]
    x, y = c[..., 0], c[..., 1]
    weights = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20
    return np.bincount(chain, weights=((x @ weights) * y).sum(axis=1), minlength=count).astype(np.float64)


class Runs(NamedTuple):
    """What is left of each row (n,): from and to places and points, and the points where the joints reach it.

    A curved row does not run on itself: from `reach_in` to `start` and from `end` to `reach_out` there are lines.
    """

    t0: Array
    t1: Array
    start: Array
    end: Array
    reach_in: Array
    reach_out: Array


def runs_between(c: Chains, joint_rows: Rows, joints: Joints, *, tolerance: float) -> Runs:
    """The runs of all rows once the joints after `joint_rows` are solved."""
    p, n = c.rows, len(c.rows)
    at = trace(p, np.tile(np.arange(n), 2), np.repeat([0.0, 1.0], n))
    start, end = at.point[:n].copy(), at.point[n:].copy()
    t0, t1 = np.zeros(n), np.ones(n)
    reach_in, reach_out = start.copy(), end.copy()
    tipped = ((joints.state == TIP) | (joints.state == BEVEL))[:, None]
    follow = c.after[joint_rows]
    reach_out[joint_rows] = np.where(tipped, joints.tips[:, 0], joints.end)
    reach_in[follow] = np.where(tipped, joints.tips[:, 1], joints.start)
    t1[joint_rows], t0[follow] = np.minimum(joints.leave, 1.0), np.maximum(joints.enter, 0.0)
    near = WELD * tolerance
    whole_end, whole_start = t1 >= 1.0, t0 <= 0.0
    keep_end = whole_end & ~p.straight & (np.abs(reach_out - end).max(axis=1) > near)
    keep_start = whole_start & ~p.straight & (np.abs(reach_in - start).max(axis=1) > near)
    end = np.where(keep_end[:, None], end, reach_out)
    start = np.where(keep_start[:, None], start, reach_in)
    return Runs(t0, t1, start, end, reach_in, reach_out)


def sound(c: Chains, runs: Runs) -> BoolArray:
    """Which rows keep a stretch that runs forward and does not fold back."""
    p = c.rows
    way = p.controls[:, 3] - p.controls[:, 0]
    forward = np.where(p.straight, ((runs.end - runs.start) * way).sum(axis=1) > 0, runs.t1 > runs.t0)
    bent = np.flatnonzero(forward & ~p.straight & ((p.near != 0) | (p.far != 0)))
    if len(bent):
        t = runs.t0[bent, None] + (runs.t1 - runs.t0)[bent, None] * CHECKS
        forward[bent] = trace(p, bent, t).factor.min(axis=1) > FOLD
    return np.asarray(forward, dtype=np.bool_)


class Spans(NamedTuple):
    """Finished spans in ring order: controls (k, 4, 2), straight (k,), row (k,) the row of the table they stand for,
    corner (k,): True where the span is the own piece of the joint after that row or (`before`) before it."""

    controls: Array
    straight: BoolArray
    row: Rows
    corner: BoolArray
    before: BoolArray


def assemble(c: Chains, chosen: BoolArray, runs: Runs, *, tolerance: float) -> Spans:
    """The spans of the chosen chains' rows and of their joints, in ring order."""
    p = c.rows
    mine = chosen[c.chain]
    bent = np.flatnonzero(mine & ~p.straight)
    fitted, owner = fit_stretches(
        p, Stretches(bent, runs.t0[bent], runs.t1[bent], runs.start[bent], runs.end[bent]), tolerance=tolerance
    )
    lines = np.flatnonzero(mine & p.straight)
    lead_in = np.flatnonzero(mine & (runs.reach_in != runs.start).any(axis=1))
    lead_out = np.flatnonzero(mine & (runs.end != runs.reach_out).any(axis=1))
    follow = c.after
    met = runs.reach_in[follow]
    between = np.flatnonzero(mine & (follow >= 0) & (runs.reach_out != met).any(axis=1))
    parts = (  # slot within the row, rows, controls
        (0, lead_in, _line(runs.reach_in[lead_in], runs.start[lead_in])),
        (1, bent[owner], fitted),
        (1, lines, _line(runs.start[lines], runs.end[lines])),
        (2, lead_out, _line(runs.end[lead_out], runs.reach_out[lead_out])),
        (3, between, _line(runs.reach_out[between], met[between])),
    )
    slot = np.concatenate([np.full(len(rows), s) for s, rows, _ in parts])
    row = np.concatenate([rows for _, rows, _ in parts])
    controls = np.concatenate([k for _, _, k in parts])
    straight = np.ones(len(row), dtype=np.bool_)
    straight[len(lead_in) : len(lead_in) + len(fitted)] = False
    order = np.argsort(row * 4 + slot, kind="stable")
    slot = slot[order]
    return Spans(controls[order], straight[order], row[order], slot != 1, slot == 0)


def _line(a: Array, b: Array) -> Array:
    step = (b - a) / 3
    return np.stack([a, a + step, b - step, b], axis=1)


def flat_rings(controls: Array, straight: BoolArray, owner: Ints, *, tolerance: float) -> tuple[Array, Ints]:
    """Points along spans within `tolerance` mm (each span without its end), and the owner of each point.

    The number of chords is Wang's bound as in `curves.flatten`, for spans of many rings at once.
    """
    second = controls[:, :-2] - 2 * controls[:, 1:-1] + controls[:, 2:]
    bend = np.sqrt((second**2).sum(axis=2).max(axis=1))
    count = np.where(straight, 1, np.maximum(1, np.ceil(np.sqrt(0.75 * bend / tolerance)))).astype(np.intp)
    span = np.repeat(np.arange(len(count)), count)
    t = ((np.arange(len(span)) - np.repeat(np.cumsum(count) - count, count)) / count[span])[:, None]
    c = controls[span]
    s = 1 - t
    points: Array = s * s * s * c[:, 0] + 3 * s * s * t * c[:, 1] + 3 * s * t * t * c[:, 2] + t * t * t * c[:, 3]
    return points, owner[span]

"""What the corners of many outlines ask for, row by row of their table, and what the gate is told of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.geometry.arrays import unit
from flatcut.geometry.offset_corners import COINCIDE, RUNS_ON, turn_at
from flatcut.geometry.offset_corners import Rules as Rules
from flatcut.geometry.offset_feet import Stitch
from flatcut.geometry.offset_gate import Tips
from flatcut.geometry.offset_ring import Chains, Ints
from flatcut.geometry.offset_sure import Line
from flatcut.geometry.offset_values import KINDS, OffsetCorner, OffsetEdge

TURNED_REACH = 4.0
"""Limits that the end of a hem folded back may reach from the seam end (as far as `offset_special` looks)."""

KINK = float(np.cos(np.radians(0.5)))
"""A joint inside an edge that turns by more than half a degree has a tip of its own, as far as its mitre."""

TURNS_BACK = float(np.cos(np.radians(170.0)))
"""A joint that turns by more is a tip that no normal of its edges covers."""

Outline = tuple[Sequence[OffsetEdge], Sequence[OffsetCorner]]


def rules_of(outlines: Sequence[Outline], c: Chains) -> Rules:
    """The corners' rules; those inside an edge are those of a plain corner."""
    n = len(c.rows)
    limit = np.full(n, OffsetCorner().limit)
    limit[c.last] = [corner.limit for _, corners in outlines for corner in corners]
    kind = np.zeros(n, dtype=np.intp)  # that of a joint inside an edge: mitred
    kind[c.last] = [_KIND[corner.kind] for _, corners in outlines for corner in corners]
    bevelled, stepped, ended, turned, first = _TRAITS[:, kind]
    cut_at = np.where(bevelled, 1.0, limit)
    return Rules(limit, cut_at, stepped, ended, turned, first, turn_at(c.rows, np.arange(n), c.after))


_KIND = {kind: k for k, kind in enumerate(KINDS)}
_TRAITS = np.array(
    [
        [kind == "bevelled" for kind in KINDS],
        [kind == "stepped" for kind in KINDS],
        [kind.startswith(("squared", "turned")) for kind in KINDS],
        [kind.startswith("turned") for kind in KINDS],
        [kind.endswith("first") for kind in KINDS],
    ]
)


def line_of(c: Chains, rules: Rules) -> Line:
    """The stitch lines and how far their tips may go, as `offset_sure` wants them: of those of one width all round."""
    p = c.rows
    tip = np.minimum(np.hypot(rules.cut_at, 1.0), 1 / np.sqrt(np.maximum((1 + rules.turn[:, 1]) / 2, 1e-12)))
    after = np.where((rules.turn[:, 0] > 0) & (c.last | (rules.turn[:, 1] < KINK)), p.far * tip, 0.0)
    before = np.empty_like(after)
    before[c.after] = after
    return Line(p.controls, c.first, p.near, before, after)


def told_to_gate(c: Chains, rules: Rules) -> tuple[Stitch, Tips]:
    """The stitch line and the corners as the gate wants them."""
    # a joint inside an edge has a tip too where the stitch line turns there; a corner bears the number of its row
    rows = np.arange(len(c.last))
    ends = np.flatnonzero(c.last)
    number: Ints = ends[np.cumsum(c.last) - c.last]  # of the corner at the end of each row's edge
    first = np.searchsorted(c.chain[ends], np.arange(len(c.mirrored)))
    final = ends[np.append(first[1:], len(ends)) - 1]
    opens = number == ends[first][c.chain]
    before = np.where(opens, final[c.chain], ends[np.cumsum(c.last) - c.last - 1])
    p, after = c.rows, c.after
    a, b = p.far, p.near[after]
    wide, uneven = np.maximum(a, b), np.abs(a - b) > COINCIDE
    spread = rules.turn[:, 0] > 0
    ended, inside = rules.ended, ~np.asarray(c.last, dtype=np.bool_)
    reach = wide * np.hypot(np.where(uneven | ended, rules.limit, rules.cut_at), 1.0)
    # what may run on over the other edge's allowance: the narrower cut line, and that of a squared edge
    at_start, at_end = p.ends
    stop = np.stack([at_end.point, at_start.point[after]], axis=1)
    on = np.stack([at_end.tangent, at_start.tangent[after]], axis=1)
    on = on * np.array([1.0, -1.0])[:, None]
    squared = ended & ~rules.turned
    over = np.stack([(a < b) | (squared & rules.first), (b < a) | (squared & ~rules.first)], axis=1)
    over &= (spread & (rules.turn[:, 1] < RUNS_ON) & ~rules.stepped & ~inside)[:, None]
    far = np.where(over, reach[:, None], -np.inf)
    hem = np.where(rules.turned & spread, np.where(rules.first, 1, 2), 0)
    ways = unit(np.where((hem == 2)[:, None], p.power[1, after], p.controls[rows, 3] - p.controls[rows, 2]))
    reach = np.where(rules.turned, TURNED_REACH * reach, reach)
    reach = np.where(spread | uneven | ended, reach, 0.0)
    mitre = wide / np.sqrt(np.maximum((1 + rules.turn[:, 1]) / 2, 1e-12))
    reach[inside] = np.where(rules.turn[:, 1] < KINK, np.minimum(reach, mitre), 0.0)[inside]
    back = spread & ~ended & (rules.turn[:, 1] < TURNS_BACK)
    ahead = unit(unit(p.controls[:, 3] - p.controls[:, 2]) - unit(p.controls[after, 1] - p.controls[after, 0]))
    ahead = np.where(back, np.minimum(a, b), 0.0)[:, None] * ahead
    tips = Tips(p.controls[after, 0], c.chain, reach, wide, stop, on, far, hem, ways, ahead)
    return Stitch(p.controls, p.straight, c.chain, p.near, p.far, before, number), tips

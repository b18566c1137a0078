"""What the corners of many outlines ask for, row by row of their table, and what the gate is told of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, unit
from flatcut.geometry.offset_corners import COINCIDE, RUNS_ON, turn_at
from flatcut.geometry.offset_exact import trace
from flatcut.geometry.offset_feet import Stitch
from flatcut.geometry.offset_gate import Tips
from flatcut.geometry.offset_ring import Chains, Ints
from flatcut.geometry.offset_sure import Line
from flatcut.geometry.offset_values import OffsetCorner, OffsetEdge

TURNED_REACH = 4.0
"""Limits that the end of a hem folded back may reach from the seam end (as far as `offset_special` looks)."""

KINK = float(np.cos(np.radians(0.5)))
"""A joint inside an edge that turns by more than half a degree has a tip of its own, as far as its mitre."""

TURNS_BACK = float(np.cos(np.radians(170.0)))
"""A joint that turns by more is a tip that no normal of its edges covers."""

Outline = tuple[Sequence[OffsetEdge], Sequence[OffsetCorner]]


class Rules(NamedTuple):
    """For the joint after each row (n,): limit and cut_at in widths; the corner's kind.

    Joints inside an edge are mitred. turn (n, 2): cross and dot product of the stitch line's directions at the joint.
    """

    limit: Array
    cut_at: Array
    stepped: BoolArray
    ended: BoolArray
    """Squared or turned."""
    turned: BoolArray
    first: BoolArray
    """Through, or about, the edge before the corner."""
    turn: Array


def rules_of(outlines: Sequence[Outline], c: Chains) -> Rules:
    """The corners' rules; those inside an edge are those of a plain corner."""
    n = len(c.rows)
    kinds = np.array([corner.kind for _, corners in outlines for corner in corners])
    limit, cut_at = np.full(n, OffsetCorner().limit), np.full(n, OffsetCorner().limit)
    limit[c.last] = cut_at[c.last] = [corner.limit for _, corners in outlines for corner in corners]
    bevelled, stepped, ended, turned, first = (np.zeros(n, dtype=np.bool_) for _ in range(5))
    bevelled[c.last], stepped[c.last] = kinds == "bevelled", kinds == "stepped"
    turned[c.last] = np.char.startswith(kinds, "turned")
    ended[c.last] = turned[c.last] | np.char.startswith(kinds, "squared")
    first[c.last] = np.char.endswith(kinds, "first")
    cut_at[bevelled] = 1.0
    return Rules(limit, cut_at, stepped, ended, turned, first, turn_at(c.rows, np.arange(n), c.after))


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
    at = trace(p, np.concatenate([rows, after]), np.repeat([1.0, 0.0], len(rows)))
    ends, on = (x.reshape(2, -1, 2).swapaxes(0, 1) for x in (at.point, at.tangent))
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
    tips = Tips(p.controls[after, 0], c.chain, reach, wide, ends, on, far, hem, ways, ahead)
    return Stitch(p.controls, p.straight, c.chain, p.near, p.far, before, number), tips

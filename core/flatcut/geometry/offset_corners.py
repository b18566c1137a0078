"""Where two neighbouring offset curves meet: the tip of a mitre, a cut-off tip, or a place where both are trimmed.

One rule for all widths. e and s are the end of one offset and the start of the next, X the meet of their tangent
lines, a and b the extensions needed to reach it (TRADE: C1, C5).

    a > 0, b > 0    both run straight on to X; a tip farther than limit × width from the seam end is cut off square
    otherwise       the crossing of the two offsets, each with its tangential extension, nearest to the corner
    e and s close   they are joined where they are

Everything here works on many joints at once.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from flatcut.geometry.arrays import Array, BoolArray, cross
from flatcut.geometry.offset_exact import Parallels, Rows, crossing, trace

WELD = 0.25
"""Part of the tolerance: ends closer than this are joined halfway, which moves each by half of it at most."""

SMOOTH = 0.995
"""Cosine of a turn (6°) below which close ends may be joined; at a sharper turn only ends that coincide are."""

COINCIDE = 1e-9
"""mm: ends this close are one point whatever the turn (both widths zero)."""

FAR = 1e-9
"""Sine of the turn below which two tangent lines count as meeting at this angle: beyond any limit."""

WELDED, TIP, BEVEL, TRIMMED, STEPPED, UNEQUAL, UNSOLVED = range(7)
"""What became of a joint. UNEQUAL: the widths cannot meet within the limit. UNSOLVED: trimmed, no crossing found."""


class Joints(NamedTuple):
    """The answer for m joints.

    state: (m,) one of the numbers above; leave, enter: (m,) the places where the row before ends and the row after
    starts (outside 0 to 1 on an extension, straight rows only); end, start: (m, 2) the points there; tips: (m, 2, 2)
    one (TIP) or two (BEVEL) points between; ratio: (m,) distance of the tip from the seam end by the larger width.
    """

    state: NDArray[np.intp]
    leave: Array
    enter: Array
    end: Array
    start: Array
    tips: Array
    ratio: Array


def solve_joints(
    p: Parallels,
    before: Rows,
    after: Rows,
    *,
    limit: Array,
    cut_at: Array,
    stepped: BoolArray,
    tolerance: float,
) -> Joints:
    """Joints from rows `before` to rows `after`, which share a node of the stitch line.

    cut_at: (m,) tips farther away than this many widths are cut off there; limit: (m,) an offset that runs on to meet
    the other, where that is trimmed, may reach this many widths from the seam end.
    stepped: joints where the offset simply steps from one width to the other.
    """
    m = len(before)
    at = trace(p, np.concatenate([before, after]), np.repeat([1.0, 0.0], m))
    e, s = at.point[:m], at.point[m:]
    t0, t1 = at.tangent[:m], at.tangent[m:]
    node = p.controls[after, 0]
    width = np.maximum(np.abs(p.far[before]), np.abs(p.near[after]))
    gap = s - e
    apart = np.sqrt(gap[:, 0] ** 2 + gap[:, 1] ** 2)
    sine, cosine = cross(t0, t1), (t0 * t1).sum(axis=1)
    welded = (apart <= COINCIDE) | ((apart <= WELD * tolerance) & (cosine > SMOOTH))
    sine = np.where(np.abs(sine) < FAR, np.copysign(FAR, sine), sine)
    a, b = cross(gap, t1) / sine, cross(t0, gap) / sine
    tip = e + a[:, None] * t0
    reach = np.sqrt(((tip - node) ** 2).sum(axis=1))
    ratio = reach / np.maximum(width, 1e-12)

    state = np.full(m, TRIMMED, dtype=np.intp)
    outer = (a > -COINCIDE) & (b > -COINCIDE) & ~welded & ~stepped
    state[outer] = TIP
    state[outer & (ratio > cut_at * (1 + 1e-9))] = BEVEL
    state[welded] = WELDED
    state[stepped & ~welded] = STEPPED

    middle = e + gap / 2
    leave, enter = np.ones(m), np.zeros(m)
    end = np.where(welded[:, None], middle, e)
    start = np.where(welded[:, None], middle, s)
    tips = np.repeat(tip[:, None], 2, axis=1)

    bevel = np.flatnonzero(state == BEVEL)
    if len(bevel):
        # cut square to the line from the seam end to the tip: the bisector, where the widths are equal
        way = (tip - node)[bevel] / reach[bevel, None]
        deep = (cut_at * width)[bevel]
        for side, (base, along) in enumerate(((e, t0), (s, -t1))):
            base, along = base[bevel], along[bevel]
            grow = (deep - ((base - node[bevel]) * way).sum(axis=1)) / (along * way).sum(axis=1)
            tips[bevel, side] = base + grow[:, None] * along

    trim = np.flatnonzero(state == TRIMMED)
    if len(trim):
        _trim(p, before, after, trim, a, b, limit * width, node, (state, leave, enter, end, start), at.pace)
    return Joints(state, leave, enter, end, start, tips, ratio)


def _trim(
    p: Parallels,
    before: Rows,
    after: Rows,
    trim: Rows,
    a: Array,
    b: Array,
    reach: Array,
    node: Array,
    answer: tuple[NDArray[np.intp], Array, Array, Array, Array],
    pace: Array,
) -> None:
    """Fills `answer` for the joints `trim`, where at least one of the two offsets is cut back."""
    state, leave, enter, end, start = answer
    m = len(before)
    speed = np.sqrt((pace**2).sum(axis=1)) + 1e-9
    guess_a = 1 + np.clip((a / speed[:m])[trim], -0.4, 20.0)
    guess_b = -np.clip((b / speed[m:])[trim], -0.4, 20.0)
    both_straight = p.straight[before[trim]] & p.straight[after[trim]]
    guess_a = np.where(both_straight, 1 + (a / speed[:m])[trim], guess_a)
    guess_b = np.where(both_straight, -(b / speed[m:])[trim], guess_b)
    found = crossing(p, before[trim], guess_a, after[trim], guess_b)
    extended = (found.ta > 1) | (found.tb < 0)
    far = np.sqrt(((found.point - node[trim]) ** 2).sum(axis=1)) > reach[trim]
    unequal = np.abs(p.far[before[trim]]) != np.abs(p.near[after[trim]])
    # a crossing beyond the other end of either row means that the row is swallowed: not for one corner to decide
    swallowed = (found.ta <= 0) | (found.tb >= 1)
    outcome = np.where(found.met & ~swallowed, TRIMMED, UNSOLVED)
    one_only = (a[trim] > COINCIDE) | (b[trim] > COINCIDE)
    state[trim] = np.where(unequal & one_only & ((extended & far) | ~found.met), UNEQUAL, outcome)
    leave[trim], enter[trim] = found.ta, found.tb
    end[trim] = start[trim] = found.point

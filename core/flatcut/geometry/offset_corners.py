"""Where two neighbouring offset curves meet: the tip of a mitre, a cut-off tip, or a place where both are trimmed.

One rule for all widths. e and s are the end of one offset and the start of the next, X the meet of their tangent
lines, a and b the extensions needed to reach it (plane geometry).

    a > 0, b > 0    both run straight on to X; a tip farther than limit × width from the seam end is cut off square
    a, b <= 0       both are cut back to where they cross: always so in a hollow corner of equal widths
    one of them     one runs on until it meets the other, which is cut back: unequal widths at a corner. Where the
                    stitch line runs on, or they do not meet within the limit, the cut line steps instead
    e and s close   they are joined where they are

Everything here works on many joints at once.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, cross, unit
from flatcut.geometry.offset_exact import Crossings, Parallels, Rows, crossing

WELD = 0.25
"""Part of the tolerance: ends closer than this are joined halfway, which moves each by half of it at most."""

SMOOTH = 0.995
"""Cosine of a turn (6°) below which close ends may be joined; at a sharper turn only ends that coincide are."""

COINCIDE = 1e-9
"""mm: ends this close are one point whatever the turn (both widths zero)."""

FAR = 1e-9
"""Sine of the turn below which two tangent lines count as meeting at this angle: beyond any limit."""

BACK = 1e-5
"""Sine of the turn below which a stitch line turns straight back."""

TAPERS = 0.02
"""Sine of the turn (1°) below which, back, two widths that taper may turn their offsets the other way."""

RUNS_ON = math.cos(math.radians(15.0))
"""Cosine of a turn below which the stitch line runs on: unequal widths step there, square to it. At a sharper turn the
narrower allowance runs on to meet the wider one, as the trade draws it."""

WELDED, TIP, BEVEL, TRIMMED, STEPPED, UNEQUAL, UNSOLVED = range(7)
"""What became of a joint. UNEQUAL: the widths do not meet within the limit. UNSOLVED: trimmed, no crossing found."""


class Rules(NamedTuple):
    """What m joints ask for. Joints inside an edge are mitred.

    cut_at: (m,) tips farther away than this many widths are cut off there; limit: (m,) an offset that runs on to meet
    the other, where that is trimmed, may reach this many widths from the seam end. stepped: (m,) the offset steps from
    one width to the other, unless both run on to a tip. ended: squared or turned; turned; first: through, or about, the
    edge before the corner. turn: (m, 2) what `turn_at` finds.
    """

    limit: Array
    cut_at: Array
    stepped: BoolArray
    ended: BoolArray
    turned: BoolArray
    first: BoolArray
    turn: Array


class Joints(NamedTuple):
    """The answer for m joints.

    state: (m,) one of the numbers above; leave, enter: (m,) the places where the row before ends and the row after
    starts (outside 0 to 1 on an extension, straight rows only); end, start: (m, 2) the points there; tips: (m, 2, 2)
    one (TIP) or two (BEVEL) points between; ratio: (m,) distance of the tip from the seam end by the larger width.
    """

    state: Ints
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
    rules: Rules,
    *,
    tolerance: float,
) -> Joints:
    """Joints from rows `before` to rows `after`, which share a node of the stitch line."""
    limit, cut_at, turned = rules.limit, rules.cut_at, rules.turn
    m = len(before)
    at_start, at_end = p.ends
    e, s = at_end.point[before], at_start.point[after]
    t0, t1 = at_end.tangent[before], at_start.tangent[after]
    node = p.controls[after, 0]
    width = np.maximum(np.abs(p.far[before]), np.abs(p.near[after]))
    gap = s - e
    apart = np.sqrt(gap[:, 0] ** 2 + gap[:, 1] ** 2)
    sine, cosine = cross(t0, t1), t0[:, 0] * t1[:, 0] + t0[:, 1] * t1[:, 1]
    welded = (apart <= COINCIDE) | ((apart <= WELD * tolerance) & (cosine > SMOOTH))
    straight_back = (np.abs(turned[:, 0]) < TAPERS) & (turned[:, 1] < 0)  # two tapering widths may turn it a little
    signed = np.where(straight_back | (np.abs(sine) < FAR), turned[:, 0], sine)
    sine = np.copysign(np.maximum(np.abs(sine), FAR), signed)
    a, b = cross(gap, t1) / sine, cross(t0, gap) / sine
    tip = e + a[:, None] * t0
    to_tip = tip - node
    reach = np.sqrt(to_tip[:, 0] * to_tip[:, 0] + to_tip[:, 1] * to_tip[:, 1])
    ratio = reach / np.maximum(width, 1e-12)

    state = np.full(m, TRIMMED, dtype=np.intp)
    outer = (a > -COINCIDE) & (b > -COINCIDE) & ~welded
    state[outer] = TIP
    state[outer & (ratio > cut_at * (1 + 1e-9))] = BEVEL
    state[welded] = WELDED
    state[rules.stepped & ~welded & ~outer] = STEPPED

    middle = e + gap / 2
    leave, enter = np.ones(m), np.zeros(m)
    end = np.where(welded[:, None], middle, e)
    start = np.where(welded[:, None], middle, s)
    tips = np.repeat(tip[:, None], 2, axis=1)

    bevel = np.flatnonzero(state == BEVEL)
    if len(bevel):
        # cut square to the line from the seam end to the tip: the bisector, where the widths are equal
        way = to_tip[bevel] / reach[bevel, None]
        deep = (cut_at * width)[bevel]
        for side, (base, along) in enumerate(((e, t0), (s, -t1))):
            base, along = base[bevel], along[bevel]
            grow = (deep - ((base - node[bevel]) * way).sum(axis=1)) / (along * way).sum(axis=1)
            tips[bevel, side] = base + grow[:, None] * along

    uneven = np.abs(p.far[before]) != np.abs(p.near[after])
    run_on = turned[:, 1]
    if uneven.any():
        state[(state == TRIMMED) & uneven & (run_on > RUNS_ON) & ((a > COINCIDE) | (b > COINCIDE))] = STEPPED
    trim = np.flatnonzero(state == TRIMMED)
    if len(trim):
        one, two = before[trim], after[trim]
        out, into = (np.sqrt((pace**2).sum(axis=1)) + 1e-9 for pace in (at_end.pace[one], at_start.pace[two]))
        found = _trimmed(p, one, two, a[trim] / out, b[trim] / into)
        far = np.sqrt(((found.point - node[trim]) ** 2).sum(axis=1)) > (limit * width)[trim]
        # equal widths are both cut back; of unequal ones that runs on whose tangent line reaches the other's
        on, onto = a[trim] > COINCIDE, b[trim] > COINCIDE
        runs_on = (found.ta > 1) | (found.tb < 0)
        right = (on | (found.ta <= 1)) & (onto | (found.tb >= 0)) & (found.ta > 0) & (found.tb < 1)
        right &= found.met & ~(runs_on & far)
        state[trim] = np.where(right, TRIMMED, np.where(uneven[trim] & (on | onto), UNEQUAL, UNSOLVED))
        leave[trim], enter[trim] = found.ta, found.tb
        end[trim] = start[trim] = found.point
    return Joints(state, leave, enter, end, start, tips, ratio)


def turn_at(p: Parallels, before: Rows, after: Rows) -> Array:
    """Cross and dot product, (m, 2), of the stitch line's directions at joints; where it turns straight back, as at a
    cusp, the cross product is tiny, and positive where what lies between the two rows is a spike of the outline."""
    u = unit(p.controls[before, 3] - p.controls[before, 2])
    v = unit(p.controls[after, 1] - p.controls[after, 0])
    turn = np.empty((len(u), 2))
    sine, cosine = turn.T
    sine[:], cosine[:] = cross(u, v), u[:, 0] * v[:, 0] + u[:, 1] * v[:, 1]
    back = np.flatnonzero((np.abs(sine) < BACK) & (cosine < 0))
    if len(back):
        beside = [_lying(p, rows[back], t) for rows, t in ((before, 0.9), (after, 0.1))]
        sine[back] = np.copysign(FAR, cross(u[back], beside[1] - beside[0]))
    return turn


def _lying(p: Parallels, rows: Rows, t: float) -> Array:
    c0, c1, c2, c3 = p.power[:, rows]
    return np.asarray(((c3 * t + c2) * t + c1) * t + c0)


def _trimmed(p: Parallels, before: Rows, after: Rows, on: Array, onto: Array) -> Crossings:
    """Crossings looked for from the place on each row where its tangent line meets the other's: `on` and `onto` are
    the extensions needed, as parts of the row's own pace. A curved row is not believed far inside it."""
    both_straight = p.straight[before] & p.straight[after]
    guess_a = 1 + np.where(both_straight, on, np.clip(on, -0.4, 20.0))
    guess_b = -np.where(both_straight, onto, np.clip(onto, -0.4, 20.0))
    return crossing(p, before, guess_a, after, guess_b)


def only_full_ends(p: Parallels, before: Rows, after: Rows, joints: Joints, turn: Array) -> Joints:
    """Joints of which none is cut back or runs on to meet the other: where they did not meet in a tip, both offsets
    keep their full ends, a step between them where the stitch line turns outward (turn > 0). For `offset_loops`, whose
    bands trim each other."""
    out, into = p.ends[1].point[before], p.ends[0].point[after]
    other = ~np.isin(joints.state, (TIP, BEVEL, WELDED))
    state = np.where(other, np.where(turn > 0, STEPPED, UNSOLVED), joints.state)
    end, start = np.where(other[:, None], out, joints.end), np.where(other[:, None], into, joints.start)
    leave, enter = np.where(other, 1.0, joints.leave), np.where(other, 0.0, joints.enter)
    return joints._replace(state=state, leave=leave, enter=enter, end=end, start=start)

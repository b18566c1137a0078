"""Where strips and collars begin: at the edge that they are sewn to, and from there down, up, along the arm or over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from flatcut.errors import UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.region import Ints
from flatcut.pattern.values import Piece
from flatcut.worn.cells import ROLL
from flatcut.worn.form import Form
from flatcut.worn.outer import COLLAR
from flatcut.worn.sewn import Sewn

OUTWARD, DOWN = 0.55, -0.83
"""How far cloth that turns over, or hangs in folds, goes out and down for each mm."""
FULL = 1.15
"""Times as long as what it hangs from: from there on cloth begins in folds."""
FOLD = 110.0
"""mm from fold to fold along what it hangs from."""
FULLEST = 2.0
"""Times as long, at most, that the folds begin with."""
DEEP = 80.0
"""mm below the seam at which the folds have their depth."""
APART = 60.0
"""mm between a collar and the body, laid out."""


class Hung(NamedTuple):
    """A strip or collar and the edge it is sewn to.

    copy: its number; own (n,): its vertices; line (k,), seam (k,): vertices along the seam, its own and those of
    others; step (n,), share (n,): which two of them each vertex stands beside, and how far from the first to the
    second; away (n,): mm from the seam.
    course: how it goes on from there: 'down', 'up', 'arm', 'stand', 'turned', 'flat' or 'rolled'; roll: mm from the
    seam at which it is turned over; full: times as long as what it is sewn to.
    """

    copy: int
    own: Ints
    line: Ints
    seam: Ints
    step: Ints
    share: Array
    away: Array
    course: str
    roll: float
    full: float

    def on_seam(self, values: Array) -> Array:
        """Values (v, ...) of all vertices as they are at the places of the seam: (n, ...)."""
        share = self.share.reshape(-1, *([1] * (values.ndim - 1)))
        found: Array = (1 - share) * values[self.seam[self.step]] + share * values[self.seam[self.step + 1]]
        return found


def hung_of(
    whole: Sewn,
    pieces: Mapping[str, Piece],
    hanging: frozenset[int],
    laid: frozenset[int],
    arms: frozenset[int],
    up: Array,
) -> tuple[list[Hung], frozenset[int]]:
    """The hanging copies in an order in which each is sewn to one before it, and all copies that lie round an arm.

    laid: copies that lie already; up (v,): mm above the waist of all their vertices, filled in for those that hang.
    Errors: UsageError for a copy that is sewn to nothing.
    """
    found: list[Hung] = []
    courses: dict[int, str] = {}
    done, left = set(laid), set(hanging)
    number = {copy: k for k, copy in enumerate(whole.copies)}
    while left:
        pairs: dict[int, dict[int, int]] = {}
        for meeting in whole.meetings:
            one, two = number[meeting.one], number[meeting.two]
            for k, other, mine, its in ((one, two, meeting.mine, meeting.its), (two, one, meeting.its, meeting.mine)):
                if k in left and other in done:
                    pairs.setdefault(k, {}).update(zip(mine, its, strict=True))
        pairs = {k: pair for k, pair in pairs.items() if len(pair) > 1}
        if not pairs:
            name = pieces[whole.copies[min(left)].piece].name
            raise UsageError(f"{name} is sewn to no piece that can be put on; state its seam, or leave it out")
        for k, pair in sorted(pairs.items()):
            near = {int(np.searchsorted(whole.first, v, side="right")) - 1 for v in pair.values()}
            on_arm = bool(near & arms)
            if on_arm:
                arms = arms | {k}
            hung = _hung(whole, pieces, k, pair, [courses.get(n, "") for n in near], near, up, on_arm)
            found.append(hung)
            courses[k] = hung.course
            ahead = -1.0 if hung.course in ("down", "arm") else 1.0
            up[hung.own] = hung.on_seam(up) + ahead * hung.away
            done.add(k)
            left.discard(k)
    return found, arms


def _hung(
    whole: Sewn,
    pieces: Mapping[str, Piece],
    k: int,
    pair: Mapping[int, int],
    others: Sequence[str],
    near: set[int],
    up: Array,
    on_arm: bool,
) -> Hung:
    """One that hangs.

    pair: its vertices on the seam and those they meet; near: the copies of those; others: how they go on themselves.
    """
    copy = whole.copies[k]
    piece = pieces[copy.piece]
    first = whole.first[k]
    edges = whole.cells[copy.piece].edges
    along = max(([first + on.vertex for on in edge if first + on.vertex in pair] for edge in edges.values()), key=len)
    along = list(dict.fromkeys(along))
    own = np.arange(first, whole.first[k + 1])
    step, share, away = _beside(whole.flat[own], whole.flat[along])
    seam = np.array([pair[v] for v in along])
    drawn = float(np.linalg.norm(np.diff(whole.flat[along], axis=0), axis=1).sum())
    bare = float(np.linalg.norm(np.diff(whole.flat[seam], axis=0), axis=1)[_one_copy(whole, seam)].sum())
    course = _course(piece, others, whole, near, seam, up, on_arm)
    roll = 0.0
    if course == "rolled":
        line = next(one.curve for one in piece.lines if one.name == ROLL)
        ends = np.array([line.start, line.end]) * ((-1.0, 1.0) if copy.turned else (1.0, 1.0))
        roll = float(_beside(ends, whole.flat[along])[2].max())
    return Hung(k, own, np.array(along), seam, step, share, away, course, roll, drawn / max(bare, 1.0))


def _one_copy(whole: Sewn, seam: Ints) -> Array:
    """Which steps along a seam stay on one copy."""
    of = np.searchsorted(whole.first, seam, side="right")
    return np.asarray(of[1:] == of[:-1])


def _beside(points: Array, line: Array) -> tuple[Ints, Array, Array]:
    """Of points (n, 2) the nearest step of a line (k, 2), the share of it, and mm from there."""
    a, b = line[:-1], line[1:]
    way = b - a
    long = np.maximum((way**2).sum(axis=1), 1e-9)
    share = np.clip(((points[:, None] - a) * way).sum(axis=2) / long, 0.0, 1.0)
    far = np.linalg.norm(points[:, None] - (a + share[:, :, None] * way), axis=2)
    step = far.argmin(axis=1)
    rows = np.arange(len(points))
    return step, share[rows, step], far[rows, step]


def _course(
    piece: Piece, others: Sequence[str], whole: Sewn, near: set[int], seam: Ints, up: Array, on_arm: bool
) -> str:
    if on_arm:
        return "arm"
    if piece.source is not None and piece.source.kind == COLLAR:
        if any(line.name == ROLL for line in piece.lines):
            return "rolled"
        if any(edge.name == "top" for edge in piece.edges):
            return "stand"
        return "turned" if "stand" in others else "flat"
    beyond = np.concatenate([up[whole.first[k] : whole.first[k + 1]] for k in near])
    return "down" if float(up[seam].mean()) < float(np.nanmean(beyond)) else "up"


def hung_on(at: Array, hung: Sequence[Hung], form: Form) -> Array:
    """Vertices (v, 3) with those of what hangs put where it begins, each after what it is sewn to."""
    found: Array = at.copy()
    for one in hung:
        base = one.on_seam(found)
        outward = base.copy()
        outward[:, 1] = 0.0
        if one.course not in ("down", "up"):
            outward[:, 2] -= float(base[:, 2].mean())
        outward /= np.maximum(np.linalg.norm(outward, axis=1), 1.0)[:, None]
        over = outward * OUTWARD + (0.0, DOWN, 0.0)
        high = np.array([0.0, 1.0, 0.0])
        away = one.away[:, None]
        if one.course == "down":
            found[one.own] = base + away * (0.2 * outward - 0.98 * high) + _folds(one, found) * outward
        elif one.course in ("up", "stand"):
            found[one.own] = base + away * high
        elif one.course == "arm":
            limb = next(limb for limb in form.limbs if limb.name == "arm")
            way = (limb.axis[-1] - limb.axis[-2]) * (np.sign(base[:, 0].mean()), 1.0, 1.0)
            found[one.own] = base + away * way / np.linalg.norm(way)
        elif one.course == "flat":
            found[one.own] = base + away * (0.85 * outward - 0.5 * high)
        else:
            stands = np.minimum(away, one.roll)
            found[one.own] = base + stands * high + (away - stands) * over
    return found


def _folds(one: Hung, at: Array) -> Array:
    """mm (n, 1) by which cloth that hangs full begins in or out, so that it is as long as it was cut."""
    if one.full < FULL:
        return np.zeros((len(one.own), 1))
    line = at[one.seam]
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    along = (1 - one.share) * steps[one.step] + one.share * steps[one.step + 1]
    long = steps[-1] / max(round(steps[-1] / FOLD), 1)
    # a wave of height a and length l is longer than its base by about (pi a / l)²
    height = long / np.pi * np.sqrt(min(one.full, FULLEST) - 1.0)
    return np.asarray((height * np.minimum(one.away / DEEP, 1.0) * np.cos(2 * np.pi * along / long))[:, None])


def shown_flat(one: Hung, whole: Sewn, round_: Array, up: Array) -> Array:
    """(n, 2) where its vertices are shown laid out: x to the wearer's right, y up, at its own size."""
    flat = whole.flat[one.own]
    line = whole.flat[one.line]
    middle = line.mean(axis=0)
    way = line[-1] - line[0]
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    square = np.array([-way[1], way[0]])
    x, y = (flat - middle) @ way, (flat - middle) @ square
    if y[np.abs(y).argmax()] < 0:
        y = -y
    base = one.on_seam(round_)
    if float(((x - x.mean()) * (base - base.mean())).sum()) < 0:
        x = -x
    below = one.course in ("down", "arm")
    height = float(one.on_seam(up).mean()) + (0.0 if one.course in ("down", "up", "arm") else APART)
    return np.column_stack([x + float(base.mean()), height + (-y if below else y)])

"""Few cubics along stretches of exact offset curves: a G1 least-squares fit, every stretch of a batch at once.

Ends and end tangents are those of the exact curve (so joints between pieces are smooth by construction); the two
handle lengths of a piece are found by Gauss-Newton on the normal distance at SAMPLES places, each place projected
anew in every step, then by reweighting towards the worst place (Lawson). A piece that stays outside the tolerance is
split. The number of numpy calls is what a small fit costs: hence one call for all curved stretches of all outlines.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, BoolArray
from flatcut.geometry.curves import split_spans
from flatcut.geometry.offset_exact import Parallels, Places, Rows, trace, traced

SAMPLES = 20
"""Places at which a piece is measured. With 8 to 14 the true deviation was seen to reach 1.14 × the tolerance."""

SAFETY = 0.95
"""Part of the tolerance that the measured deviation may take, since the worst place may lie between two samples."""

ROUNDS = 14
"""Rounds of splitting; each takes at least one piece more, and in most cases the predicted number."""

MOST_PIECES = 64
"""A stretch that needs more pieces than this has no usable offset (its radius equals the width)."""


class UnfitError(GeometryError):
    """What no reasonable number of cubics follows; `number` is that of the stretch (later: of its row)."""

    def __init__(self, number: int):
        super().__init__("the radius of a curve equals its allowance; change the width or ease the curve there")
        self.number = number


FEW = 32
"""Pieces of which it is not worth while to leave out those that are good enough."""

ENOUGH = 0.25
"""Part of the allowed deviation at which the first fit stops being bettered."""

STARTS = ((1.0, 1.0), (1.25, 0.8), (0.8, 1.25))
"""Factors on the two handles to begin with, where the first fit is not good enough."""

PLACES = np.arange(SAMPLES + 2) / (SAMPLES + 1.0)
"""Where a stretch is looked at, its ends among them."""

_K = PLACES[1:-1]


class Stretches(NamedTuple):
    """Parts of exact rows that become curves: rows (m,), places t0 and t1 (m,), and the end points wanted (m, 2)."""

    rows: Rows
    t0: Array
    t1: Array
    start: Array
    end: Array

    def of(self, index: Rows) -> Stretches:
        """The stretches with these numbers."""
        return Stretches(self.rows[index], self.t0[index], self.t1[index], self.start[index], self.end[index])

    def and_more(self, first: int, more: Sequence[tuple[float, float, Array, Array]]) -> Stretches:
        """These and stretches (t0, t1, start, end) of the rows from number `first` on, one each."""
        if not more:
            return self
        t0, t1, start, end = (np.array(column) for column in zip(*more, strict=True))
        rows = np.concatenate([self.rows, first + np.arange(len(more))])
        joined = (np.concatenate(pair) for pair in ((self.t0, t0), (self.t1, t1), (self.start, start), (self.end, end)))
        return Stretches(rows, *joined)


def fit_stretches(
    p: Parallels, stretches: Stretches, *, tolerance: float, known: tuple[Rows, Places] | None = None
) -> tuple[Array, Rows]:
    """Cubics (n, 4, 2) in the order of the stretches, and for each the number of its stretch.

    Rows of width 0 give the very part of the span. Straight rows are not for here. The true deviation, both ways,
    stays within `tolerance` mm. known: rows, in order, and what `traced` has found at PLACES of their stretches.
    Errors: UnfitError where no reasonable number of pieces does.
    """
    if len(stretches.rows) == 0:
        return np.zeros((0, 4, 2)), np.zeros(0, dtype=np.intp)
    as_drawn = (p.near[stretches.rows] == 0) & (p.far[stretches.rows] == 0)
    if not as_drawn.any():
        return _fit(p, stretches, tolerance, known)
    index = np.flatnonzero(as_drawn)
    controls, owner = [_parts(p, stretches.of(index))], [index]
    if not as_drawn.all():
        index = np.flatnonzero(~as_drawn)
        try:
            fitted, number = _fit(p, stretches.of(index), tolerance, known)
        except UnfitError as error:
            raise UnfitError(int(index[error.number])) from None
        controls.append(fitted)
        owner.append(index[number])
    owners = np.concatenate(owner)
    order = np.argsort(owners, kind="stable")
    return np.concatenate(controls)[order], owners[order]


def _parts(p: Parallels, s: Stretches) -> Array:
    """The spans themselves from t0 to t1, set onto the end points."""
    t0, t1 = np.clip(s.t0, 0, 1), np.clip(s.t1, 0, 1)
    head = split_spans(p.controls[s.rows], t1)[0]
    part = split_spans(head, np.where(t1 > 0, t0 / np.where(t1 > 0, t1, 1.0), 0.0))[1]
    part[:, 0], part[:, 3] = s.start, s.end
    return part


def _known(p: Parallels, s: Stretches, known: tuple[Rows, Places] | None) -> Places:
    """What `traced` finds at PLACES of stretches, from what is known, or anew."""
    if known is not None and len(s.rows) <= len(known[0]):
        rows, at = known
        if len(rows) == len(s.rows) and (rows == s.rows).all():
            return at
        which = np.searchsorted(rows, s.rows)
        if which.max() < len(rows) and (rows[which] == s.rows).all():
            return Places(at.point[:, which], at.pace[:, which], at.tangent[:, which], at.factor[which])
    return traced(p, s.rows, s.t0[:, None] + (s.t1 - s.t0)[:, None] * PLACES)


def _fit(p: Parallels, s: Stretches, tolerance: float, known: tuple[Rows, Places] | None) -> tuple[Array, Rows]:
    """Rounds of fitting and splitting until every piece of every stretch is within the tolerance."""
    goal = SAFETY * tolerance
    controls, error = _pieces(s, _known(p, s, known), goal)
    good = error <= goal
    if good.all():
        return controls, np.arange(len(controls))
    done: list[tuple[Rows, Array]] = []  # stretch numbers and controls of finished stretches, in rounds
    open_ = np.flatnonzero(~good)
    done.append((np.flatnonzero(good), controls[good]))
    breaks = {int(i): np.array([s.t0[i], s.t1[i]]) for i in open_}
    errors = {int(i): error[i : i + 1] for i in open_}
    for _ in range(ROUNDS):
        if not breaks:
            break
        for i, b in breaks.items():
            breaks[i] = _more_breaks(b, errors[i] / goal)
            if len(breaks[i]) > MOST_PIECES:
                raise UnfitError(i)
        number = np.repeat(np.array(list(breaks), dtype=np.intp), [len(b) - 1 for b in breaks.values()])
        t0 = np.concatenate([b[:-1] for b in breaks.values()])
        t1 = np.concatenate([b[1:] for b in breaks.values()])
        start = trace(p, s.rows[number], t0).point
        first = np.concatenate([[True], number[1:] != number[:-1]])
        last = np.concatenate([number[1:] != number[:-1], [True]])
        start[first] = s.start[number[first]]
        end = np.concatenate([start[1:], start[:1]])
        end[last] = s.end[number[last]]
        parts = Stretches(s.rows[number], t0, t1, start, end)
        controls, error = _pieces(parts, _known(p, parts, None), goal)
        for i in list(breaks):
            mine = number == i
            if np.all(error[mine] <= goal):
                done.append((number[mine], controls[mine]))
                del breaks[i]
            else:
                errors[i] = error[mine]
    if breaks:
        raise UnfitError(next(iter(breaks)))
    owners = np.concatenate([n for n, _ in done])
    order = np.argsort(owners, kind="stable")
    return np.concatenate([c for _, c in done])[order], owners[order]


def _more_breaks(breaks: Array, ratio: Array) -> Array:
    """New places to split at: the error of a piece falls with the sixth power of its length at best, so pieces are
    given by that density, and always one more than there were."""
    share = np.maximum(np.where(np.isfinite(ratio), ratio, 1e3), 1e-3) ** (1 / 6)
    pieces = min(max(int(np.ceil(share.sum())), len(breaks)), 2 * len(breaks))
    total = np.concatenate([[0.0], np.cumsum(share)])
    return np.asarray(np.interp(np.arange(pieces + 1) / pieces * total[-1], total, breaks))


def _pieces(s: Stretches, at: Places, goal: float) -> tuple[Array, Array]:
    """One cubic per stretch and its largest measured distance from the exact curve (inf where it went wrong)."""
    target = np.ascontiguousarray(at.point[..., 1:-1])
    normal = np.empty_like(target)
    normal[0] = at.tangent[1, :, 1:-1]
    np.negative(at.tangent[0, :, 1:-1], out=normal[1])
    start, end = s.start.T.copy(), s.end.T.copy()
    # the exact curve's own pace gives the handles to begin with; near a cusp it vanishes
    least = 0.05 * _length(end - start)
    span = (s.t1 - s.t0) / 3
    alpha = np.maximum(_length(at.pace[..., 0]) * span, least)
    beta = np.maximum(_length(at.pace[..., -1]) * span, least)
    problem = _Problem(target, normal, at.tangent[..., 0].copy(), at.tangent[..., -1].copy(), start, end)
    begin = _State(alpha, beta, np.repeat(_K[None], len(alpha), axis=0))
    state, error = _improve(problem, begin, rounds=3, reweight=False, enough=ENOUGH * goal)
    worse = np.flatnonzero(~(error <= goal))
    if len(worse):
        _try_again(problem, state, error, worse, (alpha, beta))
    return np.ascontiguousarray(_controls(problem, state).transpose(2, 0, 1)), error


def _length(v: Array) -> Array:
    """Lengths of vectors (2, ...)."""
    return np.asarray(np.sqrt(v[0] * v[0] + v[1] * v[1]))


def _try_again(q: _Problem, state: _State, error: Array, worse: Rows, first: tuple[Array, Array]) -> None:
    """More rounds from several starts for the pieces `worse`; `state` and `error` are bettered in place.

    The least squares have more than one minimum where a piece turns far (the handles can share the turn in two ways).
    """
    count = len(worse)
    many = np.tile(worse, len(STARTS))
    alpha = np.concatenate([first[0][worse] * a for a, _ in STARTS])
    beta = np.concatenate([first[1][worse] * b for _, b in STARTS])
    part = q.of(many)
    begin = _State(alpha, beta, np.repeat(_K[None], len(many), axis=0))
    plain, error_plain = _improve(part, begin, rounds=6, reweight=False, enough=0.0)
    minimax, error_minimax = _improve(part, plain, rounds=4, reweight=True, enough=0.0)
    for found, reached in ((plain, error_plain), (minimax, error_minimax)):
        for k in range(len(STARTS)):
            mine = slice(k * count, (k + 1) * count)
            _keep_better(state, error, worse, _State(*(x[mine] for x in found)), reached[mine])


def _keep_better(state: _State, error: Array, which: Rows, found: _State, reached: Array) -> None:
    """What was found for the pieces `which` put into `state` and `error`, where it is better."""
    keep = reached < error[which]
    which = which[keep]
    for old, new in zip((*state, error), (*found, reached), strict=True):
        old[which] = new[keep]


class _Problem(NamedTuple):
    """x and y apart: along an axis of two numbers numpy is slow."""

    target: Array  # (2, m, K) exact places
    normal: Array  # (2, m, K)
    head: Array  # (2, m) unit tangents at the ends
    tail: Array
    start: Array  # (2, m)
    end: Array

    def of(self, which: Rows | BoolArray) -> _Problem:
        """Some of the pieces."""
        return _Problem(*(x[:, which] for x in self))


class _State(NamedTuple):
    alpha: Array  # (m,) handle lengths
    beta: Array
    place: Array  # (m, K) where on the cubic each target is nearest

    def of(self, which: BoolArray) -> _State:
        """Some of the pieces."""
        return _State(*(x[which] for x in self))


def _controls(q: _Problem, state: _State) -> Array:
    """Control points (4, 2, m)."""
    controls = np.empty((4, *q.start.shape))
    controls[0], controls[3] = q.start, q.end
    np.add(q.start, state.alpha * q.head, out=controls[1])
    np.subtract(q.end, state.beta * q.tail, out=controls[2])
    return controls


def _improve(q: _Problem, state: _State, *, rounds: int, reweight: bool, enough: float) -> tuple[_State, Array]:
    """Levenberg-Marquardt on the two handles; the best state met and its largest distance.

    A step that makes the weighted squares grow is taken back and tried again shorter: plain Gauss-Newton was seen to
    leap to and fro across the valley in which both handles trade against each other. Each piece for itself: one that is
    good enough stays, whatever others of the batch still need.
    """
    best, best_error = state, np.full(len(state.alpha), np.inf)
    going, open_ = np.arange(len(state.alpha)), np.ones(len(state.alpha), dtype=np.bool_)
    here = trial = state
    damping = np.full(len(going), 1e-6)
    squares, weight = np.full(len(going), np.inf), np.ones(state.place.shape)
    residual = distance = np.zeros(state.place.shape)
    for turn in range(rounds + 1):
        place, gap, ordered = _projected(_controls(q, trial), q.target, trial.place, twice=turn in (0, rounds))
        trial = _State(trial.alpha, trial.beta, place)
        far = _length(gap)
        error = np.where(ordered & open_, far.max(axis=1), np.inf)
        if len(going) == len(best_error) and (error < best_error).all():
            best, best_error = trial, error
        else:
            best, best_error = _State(*(x.copy() for x in best)), best_error.copy()
            _keep_better(best, best_error, going, trial, error)
        if turn == rounds:
            break
        if turn:
            open_ = open_ & ~(best_error[going] <= enough)
            if not open_.any():
                break
            if len(going) > FEW and 2 * np.count_nonzero(open_) < len(going):
                going, gap, far, ordered = going[open_], gap[:, open_], far[open_], ordered[open_]
                q, trial, here = q.of(open_), trial.of(open_), here.of(open_)
                damping, squares, weight = damping[open_], squares[open_], weight[open_]
                residual, distance, open_ = residual[open_], distance[open_], open_[open_]
        off = gap[0] * q.normal[0] + gap[1] * q.normal[1]
        total = np.where(ordered, ((weight * off if reweight else off) * off).sum(axis=1), np.inf)
        down = (total <= squares) | (turn == 0)
        damping = np.where(down, damping * 0.1, np.maximum(damping * 30, 1e-3))
        if down.all():
            here, squares, residual, distance = trial, total, off, far
        else:
            here, squares = _chosen(down, trial, here), np.where(down, total, squares)
            residual, distance = np.where(down[:, None], off, residual), np.where(down[:, None], far, distance)
        side = 1 - here.place
        inner = 3 * side * here.place
        j0 = inner * side * (q.normal[0] * q.head[0, :, None] + q.normal[1] * q.head[1, :, None])
        j1 = -inner * here.place * (q.normal[0] * q.tail[0, :, None] + q.normal[1] * q.tail[1, :, None])
        w0, w1 = j0, j1
        if reweight:
            weight = weight * (distance / np.maximum(distance.max(axis=1, keepdims=True), 1e-300) + 0.05)
            weight /= weight.max(axis=1, keepdims=True)
            squares = (weight * residual * residual).sum(axis=1)
            w0, w1 = weight * j0, weight * j1
        alpha, beta = _stepped(here, (j0, j1), (w0, w1), residual, damping)
        trial = _State(alpha, beta, here.place)
    return best, best_error


def _stepped(
    here: _State, j: tuple[Array, Array], w: tuple[Array, Array], residual: Array, damping: Array
) -> tuple[Array, Array]:
    """Handle lengths after one step: j (m, K) how the residuals change with them, w the same, weighted."""
    a, b, c = (w[0] * j[0]).sum(axis=1), (w[0] * j[1]).sum(axis=1), (w[1] * j[1]).sum(axis=1)
    # a straight piece leaves its handles free: then they stay as they are
    a, c = a * (1 + damping) + 1e-12, c * (1 + damping) + 1e-12
    r0, r1 = (w[0] * residual).sum(axis=1), (w[1] * residual).sum(axis=1)
    det = a * c - b * b
    # a handle never shrinks or grows by more than half in one step: far from the answer the model is not trusted
    by0, by1 = (b * r1 - c * r0) / det, (b * r0 - a * r1) / det
    most0, most1 = 0.5 * here.alpha, 0.5 * here.beta
    return (
        here.alpha + np.minimum(np.maximum(by0, -most0), most0),
        here.beta + np.minimum(np.maximum(by1, -most1), most1),
    )


def _chosen(mask: BoolArray, yes: _State, no: _State) -> _State:
    return _State(
        np.where(mask, yes.alpha, no.alpha),
        np.where(mask, yes.beta, no.beta),
        np.where(mask[:, None], yes.place, no.place),
    )


def _projected(controls: Array, target: Array, place: Array, *, twice: bool) -> tuple[Array, Array, BoolArray]:
    """Places on cubics (4, 2, m) nearest to targets (2, m, K) (a Newton step, or two), the gaps there, (2, m, K) too,
    and whether they stand in order."""
    p0, p1, p2, p3 = controls[..., None]
    c1, c2, c3 = 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)
    to = target - p0
    for _ in range(2 if twice else 1):
        a = c3 * place
        b = a + c2
        gap = (b * place + c1) * place - to
        pace = (a + b + b) * place + c1
        down = gap[0] * pace[0] + gap[1] * pace[1]
        size = pace[0] * pace[0] + pace[1] * pace[1]
        place = np.minimum(np.maximum(place - down / np.maximum(size, 1e-300), 0.0), 1.0)
    gap = ((c3 * place + c2) * place + c1) * place - to
    return place, np.asarray(gap), np.all(place[:, 1:] >= place[:, :-1], axis=1)

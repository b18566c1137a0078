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
from flatcut.geometry.offset_exact import Parallels, Rows, trace

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


ENOUGH = 0.25
"""Part of the allowed deviation at which the first fit stops being bettered."""

STARTS = ((1.0, 1.0), (1.25, 0.8), (0.8, 1.25))
"""Factors on the two handles to begin with, where the first fit is not good enough."""

_K = (np.arange(SAMPLES) + 1.0) / (SAMPLES + 1.0)


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


def fit_stretches(p: Parallels, stretches: Stretches, *, tolerance: float) -> tuple[Array, Rows]:
    """Cubics (n, 4, 2) in the order of the stretches, and for each the number of its stretch.

    Rows of width 0 give the very part of the span. Straight rows are not for here. The true deviation, both ways,
    stays within `tolerance` mm. Errors: UnfitError where no reasonable number of pieces does.
    """
    if len(stretches.rows) == 0:
        return np.zeros((0, 4, 2)), np.zeros(0, dtype=np.intp)
    as_drawn = (p.near[stretches.rows] == 0) & (p.far[stretches.rows] == 0)
    controls: list[Array] = []
    owner: list[Rows] = []
    if as_drawn.any():
        index = np.flatnonzero(as_drawn)
        controls.append(_parts(p, stretches.of(index)))
        owner.append(index)
    if not as_drawn.all():
        index = np.flatnonzero(~as_drawn)
        try:
            fitted, number = _fit(p, stretches.of(index), tolerance)
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


def _fit(p: Parallels, s: Stretches, tolerance: float) -> tuple[Array, Rows]:
    """Rounds of fitting and splitting until every piece of every stretch is within the tolerance."""
    goal = SAFETY * tolerance
    controls, error = _pieces(p, s, goal)
    done: list[tuple[Rows, Array]] = []  # stretch numbers and controls of finished stretches, in rounds
    open_ = np.flatnonzero(~(error <= goal))
    done.append((np.flatnonzero(error <= goal), controls[error <= goal]))
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
        controls, error = _pieces(p, Stretches(s.rows[number], t0, t1, start, end), goal)
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


def _pieces(p: Parallels, s: Stretches, goal: float) -> tuple[Array, Array]:
    """One cubic per stretch and its largest measured distance from the exact curve (inf where it went wrong)."""
    t = s.t0[:, None] + (s.t1 - s.t0)[:, None] * np.concatenate([[0.0], _K, [1.0]])
    at = trace(p, s.rows, t)
    target = np.ascontiguousarray(at.point[:, 1:-1].transpose(2, 0, 1))
    normal = np.stack([at.tangent[:, 1:-1, 1], -at.tangent[:, 1:-1, 0]])
    head, tail = at.tangent[:, 0], at.tangent[:, -1]
    # the exact curve's own pace gives the handles to begin with; near a cusp it vanishes
    reach = np.linalg.norm(s.end - s.start, axis=1)
    span = (s.t1 - s.t0) / 3
    alpha = np.maximum(np.linalg.norm(at.pace[:, 0], axis=1) * span, 0.05 * reach)
    beta = np.maximum(np.linalg.norm(at.pace[:, -1], axis=1) * span, 0.05 * reach)
    problem = _Problem(target, normal, head, tail, s.start, s.end)
    state = _State(alpha, beta, np.tile(_K, (len(t), 1)), np.ones_like(target[0]))
    state, error = _improve(problem, state, rounds=3, reweight=False, enough=ENOUGH * goal)
    worse = np.flatnonzero(~(error <= goal))
    if len(worse):
        _try_again(problem, state, error, worse, (alpha, beta))
    return _controls(problem, state), error


def _try_again(q: _Problem, state: _State, error: Array, worse: Rows, first: tuple[Array, Array]) -> None:
    """More rounds from several starts for the pieces `worse`; `state` and `error` are bettered in place.

    The least squares have more than one minimum where a piece turns far (the handles can share the turn in two ways).
    """
    count = len(worse)
    many = np.tile(worse, len(STARTS))
    alpha = np.concatenate([first[0][worse] * a for a, _ in STARTS])
    beta = np.concatenate([first[1][worse] * b for _, b in STARTS])
    part = _Problem(q.target[:, many], q.normal[:, many], *(a[many] for a in q[2:]))
    begin = _State(alpha, beta, np.tile(_K, (len(many), 1)), np.ones((len(many), SAMPLES)))
    plain, error_plain = _improve(part, begin, rounds=6, reweight=False, enough=0.0)
    minimax, error_minimax = _improve(part, plain, rounds=4, reweight=True, enough=0.0)
    for found, reached in ((plain, error_plain), (minimax, error_minimax)):
        for k in range(len(STARTS)):
            mine = slice(k * count, (k + 1) * count)
            keep = reached[mine] < error[worse]
            for old, new in zip(state, found, strict=True):
                old[worse[keep]] = new[mine][keep]
            error[worse[keep]] = reached[mine][keep]


class _Problem(NamedTuple):
    target: Array  # (2, m, K) exact places: x and y apart, for along an axis of two numbers numpy is slow
    normal: Array  # (2, m, K)
    head: Array  # (m, 2) unit tangents at the ends
    tail: Array
    start: Array  # (m, 2)
    end: Array


class _State(NamedTuple):
    alpha: Array  # (m,) handle lengths
    beta: Array
    place: Array  # (m, K) where on the cubic each target is nearest
    weight: Array  # (m, K)


def _controls(q: _Problem, state: _State) -> Array:
    a = q.start + state.alpha[:, None] * q.head
    b = q.end - state.beta[:, None] * q.tail
    return np.stack([q.start, a, b, q.end], axis=1)


def _improve(q: _Problem, state: _State, *, rounds: int, reweight: bool, enough: float) -> tuple[_State, Array]:
    """Levenberg-Marquardt on the two handles; the best state met and its largest distance.

    A step that makes the weighted squares grow is taken back and tried again shorter: plain Gauss-Newton was seen to
    leap to and fro across the valley in which both handles trade against each other.
    """
    along_head, along_tail = (q.normal[0] * way[:, :1] + q.normal[1] * way[:, 1:] for way in (q.head, q.tail))
    here = state
    damping = np.full(len(state.alpha), 1e-6)
    squares = np.full(len(state.alpha), np.inf)
    residual = np.zeros_like(state.place)
    distance = residual
    best, best_error = state, np.full(len(state.alpha), np.inf)
    going = np.ones(len(state.alpha), dtype=np.bool_)
    trial = state
    for turn in range(rounds + 1):
        place, gap, ordered = _projected(_controls(q, trial), q.target, trial.place, twice=turn in (0, rounds))
        trial = trial._replace(place=place)
        far = np.sqrt(gap[0] ** 2 + gap[1] ** 2)
        error = np.where(ordered & going, far.max(axis=1), np.inf)
        best = _chosen(error < best_error, trial, best)
        best_error = np.minimum(error, best_error)
        if turn:  # each piece for itself: what is good enough stays, whatever others of the batch still need
            going &= ~(best_error <= enough)
        if turn == rounds or not going.any():
            break
        off = gap[0] * q.normal[0] + gap[1] * q.normal[1]
        total = np.where(ordered, (trial.weight * off * off).sum(axis=1), np.inf)
        down = (total <= squares) | (turn == 0)
        damping = np.where(down, damping * 0.1, np.maximum(damping * 30, 1e-3))
        here, squares = _chosen(down, trial, here), np.where(down, total, squares)
        residual, distance = np.where(down[:, None], off, residual), np.where(down[:, None], far, distance)
        if reweight:
            weight = here.weight * (distance / np.maximum(distance.max(axis=1, keepdims=True), 1e-300) + 0.05)
            here = here._replace(weight=weight / weight.max(axis=1, keepdims=True))
            squares = (here.weight * residual * residual).sum(axis=1)
        side = 1 - here.place
        j0 = 3 * side * side * here.place * along_head
        j1 = -3 * side * here.place * here.place * along_tail
        w0, w1 = here.weight * j0, here.weight * j1
        a, b, c = (w0 * j0).sum(axis=1), (w0 * j1).sum(axis=1), (w1 * j1).sum(axis=1)
        # a straight piece leaves its handles free: then they stay as they are
        a, c = a * (1 + damping) + 1e-12, c * (1 + damping) + 1e-12
        r0, r1 = -(w0 * residual).sum(axis=1), -(w1 * residual).sum(axis=1)
        det = a * c - b * b
        # a handle never shrinks or grows by more than half in one step: far from the answer the model is not trusted
        alpha = here.alpha + np.clip((c * r0 - b * r1) / det, -0.5 * here.alpha, 0.5 * here.alpha)
        beta = here.beta + np.clip((a * r1 - b * r0) / det, -0.5 * here.beta, 0.5 * here.beta)
        trial = here._replace(alpha=alpha, beta=beta)
    return best, best_error


def _chosen(mask: BoolArray, yes: _State, no: _State) -> _State:
    wide = mask[:, None]
    return _State(
        np.where(mask, yes.alpha, no.alpha),
        np.where(mask, yes.beta, no.beta),
        np.where(wide, yes.place, no.place),
        np.where(wide, yes.weight, no.weight),
    )


def _projected(controls: Array, target: Array, place: Array, *, twice: bool) -> tuple[Array, Array, BoolArray]:
    """Places on cubics nearest to targets (2, m, K) (a Newton step, or two), the gaps there, (2, m, K) too, and whether
    they stand in order."""
    p0, p1, p2, p3 = np.ascontiguousarray(controls.transpose(1, 2, 0))[..., None]
    c0, c1, c2, c3 = p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)
    for _ in range(2 if twice else 1):
        gap = ((c3 * place + c2) * place + c1) * place + c0 - target
        pace = (3 * c3 * place + 2 * c2) * place + c1
        down = gap[0] * pace[0] + gap[1] * pace[1]
        size = pace[0] ** 2 + pace[1] ** 2
        place = np.clip(place - down / np.maximum(size, 1e-300), 0.0, 1.0)
    gap = ((c3 * place + c2) * place + c1) * place + c0 - target
    return place, gap, np.all(place[:, 1:] >= place[:, :-1], axis=1)

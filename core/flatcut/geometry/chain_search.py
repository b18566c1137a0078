"""Many chains of cubics brought near their points together, by least squares.

What a small fit costs is the number of numpy calls. Here one call serves the points of all chains: they stand in one
flat array, each with its foot, a place on its own chain. The search is Gauss and Newton's on the distances square to
the curve, damped for each chain by itself, with the feet found anew in every step.

Both handles at a node share its direction, which makes a chain G1. Each node is one row of unknowns: its place, the
turn of its direction, and the logarithms of the handles after and before it, over a third of their cubic's length. A
node that ends one cubic and begins the next is one row, and so is that which closes a ring.
"""

from __future__ import annotations

from functools import cached_property
from itertools import pairwise

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints

HANDLE_REST = 0.1
"""Pull of handles back to a third of their cubic's length, in tolerances: smaller, and a handle shrinks to nothing to
follow the roughness of the points, which turns the end of the curve by degrees; larger, and curves get more cubics."""
REST = 0.01
"""Pull of places and directions back to the first guess, in whole lengths and radians, so that a joint does not slide
to and fro along a curve that it leaves unchanged."""
HANDLES = (-3.5, 2.0)
"""Range of the logarithms of the handles: from a hundredth of a cubic's length to more than twice it."""
STEPS = 14
"""Steps of the search for one fit. One that is not there by then is seldom within the tolerance in the end."""
SETTLED = 1e-3
"""The search ends when a step lowers the sum of squares by less than this part of it."""
MOST_DAMPING = 1e8
PROBE = 0.1
"""The part of a step at which the residuals' bend along it is taken."""
TRUSTED = 0.75
"""A correction longer than this part of the step says that the step is too long."""
ASTRAY, SLOW = 1.5, 0.05
"""Where the mean square of the distances is more than so many tolerances', and a step takes less than this part of it,
the search ends too: more cubics are needed."""
FOOT_STEPS, NEXT = 4, 1e-2
"""Newton steps for the feet in one evaluation, and how short one must be, in parameters, to be the last: what is left
is about its square, and the distance changes with the square of that."""
FARTHEST = 0.2
"""No step of a foot is longer, in parameters of its cubic."""

X, Y, TURN, OUT, BACK = UNKNOWNS = range(5)
PLACE, WAY, TURNED, HANDLE = slice(0, 2), slice(2, 4), 4, slice(5, 7)
"""The rows of a state (7, V): place of each node, unit direction there, what that has turned by since the first guess,
radians, logarithms of the handles after and before it."""


_POWERS = np.array([[1.0, 0, 0, 0], [-3, 3, 0, 0], [3, -6, 3, 0], [-1, 3, -3, 1]])
"""What the four controls of a cubic give to the powers of its parameter."""


class Chains:
    """B chains of S cubics with V nodes in all, near N points.

    points: (2, N); own, span_own, node_own: the chain of each point, cubic and node, in order; start, end: (S,) nodes
    of the cubics; thirds: (S,) of their lengths; size, tolerance: (B,) mm; weight: (N,) of the points, 1 on average in
    each chain; free: (V, 5) which unknowns there are; first: (7, V) the first guess, to which nodes are held.
    """

    def __init__(
        self,
        points: Array,
        own: Ints,
        span_own: Ints,
        node_own: Ints,
        start: Ints,
        end: Ints,
        thirds: Array,
        size: Array,
        tolerance: Array,
        weight: Array,
        free: BoolArray,
        first: Array,
    ) -> None:
        self.points, self.own, self.span_own, self.node_own = points, own, span_own, node_own
        self.start, self.end, self.thirds, self.size, self.tolerance = start, end, thirds, size, tolerance
        self.weight, self.free, self.first = weight, free, first
        spans = np.bincount(span_own)
        span_first = np.cumsum(spans) - spans
        self.last, self.base = (spans - 1)[own], span_first[own]
        self.high = self.last + 1.0

    def part(self, kept: BoolArray) -> Chains:
        """Some of the chains, those of (B,)."""
        number = np.cumsum(kept) - 1
        points, spans, nodes = kept[self.own], kept[self.span_own], kept[self.node_own]
        node = np.cumsum(nodes) - 1
        return Chains(
            self.points[:, points],
            number[self.own[points]],
            number[self.span_own[spans]],
            number[self.node_own[nodes]],
            node[self.start[spans]],
            node[self.end[spans]],
            self.thirds[spans],
            self.size[kept],
            self.tolerance[kept],
            self.weight[points],
            self.free[nodes],
            self.first[:, nodes],
        )

    def of_points(self, kept: BoolArray, chains: BoolArray) -> Chains:
        """Some of the chains, (B,) of them, near some of the points, (N,) of them."""
        return self._with(self.points[:, kept], self.own[kept], self.weight[kept]).part(chains)

    def near(self, points: Array, own: Ints) -> Chains:
        """The same near other points (2, N) of chains (N,)."""
        return self._with(points, own, np.ones(len(own)))

    def weighted(self, weight: Array) -> Chains:
        """The same with other weights (N,)."""
        return self._with(self.points, self.own, weight)

    def _with(self, points: Array, own: Ints, weight: Array) -> Chains:
        ends = self.span_own, self.node_own, self.start, self.end, self.thirds, self.size, self.tolerance
        return Chains(points, own, *ends, weight, self.free, self.first)

    def of_cubics(self, values: Array, k: Ints) -> Array:
        """Values (..., S) of cubics, for points by their cubics (N,). To repeat is many times as quick as to pick."""
        if (k[1:] >= k[:-1]).all():
            return np.repeat(values, np.bincount(k, minlength=values.shape[-1]), axis=-1)
        return values.take(k, axis=-1, mode="clip")

    def products(self, rows: Array, k: Ints) -> Array:
        """Products (S, r, r) of rows (r, N), summed over the points of each cubic; k: (N,) the points' cubics."""
        if (k[1:] < k[:-1]).any():
            rows = rows[:, np.argsort(k, kind="stable")]
        ends = np.cumsum(np.bincount(k, minlength=len(self.start))).tolist()
        return np.array([rows[:, a:b] @ rows[:, a:b].T for a, b in pairwise([0, *ends])])

    @cached_property
    def _rows(self) -> tuple[int, Ints, Ints, Ints]:
        """How many unknowns a chain has room for, P; where each node's (V, 5) stand among those of all; and where those
        of each cubic (S, 8) and products of two of them (S, 8, 8) do."""
        nodes = np.bincount(self.node_own)
        most = int(nodes.max()) * len(UNKNOWNS)
        local = (np.arange(len(self.node_own)) - (np.cumsum(nodes) - nodes)[self.node_own]) * len(UNKNOWNS)
        a, b = local[self.start], local[self.end]
        columns = np.stack([a + OUT, b + BACK, a + X, a + Y, b + X, b + Y, a + TURN, b + TURN], axis=1)
        vector = self.span_own[:, None] * most + columns
        of_nodes = (self.node_own * most + local)[:, None] + np.arange(len(UNKNOWNS))
        return most, of_nodes, vector, vector[:, :, None] * most + columns[:, None, :]

    @property
    def unknowns(self) -> int:
        """Room for the unknowns of a chain, P."""
        return self._rows[0]

    @cached_property
    def _free(self) -> Array:
        """1 for what is an unknown (B, P), else 0."""
        free = np.zeros(len(self.size) * self.unknowns)
        free[self._rows[1]] = self.free
        return free.reshape(len(self.size), -1)

    @cached_property
    def _rest(self) -> Array:
        """Squares of the pulls (V, 5)."""
        rest = np.full((len(self.node_own), len(UNKNOWNS)), REST**2)
        rest[:, X : Y + 1] /= (self.size**2)[self.node_own][:, None]
        rest[:, OUT:] = HANDLE_REST**2
        return np.where(self.free, rest, 0.0)

    @cached_property
    def factor(self) -> Array:
        """What distances (N,) are multiplied by: their mean square counts, in tolerances."""
        return np.sqrt(self.weight) * (1 / (np.sqrt(np.bincount(self.own)) * self.tolerance))[self.own]

    def controls(self, state: Array) -> Array:
        """Control points (4, 2, S)."""
        controls = np.empty((4, 2, len(self.start)))
        controls[0], controls[3] = state[PLACE, self.start], state[PLACE, self.end]
        controls[1:3] = controls[::3] + self._reaches(state)
        return controls

    def _reaches(self, state: Array) -> Array:
        """The ways (2, 2, S) from a cubic's first node to its handle, and from its last."""
        reach = np.exp(state[HANDLE])
        reaches = np.empty((2, 2, len(self.start)))
        reaches[0] = state[WAY, self.start] * (self.thirds * reach[0, self.start])
        reaches[1] = state[WAY, self.end] * (-self.thirds * reach[1, self.end])
        return reaches

    def distances(self, state: Array, feet: Array, *, steps: int) -> tuple[Array, Array]:
        """Feet (N,) of the points, from guesses of them, and distances, mm."""
        feet, gap, _, _, _ = self._at_feet(state, feet, steps)
        return feet, np.sqrt(gap[0] * gap[0] + gap[1] * gap[1])

    def _at_feet(self, state: Array, feet: Array, steps: int) -> tuple[Array, Array, Array, Ints, Array]:
        """Feet, the ways (2, N) from the points there, first derivatives there, numbers of cubics and parameters."""
        powers = (_POWERS @ self.controls(state).reshape(4, -1)).reshape(4, 2, -1)
        before: Ints | None = None
        while True:
            local = np.minimum(feet.astype(np.intp), self.last)
            t = feet - local
            if before is None or not np.array_equal(local, before):
                k, before = self.base + local, local
                c0, c1, c2, c3 = self.of_cubics(powers, k)
                c0 = c0 - self.points
            cubed = c3 * t
            gap = c0 + t * (c1 + t * (c2 + cubed))
            second = c2 + 3 * cubed
            along = c1 + t * (second + c2)
            if steps == 0:
                return feet, gap, along, k, t
            steps -= 1
            second = 2 * second
            speed = along[0] * along[0] + along[1] * along[1]
            bent = np.maximum(speed + gap[0] * second[0] + gap[1] * second[1], 0.3 * speed + 1e-300)
            step = (gap[0] * along[0] + gap[1] * along[1]) / bent
            if steps and max(step.max(), -step.min()) < NEXT:
                steps = 0
            feet = np.minimum(np.maximum(feet - np.minimum(np.maximum(step, -FARTHEST), FARTHEST), 0.0), self.high)

    def _normal(self, along: Array) -> Array:
        """Unit normals (2, N) times the factors of the points."""
        scale = self.factor / np.sqrt(along[0] * along[0] + along[1] * along[1] + 1e-300)
        normal = along[::-1] * scale
        normal[0] *= -1
        return np.asarray(normal)

    def slopes(self, state: Array, feet: Array, *, steps: int) -> tuple[Array, Array, Ints]:
        """Feet (N,), slopes of the points' residuals by the eight unknowns of their cubics and, last, the residuals
        themselves (9, N), and numbers of these cubics.

        At its foot the way to a point is square to the curve, so that the foot's own move does not count in the slopes.
        """
        feet, gap, along, k, t = self._at_feet(state, feet, steps)
        normal = self._normal(along)
        s = 1 - t
        rows = np.empty((9, len(t)))
        out, back = self.of_cubics(self._reaches(state), k)
        for (x, y), weight, by_log, by_turn in ((out, 3 * s * s * t, 0, 6), (back, 3 * s * t * t, 1, 7)):
            rows[by_log] = weight * (normal[0] * x + normal[1] * y)
            rows[by_turn] = weight * (normal[1] * x - normal[0] * y)
        rows[2:4] = (s * s * (1 + 2 * t)) * normal
        rows[4:6] = normal - rows[2:4]
        rows[8] = normal[0] * gap[0] + normal[1] * gap[1]
        return feet, rows, k

    def normal_equations(self, state: Array, feet: Array, *, steps: int) -> tuple[Array, Array, Array, Array]:
        """Feet (N,), JᵀJ (B, P, P), Jᵀr (B, P) and r·r (B,) of the residuals r and their slopes J by the unknowns."""
        feet, rows, k = self.slopes(state, feet, steps=steps)
        return feet, *self._gathered(state, self.products(rows, k))

    def bend(self, state: Array, feet: Array, step: Array) -> Array:
        """Jᵀ (B, P) times the residuals' second derivative along a step (B, P)."""
        _, _, vector, _ = self._rows
        _, rows, k = self.slopes(state, feet, steps=0)
        _, gap, along, _, _ = self._at_feet(self.stepped(state, PROBE * step), feet, FOOT_STEPS)
        ahead = (self._normal(along) * gap).sum(axis=0)
        straight = (rows[:8] * self.of_cubics(step.ravel()[vector].T, k)).sum(axis=0)
        rows[8] = 2 / PROBE * ((ahead - rows[8]) / PROBE - straight)
        blocks = self.products(rows, k)[:, :8, 8]
        return np.asarray(np.bincount(vector.ravel(), blocks.ravel(), step.size).reshape(step.shape) * self._free)

    def _gathered(self, state: Array, blocks: Array) -> tuple[Array, Array, Array]:
        """The same from products (S, 9, 9) of each cubic's own eight slopes and residuals, and what holds the nodes."""
        room, of_nodes, vector, products = self._rows
        moved = (state[[0, 1, 4, 5, 6]] - self.first[[0, 1, 4, 5, 6]] * [[1], [1], [0], [0], [0]]).T
        pulled = self._rest * moved
        held, pull = np.zeros((2, *self._free.shape))
        held.reshape(-1)[of_nodes], pull.reshape(-1)[of_nodes] = self._rest, pulled
        matrix, slope = assembled(blocks, vector, products, self._free)
        matrix[:, np.arange(room), np.arange(room)] += held
        cost = np.bincount(self.span_own, blocks[:, 8, 8]) + np.bincount(self.node_own, (pulled * moved).sum(axis=1))
        return matrix, slope[:, :, 0] + pull, np.asarray(cost, dtype=np.float64)

    def stepped(self, state: Array, step: Array) -> Array:
        """The state after a step (B, P)."""
        x, y, turn, out, back = step.ravel()[self._rows[1]].T
        cosine, sine = np.cos(turn), np.sin(turn)
        _, _, ahead, aside, *_ = state
        moved = np.array([x, y, cosine * ahead - sine * aside, sine * ahead + cosine * aside, turn, out, back])
        moved[PLACE] += state[PLACE]
        moved[TURNED:] += state[TURNED:]
        moved[HANDLE] = np.minimum(np.maximum(moved[HANDLE], HANDLES[0]), HANDLES[1])
        return np.asarray(moved)


def assembled(blocks: Array, vector: Ints, products: Ints, free: Array) -> tuple[Array, Array]:
    """Normal matrices (B, P, P) and right sides (B, P, r) of systems, from products (S, c + r, c + r) of each cubic's
    own c slopes and r right sides.

    vector, products: where these stand among those of all, (S, c) and (S, c, c); free: (B, P) 1 for unknowns, else 0.
    """
    c = vector.shape[1]
    room = free.shape[1]
    matrix = np.bincount(products.ravel(), blocks[:, :c, :c].ravel(), free.size * room).reshape(-1, room, room)
    sides = [np.bincount(vector.ravel(), side.ravel(), free.size) for side in np.moveaxis(blocks[:, :c, c:], 2, 0)]
    return matrix * free[:, :, None] * free[:, None, :], np.stack(sides, axis=1).reshape(*free.shape, -1) * free[
        :, :, None
    ]


def _damped(matrix: Array, damping: Array) -> Array:
    """JᵀJ + m diag JᵀJ (B, P, P), with m (B,)."""
    every = np.arange(matrix.shape[1])
    own: Array = matrix[:, every, every]
    damped: Array = matrix.copy()
    # the row of what is no unknown is empty
    least = 1e-12 * own.max(axis=1)[:, None]
    damped[:, every, every] = np.where(own > 0, (1 + damping[:, None]) * own + least, 1.0)
    return damped


def _solved(matrix: Array, right: Array) -> Array:
    return np.asarray(np.linalg.solve(matrix, right[:, :, None])[:, :, 0])


def polished(chains: Chains, state: Array, feet: Array) -> tuple[Array, Array, Array]:
    """One whole step from where a search among some of the points has ended, for all of them: the state, the points'
    feet and their distances, mm. It is taken where it helps."""
    feet, matrix, slope, cost = chains.normal_equations(state, feet, steps=0)
    trial = chains.stepped(state, _solved(_damped(matrix, np.zeros(len(cost))), -slope))
    at, away = chains.distances(trial, feet, steps=1)
    worse = ~(np.bincount(chains.own, (chains.factor * away) ** 2) <= cost)
    if worse.any():
        state = np.where(worse[chains.node_own], state, trial)
        return state, *chains.distances(state, np.where(worse[chains.own], feet, at), steps=1)
    return trial, at, away


def searched(chains: Chains, state: Array, feet: Array) -> tuple[Array, Array]:
    """The state (7, V) of chains at a local minimum of the sums of their squared distances, and the points' feet (N,).

    The step v solves (JᵀJ + m diag JᵀJ) v = -Jᵀr. The damping m falls after a step that helped and rises after one that
    did not (D. Marquardt, An algorithm for least-squares estimation of nonlinear parameters, SIAM J. 11, 1963). A
    valley that bends makes such steps short: from a chain's first step on that did not help, the residuals' second
    derivative along v, from one more evaluation, bends the step with it (M. Transtrum and J. Sethna, Improvements to
    the Levenberg-Marquardt algorithm, 2012, section 4). A chain that is there leaves the search.
    """
    found, found_feet, left, whole = state.copy(), feet.copy(), np.ones(len(chains.size), dtype=np.bool_), chains
    feet, matrix, slope, cost = chains.normal_equations(state, feet, steps=FOOT_STEPS)
    damping, bent = np.full(len(cost), 1e-3), np.zeros(len(cost), dtype=np.bool_)
    for turn in range(STEPS):
        damped = _damped(matrix, damping)
        step = _solved(damped, -slope)
        trusted = np.ones(len(cost), dtype=np.bool_)
        if bent.any():
            some = chains if bent.all() else chains.part(bent)
            room = some.unknowns
            mine, own = step[bent, :room], damped[bent, :room, :room]
            bend = some.bend(state[:, bent[chains.node_own]], feet[bent[chains.own]], mine)
            correction = -0.5 * _solved(own, bend)
            scale = np.einsum("bii->bi", own)
            trusted[bent] = (scale * correction**2).sum(axis=1) < TRUSTED**2 * (scale * mine**2).sum(axis=1)
            step[bent, :room] += correction
        trial = chains.stepped(state, step)
        at, trial_matrix, trial_slope, trial_cost = chains.normal_equations(trial, feet, steps=FOOT_STEPS)
        better = trusted & (trial_cost < cost)
        bent |= ~better
        settled = cost - trial_cost <= np.where(trial_cost > ASTRAY, SLOW, SETTLED) * cost
        done = np.where(better, settled, damping > MOST_DAMPING) | (turn == STEPS - 1)
        state, feet = np.where(better[chains.node_own], trial, state), np.where(better[chains.own], at, feet)
        matrix = np.where(better[:, None, None], trial_matrix, matrix)
        slope, cost = np.where(better[:, None], trial_slope, slope), np.where(better, trial_cost, cost)
        damping = np.where(better, np.maximum(damping / 5, 1e-12), damping * 4)
        if not done.any():
            continue
        there = left.copy()
        there[left] = done
        found[:, there[whole.node_own]] = state[:, done[chains.node_own]]
        found_feet[there[whole.own]] = feet[done[chains.own]]
        left &= ~there
        if not left.any():
            break
        state, feet = state[:, ~done[chains.node_own]], feet[~done[chains.own]]
        chains = chains.part(~done)
        room = chains.unknowns
        matrix, slope = matrix[~done, :room, :room], slope[~done, :room]
        cost, damping, bent = cost[~done], damping[~done], bent[~done]
    return found, found_feet

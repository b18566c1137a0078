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
"""The search ends when a step lowers the mean square of the distances by less than this part of it ..."""
NEAR, ENOUGH = 0.1, 0.01
"""... or by this part where it is below so many tolerances', and what is left to gain is less than the roughness."""
FIRST_DAMPING, MOST_DAMPING = 1e-3, 1e8
LEAVING = 0.5
"""When this part of the chains in a search are there, they leave it: to sort them out takes about a step's time."""
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

    def of_points(self, kept: Ints, chains: BoolArray) -> Chains:
        """Some of the chains, (B,) of them, near some of the points, given by their numbers."""
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
        """As `unknowns_of` its nodes (V, 5), and where the unknowns of each cubic (S, 8) and products of two of them
        (S, 8, 8) stand."""
        room, of_nodes = unknowns_of(self.free, self.node_own)
        a, b = of_nodes[self.start], of_nodes[self.end]
        vector = np.concatenate(
            [a[:, [OUT]], b[:, [BACK]], a[:, :TURN], b[:, :TURN], a[:, [TURN]], b[:, [TURN]]], axis=1
        )
        return room, of_nodes, vector, products_of(vector, room)

    @property
    def unknowns(self) -> int:
        """Room for the unknowns of a chain, P."""
        return self._rows[0]

    @cached_property
    def _rest(self) -> Array:
        """Squares of the pulls (V, 5)."""
        rest = np.full((len(self.node_own), len(UNKNOWNS)), REST**2)
        rest[:, X : Y + 1] /= (self.size**2)[self.node_own][:, None]
        rest[:, OUT:] = HANDLE_REST**2
        return np.where(self.free, rest, 0.0)

    @cached_property
    def _held(self) -> Array:
        """The same by unknowns, (B, P)."""
        held = np.bincount(self._rows[1].ravel(), self._rest.ravel(), len(self.size) * self.unknowns)
        return np.asarray(held, dtype=np.float64)

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
        moving: BoolArray | None = None
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
            # each foot comes to rest by itself, whatever others stand beside it
            if moving is not None:
                step *= moving
            moving = np.abs(step) >= NEXT
            if steps and not moving.any():
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

    def normal_equations(self, state: Array, rows: Array, k: Ints) -> tuple[Array, Array, Array]:
        """JᵀJ (B, P, P), Jᵀr (B, P) and r·r (B,) of the residuals r and their slopes J by the unknowns, from those of
        the points, as `slopes` gives them, and of what holds the nodes."""
        return self._gathered(state, self.products(rows, k))

    def bend(self, state: Array, feet: Array, step: Array, rows: Array, k: Ints) -> Array:
        """Jᵀ (B, P) times the residuals' second derivative along a step (B, P)."""
        _, _, vector, _ = self._rows
        _, gap, along, _, _ = self._at_feet(self.stepped(state, PROBE * step), feet, FOOT_STEPS)
        ahead = (self._normal(along) * gap).sum(axis=0)
        straight = (rows[:8] * self.of_cubics(step.ravel()[vector].T, k)).sum(axis=0)
        bent = 2 / PROBE * ((ahead - rows[8]) / PROBE - straight)
        blocks = self.products(np.vstack([rows[:8], bent]), k)[:, :8, 8]
        bend = np.bincount(vector.ravel(), blocks.ravel(), step.size).reshape(step.shape)
        bend[:, -1] = 0.0
        return np.asarray(bend)

    def _gathered(self, state: Array, blocks: Array) -> tuple[Array, Array, Array]:
        """The same from products (S, 9, 9) of each cubic's own eight slopes and residuals, and what holds the nodes."""
        room, of_nodes, vector, products = self._rows
        moved = (state[[0, 1, 4, 5, 6]] - self.first[[0, 1, 4, 5, 6]] * [[1], [1], [0], [0], [0]]).T
        pulled = self._rest * moved
        count = len(self.size)
        matrix, slope = assembled(blocks, vector, products, (count, room))
        every = np.arange(room)
        matrix[:, every, every] += self._held.reshape(count, room)
        slope = slope[:, :, 0] + np.bincount(of_nodes.ravel(), pulled.ravel(), count * room).reshape(count, room)
        cost = np.bincount(self.span_own, blocks[:, 8, 8]) + np.bincount(self.node_own, (pulled * moved).sum(axis=1))
        return matrix, slope, np.asarray(cost, dtype=np.float64)

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


def unknowns_of(free: BoolArray, own: Ints) -> tuple[int, Ints]:
    """Room for the unknowns of each chain, P, and where those of its nodes (V, c) stand among those of all. What is no
    unknown shares the last place of its chain, which stays empty."""
    flat, owner = free.ravel(), np.repeat(own, free.shape[1])
    counts = np.bincount(own, free.sum(axis=1)).astype(np.intp)
    room = int(counts.max()) + 1
    place = np.where(flat, np.cumsum(flat) - 1 - (np.cumsum(counts) - counts)[owner], room - 1)
    return room, (owner * room + place).reshape(free.shape)


def products_of(vector: Ints, room: int) -> Ints:
    """Where products (S, c, c) of two unknowns (S, c) stand in the matrices of all chains."""
    return np.asarray(vector[:, :, None] * room + (vector % room)[:, None, :])


def assembled(blocks: Array, vector: Ints, products: Ints, shape: tuple[int, int]) -> tuple[Array, Array]:
    """Normal matrices (B, P, P) and right sides (B, P, r) of chains, from products (S, c + r, c + r) of each cubic's
    own c slopes and r right sides, and where these stand; shape: B and P."""
    (count, room), c = shape, vector.shape[1]
    found = np.bincount(products.ravel(), blocks[:, :c, :c].ravel(), count * room * room)
    matrix = np.asarray(found, dtype=np.float64).reshape(count, room, room)
    sides = [np.bincount(vector.ravel(), side.ravel(), count * room) for side in np.moveaxis(blocks[:, :c, c:], 2, 0)]
    right = np.array(sides, dtype=np.float64).T.reshape(count, room, -1)
    matrix[:, -1], matrix[:, :, -1], right[:, -1] = 0.0, 0.0, 0.0
    return matrix, right


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


def searched(chains: Chains, state: Array, feet: Array) -> tuple[Array, Array]:
    """The state (7, V) of chains at a local minimum of the sums of their squared distances, and the points' feet (N,).

    The step v solves (JᵀJ + m diag JᵀJ) v = -Jᵀr. The damping m falls after a step that helped and rises after one that
    did not (D. Marquardt, An algorithm for least-squares estimation of nonlinear parameters, SIAM J. 11, 1963). A
    valley that bends makes such steps short: where joints can slide, and from a chain's first step on that did not
    help, the residuals' second derivative along v, from one more evaluation, bends the step with it (M. Transtrum and
    J. Sethna, Improvements to the Levenberg-Marquardt algorithm, 2012, section 4). Chains that are there leave.
    """
    found, found_feet, whole = state.copy(), feet.copy(), chains
    number = np.arange(len(chains.size))
    feet, rows, k = chains.slopes(state, feet, steps=FOOT_STEPS)
    matrix, slope, cost = chains.normal_equations(state, rows, k)
    damping, done = np.full(len(cost), FIRST_DAMPING), np.zeros(len(cost), dtype=np.bool_)
    bent = np.bincount(chains.span_own) > 1
    for _ in range(STEPS):
        damped = _damped(matrix, damping)
        step = _solved(damped, -slope)
        least = np.select([cost > ASTRAY, cost < NEAR], [SLOW, ENOUGH], SETTLED) * cost
        # a whole step that has nothing to gain is not taken
        done |= (damping <= FIRST_DAMPING) & (-(slope * step).sum(axis=1) <= least)
        if done.all():
            break
        if done.mean() >= LEAVING:
            there, left = np.isin(np.arange(len(whole.size)), number[done]), ~done
            found[:, there[whole.node_own]] = state[:, done[chains.node_own]]
            found_feet[there[whole.own]] = feet[done[chains.own]]
            points = left[chains.own]
            state, feet, rows = state[:, left[chains.node_own]], feet[points], rows[:, points]
            k = (np.cumsum(left[chains.span_own]) - 1)[k[points]]
            chains = chains.part(left)
            room = chains.unknowns
            matrix, damped = matrix[left, :room, :room], damped[left, :room, :room]
            slope, step, least, number = slope[left, :room], step[left, :room], least[left], number[left]
            cost, damping, bent, done = cost[left], damping[left], bent[left], done[left]
        trusted = True
        if bent.any():
            correction = np.where(bent[:, None], -0.5 * _solved(damped, chains.bend(state, feet, step, rows, k)), 0.0)
            scale = np.einsum("bii->bi", damped)
            trusted = (scale * correction**2).sum(axis=1) <= TRUSTED**2 * (scale * step**2).sum(axis=1)
            step += correction
        trial = chains.stepped(state, step)
        at, trial_rows, at_k = chains.slopes(trial, feet, steps=FOOT_STEPS)
        trial_matrix, trial_slope, trial_cost = chains.normal_equations(trial, trial_rows, at_k)
        # what is there waits for the others as it is, so that it is the same in any company
        better = trusted & (trial_cost < cost) & ~done
        bent |= ~better
        done |= np.where(better, cost - trial_cost <= least, damping > MOST_DAMPING)
        taken = better[chains.own]
        state, feet = np.where(better[chains.node_own], trial, state), np.where(taken, at, feet)
        rows, k = np.where(taken, trial_rows, rows), np.where(taken, at_k, k)
        matrix = np.where(better[:, None, None], trial_matrix, matrix)
        slope, cost = np.where(better[:, None], trial_slope, slope), np.where(better, trial_cost, cost)
        damping = np.where(better, np.maximum(damping / 5, 1e-12), damping * 4)
    there = np.isin(np.arange(len(whole.size)), number)
    found[:, there[whole.node_own]], found_feet[there[whole.own]] = state, feet
    return found, found_feet

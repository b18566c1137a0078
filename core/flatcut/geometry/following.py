"""A chain of cubics, smooth by construction, that follows points: its unknowns, distances, and their derivatives.

The unknowns are the handle lengths (as logarithms, so that no handle turns back), the places of the inner joints, and
the directions of joints and free ends; both handles at a joint share its direction, which makes the chain G1. `fair`
adds what makes a curve fair, `fit_points` takes it as it is.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, ComplexArray, as_complex
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.levenberg import Residuals, least_squares
from flatcut.geometry.nearest import nearest

HANDLES = (-3.5, 2.0)
"""Range of the logarithms of the handles: from a hundredth of a cubic's length to more than twice it."""
FOOT_STEPS = 4
"""Newton steps for the feet of the points in one evaluation; they go on from the feet of the last."""
REST = 0.01
"""Pull of the unknowns back to the first guess, so that a joint does not slide to and fro along a curve that it leaves
unchanged: moving by a tenth of the whole length costs a millionth of a deviation of the whole distance."""
NEXT = 1e-4
"""A Newton step of a foot shorter than this, in parameters of its cubic, is the last."""
NEAR = 0.2
"""Unknowns that differ by less have feet so near that Newton steps lead from the ones to the others."""
STALLED = 0.98
"""A round of reweighting that leaves more than this part of the largest distance is the last."""

Minimiser = Callable[[Residuals, Array], Array]


class Following:
    """A chain of n cubics near points (k, 2), which the chain meets in the order of its own direction.

    nodes, directions: first guesses of the n + 1 nodes and of the unit tangents there; lengths: (n,) of each cubic;
    turning: (n + 1,) which of the directions are unknowns; ring: whether the last node is the first, tangent included;
    unit_of_distance: mm that count as one; handle_rest: pull of the handles back to a third of their cubic's length.
    The first and last node stay. Unknowns x, all of them nought at the first guess: log of each handle over a third of
    its cubic's length (2 n); x and y of each inner node, in whole lengths; the turn of each free direction in radians.
    """

    def __init__(
        self,
        samples: Array,
        nodes: Array,
        directions: Array,
        lengths: Array,
        turning: BoolArray,
        *,
        ring: bool = False,
        unit_of_distance: float = 1.0,
        handle_rest: float = REST,
    ) -> None:
        self.samples, self.nodes, self.directions = samples, nodes, directions
        self.thirds, self.size, self.parts = lengths / 3, float(lengths.sum()), len(lengths)
        n = self.parts
        place_columns = np.full(n + 1, -1)
        place_columns[1:-1] = 2 * n + 2 * np.arange(n - 1)
        turn_columns = np.full(n + 1, -1)
        free = np.flatnonzero(turning[:-1] if ring else turning)
        turn_columns[free] = 4 * n - 2 + np.arange(len(free))
        if ring:
            turn_columns[-1] = turn_columns[0]
        self.unknowns = 4 * n - 2 + len(free)
        self.unit_of_distance = unit_of_distance
        self.rest = np.full(self.unknowns, REST)
        self.rest[: 2 * n] = handle_rest
        self.weights = np.ones(len(samples))
        self.feet = np.zeros(len(samples))
        self.feet_of: Array | None = None
        self._flat = as_complex(samples), as_complex(nodes), as_complex(directions)
        self._turns, self._turn_columns = np.flatnonzero(turn_columns >= 0), turn_columns[turn_columns >= 0]
        # which cubics turn about their start, and which about their end, with the unknowns of these turns
        self._out = np.flatnonzero(turn_columns[:-1] >= 0), turn_columns[:-1][turn_columns[:-1] >= 0]
        self._back = np.flatnonzero(turn_columns[1:] >= 0), turn_columns[1:][turn_columns[1:] >= 0]
        # what an inner node's place does to the controls beside it
        self._placed = np.zeros((n, 4, self.unknowns), dtype=np.complex128)
        for node in range(1, n):
            for axis, way in ((0, self.size), (1, 1j * self.size)):
                self._placed[node - 1, 2:, place_columns[node] + axis] = way
                self._placed[node, :2, place_columns[node] + axis] = way

    def controls(self, x: Array, *, slopes: bool = True) -> tuple[ComplexArray, ComplexArray]:
        """Controls (n, 4) as complex numbers and their derivatives (n, 4, p); with p = 0 where these are not wanted."""
        n = self.parts
        _, nodes, direction = self._flat
        if n > 1:
            nodes = nodes.copy()
            nodes[1:-1] += as_complex(x[2 * n : 4 * n - 2].reshape(-1, 2)) * self.size
        if len(self._turns):
            direction = direction.copy()
            direction[self._turns] *= np.exp(1j * x[self._turn_columns])
        log = np.minimum(np.maximum(x[: 2 * n], HANDLES[0]), HANDLES[1])
        reach = np.exp(log).reshape(n, 2) * self.thirds[:, None]
        out, back = reach[:, 0] * direction[:-1], reach[:, 1] * direction[1:]
        result = np.empty((n, 4), dtype=np.complex128)
        result[:, 0], result[:, 3] = nodes[:-1], nodes[1:]
        result[:, 1], result[:, 2] = nodes[:-1] + out, nodes[1:] - back
        if not slopes:
            return result, np.zeros((n, 4, 0), dtype=np.complex128)
        slope, row = self._placed.copy(), np.arange(n)
        free = (log == x[: 2 * n]).reshape(n, 2)
        slope[row, 1, 2 * row], slope[row, 2, 2 * row + 1] = out * free[:, 0], -back * free[:, 1]
        slope[self._out[0], 1, self._out[1]] = 1j * out[self._out[0]]
        slope[self._back[0], 2, self._back[1]] = -1j * back[self._back[0]]
        return result, slope

    def curve(self, x: Array) -> Curve:
        """The chain itself."""
        controls = self.controls(x, slopes=False)[0]
        return Curve(controls.view(np.float64).reshape(-1, 4, 2), np.zeros(len(controls), dtype=np.bool_))

    def distances(self, x: Array) -> Array:
        """How far each point is from the chain, mm; the feet are kept for a search from `x` on.

        The feet of unknowns near `x` lead to those at `x`; from others the whole chain is searched.
        """
        if self.feet_of is not None and np.abs(x - self.feet_of).max() < NEAR:
            controls = self.controls(x, slopes=False)[0]
            self.feet = self._project(controls, self.feet)
            gap = point(self.curve(x), self.feet) - self.samples
            away = np.hypot(gap[:, 0], gap[:, 1])
        else:
            self.feet, away = nearest(self.curve(x), self.samples)
        self.feet_of = x
        return away

    def weigh(self, distances: Array | None) -> None:
        """Weights of the points: all alike, or times their distances."""
        if distances is None:
            self.weights = np.ones(len(self.samples))
        else:
            raised = self.weights * (distances / distances.max() + 1e-3)
            self.weights = raised * len(raised) / raised.sum()

    @property
    def is_weighted(self) -> bool:
        """Whether some points weigh more than others."""
        return bool(np.ptp(self.weights) > 0)

    def residuals(self, stiffness: float | None) -> Residuals:
        """The function to be minimised; here it is only nearness that counts."""

        def evaluate(x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
            controls, slope = self.controls(x, slopes=slopes)
            rest, away = self.resting(x, slope), self.away(x, controls, slope, self.unit_of_distance)
            return np.concatenate([rest[0], away[0]]), np.concatenate([rest[1], away[1]])

        return evaluate

    def resting(self, x: Array, slope: ComplexArray) -> tuple[Array, Array]:
        """Residuals that pull the unknowns back to the first guess."""
        return self.rest * x, self.rest[:, None] * np.eye(len(x), slope.shape[-1])

    def away(
        self, x: Array, controls: ComplexArray, slope: ComplexArray, unit_of_distance: float
    ) -> tuple[Array, Array]:
        """Signed distances of the samples along the curve's normal; their feet are kept as the next first guess.

        At its foot the way to a sample is square to the curve, so that the foot's own move does not count.
        """
        feet = self._project(controls, self.feet)
        self.feet, self.feet_of = feet, x
        index = np.minimum(feet.astype(np.intp), self.parts - 1)
        t = feet - index
        r = 1 - t
        row, count = np.arange(len(t)), len(t)
        basis, first = np.zeros((count, self.parts, 4)), np.zeros((count, self.parts, 4))
        rr, rt, tt = r * r, r * t, t * t
        basis[row, index] = np.stack([rr * r, 3 * rr * t, 3 * rt * t, tt * t], axis=1)
        first[row, index] = np.stack([-rr, rr - 2 * rt, 2 * rt - tt, tt], axis=1)
        flat = controls.reshape(-1)
        here, along = basis.reshape(count, -1) @ flat, first.reshape(count, -1) @ flat
        speed = np.abs(along)
        # conjugate of the unit normal, so that a product's real part is what lies along it
        normal = -1j * along.conj() / np.where(speed > 0, speed, 1.0)
        factor = np.sqrt(self.weights / len(self.weights)) / unit_of_distance
        moved = basis.reshape(count, -1) @ slope.reshape(4 * self.parts, slope.shape[-1])
        return factor * ((here - self._flat[0]) * normal).real, factor[:, None] * (moved * normal[:, None]).real

    def _project(self, controls: ComplexArray, feet: Array) -> Array:
        """Feet of the samples by a few Newton steps on (Q - S)·Q' = 0."""
        # Q = c0 + c1 t + c2 t² + c3 t³
        p0, p1, p2, p3 = (controls[:, k] for k in range(4))
        c = np.stack([p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)])
        samples = self._flat[0]
        for _ in range(FOOT_STEPS):
            index = np.minimum(feet.astype(np.intp), self.parts - 1)
            t = feet - index
            c0, c1, c2, c3 = c[:, index]
            gap = (c0 - samples + t * (c1 + t * (c2 + t * c3))).conj()
            d1, d2 = c1 + t * (2 * c2 + 3 * t * c3), 2 * c2 + 6 * t * c3
            speed = d1.real * d1.real + d1.imag * d1.imag
            bent = np.maximum(speed + (gap * d2).real, 0.3 * speed + 1e-300)
            step = (gap * d1).real / bent
            feet = np.minimum(np.maximum(feet - np.minimum(np.maximum(step, -0.2), 0.2), 0.0), self.parts)
            # the next step would be about the square of this one
            if np.abs(step).max() < NEXT:
                break
        return feet

    def solve(self, stiffness: float | None, x: Array, minimise: Minimiser = least_squares) -> Array:
        """Unknowns at the minimum next to `x`."""
        if self.feet_of is not x:
            self.distances(x)
        return minimise(self.residuals(stiffness), x)

    def minimax(
        self, stiffness: float | None, x: Array, *, within: float, rounds: int, minimise: Minimiser = least_squares
    ) -> tuple[Array, float]:
        """Unknowns `x`, bettered until all points are within a distance, and their largest distance.

        Least squares lets single points stick out. Where they do, each is weighted by its distance again and again,
        which drives the largest distance down (C. L. Lawson's method for the minimax fit, 1961).
        """
        best_x, best, last = x, np.inf, np.inf
        for left in range(rounds, -1, -1):
            away = self.distances(x)
            reached = float(away.max())
            if reached < best:
                best_x, best = x, reached
            if left == 0 or best <= within or reached > STALLED * last:
                break
            last = reached
            self.weigh(away)
            x = self.solve(stiffness, x, minimise)
        return best_x, best

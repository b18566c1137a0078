"""A chain of cubics, smooth by construction, that follows points: its unknowns, distances, and their derivatives.

The unknowns are the handle lengths (as logarithms, so that no handle turns back), the places of the inner joints, and
the directions of joints and free ends; both handles at a joint share its direction, which makes the chain G1. `fair`
adds what makes a curve fair, `fit_points` takes it as it is.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, unit
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
        self.place_columns = np.full(n + 1, -1)
        self.place_columns[1:-1] = 2 * n + 2 * np.arange(n - 1)
        self.turn_columns = np.full(n + 1, -1)
        free = np.flatnonzero(turning[:-1] if ring else turning)
        self.turn_columns[free] = 4 * n - 2 + np.arange(len(free))
        if ring:
            self.turn_columns[-1] = self.turn_columns[0]
        self.unknowns = 4 * n - 2 + len(free)
        self.unit_of_distance = unit_of_distance
        self.rest = np.full(self.unknowns, REST)
        self.rest[: 2 * n] = handle_rest
        self.weights = np.ones(len(samples))
        self.feet = np.zeros(len(samples))
        self.feet_of: Array | None = None

    def controls(self, x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
        """Controls (n, 4, 2) and their derivatives (n, 4, 2, p); with p = 0 where these are not wanted."""
        n, p = self.parts, len(x) if slopes else 0
        nodes = self.nodes.copy()
        nodes[1:-1] += x[2 * n : 4 * n - 2].reshape(-1, 2) * self.size
        angle = np.where(self.turn_columns >= 0, x[self.turn_columns], 0.0)
        cos, sin = np.cos(angle)[:, None], np.sin(angle)[:, None]
        square = np.stack([-self.directions[:, 1], self.directions[:, 0]], axis=1)
        direction, square = cos * self.directions + sin * square, cos * square - sin * self.directions
        log = np.clip(x[: 2 * n], *HANDLES)
        free = (log == x[: 2 * n]).reshape(n, 2)
        reach = np.exp(log).reshape(n, 2) * self.thirds[:, None]
        out, back = reach[:, :1] * direction[:-1], reach[:, 1:] * direction[1:]
        result = np.stack([nodes[:-1], nodes[:-1] + out, nodes[1:] - back, nodes[1:]], axis=1)
        slope = np.zeros((n, 4, 2, p))
        for i in range(n if slopes else 0):
            slope[i, 1, :, 2 * i], slope[i, 2, :, 2 * i + 1] = out[i] * free[i, 0], -back[i] * free[i, 1]
            for node, own, handle, pull in ((i, 0, 1, reach[i, 0]), (i + 1, 3, 2, -reach[i, 1])):
                place, turn = self.place_columns[node], self.turn_columns[node]
                if place >= 0:
                    for axis in (0, 1):
                        slope[i, own, axis, place + axis] = slope[i, handle, axis, place + axis] = self.size
                if turn >= 0:
                    slope[i, handle, :, turn] = pull * square[node]
        return result, slope

    def curve(self, x: Array) -> Curve:
        """The chain itself."""
        controls = self.controls(x, slopes=False)[0]
        return Curve(controls, np.zeros(len(controls), dtype=np.bool_))

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

    def resting(self, x: Array, slope: Array) -> tuple[Array, Array]:
        """Residuals that pull the unknowns back to the first guess."""
        return self.rest * x, self.rest[:, None] * np.eye(len(x), slope.shape[-1])

    def away(self, x: Array, controls: Array, slope: Array, unit_of_distance: float) -> tuple[Array, Array]:
        """Signed distances of the samples along the curve's normal; their feet are kept as the next first guess.

        At its foot the way to a sample is square to the curve, so that the foot's own move does not count.
        """
        feet = self._project(controls, self.feet)
        self.feet, self.feet_of = feet, x
        index = np.minimum(feet.astype(np.intp), self.parts - 1)
        t = feet - index
        r = 1 - t
        basis = np.stack([r * r * r, 3 * r * r * t, 3 * r * t * t, t * t * t], axis=1)
        first = np.stack([-r * r, r * r - 2 * r * t, 2 * r * t - t * t, t * t], axis=1)
        here = (basis[:, :, None] * controls[index]).sum(axis=1)
        along = unit((first[:, :, None] * controls[index]).sum(axis=1))
        normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
        factor = np.sqrt(self.weights / len(self.weights)) / unit_of_distance
        moved = np.einsum("kj,kjap,ka->kp", basis, slope[index], normal)
        return factor * ((here - self.samples) * normal).sum(axis=1), factor[:, None] * moved

    def _project(self, controls: Array, feet: Array) -> Array:
        """Feet of the samples by a few Newton steps on (Q - S)·Q' = 0."""
        # Q = c0 + c1 t + c2 t² + c3 t³
        p0, p1, p2, p3 = (controls[:, k] for k in range(4))
        c = np.stack([p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)])
        for _ in range(FOOT_STEPS):
            index = np.minimum(feet.astype(np.intp), self.parts - 1)
            t = (feet - index)[:, None]
            c0, c1, c2, c3 = c[:, index]
            gap = c0 + t * (c1 + t * (c2 + t * c3)) - self.samples
            d1, d2 = c1 + t * (2 * c2 + 3 * t * c3), 2 * c2 + 6 * t * c3
            speed = (d1 * d1).sum(axis=1)
            bent = np.maximum(speed + (gap * d2).sum(axis=1), 0.3 * speed + 1e-300)
            step = (gap * d1).sum(axis=1) / bent
            feet = np.minimum(np.maximum(feet - np.minimum(np.maximum(step, -0.2), 0.2), 0.0), self.parts)
            if np.abs(step).max() < 1e-6:
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

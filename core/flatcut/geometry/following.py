"""A chain of cubics, smooth by construction, that follows points: its unknowns, distances, and their derivatives.

The unknowns are the handle lengths (as logarithms, so that no handle turns back), the places of the inner joints, and
the directions of joints and free ends; both handles at a joint share its direction, which makes the chain G1. `fair`
adds what makes a curve fair.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, ComplexArray, as_complex
from flatcut.geometry.beside import projected
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.least_squares import Residuals, least_squares
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

_POWERS = np.array(
    [
        [[1, 0, 0, 0], [-3, 3, 0, 0], [3, -6, 3, 0], [-1, 3, -3, 1]],
        [[-3, 3, 0, 0], [6, -12, 6, 0], [-3, 9, -9, 3], [0, 0, 0, 0]],
        [[6, -12, 6, 0], [-6, 18, -18, 6], [0, 0, 0, 0], [0, 0, 0, 0]],
    ],
    dtype=float,
)
"""Weights of the four controls in a cubic and its first two derivatives, by powers of its parameter."""

Minimiser = Callable[[Residuals, Array], Array]


class Shape(NamedTuple):
    """Controls (n, 4) of a chain as complex numbers and their derivatives (n, 4, p); the ways (n,) from its first nodes
    to their handles and from its last nodes to theirs; which handles (n, 2) are free to change; and controls and
    derivatives side by side (4 n, 1 + p): what is linear in controls takes both alike."""

    controls: ComplexArray
    slope: ComplexArray
    out: ComplexArray
    back: ComplexArray
    free: BoolArray
    both: ComplexArray


class Part(NamedTuple):
    """Some of the residuals (m,); their slopes (m, p) by the unknowns; the slope of half their squares by the controls
    (n, 4); and what they add to the bend at a chain of given controls: leftᵀ · right and its transpose."""

    residuals: Array
    slopes: Array = np.zeros((0, 0))
    pull: ComplexArray = np.zeros((0, 4), dtype=np.complex128)
    left: Array | None = None
    right: Array | None = None


class Following:
    """A chain of n cubics near points (k, 2), which the chain meets in the order of its own direction.

    nodes, directions: first guesses of the n + 1 nodes and of the unit tangents there; lengths: (n,) of each cubic;
    turning: (n + 1,) which of the directions are unknowns; ring: whether the last node is the first, tangent included;
    unit_of_distance: mm that count as one; handle_rest: pull of the handles back to a third of their cubic's length.
    The first and last node stay. Unknowns x, all of them nought at the first guess: log of each handle over a third of
    its cubic's length (2 n); the way of each inner node along its first direction and across it, in whole lengths; the
    turn of each free direction in radians.
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
        self.resting = np.zeros(self.unknowns)
        self.weights = np.ones(len(samples))
        self.feet = np.zeros(len(samples))
        self.feet_of: Array | None = None
        self._rows = np.arange(n)
        self._flat = as_complex(samples), as_complex(nodes), as_complex(directions)
        self._turns, self._turn_columns = np.flatnonzero(turn_columns >= 0), turn_columns[turn_columns >= 0]
        self._plain = self._flat[1].tolist(), self._flat[2].tolist()
        self._plain_thirds = np.repeat(self.thirds, 2).tolist()
        self._turning = list(zip(self._turns.tolist(), self._turn_columns.tolist(), strict=True))
        # which cubics turn about their start, and which about their end, with the unknowns of these turns
        self._out = np.flatnonzero(turn_columns[:-1] >= 0), turn_columns[:-1][turn_columns[:-1] >= 0]
        self._back = np.flatnonzero(turn_columns[1:] >= 0), turn_columns[1:][turn_columns[1:] >= 0]
        self._bends = self._bends_of_handles()
        self._samples = np.arange(len(samples))
        # what an inner node's place does to the controls beside it
        self._placed = np.zeros((n, 4, self.unknowns), dtype=np.complex128)
        for node in range(1, n):
            ahead = self.size * self._flat[2][node]
            for axis, way in ((0, ahead), (1, 1j * ahead)):
                self._placed[node - 1, 2:, place_columns[node] + axis] = way
                self._placed[node, :2, place_columns[node] + axis] = way

    def _bends_of_handles(self) -> tuple[Array, Array, Array]:
        """What each handle's part (2 n) of the slope adds to the bend (p · p): by its own logarithm, its turn, both."""
        p = self.unknowns
        by_logs, by_turns, by_both = np.zeros((3, p, p, 2 * self.parts))
        logs = np.arange(2 * self.parts)
        by_logs[logs, logs, logs] = 1
        for side, (cubics, turns) in enumerate((self._out, self._back)):
            own = 2 * cubics + side
            by_turns[turns, turns, own] = -1
            by_both[own, turns, own] = by_both[turns, own, own] = -1
        return by_logs.reshape(p * p, -1), by_turns.reshape(p * p, -1), by_both.reshape(p * p, -1)

    def shape(self, x: Array, *, slopes: bool = True) -> Shape:
        """The chain at `x`; with p = 0 where derivatives are not wanted."""
        n = self.parts
        _, nodes, direction = self._flat
        if n > 1:
            nodes = nodes.copy()
            nodes[1:-1] += as_complex(x[2 * n : 4 * n - 2].reshape(-1, 2)) * direction[1:-1] * self.size
        if len(self._turns):
            direction = direction.copy()
            direction[self._turns] *= np.exp(1j * x[self._turn_columns])
        log = np.minimum(np.maximum(x[: 2 * n], HANDLES[0]), HANDLES[1])
        reach = np.exp(log).reshape(n, 2) * self.thirds[:, None]
        out, back = reach[:, 0] * direction[:-1], -reach[:, 1] * direction[1:]
        p = self.unknowns if slopes else 0
        both = np.empty((4 * n, 1 + p), dtype=np.complex128)
        result, slope = both[:, 0].reshape(n, 4), both[:, 1:].reshape(n, 4, p)
        result[:, 0], result[:, 3] = nodes[:-1], nodes[1:]
        result[:, 1], result[:, 2] = nodes[:-1] + out, nodes[1:] + back
        free = (log == x[: 2 * n]).reshape(n, 2)
        if not slopes:
            return Shape(result, slope, out, back, free, both)
        slope[:], row = self._placed, self._rows
        slope[row, 1, 2 * row], slope[row, 2, 2 * row + 1] = out * free[:, 0], back * free[:, 1]
        slope[self._out[0], 1, self._out[1]] = 1j * out[self._out[0]]
        slope[self._back[0], 2, self._back[1]] = 1j * back[self._back[0]]
        return Shape(result, slope, out, back, free, both)

    def plain_controls(self, x: Array) -> list[tuple[complex, complex, complex, complex]]:
        """The controls of each cubic at `x` in plain numbers: of few cubics they are had several times as fast."""
        n, (nodes, ways) = self.parts, self._plain
        at = x.tolist()
        nodes, ways = nodes[:], ways[:]
        for k in range(1, n):
            nodes[k] += complex(at[2 * n + 2 * k - 2], at[2 * n + 2 * k - 1]) * ways[k] * self.size
        for node, column in self._turning:
            ways[node] *= cmath.exp(1j * at[column])
        reach = [
            math.exp(min(max(log, HANDLES[0]), HANDLES[1])) * third
            for log, third in zip(at[: 2 * n], self._plain_thirds, strict=True)
        ]
        return [
            (
                nodes[k],
                nodes[k] + reach[2 * k] * ways[k],
                nodes[k + 1] - reach[2 * k + 1] * ways[k + 1],
                nodes[k + 1],
            )
            for k in range(n)
        ]

    def bend_of_controls(self, shape: Shape, pull: ComplexArray) -> Array:
        """What the controls' own second derivatives (p, p) give: `pull` (n, 4) is the slope of half the sum of squares
        by the controls, so that a small change of theirs changes it by the real part of the sum of pull · change."""
        drawn = np.stack([pull[:, 1] * shape.out, pull[:, 2] * shape.back], axis=1).ravel()
        free = drawn if shape.free.all() else drawn * shape.free.ravel()
        by_logs, by_turns, by_both = self._bends
        bend = by_logs @ free.real + by_turns @ drawn.real + by_both @ free.imag
        return np.asarray(bend.reshape(self.unknowns, self.unknowns))

    def curve(self, x: Array) -> Curve:
        """The chain itself."""
        controls = self.shape(x, slopes=False).controls
        return Curve(controls.view(np.float64).reshape(-1, 4, 2), np.zeros(len(controls), dtype=np.bool_))

    def unknowns_of(self, curve: Curve) -> Array:
        """The unknowns of a smooth curve of as many cubics, which meets the ends of the chain."""
        n, (_, nodes, directions) = self.parts, self._flat
        controls = as_complex(curve.controls)
        out, back = controls[:, 1] - controls[:, 0], controls[:, 3] - controls[:, 2]
        x = np.zeros(self.unknowns)
        handles = np.maximum(np.abs(np.stack([out, back], axis=1)) / self.thirds[:, None], 1e-12)
        x[: 2 * n] = np.clip(np.log(handles), *HANDLES).ravel()
        ways = (controls[1:, 0] - nodes[1:-1]) / directions[1:-1] / self.size
        x[2 * n : 4 * n - 2] = np.stack([ways.real, ways.imag], axis=1).ravel()
        heading = np.concatenate([out, back[-1:]])
        x[self._turn_columns] = np.angle(heading[self._turns] / directions[self._turns])
        return x

    def distances(self, x: Array) -> Array:
        """How far each point is from the chain, mm; the feet are kept for a search from `x` on.

        The feet of unknowns near `x` lead to those at `x`; from others the whole chain is searched.
        """
        if self.feet_of is not None and np.abs(x - self.feet_of).max() < NEAR:
            controls = self.shape(x, slopes=False).controls
            self.feet = self._project(controls, self.feet)
            gap = point(self.curve(x), self.feet) - self.samples
            away = np.hypot(gap[:, 0], gap[:, 1])
        else:
            self.feet, away = self._searched(self.curve(x))
        self.feet_of = x
        return away

    def _searched(self, curve: Curve) -> tuple[Array, Array]:
        """Feet of the points and their distances, wherever on the chain they are."""
        return nearest(curve, self.samples)

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
        """The function to be minimised; here it is only nearness that counts, and the bend is left nought."""

        def evaluate(x: Array, *, slopes: bool = True) -> tuple[Array, Array, Array]:
            shape = self.shape(x, slopes=slopes)
            return self.together(x, shape, [self.away(x, shape, self.unit_of_distance, bend=False)])

        return evaluate

    def together(self, x: Array, shape: Shape, parts: list[Part]) -> tuple[Array, Array, Array]:
        """Residuals (m,), their slopes (m, p) and bend (p, p): of the parts, and those that pull the unknowns back."""
        residuals = np.concatenate([self.rest * (x - self.resting), *(part.residuals for part in parts)])
        if not shape.slope.shape[-1]:
            return residuals, np.zeros((len(residuals), 0)), np.zeros((0, 0))
        slopes = np.concatenate([np.diag(self.rest), *(part.slopes for part in parts)])
        if not all(len(part.pull) for part in parts):
            return residuals, slopes, np.zeros((self.unknowns, self.unknowns))
        bend = self.bend_of_controls(shape, sum((part.pull for part in parts[1:]), parts[0].pull))
        lefts, rights = zip(*((part.left, part.right) for part in parts if part.left is not None), strict=True)
        half = np.concatenate(lefts).T @ np.concatenate(rights)
        bend += half + half.T
        return residuals, slopes, bend

    def away(self, x: Array, shape: Shape, unit_of_distance: float, *, bend: bool = True) -> Part:
        """Signed distances of the samples along the curve's normal; their feet are kept as the next first guess.

        At its foot the way to a sample is square to the curve, so that the foot's own move does not count in the
        slopes. In the bend it does. Where a change of an unknown moves the place at the foot forward by a and turns the
        tangent there by w, the second derivative of the distance D is that of the place along the normal, and
        (k a a' - a w' - w a' - D w w') / (1 + D k) with the curvature k.
        """
        feet = self._project(shape.controls, self.feet)
        self.feet, self.feet_of = feet, x
        index = np.minimum(feet.astype(np.intp), self.parts - 1)
        t = feet - index
        count = len(t)
        # weights (3, k, 4 n) of the controls in the place at each foot, the first derivative and the second
        powers = np.empty((count, 4))
        powers[:, 0], powers[:, 1], powers[:, 2] = 1.0, t, t * t
        powers[:, 3] = powers[:, 2] * t
        if self.parts == 1:
            weights = powers @ _POWERS
        else:
            by_cubic = np.zeros((3, count, self.parts, 4))
            by_cubic[:, self._samples, index] = powers @ _POWERS
            weights = by_cubic.reshape(3, count, -1)
        both = (weights.reshape(3 * count, -1) @ shape.both).reshape(3, count, -1)
        (here, along, second), (moved, turned) = both[..., 0], both[:2, :, 1:]
        speed = np.maximum(np.abs(along), 1e-9 * self.size)
        # conjugate of the unit normal, so that a product's real part is what lies along it
        normal = -1j * along.conj() / speed
        factor = np.sqrt(self.weights / count) / unit_of_distance
        distance = ((here - self._flat[0]) * normal).real
        result = factor * distance
        if not moved.shape[-1]:
            return Part(result)
        moved = moved * normal[:, None]
        slopes = factor[:, None] * moved.real
        if not bend:
            return Part(result, slopes)
        turn = (turned * normal[:, None]).real / speed[:, None]
        curvature = (second * normal).real / speed**2
        weight = factor * result / np.maximum(1 + distance * curvature, 0.3)
        # a product with the conjugate normal has the way forward as its imaginary part with the other sign
        ahead = -moved.imag
        right = np.concatenate([0.5 * curvature[:, None] * ahead - turn, -0.5 * distance[:, None] * turn])
        right *= np.concatenate([weight, weight])[:, None]
        pull = ((factor * result * normal) @ weights[0]).reshape(self.parts, 4)
        return Part(result, slopes, pull, np.concatenate([ahead, turn]), right)

    def _project(self, controls: ComplexArray, feet: Array) -> Array:
        return projected(controls, self._flat[0], feet, steps=FOOT_STEPS)

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

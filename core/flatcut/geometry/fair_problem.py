"""The least squares problem behind `fair`: what makes a chain of cubics fair, with its analytic derivatives."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from flatcut.geometry.arrays import Array, ComplexArray, unit
from flatcut.geometry.beside import Walked, beside
from flatcut.geometry.curves import Curve, point, tangent
from flatcut.geometry.following import Following, Minimiser, Part, Shape
from flatcut.geometry.least_squares import Residuals, least_squares

SAMPLES = 48
"""Places on the joined edges, besides their joints, whose distance is minimised."""
BESIDE = (0.003, 0.01)
"""... and at these parts of the length beside each joint: a curve that rounds a corner tightly may leave it there."""
NODES = 12
"""Gauss points in each cubic for the change of curvature and for the length."""
SMOOTH_JOINT = 3000.0
"""Weight of the square of (jump of curvature · length) at an inner joint beside the change of curvature: a jump of
0.05, which no eye sees, counts like a garment curve's whole change of curvature."""
SLACK = 1e-10
"""Stiffness where only nearness counts: just enough that a cubic does not curl up between the samples."""
STAY = 1.0
"""Pull of the inner joints, in one search, back to where they lay along the chain when it began: where that is, hardly
matters to the curve, and a search for the best place is the longest part of it. Moving by a tenth of the whole
length costs a hundredth of a deviation of the whole distance."""
LIKELY = (-2.5, 0.0)
"""Range of first guesses of the stiffness: a wild curve's own guess would leave it as wild as it is."""
HELD = 0.02
"""mm: a change of length by this much costs as much as a deviation of the whole distance, where the length is held."""


class Source:
    """What every problem of one line takes from it: the curve, its length, and samples with their parts of it."""

    def __init__(self, curve: Curve, size: float) -> None:
        self.curve, self.size, self.walked = curve, size, Walked(curve)
        joints = np.interp(np.arange(1, len(curve)), self.walked.places, self.walked.along)
        around = joints[:, None] + np.array([0.0, *BESIDE, *(-b for b in BESIDE)])
        self.share = np.union1d(np.linspace(0, 1, SAMPLES + 1)[1:-1], around[(around > 0) & (around < 1)])
        self.samples = point(curve, self.walked.place(self.share))


class Problem(Following):
    """A chain of n cubics beside the source, which keeps the source's ends and end tangents."""

    def __init__(self, source: Source, parts: int, within: float, hold_length: bool) -> None:
        self.within, self.hold_length, size = within, hold_length, source.size
        places = np.concatenate([[0.0], source.walked.place(np.arange(1, parts) / parts), [float(len(source.curve))]])
        before, after = tangent(source.curve, places, before=True), tangent(source.curve, places)
        middle = unit(before + after)
        super().__init__(
            source.samples,
            point(source.curve, places),
            np.where(np.abs(middle).sum(axis=1, keepdims=True) > 0.5, middle, after),
            np.full(parts, size / parts),
            np.arange(parts + 1) % parts != 0,
        )
        self.share = source.share
        self._slides = 2 * parts + 2 * np.arange(parts - 1)
        self.rest[self._slides] = STAY
        x, w = np.polynomial.legendre.leggauss(NODES)
        self.bases = np.stack(_bases((1 + x) / 2)).astype(complex)
        self.gauss = np.tile(w / 2, parts)
        self._ends = _end_derivatives(parts)

    def starts(self) -> list[Array]:
        """First guesses: handles of a third, then shorter and longer ones."""
        plain = np.zeros(self.unknowns)
        shorter, longer = plain.copy(), plain.copy()
        shorter[: 2 * self.parts] -= 0.5
        longer[: 2 * self.parts] += 0.4
        return [plain, shorter, longer]

    def _searched(self, curve: Curve) -> tuple[Array, Array]:
        """A curve near the source has the samples' feet at about their parts of its length."""
        return beside(self._flat[0], self.share, Walked(curve))

    def likely_stiffness(self, x: Array) -> float:
        """A first guess of the stiffness, as its decimal logarithm: where the change of curvature at `x` costs as much
        as samples that are all half the whole distance away."""
        return min(max(math.log10(0.25 / max(self.change_of_curvature(x), 1e-9)), LIKELY[0]), LIKELY[1])

    def change_of_curvature(self, x: Array) -> float:
        """length³ · ∫ (dk/ds)² ds at `x`, from what it is at the Gauss points."""
        d = self._derivatives(self.shape(x, slopes=False).controls)
        rates = self._change_of_curvature(d, np.zeros((3, d.shape[1], 0), dtype=np.complex128), 1.0).residuals
        return float(rates @ rates)

    def residuals(self, stiffness: float | None) -> Residuals:
        """The function to be minimised at a stiffness, given as its decimal logarithm.

        Without one, only nearness counts, so that the nearest curve does not depend on how near it ought to be.
        """
        stiff, unit_of_distance = SLACK, self.size / 500
        if stiffness is not None:
            stiff, unit_of_distance = 10.0**stiffness, self.within

        kind = _TightAim if self.parts > 1 and stiffness is not None else _Aim
        return kind(self, stiff, unit_of_distance, held=self.hold_length and stiffness is not None)

    def found(
        self, x: Array, stiff: float, unit_of_distance: float, *, held: bool, slopes: bool
    ) -> tuple[Array, Array, Array]:
        """Residuals, their slopes and bend at `x`; the tight ones are the last."""
        shape = self.shape(x, slopes=slopes)
        # first, second and third derivatives at the Gauss points (3, 12 n), and by the unknowns (3, 12 n, p)
        both = self.bases[:, None] @ shape.both.reshape(self.parts, 4, -1)
        both = both.reshape(3, self.parts * NODES, -1)
        d, q = both[..., 0], both[..., 1:]
        parts = [self.away(x, shape, unit_of_distance), self._change_of_curvature(d, q, stiff)]
        if self.parts > 1:
            parts.append(self._jumps(shape, stiff))
        if held:
            parts.append(self._length(d, q))
        return self.together(x, shape, parts)

    def solve(self, stiffness: float | None, x: Array, minimise: Minimiser = least_squares) -> Array:
        """Unknowns at the minimum next to `x`, joints about where they are along the chain."""
        self.resting[self._slides] = x[self._slides]
        return super().solve(stiffness, x, minimise)

    def _derivatives(self, controls: ComplexArray, count: int = 3) -> ComplexArray:
        """The first few derivatives (count, 12 n) at the Gauss points."""
        return np.asarray((self.bases[:count] @ controls.T).transpose(0, 2, 1).reshape(count, -1))

    def tight(self, x: Array, stiff: float, *, held: bool) -> Array:
        """Jumps of curvature at the inner joints, and the change of length where it is held, as residuals."""
        found = self._jumps_alone(x, self.size * math.sqrt(SMOOTH_JOINT * stiff))
        if not held:
            return found
        d = self._derivatives(self.shape(x, slopes=False).controls, 1)
        return np.concatenate([found, self._length(d, np.zeros((1, d.shape[1], 0), dtype=np.complex128)).residuals])

    def _jumps_alone(self, x: Array, factor: float) -> Array:
        """As `_jumps` without slopes, in plain numbers, several times as fast: steps are corrected for them."""
        spans = self.plain_controls(x)
        jumps = []
        for (_, p1, p2, node), (_, q1, q2, _) in pairwise(spans):
            into, out = node - p2, q1 - node
            # a cubic's curvature at its start: 2/3 of (handle × way from its node to its third control) / handle³
            ahead = (out.conjugate() * (q2 - node)).imag / abs(out) ** 3
            behind = (into.conjugate() * (p1 - node)).imag / abs(into) ** 3
            jumps.append(factor * 2 / 3 * (ahead - behind))
        return np.array(jumps)

    def _change_of_curvature(self, d: ComplexArray, q: ComplexArray, stiff: float) -> Part:
        """Square roots of stiffness · length³ · weight · speed · (dk/ds)² at the Gauss points.

        With the curve as a complex function Q of its parameter, v = |Q'| and Schwarz's derivative
        S = Q'''/Q' - 3/2 (Q''/Q')²: dk/ds = Im S / v².
        """
        d1 = np.where(np.abs(d[0]) > 1e-9 * self.size, d[0], 1e-9 * self.size)
        z2, z3 = d[1] / d1, d[2] / d1
        schwarz = z3 - 1.5 * z2 * z2
        rate, speed = schwarz.imag, np.abs(d1)
        factor = np.sqrt(stiff * self.size**3 * self.gauss / speed) / speed
        result = factor * rate
        if not q.shape[-1]:
            return Part(result)
        # by relative changes a of Q', b of Q''/Q', and those s of Schwarz's derivative
        a = q[0] / d1[:, None]
        b = q[1] / d1[:, None] - z2[:, None] * a
        s = q[2] / d1[:, None] - z3[:, None] * a - 3 * z2[:, None] * b
        change = s.imag - 1.5 * rate[:, None] * a.real
        weight = factor * result
        own = weight * rate
        left = np.concatenate([s.imag, s.real, b.real, a.real, a.imag])
        right = np.concatenate([-2.5 * a.real, -a.imag, -3 * b.imag, 1.875 * a.real, -0.75 * a.imag])
        right *= np.concatenate([weight, weight, weight, own, own])[:, None]
        # half the squares change by Im of the sum of these times the changes of Q', Q'', Q'''
        per = weight / d1
        by = np.stack([per * (3 * z2 * z2 - z3 - 1.5j * rate), per * (-3 * z2), per])
        return Part(result, factor[:, None] * change, self._pull(by), left, right)

    def _pull(self, by: ComplexArray) -> ComplexArray:
        """Slopes (n, 4) by the controls from those (k, 12 n) by the first k derivatives at the Gauss points, of whose
        products the imaginary parts count."""
        return np.asarray(-1j * (by.reshape(len(by), self.parts, NODES) @ self.bases[: len(by)]).sum(axis=0))

    def _jumps(self, shape: Shape, stiff: float) -> Part:
        """Jumps of curvature at the inner joints: the curvature of a cubic at its start, and at its end backwards."""
        n, factor = self.parts, self.size * math.sqrt(SMOOTH_JOINT * stiff)
        both = (self._ends @ shape.both).reshape(2, 2 * (n - 1), -1)
        d1, d2 = both[..., 0]
        speed, z = np.abs(d1), d2 / d1
        # read backwards a curve has the other sign of curvature: the sum of both is the jump
        curvature = z.imag / speed
        result = factor * (curvature[: n - 1] + curvature[n - 1 :])
        if not shape.slope.shape[-1]:
            return Part(result)
        a, b = both[..., 1:] / d1[:, None]
        b -= z[:, None] * a
        change = (b.imag - z.imag[:, None] * a.real) / speed[:, None]
        weight = factor * np.concatenate([result, result]) / speed
        own = weight * z.imag
        left = np.concatenate([b.imag, b.real, a.real, a.imag])
        right = np.concatenate([-2 * a.real, -a.imag, a.real, -0.5 * a.imag])
        right *= np.concatenate([weight, weight, own, own])[:, None]
        second = -1j * weight / d1
        pull = np.concatenate([second * (-z - 1j * z.imag), second]) @ self._ends
        return Part(result, factor * (change[: n - 1] + change[n - 1 :]), np.asarray(pull.reshape(n, 4)), left, right)

    def _length(self, d: ComplexArray, q: ComplexArray) -> Part:
        """The change of length."""
        speed = np.maximum(np.abs(d[0]), 1e-9 * self.size)
        weight = speed * self.gauss / HELD
        result = np.array([float(weight.sum()) - self.size / HELD])
        if not q.shape[-1]:
            return Part(result)
        a = q[0] * (d[0].conj() / speed**2)[:, None]
        by = 1j * (weight * d[0].conj() / speed**2)[None]
        right = 0.5 * (result * weight)[:, None] * a.imag
        return Part(result, (weight[:, None] * a.real).sum(axis=0)[None], self._pull(result * by), a.imag, right)


class _Aim:
    """What is made least at a stiffness."""

    def __init__(self, problem: Problem, stiff: float, unit_of_distance: float, *, held: bool) -> None:
        self._problem, self._stiff, self._unit, self._held = problem, stiff, unit_of_distance, held

    def __call__(self, x: Array, *, slopes: bool = True) -> tuple[Array, Array, Array]:
        return self._problem.found(x, self._stiff, self._unit, held=self._held, slopes=slopes)


class _TightAim(_Aim):
    """... where jumps of curvature, and a length that is held, are all but conditions."""

    def tight(self, x: Array) -> Array:
        return self._problem.tight(x, self._stiff, held=self._held)


def _end_derivatives(parts: int) -> ComplexArray:
    """Weights (2 · 2 (n - 1), 4 n) of a chain's controls in the first derivatives at the inner joints, of the cubics
    that begin there, then of those that end there, read backwards; then in the second ones."""
    first, second = np.array([-3.0, 3, 0, 0]), np.array([6.0, -12, 6, 0])
    result = np.zeros((2, 2, parts - 1, 4 * parts), dtype=np.complex128)
    for k in range(parts - 1):
        for order, weights in enumerate((first, second)):
            result[order, 0, k, 4 * k + 4 : 4 * k + 8] = weights
            result[order, 1, k, 4 * k : 4 * k + 4] = weights[::-1]
    return result.reshape(-1, 4 * parts)


def _bases(t: Array) -> tuple[Array, Array, Array]:
    """Weights (k, 4) of the controls in the first, second and third derivative at t (k,)."""
    s = 1 - t
    first = 3 * np.stack([-s * s, s * s - 2 * s * t, 2 * s * t - t * t, t * t], axis=1)
    second = 6 * np.stack([s, t - 2 * s, s - 2 * t, t], axis=1)
    third = np.tile([-6.0, 18.0, -18.0, 6.0], (len(t), 1))
    return first, second, third

"""The least squares problem behind `fair`: what makes a chain of cubics fair, with its analytic Jacobian."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, ComplexArray, unit
from flatcut.geometry.curves import Curve, point, tangent
from flatcut.geometry.following import Following
from flatcut.geometry.length import lengths_to, places_at
from flatcut.geometry.levenberg import Residuals

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
HELD = 0.02
"""mm: a change of length by this much costs as much as a deviation of the whole distance, where the length is held."""


class Problem(Following):
    """A chain of n cubics beside the source, which keeps the source's ends and end tangents."""

    def __init__(self, source: Curve, size: float, parts: int, within: float, hold_length: bool) -> None:
        self.source, self.within, self.hold_length = source, within, hold_length
        joints = lengths_to(source, np.arange(1, len(source)))
        beside = joints[:, None] + size * np.array([0.0, *BESIDE, *(-b for b in BESIDE)])
        along = np.union1d(np.linspace(0, size, SAMPLES + 1)[1:-1], beside[(beside > 0) & (beside < size)])
        places = np.concatenate([[0.0], places_at(source, np.arange(1, parts) * size / parts), [float(len(source))]])
        before, after = tangent(source, places, before=True), tangent(source, places)
        middle = unit(before + after)
        super().__init__(
            point(source, places_at(source, along)),
            point(source, places),
            np.where(np.abs(middle).sum(axis=1, keepdims=True) > 0.5, middle, after),
            np.full(parts, size / parts),
            np.arange(parts + 1) % parts != 0,
        )
        x, w = np.polynomial.legendre.leggauss(NODES)
        self.bases = np.concatenate(_bases((1 + x) / 2)).astype(complex)
        self.gauss = w / 2

    def starts(self) -> list[Array]:
        """First guesses: handles of a third, then shorter and longer ones."""
        plain = np.zeros(self.unknowns)
        shorter, longer = plain.copy(), plain.copy()
        shorter[: 2 * self.parts] -= 0.5
        longer[: 2 * self.parts] += 0.4
        return [plain, shorter, longer]

    def residuals(self, stiffness: float | None) -> Residuals:
        """The function to be minimised at a stiffness, given as its decimal logarithm.

        Without one, only nearness counts, so that the nearest curve does not depend on how near it ought to be.
        """
        stiff, unit_of_distance = SLACK, self.size / 500
        if stiffness is not None:
            stiff, unit_of_distance = 10.0**stiffness, self.within

        def evaluate(x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
            controls, slope = self.controls(x, slopes=slopes)
            # first, second and third derivatives at the Gauss points (n, 36), and by the unknowns (n, 36, p)
            d, q = controls @ self.bases.T, self.bases @ slope
            blocks = [self.resting(x, slope), self.away(x, controls, slope, unit_of_distance)]
            blocks.append(self._change_of_curvature(d, q, stiff))
            if self.parts > 1:
                blocks.append(self._jumps(controls, slope, stiff))
            if self.hold_length and stiffness is not None:
                blocks.append(self._length(d, q))
            return np.concatenate([b[0] for b in blocks]), np.concatenate([b[1] for b in blocks])

        return evaluate

    def _change_of_curvature(self, d: ComplexArray, q: ComplexArray, stiff: float) -> tuple[Array, Array]:
        """Square roots of stiffness · length³ · weight · speed · (dk/ds)² at the Gauss points.

        With c = Q'×Q'', e = Q'×Q''', m = Q'·Q'', v = |Q'|: dk/ds = e / v⁴ - 3 c m / v⁶.
        """
        d1, d2, d3 = d[:, :NODES].conj(), d[:, NODES : 2 * NODES], d[:, 2 * NODES :]
        q1, q2, q3 = q[:, :NODES].conj(), q[:, NODES : 2 * NODES], q[:, 2 * NODES :]
        v = np.maximum(np.abs(d1), 1e-9 * self.size)
        # m + i c in one, and its derivatives
        both, e = d1 * d2, (d1 * d3).imag
        c, m = both.imag, both.real
        by = q1 * d2[..., None] + d1[..., None] * q2
        de = (q1 * d3[..., None] + d1[..., None] * q3).imag
        dv = (d1.conj()[..., None] * q1).real / v[..., None]
        # times the square root of the speed
        r = 1 / v
        r3 = r * r * r * np.sqrt(r)
        r5 = r3 * r * r
        rate = e * r3 - 3 * c * m * r5
        by_speed = (16.5 * c * m * r5 - 3.5 * e * r3) * r
        factor = np.sqrt(stiff * self.size**3 * self.gauss)
        change = r3[..., None] * de - (3 * r5 * m)[..., None] * by.imag - (3 * r5 * c)[..., None] * by.real
        change += by_speed[..., None] * dv
        return (factor * rate).ravel(), (factor[:, None] * change).reshape(rate.size, change.shape[-1])

    def _jumps(self, controls: ComplexArray, slope: ComplexArray, stiff: float) -> tuple[Array, Array]:
        """Jumps of curvature at the inner joints."""
        left, left_slope = _end_curvatures(controls[:-1, ::-1], slope[:-1, ::-1])
        right, right_slope = _end_curvatures(controls[1:], slope[1:])
        factor = self.size * np.sqrt(SMOOTH_JOINT * stiff)
        return factor * (right + left), factor * (right_slope + left_slope)

    def _length(self, d: ComplexArray, q: ComplexArray) -> tuple[Array, Array]:
        """The change of length."""
        d1, q1 = d[:, :NODES], q[:, :NODES]
        v = np.abs(d1)
        dv = (d1.conj()[..., None] * q1).real / np.maximum(v, 1e-300)[..., None]
        change = float((v * self.gauss).sum()) - self.size
        return np.array([change / HELD]), (dv * self.gauss[:, None]).sum(axis=(0, 1))[None] / HELD


def _bases(t: Array) -> tuple[Array, Array, Array]:
    """Weights (k, 4) of the controls in the first, second and third derivative at t (k,)."""
    s = 1 - t
    first = 3 * np.stack([-s * s, s * s - 2 * s * t, 2 * s * t - t * t, t * t], axis=1)
    second = 6 * np.stack([s, t - 2 * s, s - 2 * t, t], axis=1)
    third = np.tile([-6.0, 18.0, -18.0, 6.0], (len(t), 1))
    return first, second, third


def _end_curvatures(controls: ComplexArray, slope: ComplexArray) -> tuple[Array, Array]:
    """Curvatures (n,) at the start of cubics and their derivatives (n, p); read backwards they have the other sign."""
    d1, d2 = 3 * (controls[:, 1] - controls[:, 0]).conj(), 6 * (controls[:, 0] - 2 * controls[:, 1] + controls[:, 2])
    q1, q2 = 3 * (slope[:, 1] - slope[:, 0]), 6 * (slope[:, 0] - 2 * slope[:, 1] + slope[:, 2])
    v, c = np.abs(d1), (d1 * d2).imag
    dv = (d1[:, None] * q1).real / v[:, None]
    dc = (q1.conj() * d2[:, None] + d1[:, None] * q2).imag
    return c / v**3, dc / (v**3)[:, None] - 3 * (c / v**4)[:, None] * dv

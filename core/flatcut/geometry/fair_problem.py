"""The least squares problem behind `fair`: the unknowns of a G1 curve, its residuals, and their analytic Jacobian."""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, point, tangent
from flatcut.geometry.length import lengths_to, places_at
from flatcut.geometry.levenberg import Residuals
from flatcut.geometry.nearest import nearest

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
HANDLES = (-3.5, 2.0)
"""Range of the logarithms of the handles: from a hundredth of a cubic's length to more than twice it."""
FOOT_STEPS = 4
"""Newton steps for the feet of the samples in one evaluation; they go on from the feet of the last."""
REST = 0.01
"""Pull of the unknowns back to the first guess, so that a joint does not slide to and fro along a curve that it leaves
unchanged: moving by a tenth of the whole length costs a millionth of a deviation of the whole distance."""
HELD = 0.02
"""mm: a change of length by this much costs as much as a deviation of the whole distance, where the length is held."""


class Problem:
    """The residuals of a curve of n cubics against the source, and their Jacobian by its unknowns.

    Unknowns: log of each cubic's two handle lengths over the source's length divided by 3 n (2 n), then x, y (in the
    source's length) and turn in radians of each inner joint, away from where the first guess has them (3 (n - 1)).
    """

    def __init__(self, source: Curve, size: float, parts: int, within: float, hold_length: bool) -> None:
        self.source, self.size, self.parts, self.within, self.hold_length = source, size, parts, within, hold_length
        joints = lengths_to(source, np.arange(1, len(source)))
        beside = joints[:, None] + size * np.array([0.0, *BESIDE, *(-b for b in BESIDE)])
        along = np.union1d(np.linspace(0, size, SAMPLES + 1)[1:-1], beside[(beside > 0) & (beside < size)])
        self.samples = point(source, places_at(source, along))
        self.weights = np.ones(len(self.samples))
        self.feet = np.zeros(len(self.samples))
        self.feet_of: Array | None = None
        x, w = np.polynomial.legendre.leggauss(NODES)
        self.first, self.second, self.third = _bases((1 + x) / 2)
        self.gauss = w / 2
        self.set_joints(np.arange(1, parts) / parts)

    def set_joints(self, shares: Array) -> None:
        """Put the first guess of the inner joints at these parts of the source's length."""
        u = places_at(self.source, shares * self.size)
        before, after = tangent(self.source, u, before=True), tangent(self.source, u)
        middle = unit(before + after)
        directions = np.where(np.abs(middle).sum(axis=1, keepdims=True) > 0.5, middle, after)
        ends = [
            tangent(self.source, 0.0)[None],
            directions,
            tangent(self.source, float(len(self.source)), before=True)[None],
        ]
        self.node_guess = np.concatenate([self.source.start[None], point(self.source, u), self.source.end[None]])
        self.direction_guess = np.concatenate(ends)
        self.knots = np.concatenate([[0.0], shares, [1.0]])

    def starts(self) -> list[Array]:
        """First guesses: handles of a third, then shorter and longer ones."""
        n = self.parts
        spans = np.diff(self.knots) * n
        plain = np.concatenate([np.repeat(np.log(spans), 2), np.zeros(3 * (n - 1))])
        shorter, longer = plain.copy(), plain.copy()
        shorter[: 2 * n] -= 0.5
        longer[: 2 * n] += 0.4
        return [plain, shorter, longer]

    def weigh(self, distances: Array | None) -> None:
        """Weights of the samples: all alike, or times their distances."""
        if distances is None:
            self.weights = np.ones(len(self.samples))
        else:
            raised = self.weights * (distances / distances.max() + 1e-3)
            self.weights = raised * len(raised) / raised.sum()

    def controls(self, x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
        """Controls (n, 4, 2) and their derivatives (n, 4, 2, p); with p = 0 where these are not wanted."""
        n, p = self.parts, len(x) if slopes else 0
        nodes, angle = self.node_guess.copy(), np.zeros(n + 1)
        inner = x[2 * n :].reshape(-1, 3)
        nodes[1:-1] += inner[:, :2] * self.size
        angle[1:-1] = inner[:, 2]
        cos, sin = np.cos(angle), np.sin(angle)
        guess = self.direction_guess
        direction = np.stack([cos * guess[:, 0] - sin * guess[:, 1], sin * guess[:, 0] + cos * guess[:, 1]], axis=1)
        square = np.stack([-direction[:, 1], direction[:, 0]], axis=1)
        log = np.clip(x[: 2 * n], *HANDLES)
        free = (log == x[: 2 * n]).reshape(n, 2)
        reach = np.exp(log).reshape(n, 2) * (self.size / (3 * n))
        out, back = reach[:, :1] * direction[:-1], reach[:, 1:] * direction[1:]
        result = np.stack([nodes[:-1], nodes[:-1] + out, nodes[1:] - back, nodes[1:]], axis=1)
        slope = np.zeros((n, 4, 2, p))
        for i in range(n if slopes else 0):
            slope[i, 1, :, 2 * i], slope[i, 2, :, 2 * i + 1] = out[i] * free[i, 0], -back[i] * free[i, 1]
            for node, own, handle in ((i, 0, 1), (i + 1, 3, 2)):
                if 0 < node < n:
                    column = 2 * n + 3 * (node - 1)
                    for axis in (0, 1):
                        slope[i, own, axis, column + axis] = slope[i, handle, axis, column + axis] = self.size
                    turn = reach[i, 0] if handle == 1 else -reach[i, 1]
                    slope[i, handle, :, column + 2] = turn * square[node]
        return result, slope

    def curve(self, x: Array) -> Curve:
        """The curve itself."""
        controls = self.controls(x, slopes=False)[0]
        return Curve(controls, np.zeros(len(controls), dtype=np.bool_))

    def distances(self, x: Array) -> Array:
        """How far each sample of the source is from the curve, mm; the feet are kept for a search from `x` on."""
        self.feet, away = nearest(self.curve(x), self.samples)
        self.feet_of = x
        return away

    def find_feet(self, x: Array) -> None:
        """Look for the feet of the samples afresh, unless they are those of this very curve."""
        if self.feet_of is not x:
            self.distances(x)

    @property
    def is_weighted(self) -> bool:
        """Whether some samples weigh more than others."""
        return bool(np.ptp(self.weights) > 0)

    def residuals(self, stiffness: float | None) -> Residuals:
        """The function to be minimised at a stiffness, given as its decimal logarithm.

        Without one, only nearness counts, so that the nearest curve does not depend on how near it ought to be.
        """
        stiff, unit_of_distance = SLACK, self.size / 500
        if stiffness is not None:
            stiff, unit_of_distance = 10.0**stiffness, self.within

        def evaluate(x: Array, *, slopes: bool = True) -> tuple[Array, Array]:
            controls, slope = self.controls(x, slopes=slopes)
            rest = (REST * x, REST * np.eye(len(x), slope.shape[-1]))
            blocks = [rest, self._distance(controls, slope, unit_of_distance)]
            blocks.append(self._change_of_curvature(controls, slope, stiff))
            if self.parts > 1:
                blocks.append(self._jumps(controls, slope, stiff))
            if self.hold_length and stiffness is not None:
                blocks.append(self._length(controls, slope))
            return np.concatenate([b[0] for b in blocks]), np.concatenate([b[1] for b in blocks])

        return evaluate

    def _distance(self, controls: Array, slope: Array, unit_of_distance: float) -> tuple[Array, Array]:
        """Signed distances of the samples along the curve's normal; their feet are kept as the next first guess.

        At its foot the way to a sample is square to the curve, so that the foot's own move does not count.
        """
        feet = self._project(controls, self.feet)
        self.feet, self.feet_of = feet, None
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

    def _change_of_curvature(self, controls: Array, slope: Array, stiff: float) -> tuple[Array, Array]:
        """Square roots of stiffness · length³ · weight · speed · (dk/ds)² at the Gauss points.

        With c = Q'×Q'', e = Q'×Q''', m = Q'·Q'', v = |Q'|: dk/ds = e / v⁴ - 3 c m / v⁶.
        """
        d = [np.einsum("gj,nja->nga", b, controls) for b in (self.first, self.second, self.third)]
        q = [np.einsum("gj,njap->ngap", b, slope) for b in (self.first, self.second, self.third)]
        v = np.maximum(np.hypot(d[0][..., 0], d[0][..., 1]), 1e-9 * self.size)
        c, e, m = cross(d[0], d[1]), cross(d[0], d[2]), (d[0] * d[1]).sum(axis=-1)
        dv = (d[0][..., None] * q[0]).sum(axis=2) / v[..., None]
        dc = _cross_by(q[0], d[1]) - _cross_by(q[1], d[0])
        de = _cross_by(q[0], d[2]) - _cross_by(q[2], d[0])
        dm = (q[0] * d[1][..., None]).sum(axis=2) + (d[0][..., None] * q[1]).sum(axis=2)
        # times the square root of the speed
        rate = e * v**-3.5 - 3 * c * m * v**-5.5
        by_speed = -3.5 * e * v**-4.5 + 16.5 * c * m * v**-6.5
        change = (v**-3.5)[..., None] * de - 3 * (v**-5.5)[..., None] * (m[..., None] * dc + c[..., None] * dm)
        change += by_speed[..., None] * dv
        factor = np.sqrt(stiff * self.size**3 * self.gauss)
        return (factor * rate).ravel(), (factor[:, None] * change).reshape(rate.size, change.shape[-1])

    def _jumps(self, controls: Array, slope: Array, stiff: float) -> tuple[Array, Array]:
        """Jumps of curvature at the inner joints."""
        left, left_slope = _end_curvatures(controls[:-1, ::-1], slope[:-1, ::-1])
        right, right_slope = _end_curvatures(controls[1:], slope[1:])
        factor = self.size * np.sqrt(SMOOTH_JOINT * stiff)
        return factor * (right + left), factor * (right_slope + left_slope)

    def _length(self, controls: Array, slope: Array) -> tuple[Array, Array]:
        """The change of length."""
        d1, q1 = np.einsum("gj,nja->nga", self.first, controls), np.einsum("gj,njap->ngap", self.first, slope)
        v = np.hypot(d1[..., 0], d1[..., 1])
        dv = (d1[..., None] * q1).sum(axis=2) / np.maximum(v, 1e-300)[..., None]
        change = float((v * self.gauss).sum()) - self.size
        return np.array([change / HELD]), (dv * self.gauss[:, None]).sum(axis=(0, 1))[None] / HELD


def _bases(t: Array) -> tuple[Array, Array, Array]:
    """Weights (k, 4) of the controls in the first, second and third derivative at t (k,)."""
    s = 1 - t
    first = 3 * np.stack([-s * s, s * s - 2 * s * t, 2 * s * t - t * t, t * t], axis=1)
    second = 6 * np.stack([s, t - 2 * s, s - 2 * t, t], axis=1)
    third = np.tile([-6.0, 18.0, -18.0, 6.0], (len(t), 1))
    return first, second, third


def _cross_by(slope: Array, v: Array) -> Array:
    """Derivatives (..., p) of a cross product by its first factor, whose own derivatives are slope (..., 2, p)."""
    return np.asarray(slope[..., 0, :] * v[..., 1, None] - slope[..., 1, :] * v[..., 0, None])


def _end_curvatures(controls: Array, slope: Array) -> tuple[Array, Array]:
    """Curvatures (n,) at the start of cubics and their derivatives (n, p); read backwards they have the other sign."""
    d1, d2 = 3 * (controls[:, 1] - controls[:, 0]), 6 * (controls[:, 0] - 2 * controls[:, 1] + controls[:, 2])
    q1, q2 = 3 * (slope[:, 1] - slope[:, 0]), 6 * (slope[:, 0] - 2 * slope[:, 1] + slope[:, 2])
    v, c = np.hypot(d1[:, 0], d1[:, 1]), cross(d1, d2)
    dv = (d1[..., None] * q1).sum(axis=1) / v[:, None]
    dc = _cross_by(q1, d2) - _cross_by(q2, d1)
    return c / v**3, dc / (v**3)[:, None] - 3 * (c / v**4)[:, None] * dv

"""The camera that took a photograph of a flat table: where it stood, how wide its lens sees and how it bends lines.

What the marks do not tell is held near what is usual, and how little is known of it goes into the deviation that is
reported: one square in a corner tells hardly anything of the lens, several about the paper tell it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array

HALF_FRAME = 21.63
"""mm: half the diagonal of a frame of 24 by 36 mm (ISO 1007), by which lenses are named."""
USUAL_LENS, LENS_WITHIN = 30.0, 0.4
"""mm of a lens on that frame, and how far from it others lie as a part (its logarithm's standard deviation): 20 to 45
is what telephones and cameras for everyday have (common practice, no source)."""
CENTRE_WITHIN = 0.01
"""How far the middle of the lens lies from that of the picture, as a part of half its diagonal (from memory)."""
BENDS_WITHIN = (0.02, 0.01)
"""What a lens moves the picture's corner by, as a part of its distance from the middle: standard deviations of the two
coefficients of radial distortion in the third and fifth power (D. Brown, Close-range camera calibration,
Photogrammetric Engineering 37, 1971). A telephone's picture has it mostly taken out (common practice, no source)."""
CORNER_WITHIN = 0.1
"""Points of the picture: how far a corner of a mark is off (standard deviation)."""
STEPS = 60
SMALL = 1e-3
OWN = 11
"""Unknowns of the camera: its lens, the lens's middle (2), its bends (2), how the table lies (3) and where (3)."""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """Marks of one control square. picture: (n, 2) points from the picture's middle, as parts of half its diagonal;
    square: (n, 2) mm, the same corners on the square.
    """

    picture: Array
    square: Array


@dataclass(frozen=True, kw_only=True)
class Camera:
    """unknowns: (p,), of it and of where the squares after the first lie; base: (3, 3), what its turn is counted from.

    spread: (p, p), a root of the covariance of the unknowns; off: the root mean square by which marks miss, as a part
    of half the diagonal; within: what was expected of that.
    """

    unknowns: Array
    base: Array
    spread: Array
    off: float
    within: float

    def on_table(self, picture: Array) -> Array:
        """Where points of the picture (n, 2) lie on the table, mm in the coordinates of the first square."""
        return _on_table(self.unknowns, self.base, picture)

    def deviation(self, picture: Array) -> Array:
        """How far places on the table may be off their shape, (n,) mm: twice the standard deviation, once the whole is
        laid on itself as well as it goes, as only the shape of a piece counts and not where it lies."""
        here = self.on_table(picture)
        total = np.zeros(len(picture))
        for way in self.spread.T:
            # a small step, as the slope is wanted: along some ways a whole one bends
            there = _on_table(self.unknowns + SMALL * way, self.base, picture)
            total += (_rest(here, there) ** 2).sum(axis=1) / SMALL**2
        return np.asarray(2 * np.sqrt(total))

    @property
    def tilt(self) -> float:
        """Degrees between the camera's view and the square on the table."""
        normal = (_turn(self.unknowns[5:8]) @ self.base)[:, 2]
        return float(np.degrees(np.arccos(min(1.0, abs(float(normal[2]))))))

    @property
    def bend(self) -> float:
        """How far the lens moves a point that is half the diagonal away from the middle, as a part of that."""
        return float(self.unknowns[3] + self.unknowns[4])


def fitted(squares: Sequence[Seen], half_diagonal: float) -> Camera:
    """The likeliest camera for what is seen of control squares. half_diagonal: points of the picture."""
    within = CORNER_WITHIN / half_diagonal
    best: tuple[float, Array, Array] | None = None
    for lens in (USUAL_LENS, 2 * USUAL_LENS):
        start, base = _start(squares, lens / HALF_FRAME)
        residuals = _residuals(squares, base, within)
        found = _least(residuals, start)
        cost = float(residuals(found) @ residuals(found))
        if best is None or cost < best[0]:
            best = cost, found, base
        if cost <= 2 * len(residuals(found)):
            break  # as near as can be expected; else the search may have ended beside it
    assert best is not None
    _, x, base = best
    residuals = _residuals(squares, base, within)
    marks = residuals(x)[:-_HELD]
    off = float(np.sqrt((marks**2).mean() * 2)) * within
    jacobian = _slopes(residuals, x)
    spread = np.linalg.pinv(jacobian)
    worse = max(1.0, off / (1.5 * within))
    return Camera(unknowns=x, base=base, spread=np.asarray(spread * worse, dtype=float), off=off, within=within)


_HELD = 5
"""Unknowns that are held near what is usual."""


def _start(squares: Sequence[Seen], lens: float) -> tuple[Array, Array]:
    """Unknowns to begin with, from the first square alone without bends of the lens, and the base of the turn."""
    plane = homography(squares[0].square, squares[0].picture)
    scaled = plane / np.array([lens, lens, 1.0])[:, None]
    size = (np.linalg.norm(scaled[:, 0]) + np.linalg.norm(scaled[:, 1])) / 2
    scaled = scaled / size * (1 if scaled[2, 2] > 0 else -1)
    u, _, v = np.linalg.svd(np.column_stack([scaled[:, :2], np.cross(scaled[:, 0], scaled[:, 1])]))
    base = u @ np.diag([1.0, 1.0, np.linalg.det(u @ v)]) @ v
    x = np.zeros(OWN + 3 * (len(squares) - 1))
    x[0] = np.log(lens)
    x[8:11] = scaled[:, 2]
    back = np.asarray(np.linalg.inv(plane), dtype=float)
    for k, one in enumerate(squares[1:]):
        x[OWN + 3 * k : OWN + 3 * k + 3] = _laid(one.square, _applied(back, one.picture))
    return x, base


def homography(here: Array, there: Array) -> Array:
    """The projective map (3, 3) that takes points (n, 2) to others, by least squares, its last figure positive.

    Source: R. Hartley and A. Zisserman, Multiple View Geometry in Computer Vision, 2004, section 4.1.

    >>> square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
    >>> made = homography(square, 2 * square + 1)
    >>> abs((made / made[2, 2]).round(6)).tolist()
    [[2.0, 0.0, 1.0], [0.0, 2.0, 1.0], [0.0, 0.0, 1.0]]
    """
    scales = []
    for points in (here, there):
        middle = points.mean(axis=0)
        size = np.sqrt(2) / np.hypot(*(points - middle).T).mean()
        scales.append(np.array([[size, 0, -size * middle[0]], [0, size, -size * middle[1]], [0, 0, 1.0]]))
    a, b = (_applied(scale, points) for scale, points in zip(scales, (here, there), strict=True))
    one, none = np.ones((len(a), 1)), np.zeros((len(a), 3))
    p = np.hstack([a, one])
    rows = np.vstack([np.hstack([p, none, -b[:, :1] * p]), np.hstack([none, p, -b[:, 1:] * p])])
    found = np.linalg.inv(scales[1]) @ np.linalg.svd(rows)[2][-1].reshape(3, 3) @ scales[0]
    return np.asarray(found if found[2, 2] > 0 else -found)


def _applied(matrix: Array, points: Array) -> Array:
    made = np.hstack([points, np.ones((len(points), 1))]) @ matrix.T
    return np.asarray(made[:, :2] / made[:, 2:])


def _laid(here: Array, there: Array) -> Array:
    """The turn and shift (angle, x, y) that lay points (n, 2) on others as well as it goes."""
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    angle = np.arctan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    return np.array([angle, *(there.mean(axis=0) - _turned(here.mean(axis=0)[None], angle)[0])])


def _turned(points: Array, angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


def _rest(here: Array, there: Array) -> Array:
    """What is left between points (n, 2) and others once the first are laid on the second, (n, 2)."""
    angle, x, y = _laid(here, there)
    return np.asarray(there - _turned(here, angle) - np.array([x, y]))


def _turn(w: Array) -> Array:
    """The turn (3, 3) about a vector by its length in radians (O. Rodrigues, 1840)."""
    angle = float(np.linalg.norm(w))
    k = np.array([[0, -w[2], w[1]], [w[2], 0, -w[0]], [-w[1], w[0], 0]])
    if angle < 1e-12:
        return np.asarray(np.eye(3) + k)
    return np.asarray(np.eye(3) + np.sin(angle) / angle * k + (1 - np.cos(angle)) / angle**2 * k @ k)


def _plane(x: Array, base: Array) -> Array:
    """From the table in mm to the picture, before the lens bends it, (3, 3)."""
    turned = _turn(x[5:8]) @ base
    lens = float(np.exp(x[0]))
    return np.asarray(np.diag([lens, lens, 1.0]) @ np.column_stack([turned[:, :2], x[8:11]]))


def _pictured(x: Array, base: Array, table: Array) -> Array:
    flat = _applied(_plane(x, base), table)
    far = (flat**2).sum(axis=1, keepdims=True)
    return np.asarray(flat * (1 + x[3] * far + x[4] * far**2) + x[1:3])


def _on_table(x: Array, base: Array, picture: Array) -> Array:
    bent = picture - x[1:3]
    flat = bent
    for _ in range(12):
        far = (flat**2).sum(axis=1, keepdims=True)
        flat = bent / np.maximum(1 + x[3] * far + x[4] * far**2, 0.2)
    return _applied(np.asarray(np.linalg.inv(_plane(x, base)), dtype=float), flat)


def _residuals(squares: Sequence[Seen], base: Array, within: float) -> Callable[[Array], Array]:
    """What is off, in parts of what is expected: the marks, then the unknowns that are held."""

    def off(x: Array) -> Array:
        parts = []
        for k, one in enumerate(squares):
            if k:
                angle, *shift = x[OWN + 3 * (k - 1) : OWN + 3 * k]
                table = _turned(one.square, angle) + np.array(shift)
            else:
                table = one.square
            parts.append((_pictured(x, base, table) - one.picture).ravel() / within)
        held = [
            (x[0] - np.log(USUAL_LENS / HALF_FRAME)) / LENS_WITHIN,
            *(x[1:3] / CENTRE_WITHIN),
            *(x[3:5] / np.array(BENDS_WITHIN)),
        ]
        return np.concatenate([*parts, held])

    return off


def _slopes(residuals: Callable[[Array], Array], x: Array) -> Array:
    """The Jacobian by central differences."""
    columns = []
    for k in range(len(x)):
        step = np.zeros_like(x)
        step[k] = 1e-6 * max(1.0, abs(x[k]))
        columns.append((residuals(x + step) - residuals(x - step)) / (2 * step[k]))
    return np.stack(columns, axis=1)


def _least(residuals: Callable[[Array], Array], x: Array) -> Array:
    """Unknowns at a least sum of squares (K. Levenberg, 1944; D. Marquardt, 1963), with slopes by differences."""
    r = residuals(x)
    damping = 1e-3
    for _ in range(STEPS):
        jacobian = _slopes(residuals, x)
        normal, slope = jacobian.T @ jacobian, jacobian.T @ r
        for _ in range(12):
            trial = x - np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-12), slope)
            trial_r = residuals(trial)
            if np.isfinite(trial_r).all() and trial_r @ trial_r < r @ r:
                break
            damping *= 5
        else:
            return x
        done = r @ r - trial_r @ trial_r <= 1e-7 * (r @ r)
        x, r, damping = trial, trial_r, max(damping / 5, 1e-9)
        if done:
            break
    return x

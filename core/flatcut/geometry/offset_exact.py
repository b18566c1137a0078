"""Exact offset curves, many at a time: point, direction and pace in closed form, and where two of them cross.

One row is one cubic span x(t) with a width d to the LEFT of the walk as seen on the screen (y down): the left normal
of the unit tangent T is n = (T_y, -T_x). The offset is O(t) = x(t) + d(t) n(t), and with the curvature k (positive
where the walk turns clockwise on the screen)

    dO/ds = (1 + k d) T + d' n,

so a row folds back on itself where 1 + k d < 0. A tapering width runs linearly along the arc length s from `near` to
`far`. Everything a cut line is made of is such a row: a straight piece has width 0, and the mirror image of a row is
the mirrored span with its widths negated.

Outside 0 <= t <= 1 a row runs straight on along its end tangent: the tangential extension of mitred corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, TypeAlias

import numpy as np

from flatcut.geometry.arrays import Array, BoolArray, Ints, cross, span_size, unit

Rows: TypeAlias = Ints

SHORT_HANDLE = 1e-6
"""Handles shorter than this part of the span's size leave the end tangent to rounding and are pushed out ..."""

PUSHED_HANDLE = 1e-5
"""... to this part of the span's size. The curve moves by less than 0.45 of it: 0.002 mm on a 400 mm span."""

PUSHED_LEAST, PUSHED_SHARE = 1e-3, 0.01
"""mm: but to no less than this, or this part of the size: rounding would bend a shorter handle."""

FOLDED = 0.02
"""1 + k d below which an offset has no direction of its own."""

CROSSED = 1e-9
"""mm: two rows meet where their exact points lie closer than this."""

_NODES, _WEIGHTS = (np.asarray(a, dtype=np.float64) for a in np.polynomial.legendre.leggauss(16))
_NODES, _WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2


@dataclass(frozen=True, eq=False, repr=False)
class Parallels:
    """Exact offset curves, one per row; made by `parallels`.

    controls: (n, 4, 2) mm; straight: (n,) bool; near, far: (n,) mm, the widths at t = 0 and t = 1 (negative: right).
    power: (4, n, 2), the spans by powers of t; slope: (n,), far minus near per mm of arc length; tapered: any slope.
    """

    controls: Array
    straight: BoolArray
    near: Array
    far: Array
    power: Array
    slope: Array
    tapered: bool

    def __len__(self) -> int:
        return len(self.controls)

    @cached_property
    def apart(self) -> Array:
        """The spans by powers of t with x and y apart, (4, 2, n)."""
        return np.ascontiguousarray(self.power.transpose(0, 2, 1))

    @cached_property
    def ends(self) -> tuple[Places, Places]:
        """What `trace` finds at the start and at the end of each row."""
        n, rows = len(self), np.arange(len(self))
        at = trace(self, np.concatenate([rows, rows]), np.repeat([0.0, 1.0], n))
        return Places(*(x[:n] for x in at)), Places(*(x[n:] for x in at))

    def taken(self, rows: Rows) -> Parallels:
        """Some of the rows."""
        return Parallels(
            self.controls[rows],
            self.straight[rows],
            self.near[rows],
            self.far[rows],
            self.power[:, rows],
            self.slope[rows],
            self.tapered,
        )


class Places(NamedTuple):
    """What `trace` finds at each place: all of the shape of t, vectors with a last axis of 2."""

    point: Array
    pace: Array
    """dO/dt; outside the row that of its straight extension."""
    tangent: Array
    """Unit direction of the offset; at a cusp and where it runs backwards, that of the span."""
    factor: Array
    """1 + k d: below zero the offset runs backwards."""


def parallels(controls: Array, straight: BoolArray, near: Array, far: Array) -> Parallels:
    """Rows made ready for evaluation; handles of no length are pushed out (see PUSHED_HANDLE).

    >>> up = parallels(np.array([[[0., 0], [1, 0], [2, 0], [3, 0]]]), np.array([True]), np.ones(1), np.ones(1))
    >>> trace(up, np.array([0]), np.array([1.0])).point
    array([[ 3., -1.]])
    """
    p = _handles_pushed(controls)
    p0, p1, p2, p3 = p.transpose(1, 2, 0)
    apart = np.empty((4, 2, len(p)))  # x and y apart, as they are looked up most
    apart[0], apart[1], apart[2] = p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2)
    apart[3] = p3 - p0 + 3 * (p1 - p2)
    power = apart.transpose(0, 2, 1)
    slope = np.zeros(len(p))
    tapered = near != far
    if tapered.any():
        rows = np.flatnonzero(tapered)
        slope[rows] = (far - near)[rows] / _arc(power[:, rows], np.ones(len(rows)))
    return Parallels(p, straight, near, far, power, slope, bool(tapered.any()))


def stacked(parts: Sequence[Parallels]) -> Parallels:
    """Rows of several sets, one set after the other."""
    if len(parts) == 1:
        return parts[0]
    return Parallels(
        np.concatenate([p.controls for p in parts]),
        np.concatenate([p.straight for p in parts]),
        np.concatenate([p.near for p in parts]),
        np.concatenate([p.far for p in parts]),
        np.concatenate([p.power for p in parts], axis=1),
        np.concatenate([p.slope for p in parts]),
        any(p.tapered for p in parts),
    )


def line_rows(starts: Array, ends: Array) -> Parallels:
    """Straight rows of width 0 from points (n, 2) to points (n, 2)."""
    step = (ends - starts) / 3
    controls = np.stack([starts, starts + step, ends - step, ends], axis=1)
    none = np.zeros(len(controls))
    return parallels(controls, np.ones(len(controls), dtype=np.bool_), none, none)


def _handles_pushed(controls: Array) -> Array:
    size = span_size(controls)
    out = controls[:, 1] - controls[:, 0]
    back = controls[:, 2] - controls[:, 3]
    weak_out = np.abs(out).max(axis=1) < SHORT_HANDLE * size
    weak_back = np.abs(back).max(axis=1) < SHORT_HANDLE * size
    if not (weak_out.any() or weak_back.any()):
        return controls
    p = np.array(controls)
    # towards the next control point that is not the end itself: the limit of the tangent there
    toward = np.where((weak_back & weak_out)[:, None], p[:, 3], p[:, 2]) - p[:, 0]
    toward_back = np.where((weak_back & weak_out)[:, None], p[:, 0], p[:, 1]) - p[:, 3]
    step = np.maximum(PUSHED_HANDLE * size, np.minimum(PUSHED_LEAST, PUSHED_SHARE * size))[:, None]
    p[:, 1] = np.where(weak_out[:, None], p[:, 0] + step * unit(toward), p[:, 1])
    p[:, 2] = np.where(weak_back[:, None], p[:, 3] + step * unit(toward_back), p[:, 2])
    return p


def _arc(power: Array, t: Array) -> Array:
    """Arc lengths of rows from 0 to t, (n, ...): 16-point Gauss, 1e-9 mm on edges drawn without near-cusps."""
    nodes = (t[..., None] * _NODES)[..., None]
    c1, c2, c3 = power[1:].reshape(3, power.shape[1], *([1] * t.ndim), 2)
    speed = np.linalg.norm(c1 + nodes * (2 * c2 + 3 * nodes * c3), axis=-1)
    return np.asarray(t * (speed @ _WEIGHTS))


def trace(p: Parallels, rows: Rows, t: Array) -> Places:
    """Exact places on rows (m,) at t, (m,) or (m, k)."""
    point, pace, tangent, factor = traced(p, rows, t)
    back = (1, 0) if t.ndim == 1 else (1, 2, 0)
    point, pace, tangent = (np.ascontiguousarray(a.transpose(back)) for a in (point, pace, tangent))
    return Places(point, pace, tangent, factor)


def traced(p: Parallels, rows: Rows, t: Array) -> Places:
    """As `trace`, with x and y apart on the first axis: along an axis of two numbers numpy is slow."""
    c0, c1, c2, c3 = p.apart.take(rows, axis=2)
    near, slope = p.near[rows], p.slope[rows]
    if t.ndim == 2:
        c0, c1, c2, c3 = c0[..., None], c1[..., None], c2[..., None], c3[..., None]
        near, slope = near[:, None], slope[:, None]
    s = np.minimum(np.maximum(t, 0.0), 1.0)
    a = c3 * s
    b = a + c2
    x = (b * s + c1) * s + c0
    b += b
    v = (a + b) * s + c1
    w = 4 * a + b
    speed = np.sqrt(v[0] * v[0] + v[1] * v[1])
    safe = np.where(speed > 0, speed, 1.0)
    tangent = v / safe
    normal = np.empty_like(tangent)
    normal[0] = tangent[1]
    np.negative(tangent[0], out=normal[1])
    width = near
    if p.tapered:
        width = near + slope * _arc(p.power[:, rows], s)
    factor = 1 + width * (v[0] * w[1] - v[1] * w[0]) / (safe * safe * safe)
    point = x + width * normal
    pace = (speed * factor) * tangent
    if p.tapered:
        pace = pace + (slope * speed) * normal
        onward = np.where(factor > FOLDED, factor, 1.0)  # where it folds back, as if the span ran straight on
        led = onward * tangent + slope * normal
        size = np.sqrt(led[0] * led[0] + led[1] * led[1])
        # the others to the last bit as where no row tapers
        tangent = np.where((slope != 0) & (size > 0), led / np.where(size > 0, size, 1.0), tangent)
    beyond = t - s
    if beyond.any():
        ray = tangent * speed
        point = point + beyond * ray
        pace = np.where(beyond != 0, ray, pace)
    return Places(point, pace, tangent, factor)


class Crossings(NamedTuple):
    """Where pairs of rows meet: places on the first and second rows, the point, and whether they do meet."""

    ta: Array
    tb: Array
    point: Array
    met: BoolArray


def crossing(p: Parallels, rows_a: Rows, ta: Array, rows_b: Rows, tb: Array, *, steps: int = 14) -> Crossings:
    """Newton from the places given, on both rows with their extensions; quadratic where the rows cross at an angle.

    >>> cut = line_rows(np.array([[0., 0], [2, -1]]), np.array([[1., 0], [2, 3]]))
    >>> found = crossing(cut, np.array([0]), np.array([0.5]), np.array([1]), np.array([0.5]))
    >>> found.ta, found.tb, found.met
    (array([2.]), array([0.25]), array([ True]))
    """
    m = len(rows_a)
    rows = np.concatenate([rows_a, rows_b])
    t = np.concatenate([ta, tb])
    bent = ~p.straight[rows]
    best, residual = t, np.full(m, np.inf)
    point = np.zeros((m, 2))
    for _ in range(steps):
        at = trace(p, rows, t)
        gap = at.point[m:] - at.point[:m]
        size = np.abs(gap).max(axis=1)
        # each pair for itself: what has met stays, however many steps others of the batch need
        better = (size < residual) & (residual >= CROSSED / 100)
        best = np.where(np.concatenate([better, better]), t, best)
        point = np.where(better[:, None], at.point[:m] + gap / 2, point)
        residual = np.where(better, size, residual)
        if np.all(residual < CROSSED / 100):
            break
        va, vb = at.pace[:m], at.pace[m:]
        det = cross(va, vb)
        det = np.where(np.abs(det) < 1e-300, 1e-300, det)
        step = np.concatenate([cross(gap, vb), cross(gap, va)]) / np.concatenate([det, det])
        # a row changes its pace where the extension begins: a long step over that place would overshoot
        t = t + np.where(bent & (t >= 0) & (t <= 1), np.clip(step, -0.5, 0.5), np.clip(step, -1e3, 1e3))
    return Crossings(best[:m], best[m:], point, residual < CROSSED)

"""The curve: a connected chain of cubic Béziers, straight spans marked as straight.

A place on a curve is one number u: span index plus the span's own parameter, from 0 to the number of spans.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, BoolArray, frozen, unit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

JOINT = 1e-9
"""mm: spans of one curve whose ends lie closer than this are welded; wider apart is a caller's fault."""


@dataclass(frozen=True, eq=False)
class Curve:
    """One or more cubic spans, end to start.

    controls: (n, 4, 2) mm, read-only; straight: (n,) bool, read-only: True where the span is a line
    (its handles then stand at the thirds).
    Errors: GeometryError when empty, not finite, or not connected.

    >>> c = polyline([(0, 0), (10, 0), (10, 5)])
    >>> len(c), c.start, c.end, c.straight.all()
    (2, array([0., 0.]), array([10.,  5.]), np.True_)
    """

    controls: Array
    straight: BoolArray

    def __post_init__(self) -> None:
        controls = frozen(self.controls)
        straight = np.array(self.straight, dtype=np.bool_)
        if controls.ndim != 3 or controls.shape[1:] != (4, 2) or len(controls) == 0:
            raise GeometryError("a curve needs at least one span of four points")
        if straight.shape != (len(controls),):
            raise GeometryError("a curve needs one straight mark for each span")
        if not np.isfinite(controls).all():
            raise GeometryError("a curve has a coordinate that is not a number; redraw it")
        gaps = np.abs(controls[1:, 0] - controls[:-1, 3])
        if gaps.size and gaps.max() > JOINT:
            raise GeometryError("the spans of a curve must touch, end to start")
        straight.flags.writeable = False
        object.__setattr__(self, "controls", controls)
        object.__setattr__(self, "straight", straight)

    def __len__(self) -> int:
        return len(self.controls)

    @property
    def start(self) -> Array:
        """First point, (2,)."""
        return np.asarray(self.controls[0, 0])

    @property
    def end(self) -> Array:
        """Last point, (2,)."""
        return np.asarray(self.controls[-1, 3])

    @property
    def nodes(self) -> Array:
        """Start and end points of the spans, (n + 1, 2)."""
        return np.concatenate([self.controls[:, 0], self.controls[-1:, 3]])


def cut_up(controls: Array, straight: BoolArray, first: Sequence[int]) -> list[Curve]:
    """Curves of the spans of one table: from each number in `first` up to the next. Checked at once.

    >>> both = polyline([(0, 0), (3, 0), (3, 3)])
    >>> [len(curve) for curve in cut_up(both.controls, both.straight, [0, 1, 2])]
    [1, 1]
    """
    gaps = np.abs(controls[1:, 0] - controls[:-1, 3]).max(axis=1, initial=0.0) > JOINT
    gaps[np.array(first[1:-1], dtype=np.intp) - 1] = False
    if gaps.any() or not np.isfinite(controls).all() or not all(a < b for a, b in pairwise(first)):
        return [Curve(controls[a:b], straight[a:b]) for a, b in pairwise(first)]
    controls, straight = frozen(controls), np.array(straight, dtype=np.bool_)
    straight.flags.writeable = False
    made = []
    for a, b in pairwise(first):
        curve = object.__new__(Curve)
        object.__setattr__(curve, "controls", controls[a:b])
        object.__setattr__(curve, "straight", straight[a:b])
        made.append(curve)
    return made


def line(a: ArrayLike, b: ArrayLike) -> Curve:
    """One straight span.

    >>> line((0, 0), (3, 0)).controls[0, 1]
    array([1., 0.])
    """
    return polyline([a, b])


def polyline(points: Sequence[ArrayLike] | Array) -> Curve:
    """Straight spans through two or more points."""
    nodes = np.asarray(points, dtype=float)
    p, q = nodes[:-1], nodes[1:]
    step = (q - p) / 3
    return Curve(np.stack([p, p + step, q - step, q], axis=1), np.ones(len(p), dtype=np.bool_))


def cubic(p0: ArrayLike, p1: ArrayLike, p2: ArrayLike, p3: ArrayLike) -> Curve:
    """One cubic span."""
    return Curve(np.array([[p0, p1, p2, p3]], dtype=float), np.zeros(1, dtype=np.bool_))


def chain(curves: Iterable[Curve], *, within: float = JOINT) -> Curve:
    """Curves end to start as one; gaps up to `within` mm are welded onto the earlier end.

    >>> len(chain([line((0, 0), (1, 0)), line((1, 0), (1, 1))]))
    2
    """
    items = list(curves)
    if not items:
        raise GeometryError("a curve needs at least one span of four points")
    controls = np.concatenate([c.controls for c in items])
    if len(controls) > 1:
        gaps = controls[1:, 0] - controls[:-1, 3]
        widest = math.sqrt(float((gaps * gaps).sum(axis=1).max()))
        if widest > within:
            raise GeometryError(f"the curves to be chained lie {widest:.3g} mm apart")
        controls[1:, 0] = controls[:-1, 3]
    return Curve(controls, np.concatenate([c.straight for c in items]))


def reverse(curve: Curve) -> Curve:
    """The same points walked the other way."""
    return Curve(curve.controls[::-1, ::-1], curve.straight[::-1])


def transform(curve: Curve, matrix: Affine) -> Curve:
    """The image under an affine map."""
    return Curve(matrix.apply(curve.controls), curve.straight)


def locate(curve: Curve, u: ArrayLike) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.intp]], Array]:
    """Span indices and own parameters of places `u`, clipped to the curve."""
    place = np.clip(np.asarray(u, dtype=float), 0.0, len(curve))
    index = np.minimum(place.astype(np.intp), len(curve) - 1)
    return index, place - index


def point(curve: Curve, u: ArrayLike) -> Array:
    """Points at places `u`, shape (..., 2).

    >>> point(line((0, 0), (3, 6)), 0.5)
    array([1.5, 3. ])
    """
    if isinstance(u, (float, int)):
        return _point_at(curve, float(u))
    index, t = locate(curve, u)
    p = curve.controls[index]
    t = t[..., None]
    s = 1 - t
    return np.asarray(
        s * s * s * p[..., 0, :]
        + 3 * s * s * t * p[..., 1, :]
        + 3 * s * t * t * p[..., 2, :]
        + t * t * t * p[..., 3, :]
    )


def derivative(curve: Curve, u: ArrayLike) -> Array:
    """First derivative by the span's own parameter at places `u`, shape (..., 2)."""
    index, t = locate(curve, u)
    d = 3 * np.diff(curve.controls, axis=1)[index]
    t = t[..., None]
    s = 1 - t
    return np.asarray(s * s * d[..., 0, :] + 2 * s * t * d[..., 1, :] + t * t * d[..., 2, :])


def tangent(curve: Curve, u: ArrayLike, *, before: bool = False) -> Array:
    """Unit tangents at places `u`, shape (..., 2); at a joint that of the span after it, or `before` it.

    A handle of length zero is looked through: the tangent is the limit from inside the span.
    A span of no length at all gives (0, 0).

    >>> tangent(cubic((0, 0), (0, 0), (2, 0), (3, 0)), 0.0)
    array([1., 0.])
    """
    if isinstance(u, (float, int)):
        return _tangent_at(curve, float(u), before)
    place = np.asarray(u, dtype=float)
    index, t = locate(curve, place)
    if before:
        at_joint = (t == 0.0) & (index > 0)
        index = np.where(at_joint, index - 1, index)
        t = np.where(at_joint, 1.0, t)
    p = curve.controls[index]
    d = np.diff(p, axis=-2)
    tt = t[..., None]
    s = 1 - tt
    first = s * s * d[..., 0, :] + 2 * s * tt * d[..., 1, :] + tt * tt * d[..., 2, :]
    size = np.abs(p - p[..., :1, :]).max(axis=(-2, -1))
    weak = np.linalg.norm(first, axis=-1) <= 1e-9 * size
    if np.any(weak):
        # l'Hôpital: where the first derivative vanishes the direction is that of the second, then of the third
        second = np.diff(d, axis=-2)
        curved = s * second[..., 0, :] + tt * second[..., 1, :]
        curved = np.where((t >= 0.5)[..., None], -curved, curved)
        flat = np.linalg.norm(curved, axis=-1) <= 1e-9 * size
        chord = p[..., 3, :] - p[..., 0, :]
        first = np.where(weak[..., None], np.where(flat[..., None], chord, curved), first)
    return unit(np.asarray(first))


def _located(curve: Curve, u: float) -> tuple[int, float]:
    place = min(max(u, 0.0), float(len(curve)))
    index = min(int(place), len(curve) - 1)
    return index, place - index


def _point_at(curve: Curve, u: float) -> Array:
    """As `point` at one place, in plain numbers: several times as fast."""
    index, t = _located(curve, u)
    s = 1 - t
    a, b, c, d = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = curve.controls[index].tolist()
    return np.array([a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3])


def _tangent_at(curve: Curve, u: float, before: bool) -> Array:
    """As `tangent` at one place, in plain numbers: several times as fast."""
    index, t = _located(curve, u)
    if before and t == 0.0 and index > 0:
        index, t = index - 1, 1.0
    p0, p1, p2, p3 = (complex(*p) for p in curve.controls[index].tolist())
    s = 1 - t
    d0, d1, d2 = p1 - p0, p2 - p1, p3 - p2
    way = s * s * d0 + 2 * s * t * d1 + t * t * d2
    size = max(max(abs(q.real), abs(q.imag)) for q in (d0, p2 - p0, p3 - p0))
    if abs(way) <= 1e-9 * size:
        way = s * (d1 - d0) + t * (d2 - d1)
        if t >= 0.5:
            way = -way
        if abs(way) <= 1e-9 * size:
            way = p3 - p0
    length = abs(way)
    return np.array([way.real / length, way.imag / length]) if length > 0 else np.zeros(2)


def split_spans(controls: Array, t: ArrayLike) -> tuple[Array, Array]:
    """De Casteljau: spans (n, 4, 2) cut at their own parameters t (n,) into first and second parts."""
    s = np.asarray(t, dtype=float)[:, None]
    p0, p1, p2, p3 = (controls[:, k] for k in range(4))
    a, b, c = p0 + s * (p1 - p0), p1 + s * (p2 - p1), p2 + s * (p3 - p2)
    d, e = a + s * (b - a), b + s * (c - b)
    m = d + s * (e - d)
    return np.stack([p0, a, d, m], axis=1), np.stack([m, e, c, p3], axis=1)


def unchecked(controls: Array, straight: BoolArray) -> Curve:
    """A curve of read-only arrays that hold by the way they were made: its checks cost ten times the rest.

    >>> ring = polyline([(0, 0), (9, 0), (9, 9)])
    >>> unchecked(ring.controls[1:], ring.straight[1:]).start
    array([9., 0.])
    """
    curve = object.__new__(Curve)
    object.__setattr__(curve, "controls", controls)
    object.__setattr__(curve, "straight", straight)
    return curve


def section(curve: Curve, u0: float, u1: float) -> Curve:
    """The part from place `u0` to place `u1` (u0 < u1); end points are set exactly where a joint is hit.

    Errors: GeometryError when nothing lies between.

    >>> section(line((0, 0), (10, 0)), 0.2, 0.5).end
    array([5., 0.])
    """
    u0, u1 = max(0.0, float(u0)), min(float(len(curve)), float(u1))
    if not u1 > u0:
        raise GeometryError("the two places of a stretch lie the wrong way round or on one point")
    first, last = int(u0), min(int(np.ceil(u1)) - 1, len(curve) - 1)
    controls, straight = curve.controls[first : last + 1], curve.straight[first : last + 1]
    if u0 == first and u1 == last + 1:
        return unchecked(controls, straight)
    controls = np.array(controls)
    t1 = u1 - last
    if t1 < 1.0:
        controls[-1] = split_spans(controls[-1:], [t1])[0][0]
    t0 = (u0 - first) / (t1 if first == last else 1.0)
    if t0 > 0.0:
        controls[0] = split_spans(controls[:1], [t0])[1][0]
    return Curve(controls, straight)


def split(curve: Curve, u: float) -> tuple[Curve, Curve]:
    """The parts before and after a place inside the curve."""
    return section(curve, 0.0, u), section(curve, u, float(len(curve)))


def flatten(curve: Curve, *, tolerance: float) -> Array:
    """Points (m, 2) whose chords stay within `tolerance` mm of the curve; nodes are kept.

    The number of chords is that of Wang's bound on the second derivative:
    n = ceil(sqrt(3/4 · max|second difference| / tolerance)).

    >>> flatten(line((0, 0), (10, 0)), tolerance=0.1)
    array([[ 0.,  0.],
           [10.,  0.]])
    """
    bend = np.linalg.norm(np.diff(curve.controls, n=2, axis=1), axis=-1).max(axis=1)
    counts = np.maximum(1, np.ceil(np.sqrt(0.75 * bend / tolerance))).astype(int)
    counts[curve.straight] = 1
    places = np.concatenate([i + np.arange(k) / k for i, k in enumerate(counts)] + [np.array([float(len(curve))])])
    return point(curve, places)


def bounds(curve: Curve) -> tuple[float, float, float, float]:
    """Exact smallest x, y and largest x, y in mm.

    >>> bounds(cubic((0, 0), (0, 4), (4, 4), (4, 0)))
    (0.0, 0.0, 4.0, 3.0)
    >>> bounds(cubic((0, 0), (0, 27 / 4), (0, 0), (5, 0)))  # y = 27/4 · 3 t (1 - t)², highest at t = 1/3
    (0.0, 0.0, 5.0, 3.0)
    """
    x0, y0, x1, y1 = boxes([[curve]])[0].tolist()
    return x0, y0, x1, y1


def boxes(groups: Sequence[Sequence[Curve]]) -> Array:
    """`bounds` of many groups of curves in one call, (n, 4) mm.

    >>> boxes([[line((0, 0), (4, 1)), line((0, 0), (0, 3))], [line((5, 5), (6, 4))]])
    array([[0., 0., 4., 3.],
           [5., 4., 6., 5.]])
    """
    if not groups:
        return np.zeros((0, 4))
    p = np.concatenate([curve.controls for group in groups for curve in group])
    d = np.diff(p, axis=1)
    # the derivative's own polynomial a t² + b t + c, by coordinate
    a, b, c = d[:, 0] - 2 * d[:, 1] + d[:, 2], 2 * (d[:, 1] - d[:, 0]), d[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        disc = np.sqrt(b * b - 4 * a * c)
        q = -(b + np.where(b < 0, -disc, disc)) / 2  # the stable pair of roots
        roots = np.stack([q / a, c / q])
    ts = np.where(np.isfinite(roots) & (roots > 0) & (roots < 1), roots, 0.0)
    s = 1 - ts
    extremes = s**3 * p[:, 0] + 3 * s * s * ts * p[:, 1] + 3 * s * ts * ts * p[:, 2] + ts**3 * p[:, 3]
    every = np.concatenate([p[None, :, 0], p[None, :, 3], extremes])
    first = np.cumsum([0, *(sum(map(len, group)) for group in groups[:-1])])
    low, high = np.minimum.reduceat(every.min(axis=0), first), np.maximum.reduceat(every.max(axis=0), first)
    return np.concatenate([low, high], axis=1)


def signed_area(curve: Curve) -> float:
    """mm² enclosed by the curve and the chord from its end to its start; positive when it runs clockwise on the screen.

    Exact (Green's theorem on the cubics).

    >>> round(signed_area(polyline([(0, 0), (2, 0), (2, 3), (0, 3), (0, 0)])), 9)
    6.0
    """
    return spans_area(curve.controls)


def spans_area(controls: Array) -> float:
    """As `signed_area`, of spans (n, 4, 2) end to start."""
    p = controls - controls[0, 0]
    return float(((p[..., 0] @ _AREA) * p[..., 1]).sum())


_AREA = np.array([[0, 6, 3, 1], [-6, 0, 3, 3], [-3, -3, 0, 6], [-1, -3, -6, 0]]) / 20
"""∫ x dy - y dx over a cubic, in Bernstein form."""


def same(a: Curve, b: Curve, *, tolerance: float) -> bool:
    """Whether two curves have the same spans within `tolerance` mm at every control point.

    >>> same(line((0, 0), (1, 0)), line((0, 0), (1, 1e-7)), tolerance=1e-6)
    True
    """
    return len(a) == len(b) and bool(np.abs(a.controls - b.controls).max() <= tolerance)

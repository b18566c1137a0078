"""Arc length of a curve, the length up to a place, and the place at a length.

The length of a cubic is the integral of its speed, the root of a quartic polynomial: there is no closed form. Each
stretch is integrated by two Gaussian rules; where they disagree it is halved. The rules converge so fast on smooth
stretches that they mostly agree at once, and halving homes in on a near-cusp (where the speed has a kink) at one bit a
round. Straight spans are exact.

The finer rule (Legendre, 16 points) does not see the ends of a stretch, the coarser (Lobatto, 11 points) does: two
rules that both leave the ends out agree on a wrong value when a kink hides between an end and their outermost points.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array, BoolArray, as_complex
from flatcut.geometry.arrays import Ints as Indices
from flatcut.geometry.curves import Curve, locate

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


BEYOND = 1e-6
"""mm: a distance this little outside the curve means its end; farther out is an error."""
ROUNDING = 1e-14
"""The part of a span's size below which two sums differ by rounding only; halving on cannot help."""
MARGIN = 100.0
"""How much closer than the tolerance the two rules must agree: at a kink they may agree by chance, and the closer they
are asked to agree the rarer that is (a factor of 100 costs three rounds of halving at a kink, nothing elsewhere)."""
FORWARD = 0.1
"""A curve whose derivative goes forward at least at this part of its largest speed has no kink worth a cut."""
HALVINGS = 48
"""Rounds of halving before a stretch is taken as it is; a true cusp needs about 16 for 1e-9 mm."""


def _lobatto(n: int) -> tuple[Array, Array]:
    """Points and weights of the Gauss-Lobatto rule on -1..1 (Abramowitz and Stegun 25.4.32)."""
    legendre = np.polynomial.legendre.Legendre.basis(n - 1)
    x = np.concatenate([[-1.0], np.sort(legendre.deriv().roots().real), [1.0]])
    return x, 2 / (n * (n - 1) * legendre(x) ** 2)


_COARSE = 11
_COARSE_X, _COARSE_W = _lobatto(_COARSE)
_FINE_X, _FINE_W = np.polynomial.legendre.leggauss(16)
_NODES = np.concatenate([_COARSE_X, _FINE_X])
_RULES = [list(zip(x.tolist(), w.tolist(), strict=True)) for x, w in ((_COARSE_X, _COARSE_W), (_FINE_X, _FINE_W))]
HALVINGS_ONE = 2
"""... of a stretch that is integrated in plain numbers, before it is left to all at once."""
FEW = 3
"""So many stretches are integrated one by one, in plain numbers: more are quicker all at once."""


def span_lengths(curve: Curve, *, tolerance: float = 1e-9) -> Array:
    """Arc length of each span, (n,) mm, each within `tolerance` mm.

    >>> from flatcut.geometry.curves import polyline
    >>> span_lengths(polyline([(0, 0), (3, 4), (3, 6)]))
    array([5., 2.])
    """
    index = np.arange(len(curve))
    return _spans_to(curve, index, np.ones(len(curve)), tolerance)


def length(curve: Curve, *, tolerance: float = 1e-9) -> float:
    """Arc length of the whole curve in mm; each span is within `tolerance` mm.

    A parabola y = x² over 0..1 is sqrt(5)/2 + asinh(2)/4 long (closed form):

    >>> from flatcut.geometry.curves import cubic
    >>> round(length(cubic((0, 0), (1 / 3, 0), (2 / 3, 1 / 3), (1, 1))), 9)
    1.478942858
    """
    return float(span_lengths(curve, tolerance=tolerance).sum())


def lengths_to(curve: Curve, u: ArrayLike, *, tolerance: float = 1e-9) -> Array:
    """Arc lengths in mm from the start to places `u`, any shape; places are clipped to the curve.

    >>> from flatcut.geometry.curves import polyline
    >>> lengths_to(polyline([(0, 0), (3, 4), (3, 6)]), [0, 0.5, 1.5])
    array([0. , 2.5, 6. ])
    """
    place = np.asarray(u, dtype=float)
    index, t = locate(curve, place)
    before = np.concatenate([[0.0], np.cumsum(span_lengths(curve, tolerance=tolerance))])
    part = _spans_to(curve, index.ravel(), t.ravel(), tolerance).reshape(place.shape)
    return np.asarray(before[index] + part)


def length_to(curve: Curve, u: float, *, tolerance: float = 1e-9) -> float:
    """Arc length in mm from the start to the place `u`."""
    place = min(max(float(u), 0.0), float(len(curve)))
    index = min(int(place), len(curve) - 1)
    total = 0.0
    for k, (span, straight) in enumerate(_plain(curve, index + 1)):
        part = _length_one(span, straight, place - index if k == index else 1.0, tolerance)
        if part is None:
            return float(lengths_to(curve, u, tolerance=tolerance))
        total += part
    return total


def places_at(curve: Curve, distances: ArrayLike, *, tolerance: float = 1e-9) -> Array:
    """Places whose arc length from the start is `distances` mm, any shape; the length there is within `tolerance` mm.

    Errors: GeometryError when a distance lies more than BEYOND outside the curve or is not a number.

    >>> from flatcut.geometry.curves import polyline
    >>> places_at(polyline([(0, 0), (3, 4), (3, 6)]), [2.5, 6, 7])
    array([0.5, 1.5, 2. ])
    """
    asked = np.asarray(distances, dtype=float)
    lengths = span_lengths(curve, tolerance=tolerance / 10)
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    total = ends[-1]
    inside = (asked >= -BEYOND) & (asked <= total + BEYOND)
    if not np.all(inside):
        wrong = float(asked[~inside].ravel()[0])
        raise GeometryError(f"there is no place at {wrong:.2f} mm on a line of {total:.2f} mm; take a length within it")
    along = np.clip(asked.ravel(), 0.0, total)
    index = np.clip(np.searchsorted(ends, along, side="right") - 1, 0, len(curve) - 1)
    t = _solve(curve, index, along - ends[index], lengths[index], tolerance)
    return np.asarray(np.where(along >= (1 - ROUNDING) * total, float(len(curve)), index + t).reshape(asked.shape))


def place_at(curve: Curve, distance: float, *, tolerance: float = 1e-9) -> float:
    """The place whose arc length from the start is `distance` mm; errors as for `places_at`."""
    place = _place_one(curve, float(distance), tolerance)
    return float(places_at(curve, distance, tolerance=tolerance)) if place is None else place


def _plain(curve: Curve, count: int) -> Iterator[tuple[list[complex], bool]]:
    """The first spans of a curve in plain numbers, and whether each is straight: a few are quicker so, see FEW."""
    return zip(as_complex(curve.controls[:count]).tolist(), curve.straight[:count].tolist(), strict=True)


def _length_one(span: list[complex], straight: bool, t: float, tolerance: float) -> float | None:
    return abs(span[3] - span[0]) * t if straight else _integrate_one(span, 0.0, t, tolerance)


def _place_one(curve: Curve, distance: float, tolerance: float) -> float | None:
    """As `places_at` for one distance in plain numbers; None where that is not enough, or outside."""
    spans = list(_plain(curve, len(curve)))
    lengths: list[float] = []
    for span, straight in spans:
        part = _length_one(span, straight, 1.0, tolerance / 10)
        if part is None:
            return None
        lengths.append(part)
    total = sum(lengths)
    if not 0.0 <= distance <= total:
        return None
    if distance >= (1 - ROUNDING) * total:
        return float(len(curve))
    left, k = distance, 0
    while k < len(spans) - 1 and left >= lengths[k]:
        left -= lengths[k]
        k += 1
    t = _solve_one(*spans[k], left, lengths[k], tolerance)
    return None if t is None else k + t


def _solve_one(span: list[complex], straight: bool, wanted: float, whole: float, tolerance: float) -> float | None:
    """As `_solve`, of one place; None where one stretch is not enough."""
    guess = min(wanted / whole, 1.0) if whole > 0 else 0.0
    if straight or whole == 0:
        return guess
    d0, d1, d2 = (3 * (span[k + 1] - span[k]) for k in range(3))
    low, high, done = 0.0, 1.0, 0.0
    while True:
        part = _integrate_one(span, low, guess, tolerance / 10)
        if part is None:
            return None
        excess = done + part - wanted
        if excess > 0:
            high = guess
        else:
            low, done = guess, done + part
        if abs(excess) <= tolerance / 2 or high - low <= 2e-16:
            return guess
        s = 1 - guess
        speed = abs(s * s * d0 + 2 * s * guess * d1 + guess * guess * d2)
        newton = guess - excess / speed if speed > 0 else -1.0
        guess = newton if low < newton < high else (low + high) / 2


def _spans_to(curve: Curve, index: Indices, t: Array, tolerance: float) -> Array:
    """Lengths from the start of spans `index` to their own parameters `t`, both (m,)."""
    controls = curve.controls[index]
    bent = ~curve.straight[index]
    if bent.all():
        return _integrate(controls, np.zeros(len(t)), t, tolerance)
    result = np.asarray(np.linalg.norm(controls[:, 3] - controls[:, 0], axis=1) * t)
    if bent.any():
        result[bent] = _integrate(controls[bent], np.zeros(int(bent.sum())), t[bent], tolerance)
    return result


def _integrate(controls: Array, t0: Array, t1: Array, tolerance: float) -> Array:
    """Integral of the speed of cubics (m, 4, 2) from t0 to t1, both (m,)."""
    if len(controls) <= FEW:
        rows = zip(as_complex(controls).tolist(), t0.tolist(), t1.tolist(), strict=True)
        plain = [_integrate_one(span, a, b, tolerance) for span, a, b in rows]
        if None not in plain:
            return np.array(plain, dtype=float)
    d = 3 * (controls[:, 1:] - controls[:, :-1])
    # the derivative as c0 + c1 t + c2 t², by coordinate
    c0, c1 = d[:, 0], 2 * (d[:, 1] - d[:, 0])
    c2 = d[:, 2] - d[:, 0] - c1
    enough = np.maximum(tolerance / MARGIN, ROUNDING * np.abs(d).sum(axis=(1, 2)))
    row, a, b = np.arange(len(controls)), t0, t1
    slow = _may_be_slow(d)
    if slow.any():
        row, a, b = _cut_where_slow(np.flatnonzero(slow), np.flatnonzero(~slow), c0, c1, c2, a, b)
    total = np.zeros(len(controls))
    for rounds_left in range(HALVINGS, -1, -1):
        half = (b - a) / 2
        t = ((a + b) / 2)[:, None] + half[:, None] * _NODES
        x = c0[row, :1] + t * (c1[row, :1] + t * c2[row, :1])
        y = c0[row, 1:] + t * (c1[row, 1:] + t * c2[row, 1:])
        speed = np.hypot(x, y)
        coarse = half * (speed[:, :_COARSE] @ _COARSE_W)
        fine = half * (speed[:, _COARSE:] @ _FINE_W)
        open_ = np.abs(fine - coarse) > enough[row]
        if rounds_left == HALVINGS and not slow.any() and not open_.any():
            return np.asarray(fine)
        if rounds_left == 0 or not open_.any():
            np.add.at(total, row, fine)
            break
        np.add.at(total, row[~open_], fine[~open_])
        row, a, b = row[open_], a[open_], b[open_]
        middle = (a + b) / 2
        row, a, b = np.tile(row, 2), np.concatenate([a, middle]), np.concatenate([middle, b])
    return total


def _integrate_one(p: list[complex], t0: float, t1: float, tolerance: float) -> float | None:
    """As `_integrate`, of one cubic; None where two halvings are not enough, or where it may nearly stop."""
    d = [3 * (p[k + 1] - p[k]) for k in range(3)]
    enough = max(tolerance / MARGIN, ROUNDING * sum(abs(v.real) + abs(v.imag) for v in d))
    c1 = 2 * (d[1] - d[0])
    return _stretch_one(d[0], c1, d[2] - d[0] - c1, t0, t1, enough, HALVINGS_ONE)


def _stretch_one(
    c0: complex, c1: complex, c2: complex, t0: float, t1: float, enough: float, halvings: int
) -> float | None:
    """The integral over a stretch of the speed of a curve with the derivative c0 + c1 t + c2 t²; see `_may_be_slow`."""
    sides = c0 + c1 * t0 + c2 * t0 * t0, c0 + c1 * (t0 + t1) / 2 + c2 * t0 * t1, c0 + c1 * t1 + c2 * t1 * t1
    chord = sides[0] + sides[1] + sides[2]
    least = FORWARD * abs(chord) * max(map(abs, sides))
    middle, half = (t0 + t1) / 2, (t1 - t0) / 2
    if all(v.real * chord.real + v.imag * chord.imag > least for v in sides):
        coarse, fine = (
            half * sum(w * abs(c0 + (t := middle + half * x) * (c1 + t * c2)) for x, w in rule) for rule in _RULES
        )
        if abs(fine - coarse) <= enough:
            return float(fine)
    if not halvings:
        return None
    first = _stretch_one(c0, c1, c2, t0, middle, enough, halvings - 1)
    second = None if first is None else _stretch_one(c0, c1, c2, middle, t1, enough, halvings - 1)
    return None if first is None or second is None else first + second


def _may_be_slow(d: Array) -> BoolArray:
    """Which cubics, by their derivatives' controls (m, 3, 2), may nearly stop somewhere inside.

    The derivative is a mean of its controls: where all of them go forward along the chord, the curve never stops.
    """
    chord = d.sum(axis=1, keepdims=True)
    size = np.sqrt((chord * chord).sum(axis=2) * (d * d).sum(axis=2).max(axis=1, keepdims=True))
    forward = (d * chord).sum(axis=2)
    return np.asarray((forward <= FORWARD * size).any(axis=1))


def _cut_where_slow(
    slow: Indices, plain: Indices, c0: Array, c1: Array, c2: Array, a: Array, b: Array
) -> tuple[Indices, Array, Array]:
    """Stretches (row, a, b) with those of the `slow` rows cut where their speed is least.

    Two kinks that lie between neighbouring points of the rules would be seen by neither; at the end of a stretch a kink
    does no harm. The speed squared is least at a root of v·v', a cubic; of a conjugate pair the real part is taken.
    """
    u, v, w = c0[slow], c1[slow], c2[slow]
    k0, k1 = (u * v).sum(axis=1), (v * v + 2 * u * w).sum(axis=1)
    k2, k3 = 3 * (v * w).sum(axis=1), 2 * (w * w).sum(axis=1)
    # a vanishing leading term is lifted a little, which sends one root far away and leaves the others where they are
    k3 = np.maximum(k3, 1e-14 * (np.abs(k0) + np.abs(k1) + np.abs(k2))) + np.finfo(float).tiny
    companion = np.zeros((len(slow), 3, 3))
    companion[:, 1, 0] = companion[:, 2, 1] = 1
    companion[:, :, 2] = -np.stack([k0, k1, k2], axis=1) / k3[:, None]
    stops = np.sort(np.linalg.eigvals(companion).real, axis=1)
    low, high = a[slow][:, None], b[slow][:, None]
    edges = np.concatenate([low, np.clip(stops, low, high), high], axis=1)
    return (
        np.concatenate([plain, np.repeat(slow, 4)]),
        np.concatenate([a[plain], edges[:, :-1].ravel()]),
        np.concatenate([b[plain], edges[:, 1:].ravel()]),
    )


def _solve(curve: Curve, index: Indices, wanted: Array, whole: Array, tolerance: float) -> Array:
    """Own parameters (m,) of spans `index` at which their length is `wanted`.

    Newton's step is wanted - length over speed; it is replaced by halving whenever it would leave the interval that is
    known to hold the answer, as it does beside a near-cusp, where the speed is all but zero.
    """
    t = np.clip(np.divide(wanted, whole, out=np.zeros_like(wanted), where=whole > 0), 0.0, 1.0)
    row = np.flatnonzero(~curve.straight[index] & (whole > 0))
    controls, goal, guess = curve.controls[index[row]], wanted[row], t[row]
    low, high, done_to_low = np.zeros(len(row)), np.ones(len(row)), np.zeros(len(row))
    while row.size:
        reached = done_to_low + _integrate(controls, low, guess, tolerance / 10)
        excess = reached - goal
        t[row] = guess
        over = excess > 0
        high = np.where(over, guess, high)
        done_to_low = np.where(over, done_to_low, reached)
        low = np.where(over, low, guess)
        going = (np.abs(excess) > tolerance / 2) & (high - low > 2e-16)
        row, controls, goal, excess = row[going], controls[going], goal[going], excess[going]
        low, high, done_to_low, guess = low[going], high[going], done_to_low[going], guess[going]
        d = 3 * np.diff(controls, axis=1)
        s = 1 - guess[:, None]
        g = guess[:, None]
        velocity = s * s * d[:, 0] + 2 * s * g * d[:, 1] + g * g * d[:, 2]
        speed = np.linalg.norm(velocity, axis=1)
        step = np.divide(excess, speed, out=np.full_like(excess, np.inf), where=speed > 0)
        newton = guess - step
        guess = np.where((newton > low) & (newton < high), newton, (low + high) / 2)
    return t

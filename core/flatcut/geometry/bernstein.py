"""Polynomials in one variable over 0..1 by their Bernstein coefficients, many at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flatcut.geometry.arrays import Array


def halve(g: Array) -> tuple[Array, Array]:
    """Coefficients (m, k) over the two halves of the interval (de Casteljau); further axes (m, k, ...) are kept.

    >>> halve(np.array([[0., 2., 4.]]))
    (array([[0., 1., 2.]]), array([[2., 3., 4.]]))
    """
    left, right = [g[:, 0]], [g[:, -1]]
    while g.shape[1] > 1:
        g = (g[:, 1:] + g[:, :-1]) / 2
        left.append(g[:, 0])
        right.append(g[:, -1])
    return np.stack(left, axis=1), np.stack(right[::-1], axis=1)


def value(g: Array, t: Array) -> tuple[Array, Array]:
    """Values and derivatives at t (m,) of polynomials (m, k), k at least 2 (de Casteljau).

    >>> value(np.array([[0., 0., 1.]]), np.array([0.5]))
    (array([0.25]), array([1.]))
    """
    s, t, degree = 1 - t[:, None], t[:, None], g.shape[1] - 1
    while g.shape[1] > 2:
        g = s * g[:, :-1] + t * g[:, 1:]
    return (s * g[:, :1] + t * g[:, 1:])[:, 0], degree * (g[:, 1] - g[:, 0])


def root(g: Array, low: Array, high: Array) -> Array:
    """The one root between `low` and `high` (m,) of each polynomial (m, k); it must go up there through nought.

    Newton's step, replaced by halving whenever it would leave the interval known to hold the root.

    >>> root(np.array([[-1., -1., 1.]]), np.zeros(1), np.ones(1)).round(12)
    array([0.70710678])
    """
    low, high = low.copy(), high.copy()
    t = (low + high) / 2
    row = np.arange(len(g))
    for _ in range(100):
        here = t[row]
        height, rise = value(g[row], here)
        up = height > 0
        high[row], low[row] = np.where(up, here, high[row]), np.where(up, low[row], here)
        newton = here - np.divide(height, rise, out=np.full_like(height, np.inf), where=rise > 0)
        kept = (newton >= low[row]) & (newton <= high[row])
        t[row] = np.where(kept, newton, (low[row] + high[row]) / 2)
        going = (np.abs(t[row] - here) > 1e-15) & (high[row] - low[row] > 1e-15) & (height != 0)
        row = row[going]
        if not row.size:
            break
    return t


def rising(c: Sequence[float], low: float = 0.0) -> float | None:
    """Where between `low` and 1 one cubic of four coefficients goes up through nought; None where its ends deny it.

    As `root`, in plain numbers: many times as fast for one.

    >>> rising([-1.0, -1.0, 1.0, 1.0])
    0.5
    """
    c0, c1, c2, c3 = c
    a, b = low, 1.0
    # c0 + k1 t + k2 t² + k3 t³
    k1, k2, k3 = 3 * (c1 - c0), 3 * (c0 - 2 * c1 + c2), c3 - c0 + 3 * (c1 - c2)
    if c0 + a * (k1 + a * (k2 + a * k3)) >= 0 or c3 <= 0:
        return None
    t = (a + b) / 2
    for _ in range(100):
        height = c0 + t * (k1 + t * (k2 + t * k3))
        a, b = (a, t) if height > 0 else (t, b)
        slope = k1 + t * (2 * k2 + 3 * t * k3)
        newton = t - height / slope if slope > 0 else b
        before, t = t, newton if a <= newton <= b else (a + b) / 2
        if height == 0 or abs(t - before) <= 1e-16:
            break
    return t

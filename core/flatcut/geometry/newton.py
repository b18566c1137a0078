"""Valleys of a smooth figure of few unknowns, from several starts at once, by Newton's method."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from flatcut.geometry.arrays import Array

ASIDE = 1e-4
"""How far aside an unknown is tried for the slope and the bend of the figure; unknowns are of the order of one."""
LONGEST = 1.5
"""No step changes an unknown by more."""
LEAST_BEND = 1e-6
"""Directions in which the figure bends less than this part of its sharpest bend are taken as bent by so much."""


def valleys(figure: Callable[[Array], Array], starts: Array, *, steps: int = 40, settled: float = 1e-5) -> Array:
    """The places (k, p) of least `figure` next to `starts` (k, p).

    figure: from places (n, p) to one number each, (n,); all starts are tried together, for that costs little more than
    one. Slope and bend come from differences; where the figure is not bent upward the step goes down all the same, and
    it is shortened until it helps (J. Nocedal and S. Wright, Numerical Optimization, 2006, section 3.4). A start is
    done when its step was shorter than `settled` in every unknown.

    >>> def hump(x):
    ...     return (x[:, 0] ** 2 - 4) ** 2 + (x[:, 1] - x[:, 0]) ** 2
    >>> valleys(hump, np.array([[-1.0, 0.0], [3.0, 1.0]])).round(6)
    array([[-2., -2.],
           [ 2.,  2.]])
    """
    x = np.array(starts, dtype=float)
    k, p = x.shape
    pairs = [(i, j) for i in range(p) for j in range(i)]
    one = ASIDE * np.eye(p)
    asides = np.vstack([np.zeros((1, p)), one, -one, *(one[i : i + 1] + one[j] for i, j in pairs)])
    first, second = [i for i, _ in pairs], [j for _, j in pairs]

    def looked(at: Array) -> tuple[Array, Array, Array]:
        """Figure (k,), slope (k, p) and bend (k, p, p)."""
        found = figure((at[:, None] + asides).reshape(-1, p)).reshape(len(at), -1)
        here, up, down, both = found[:, :1], found[:, 1 : p + 1], found[:, p + 1 : 2 * p + 1], found[:, 2 * p + 1 :]
        bend = np.empty((len(at), p, p))
        bend[:, range(p), range(p)] = (up - 2 * here + down) / ASIDE**2
        bend[:, first, second] = (both - up[:, first] - up[:, second] + here) / ASIDE**2
        bend[:, second, first] = bend[:, first, second]
        return here[:, 0], (up - down) / (2 * ASIDE), bend

    here, slope, bend = looked(x)
    share, going = np.ones(k), np.arange(k)
    for _ in range(steps):
        sharp, axes = np.linalg.eigh(bend[going])
        size = np.abs(sharp)
        size = np.maximum(size, LEAST_BEND * size.max(axis=1, keepdims=True) + 1e-300)
        along = -np.einsum("kij,ki->kj", axes, slope[going]) / size
        step = np.einsum("kij,kj->ki", axes, along)
        step *= (share[going] / np.maximum(1.0, np.abs(step).max(axis=1) / LONGEST))[:, None]
        found, its_slope, its_bend = looked(x[going] + step)
        better = found < here[going]
        on, off = going[better], going[~better]
        x[on] += step[better]
        here[on], slope[on], bend[on] = found[better], its_slope[better], its_bend[better]
        share[on] = np.minimum(1.0, 4 * share[on])
        share[off] /= 4
        going = going[np.abs(step).max(axis=1) > settled]
        if not going.size:
            break
    return x

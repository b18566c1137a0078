"""Least squares for few unknowns, by Newton's method on the sum of squares."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from flatcut.geometry.arrays import Array


class Residuals(Protocol):
    """From unknowns (p,) to residuals (m,), their Jacobian (m, p), and their bend (p, p): the sum of each residual
    times its second derivatives. Where slopes are not wanted the last two are left empty."""

    def __call__(self, x: Array, *, slopes: bool = True) -> tuple[Array, Array, Array]:
        """Residuals, Jacobian and bend at `x`."""


SETTLED = 1e-5
"""The search ends with the step that should lower the sum of squares by less than this part of it."""
LONGEST = 1.0
"""No step changes an unknown by more."""
FLATTEST = 1e-7
"""Directions in which the sum of squares bends by less than this part of its scale are taken as bent by so much."""
FIRST_DAMPING, MOST_DAMPING = 1e-3, 1e8
"""What is added to the bend in all directions after a step that did not help, in parts of its scale."""


def least_squares(residuals: Residuals, start: Array, *, steps: int = 50) -> Array:
    """Unknowns (p,) at a local minimum of the sum of squared residuals r, after at most `steps` evaluations.

    The step is Newton's, with the whole second derivative JᵀJ + bend, which a valley that bends needs: by JᵀJ alone
    steps stay short where residuals stay large. Scaled by the roots of diag JᵀJ, directions that bend downward count as
    bent upward as sharply (J. Nocedal and S. Wright, Numerical Optimization, 2006, section 3.4). After a step that did
    not help all directions count as bent more (K. Levenberg, 1944; D. Marquardt, SIAM J. 11, 1963). The last step,
    which is too short to matter, is taken unseen.

    Rosenbrock's valley, whose least value is 0 at (1, 1):

    >>> def valley(x, *, slopes=True):
    ...     r = np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]])
    ...     return r, np.array([[-20 * x[0], 10.0], [-1.0, 0.0]]), r[0] * np.array([[-20.0, 0.0], [0.0, 0.0]])
    >>> least_squares(valley, np.array([-1.2, 1.0])).round(6)
    array([1., 1.])
    """
    x, damping, moved = start, 0.0, True
    r, jacobian, bend = residuals(x)
    cost = float(r @ r)
    for _ in range(steps):
        if moved:
            normal, slope = jacobian.T @ jacobian, jacobian.T @ r
            scale = np.sqrt(np.diag(normal))
            scale = np.maximum(scale, 1e-6 * scale.max() + 1e-300)
            sharp, axes = np.linalg.eigh((normal + bend) / np.outer(scale, scale))
            along, sharp = axes.T @ (slope / scale), np.maximum(np.abs(sharp), FLATTEST)
        step = -(axes @ (along / (sharp + damping))) / scale
        step *= min(1.0, LONGEST / float(np.abs(step).max() + 1e-300))
        expected = -float(slope @ step)
        if expected <= SETTLED * cost:
            return np.asarray(x + step)
        found = residuals(x + step)
        gained = cost - float(found[0] @ found[0])
        moved = gained > 0
        if moved:
            if gained > expected / 2:
                damping = damping / 5 if damping > FIRST_DAMPING / 5 else 0.0
            x, (r, jacobian, bend) = x + step, found
            cost -= gained
        else:
            damping = max(4 * damping, FIRST_DAMPING)
            if damping > MOST_DAMPING:
                break
    return x

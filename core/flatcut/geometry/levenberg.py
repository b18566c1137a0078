"""Least squares by the method of Levenberg and Marquardt, for few unknowns and an analytic Jacobian alone.

Where residuals are small in the end, as those of a fit to points, it takes cheaper steps than `least_squares`.
"""

from __future__ import annotations

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.geometry.least_squares import Residuals

SETTLED = 1e-4
"""The search ends when a step lowers the sum of squares by less than this part of it."""
PROBE = 0.1
"""The part of a step at which the residuals' bend along it is taken."""
TRUSTED = 0.75
"""A correction longer than this part of the step says that the step is too long."""


def levenberg_marquardt(residuals: Residuals, start: Array, *, steps: int = 30) -> Array:
    """Unknowns (p,) at a local minimum of the sum of squared residuals, after at most `steps` steps.

    The step v solves (JᵀJ + m diag JᵀJ) v = -Jᵀr; m falls after a step that helped and rises after one that did not
    (D. Marquardt, An algorithm for least-squares estimation of nonlinear parameters, SIAM J. 11, 1963). A valley that
    bends makes such steps short: from the first step on that did not help, the residuals' second derivative along v,
    from one more evaluation, bends the step with it (M. Transtrum and J. Sethna, Improvements to the
    Levenberg-Marquardt algorithm, 2012, section 4).

    Rosenbrock's valley, whose least value is 0 at (1, 1):

    >>> def valley(x, *, slopes=True):
    ...     slopes = np.array([[-20 * x[0], 10.0], [-1.0, 0.0]])
    ...     return np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]]), slopes, np.zeros((2, 2))
    >>> levenberg_marquardt(valley, np.array([-1.2, 1.0])).round(6)
    array([1., 1.])
    """
    x = start
    r, jacobian, _ = residuals(x)
    cost = float(r @ r)
    damping, bent = 1e-3, False
    for _ in range(steps):
        normal = jacobian.T @ jacobian
        scale = np.diag(normal)
        inverse = np.linalg.inv(normal + np.diag(damping * scale + 1e-12 * (scale.max() + 1e-300)))
        step = -inverse @ (jacobian.T @ r)
        correction = np.zeros_like(step)
        if bent:
            ahead = residuals(x + PROBE * step, slopes=False)[0]
            bend = 2 / PROBE * ((ahead - r) / PROBE - jacobian @ step)
            correction = -0.5 * inverse @ (jacobian.T @ bend)
        if float(np.linalg.norm(correction)) < TRUSTED * float(np.linalg.norm(step)):
            trial = x + step + correction
            trial_r, trial_jacobian, _ = residuals(trial)
            trial_cost = float(trial_r @ trial_r)
        else:
            trial_cost = np.inf
        if trial_cost < cost:
            settled = cost - trial_cost <= SETTLED * cost
            x, r, jacobian, cost = trial, trial_r, trial_jacobian, trial_cost
            if settled:
                break
            damping = max(damping / 5, 1e-12)
        else:
            damping, bent = damping * 4, True
            if damping > 1e8:
                break
    return x

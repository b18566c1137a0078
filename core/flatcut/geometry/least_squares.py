"""Least squares for few unknowns, by Newton's method on the sum of squares."""

from __future__ import annotations

from typing import NamedTuple, Protocol, runtime_checkable

import numpy as np

from flatcut.geometry.arrays import Array


class Residuals(Protocol):
    """From unknowns (p,) to residuals (m,), their Jacobian (m, p), and their bend (p, p): the sum of each residual
    times its second derivatives. Where slopes are not wanted the last two are left empty."""

    def __call__(self, x: Array, *, slopes: bool = True) -> tuple[Array, Array, Array]:
        """Residuals, Jacobian and bend at `x`."""


@runtime_checkable
class Tight(Protocol):
    """Residuals of which the last few are all but conditions: they alone, (k,), are told at less cost."""

    def tight(self, x: Array) -> Array:
        """The last k residuals at `x`."""


SETTLED = 1e-6
"""The search ends with the step that should lower the sum of squares by less than this part of it. With ten times as
much it ends, in a flat valley, at places that hang on the last digits: a nanometre moved an edge by 0.15 mm."""
LONGEST = 1.0
"""No step changes an unknown by more."""
FLATTEST = 1e-7
"""Directions in which the sum of squares bends by less than this part of its scale are taken as bent by so much."""
RAISED, LEAST_DAMPING, MOST_DAMPING = 10.0, 1e-7, 1e8
"""What is added to the bend in all directions, in parts of its scale, is raised so many times after a step that did not
help, from twice the flattest direction's bend on; less than the least is none."""
CORRECTIONS, MET, ASTRAY = 3, 1e-3, 0.5
"""A step is corrected so many times for tight residuals, until these are met so nearly; a correction by more than this
part of the step itself is none."""
WORSE = 2.0
"""A step may raise the sum of squares up to so many times, if the next one from there brings it below what it was."""


class _Model(NamedTuple):
    """The sum of squares about a place: its slope, and the bend's axes and sharpness in scaled unknowns."""

    slope: Array
    axes: Array
    sharp: Array
    scale: Array

    @classmethod
    def of(cls, r: Array, jacobian: Array, bend: Array) -> _Model:
        normal = jacobian.T @ jacobian
        scale = np.sqrt(normal.diagonal())
        scale = np.maximum(scale, 1e-6 * scale.max() + 1e-300)
        sharp, axes = np.linalg.eigh((normal + bend) / (scale[:, None] * scale))
        return cls(jacobian.T @ r, axes, np.maximum(np.abs(sharp), FLATTEST), scale)

    def step(self, damping: float) -> Array:
        along = self.axes.T @ (self.slope / self.scale) / (self.sharp + damping)
        step = -(self.axes @ along) / self.scale
        return np.asarray(step * min(1.0, LONGEST / float(np.abs(step).max() + 1e-300)))

    def corrected(
        self, step: Array, tight: Tight, x: Array, r: Array, jacobian: Array, damping: float
    ) -> tuple[Array, float]:
        """The step from `x`, at the end of which tight residuals are what the slopes promise: the least correction
        that meets them, as the bend counts steps. And the sum of their squares there."""
        found = tight.tight(x + step)
        rows = jacobian[len(jacobian) - len(found) :]
        wanted = r[len(r) - len(found) :] + rows @ step
        axes = self.axes / self.scale[:, None]
        to = (axes / (self.sharp + damping)) @ (axes.T @ rows.T)
        held = rows @ to
        meeting = to @ np.linalg.inv(held + 1e-12 * held.trace() * np.eye(len(held)))
        bent = step
        for _ in range(CORRECTIONS):
            gap = found - wanted
            if max(map(abs, gap.tolist())) < MET:
                break
            bent = bent - meeting @ gap
            found = tight.tight(x + bent)
            if np.abs(bent - step).max() > ASTRAY * np.abs(step).max():
                return step, np.inf
        return bent, float(found @ found)


class _Place(NamedTuple):
    """Unknowns, their sum of squares, what it is like about them, their residuals and these by the unknowns."""

    x: Array
    cost: float
    model: _Model
    r: Array
    jacobian: Array


def least_squares(residuals: Residuals, start: Array, *, steps: int = 50) -> Array:
    """Unknowns (p,) at a local minimum of the sum of squared residuals r, after at most `steps` evaluations.

    The step is Newton's, with the whole second derivative JᵀJ + bend, which a valley that bends needs: by JᵀJ alone
    steps stay short where residuals stay large. Scaled by the roots of diag JᵀJ, directions that bend downward count as
    bent upward as sharply (J. Nocedal and S. Wright, Numerical Optimization, 2006, section 3.4). Along the floor of a
    valley that bends a whole step climbs its side, and the next one comes down farther on: it is gone back only where
    that one does not help either (R. Chamberlain and others, The watchdog technique, 1982, from memory). Then all
    directions count as bent more (K. Levenberg, 1944; D. Marquardt, SIAM J. 11, 1963). The last step, which is too
    short to matter, is taken unseen. Where some residuals are tight, so that their valley is as steep as it is bent, a
    step is bent with them first (R. Fletcher, Second order corrections for non-differentiable optimization, 1982).

    Rosenbrock's valley, whose least value is 0 at (1, 1):

    >>> def valley(x, *, slopes=True):
    ...     r = np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]])
    ...     return r, np.array([[-20 * x[0], 10.0], [-1.0, 0.0]]), r[0] * np.array([[-20.0, 0.0], [0.0, 0.0]])
    >>> least_squares(valley, np.array([-1.2, 1.0])).round(6)
    array([1., 1.])
    """
    damping, tight = 0.0, residuals if isinstance(residuals, Tight) else None
    found = residuals(start)
    here = _Place(start, float(found[0] @ found[0]), _Model.of(*found), found[0], found[1])
    back: _Place | None = None
    for _ in range(steps):
        step = here.model.step(damping)
        expected = -float(here.model.slope @ step)
        if back is None and expected <= SETTLED * here.cost:
            return np.asarray(here.x + step)
        if tight is not None:
            step, cost = here.model.corrected(step, tight, here.x, here.r, here.jacobian, damping)
        x = here.x + step
        if tight is None or cost < WORSE * here.cost:
            found = residuals(x)
            cost = float(found[0] @ found[0])
        # what comes back to where it was by a long way has found nothing
        if cost < (here.cost if back is None else (1 - SETTLED) * back.cost):
            if back is None and here.cost - cost > expected / 2:
                damping = damping / 5 if damping > 5 * LEAST_DAMPING else 0.0
            here, back = _Place(x, cost, _Model.of(*found), found[0], found[1]), None
        elif back is None and damping == 0.0 and cost < WORSE * here.cost:
            here, back = _Place(x, cost, _Model.of(*found), found[0], found[1]), here
        else:
            if back is not None:
                here, back = back, None
            damping = max(RAISED * damping, 2 * float(here.model.sharp.min()))
            if damping > MOST_DAMPING:
                break
    return here.x if back is None else back.x

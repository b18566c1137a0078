"""Cloth brought to rest: steps of implicit time, each one solved by a linear system, until the energy falls no more."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.worn.energy import Energy

FIRST, LAST = 0.03, 2.0
"""Seconds of the first and of the longest step."""
SHORTEST = 5e-5
"""Seconds to which a step is cut down where none leads down."""
TRIES = 8
"""Steps in a row that may lead nowhere before it is given up."""
LONG = 0.5
"""Seconds of a step that is long enough to tell rest by: in a short one the mass alone holds the cloth."""
ENOUGH = 0.2
"""Of a step: where less of it leads down, it was too bold, and says nothing of rest."""
FAR = 0.5
"""Of the longest way in a step that led nowhere: vertices with a longer one are slowed down."""
FEW = 0.02
"""Of the vertices, which may be slowed down while the cloth is called at rest."""
FARTHEST = 30.0
"""mm that a vertex may go in one step."""
STILL = 3e-4
"""Of the energy stored in the cloth that a step may still set free: three such steps one after the other are rest."""


class Limit(NamedTuple):
    """When to stop with what there is. until: of time.monotonic(); stopped: asked after each step."""

    until: float = np.inf
    stopped: Callable[[], bool] = lambda: False

    @property
    def over(self) -> bool:
        """Whether it is time."""
        return time.monotonic() > self.until or self.stopped()


NO_LIMIT = Limit()


class Rest(NamedTuple):
    """Cloth at rest. at: (n, 3) mm; energies: after each step, N mm; still: whether it came to rest."""

    at: Array
    energies: tuple[float, ...]
    still: bool


def at_rest(
    energy: Energy,
    start: Array,
    *,
    steps: int,
    limit: Limit = NO_LIMIT,
    told: Callable[[int, float], None] = lambda step, value: None,
) -> Rest:
    """Let the cloth come to rest from a start (n, 3). Errors: GeometryError for a start that is none."""
    from scipy.sparse.linalg import splu

    if not np.isfinite(start).all():
        raise GeometryError("the pieces could not be put on the form")
    at, value = start, energy.value(start)
    energies = [value]
    pace = np.full(len(start), FIRST)  # each vertex has its own: one that leads nowhere must not hold back all others
    calm, stuck = 0, 0
    for step in range(steps):
        if limit.over:
            return Rest(at, tuple(energies), still=False)
        slope, matrix = energy.slope(at)
        matrix.data[energy.diagonal] += np.repeat(energy.mass / pace**2, 3) + 1e-9
        try:
            factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        except RuntimeError:
            raise GeometryError(
                "the cloth cannot be computed: some of its triangles have been pulled to nothing; take another --mesh, "
                "or fewer --pieces"
            ) from None
        way = -factor.solve(slope.ravel()).reshape(-1, 3)
        moves = np.abs(way).max(axis=1)
        size = float(moves.max())
        share = min(1.0, FARTHEST / size) if size > 0 else 1.0
        down = float((slope * way).sum())
        taken, now, new = 0.0, value, at
        for _ in range(14):
            new = at + share * way
            now = energy.value(new)
            if now <= value + 1e-4 * share * down:
                taken = share
                break
            share *= 0.5
        if taken:
            fall = value - now
            at, value = new, now
            stuck = 0
        else:
            fall = 0.0
            stuck += 1
        energies.append(value)
        told(step, value)
        if taken >= ENOUGH:
            calm = calm + 1 if (pace < LONG).mean() < FEW and fall <= STILL * energy.stored(at) else 0
            pace = np.minimum(LAST, pace * (2.0 if taken == 1.0 else 1.4))
        elif taken:
            far = moves > FAR * size
            pace = np.maximum(np.where(far, pace * (0.3 if far.mean() < FEW else 0.7), pace), SHORTEST)
        else:
            pace = np.maximum(0.2 * pace, SHORTEST)
        if calm >= 3 or stuck >= TRIES:
            # no way down found is rest only where none was to be expected
            return Rest(at, tuple(energies), still=calm >= 3 or -down <= STILL * energy.stored(at))
    return Rest(at, tuple(energies), still=False)

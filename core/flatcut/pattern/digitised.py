"""Outlines of many points, as a digitising table or a scanner gives them, made into few curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.geometry.curves import Curve
from flatcut.geometry.nearest import nearest
from flatcut.pattern.tracing import Traced, turns

WITHIN = 0.1
"""mm that the curves may stray from the points: a digitising table is no more exact than that."""
MANY = 12
"""Nodes inside edges from which straight spans are taken for samples of curves; with fewer they are what was meant."""


def is_sampled(ring: Curve, *, corner_angle: float) -> bool:
    """Whether an outline is points on curves: straight spans only, and many nodes that are no corner.

    >>> from flatcut.geometry.curves import polyline
    >>> t = np.linspace(0, 2 * np.pi, 60)
    >>> circle = polyline(100 * np.stack([np.cos(t), np.sin(t)], axis=1))
    >>> is_sampled(circle, corner_angle=15), is_sampled(polyline([(0, 0), (9, 0), (0, 9), (0, 0)]), corner_angle=15)
    (True, False)
    """
    return bool(ring.straight.all()) and int((np.abs(turns(ring)) <= corner_angle).sum()) >= MANY


@dataclass(frozen=True, kw_only=True)
class Fitted:
    """traced: the same outline in curves; before, after: how many nodes it had and has; largest: mm from a point."""

    traced: Traced
    before: int
    after: int
    largest: float


def fitted(traced: Traced, *, tolerance: float = WITHIN) -> Fitted:
    """Fit every stretch between corners, feet and points by few curves within `tolerance` mm of its points."""
    from flatcut.geometry.fit_points import fit_points

    whole_ring = len(traced.runs) == 1 and not traced.darts
    counts, away = [0, 0], 0.0

    def fit(curve: Curve, *, closed: bool = False) -> Curve:
        nonlocal away
        points = curve.nodes[:-1] if closed else curve.nodes
        # corners were told before; what is left inside a stretch is the roughness of the points
        done = fit_points(points, tolerance=tolerance, corner_angle=180.0, closed=closed)
        counts[0] += len(curve)
        counts[1] += len(done)
        away = max(away, float(nearest(done, points)[1].max()))
        return done

    runs = tuple(tuple(fit(part, closed=whole_ring) for part in parts) for parts in traced.runs)
    darts = {key: (fit(one), fit(two)) for key, (one, two) in traced.darts.items()}
    return Fitted(traced=Traced(runs, darts, ()), before=counts[0], after=counts[1], largest=away)

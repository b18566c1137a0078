"""Points that scatter about known curves, as a hand or a table gives them: the curve that was drawn comes back.

The truth is the drawn curve, never the points; scatter is drawn with fixed seeds.
"""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, point, polyline, tangent
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.scatter import scatter
from flatcut.outlines.digitised import fitted
from flatcut.pattern.tracing import Traced

SCATTER = 0.05
NECK = cubic((0, 0), (40, 0), (60, -20), (65, -70))
HIP = cubic((0, 0), (-18, 70), (-25, 140), (-25, 200))
WAIST = cubic((0, 0), (40, 2), (80, 6), (120, 14))
WAVE = cubic((0, 0), (100, 120), (150, -90), (260, 40))
ARMHOLE = chain(
    [cubic((0, 0), (-28, 45), (-30, 95), (-5, 130)), cubic((-5, 130), (22.7, 168.8), (60, 172), (105, 168))]
)
CURVES = {"neck": NECK, "hip": HIP, "waist": WAIST, "wave": WAVE, "armhole": ARMHOLE}


def scattered(curve: Curve, step: float, seed: int) -> Array:
    """Points about `step` mm apart, each off the curve at random in both directions."""
    size = length(curve)
    at = point(curve, places_at(curve, np.linspace(0, size, round(size / step) + 1)))
    return at + np.random.default_rng(seed).normal(0, SCATTER, at.shape)


def fit(points: Array) -> tuple[Curve, float]:
    """The points as the fit of an outline gives them back that a straight edge closes, and the scatter it tells."""
    (found,) = fitted([outline(points)])
    return found.traced.runs[0][0], found.scatter


def outline(points: Array) -> tuple[Traced, Curve]:
    """Points whose ends a straight edge joins, as an outline is traced and drawn."""
    ring = polyline(np.concatenate([points, points[:1]]))
    back = polyline([points[-1], points[0]])
    return Traced(((polyline(points),), (back,)), {}, ()), ring


def kinks(curve: Curve) -> float:
    joints = np.arange(1, len(curve))
    if not len(joints):
        return 0.0
    cosine = (tangent(curve, joints, before=True) * tangent(curve, joints)).sum(axis=1)
    return float(np.degrees(np.arccos(np.clip(cosine, -1, 1))).max())


@pytest.mark.parametrize("step", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("name", CURVES)
def test_the_curve_that_was_drawn_comes_back(name: str, step: float) -> None:
    curve = CURVES[name]
    counts = []
    for seed in range(4):
        found, told = fit(scattered(curve, step, seed))
        assert kinks(found) < 1e-3
        # the ends are points of their own, which stay where they were taken
        off = nearest(found, point(curve, np.linspace(0.1, 0.9, 200) * len(curve)))[1]
        assert off.max() < 3 * SCATTER
        assert np.sqrt((off**2).mean()) < SCATTER
        counts.append(len(found) - len(curve))
        assert told == pytest.approx(SCATTER, abs=0.025)
    # as many cubics as were drawn; by chance a stretch may pass for a straight one, with a curve on either side
    assert counts.count(0) >= 3
    assert max(counts) <= 2


@pytest.mark.parametrize("seed", range(4))
def test_a_small_corner_among_scattered_points_is_kept(seed: int) -> None:
    # two straight edges that meet at 12 degrees, as where a waist meets its extension
    turn = np.radians(12.0)
    both = chain([line((0, 0), (80, 0)), line((80, 0), (80 + 80 * np.cos(turn), 80 * np.sin(turn)))])
    found, _ = fit(scattered(both, 1.0, seed))
    assert kinks(found) == pytest.approx(12.0, abs=1.0)
    assert np.hypot(*(found.nodes - [80, 0]).T).min() < 1.0


def test_scatter_is_told_from_the_points_alone() -> None:
    for curve in CURVES.values():
        assert scatter(scattered(curve, 2.0, 7)) == pytest.approx(SCATTER, abs=0.02)
        assert scatter(point(curve, places_at(curve, np.linspace(0, length(curve), 40)))) == 0.0

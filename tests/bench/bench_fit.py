"""Digitised lines fitted, against scipy's smoothing splines on the same points in the same run.

Run: OPENBLAS_NUM_THREADS=1 PYTHONPATH=core python -m tests.bench.bench_fit

Fifty known curves with points that scatter by 0.05 mm; the spline is told that, the fit tells it from the points.
Deviation is from the drawn curve. Processor time, the least of some rounds. The goals: 1 s for all, at most the
spline's time and half its pieces at the same deviation.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import cycle, islice

import numpy as np
from scipy.interpolate import splev, splprep
from scipy.spatial import cKDTree

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point
from tests.test_scatter import CURVES, SCATTER, fit, scattered

COUNT, ROUNDS = 50, 3
STEPS = (0.6, 0.8, 1.0)


def spent(task: Callable[[], object]) -> float:
    """Seconds of the processor, the least of some rounds."""
    found = []
    for _ in range(ROUNDS):
        start = time.process_time()
        task()
        found.append(time.process_time() - start)
    return min(found)


def off(places: Array, curve: Curve) -> float:
    """mm, the root of the mean square of how far the middle of a drawn curve lies from places on a fitted one."""
    drawn = point(curve, np.linspace(0.1, 0.9, 200) * len(curve))
    return float(np.sqrt((cKDTree(places).query(drawn)[0] ** 2).mean()))


def main() -> None:
    """Print the time, the pieces and the deviation of both."""
    curves = list(islice(cycle(CURVES.values()), COUNT))
    sets = [scattered(curve, STEPS[k % len(STEPS)], k) for k, curve in enumerate(curves)]

    def spline(points: Array) -> tuple[Array, Array, int]:
        return splprep(points.T, s=2 * len(points) * SCATTER**2)[0]

    own = [fit(points)[0] for points in sets]
    other = [spline(points) for points in sets]
    dense = np.linspace(0, 1, 4000)
    rows = (
        ("fit", spent(lambda: [fit(p) for p in sets]), sum(map(len, own)), [point(f, dense * len(f)) for f in own]),
        (
            "splprep",
            spent(lambda: [spline(p) for p in sets]),
            sum(len(t) - 7 for t, _, _ in other),
            [np.stack(splev(dense, tck), axis=1) for tck in other],
        ),
    )
    print(
        f"{COUNT} lines of {min(map(len, sets))} to {max(map(len, sets))} points, {sum(map(len, curves))} cubics drawn"
    )
    for name, took, pieces, places in rows:
        away = np.mean([off(at, curve) for at, curve in zip(places, curves, strict=True)])
        print(f"{name:8}{took:8.2f} s{pieces:6} pieces{away:8.4f} mm off the drawn curve")
    print(f"ratio   {rows[0][1] / rows[1][1]:8.1f} (1.0){rows[0][2] / rows[1][2]:7.2f} (0.5)")


if __name__ == "__main__":
    main()

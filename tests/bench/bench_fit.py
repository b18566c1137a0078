"""Digitised lines fitted, against scipy's smoothing splines on the same points in the same run.

Run: OPENBLAS_NUM_THREADS=1 PYTHONPATH=core python -m tests.bench.bench_fit

Fifty known curves with points that scatter by 0.05 mm; the spline is told that, the fit tells it from the points.
The fit is given all lines in one call, as the points of a file are read; the spline, which takes one line at a time,
in a loop. The row "one by one" is the same fit called for each line by itself. Both begin with the points as they are
held and end with the curves. Deviation is from the drawn curve. Processor time, the least of some rounds taken by
turns. The goals: 1 s for all, at most the spline's time and half its pieces at the same deviation.
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
from flatcut.outlines.digitised import fitted
from tests.test_scatter import CURVES, SCATTER, outline, scattered

COUNT, ROUNDS = 50, 9
STEPS = (0.6, 0.8, 1.0)


def spent(*tasks: Callable[[], object]) -> list[float]:
    """Seconds of the processor that tasks take, the least of some rounds."""
    found = [float("inf")] * len(tasks)
    for _ in range(ROUNDS):
        for number, task in enumerate(tasks):
            start = time.process_time()
            task()
            found[number] = min(found[number], time.process_time() - start)
    return found


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

    lines = [outline(points) for points in sets]
    own = [found.traced.runs[0][0] for found in fitted(lines)]
    other = [spline(points) for points in sets]
    together, alone, splines = spent(
        lambda: fitted(lines), lambda: [fitted([line]) for line in lines], lambda: [spline(p) for p in sets]
    )
    dense = np.linspace(0, 1, 4000)
    fits = [point(curve, dense * len(curve)) for curve in own]
    rows = (
        ("fit", together, sum(map(len, own)), fits),
        ("one by one", alone, sum(map(len, own)), fits),
        ("splprep", splines, sum(len(t) - 7 for t, _, _ in other), [np.stack(splev(dense, t), axis=1) for t in other]),
    )
    print(
        f"{COUNT} lines of {min(map(len, sets))} to {max(map(len, sets))} points, {sum(map(len, curves))} cubics drawn"
    )
    for name, took, pieces, places in rows:
        away = np.mean([off(at, curve) for at, curve in zip(places, curves, strict=True)])
        print(f"{name:11}{1e3 * took:8.1f} ms{pieces:6} pieces{away:8.4f} mm off the drawn curve")
    print(f"time, of the spline's: {together / splines:.2f} (1.0); one by one {alone / splines:.1f}")
    print(f"pieces, of the spline's: {rows[0][2] / rows[2][2]:.2f} (0.5)")


if __name__ == "__main__":
    main()

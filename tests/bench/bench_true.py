"""The curve of `true` against the same solve with a numeric Jacobian (scipy), in one run.

Run: OPENBLAS_NUM_THREADS=1 PYTHONPATH=core python tests/bench/bench_true.py

Times differ from machine to machine, their ratios little. A curve of one cubic has two unknowns: differences then cost
only three evaluations in place of one, so its ratio cannot be much below a half; with two cubics there are seven. The
least of some rounds is taken: what else a machine does only adds to the time.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import least_squares as scipy_least_squares

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, cubic
from flatcut.geometry.fair import Fairing, _fair
from flatcut.geometry.following import Minimiser
from flatcut.geometry.least_squares import SETTLED, Residuals, least_squares

CASES: dict[str, tuple[list[Curve], float, bool]] = {
    "waist of 2, 1 mm": (
        [cubic((0, 0), (40, 2), (80, 6), (120, 14)), cubic((120, 14), (160, 26), (200, 30), (240, 30))],
        1.0,
        False,
    ),
    "waist of 3, 1 mm": (
        [
            cubic((0, 0), (30, 0), (60, 3), (90, 8)),
            cubic((90, 8), (115, 11), (140, 16), (165, 22)),
            cubic((165, 22), (190, 31), (220, 34), (250, 34)),
        ],
        1.0,
        False,
    ),
    "armhole, 1 mm": (
        [cubic((0, 0), (-28, 45), (-30, 95), (-5, 130)), cubic((-5, 130), (18, 158), (60, 172), (105, 168))],
        1.0,
        False,
    ),
    "armhole, 0.5 mm": (
        [cubic((0, 0), (-28, 45), (-30, 95), (-5, 130)), cubic((-5, 130), (18, 158), (60, 172), (105, 168))],
        0.5,
        False,
    ),
    "armhole, 0.5 mm, held": (
        [cubic((0, 0), (-28, 45), (-30, 95), (-5, 130)), cubic((-5, 130), (18, 158), (60, 172), (105, 168))],
        0.5,
        True,
    ),
    "corner of 37°, 3 mm": (
        [cubic((0, 0), (40, 0), (70, 5), (100, 10)), cubic((100, 10), (127, 38), (157, 60), (200, 75))],
        3.0,
        False,
    ),
}
ROUNDS = 3


def numeric(residuals: Residuals, x: np.ndarray) -> np.ndarray:
    """The same sum of squares by scipy's own method, its Jacobian from forward differences, to the same precision."""
    return np.asarray(
        scipy_least_squares(lambda y: residuals(y, slopes=False)[0], x, jac="2-point", ftol=SETTLED, xtol=1e-8).x
    )


def timed(work: Callable[[], Fairing]) -> tuple[float, Fairing | None]:
    """Seconds of processor time, and what came out."""
    start = time.process_time()
    try:
        result = work()
    except GeometryError:
        result = None
    return time.process_time() - start, result


def main() -> None:
    """Print a line per case."""
    print(f"{'case':24} {'analytic ms':>11} {'numeric ms':>11} {'ratio':>6}   mvc (cubics): analytic, numeric")
    sums = np.zeros(2)
    for name, (curves, within, hold) in CASES.items():
        own, other = [], []
        for _ in range(ROUNDS):
            for times, minimise in ((own, least_squares), (other, numeric)):

                def work(
                    c: list[Curve] = curves, w: float = within, h: bool = hold, m: Minimiser = minimise
                ) -> Fairing:
                    return _fair(c, within=w, hold_length=h, weld=0.01, minimise=m)

                times.append(timed(work))
        a, b = min(t for t, _ in own), min(t for t, _ in other)
        sums += (a, b)
        texts = [f"{r.after.mvc:.2f} ({len(r.curve)})" if r else "none" for _, r in (own[0], other[0])]
        print(f"{name:24} {a * 1e3:11.0f} {b * 1e3:11.0f} {a / b:6.2f}   {', '.join(texts)}")
    print(f"{'all':24} {sums[0] * 1e3:11.0f} {sums[1] * 1e3:11.0f} {sums[0] / sums[1]:6.2f}   (0.25; 30 a case)")


if __name__ == "__main__":
    main()

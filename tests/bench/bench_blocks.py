"""The search for armholes, and whole drafts, against scipy's search of the same curves, in one run.

Run: OPENBLAS_NUM_THREADS=1 PYTHONPATH=core python -m tests.bench.bench_blocks

Times differ from machine to machine, their ratios little. scipy's downhill simplex goes from the three best of the same
starts; the unevenness of its best curve over that of the block's says
which of both found the fairer one (above 1: the block's).
"""

from __future__ import annotations

import time
from statistics import median
from typing import Any

import numpy as np
from scipy.optimize import minimize

from flatcut.blocks import touching as armholes
from flatcut.blocks import upper
from flatcut.blocks.fairing import unevenness
from flatcut.errors import FlatcutError
from tests.test_block_relations import BLOCKS, bodies, drafted

COUNT = 12
"""Random bodies."""
STARTS = 3


def by_scipy(given: Any) -> float:
    """The least unevenness that scipy finds."""

    def cost(at: np.ndarray) -> float:
        return float(unevenness(given.spans(at), gentle=armholes.GENTLE))

    numbers = given.numbers(armholes._TRIED)
    order = np.argsort(unevenness(given.spans(numbers), gentle=armholes.GENTLE), kind="stable")
    return min(
        float(minimize(cost, numbers[k], method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-9}).fun)
        for k in order[:STARTS]
    )


def main() -> None:
    """Print the ratios."""
    asked: list[tuple[Any, Any]] = []
    search = upper.touching

    def noted(*given: Any, **named: Any) -> Any:
        asked.append((given, named))
        return search(*given, **named)

    upper.touching = noted
    spent: dict[tuple[str, str], list[float]] = {}
    for block in BLOCKS:
        for body in bodies(COUNT):
            start = time.process_time()
            try:
                drafted(*block, body)
            except FlatcutError:
                continue
            spent.setdefault(block, []).append(time.process_time() - start)
    upper.touching = search
    own, other, fairer = [], [], []
    for given, named in asked[:: max(1, len(asked) // 30)]:
        start = time.process_time()
        hole = armholes.touching(*given, **named)
        middle = time.process_time()
        least = by_scipy(armholes._given(*given, named["wall"], named["levels"]))
        own.append(middle - start)
        other.append(time.process_time() - middle)
        fairer.append(least / float(unevenness(hole.controls, gentle=armholes.GENTLE)))
    unit = median(other)
    print(f"an armhole: {median(own) * 1e3:.1f} ms, {median(own) / unit:.2f} of scipy's {unit * 1e3:.1f} ms")
    print(f"unevenness of scipy's over the block's: {min(fairer):.4f} to {max(fairer):.4f}, mid {median(fairer):.4f}")
    for (kind, method), times in spent.items():
        print(f"{kind + ' ' + method:24} {median(times) * 1e3:6.1f} ms, {median(times) / unit:.2f} of scipy's armhole")


if __name__ == "__main__":
    main()

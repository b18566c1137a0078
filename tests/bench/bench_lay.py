"""Lays of published instances: length beside the best that was published, after so many seconds of search.

    python -m tests.bench.bench_lay [SECONDS]

Published: instances and best lengths from M. Gardeyn, G. Vanden Berghe and T. Wauters, An open-source heuristic to
reboot 2D nesting research, arXiv 2509.13329 (2025), records of its repository.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

import numpy as np

from flatcut.lay.gate import hold
from flatcut.lay.nesting import nested
from flatcut.lay.placing import placed_in_turn
from flatcut.lay.values import Item

DATA = Path(__file__).parents[1] / "data" / "nesting"
WIDTH = 1400.0
"""mm: an instance is made so large that its strip is as wide as cloth."""


def main() -> None:
    """Print a line for each instance: search, plain lay, and the density reached."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    workers = len(os.sched_getaffinity(0))
    print(f"length / best published after {seconds} s of search by {workers} workers, and of the plain lay")
    print(f"{'instance':<10} {'search':>8} {'plain':>8} {'density':>9}")
    for path in sorted(DATA.glob("*.json")):
        read = json.loads(path.read_text(encoding="utf-8"))
        scale = WIDTH / read["width"]
        items = [
            Item(name=f"{k}", ring=np.array(one["points"]) * scale, turns=tuple(one["turns"]), source=k)
            for k, one in enumerate(read["items"])
            for _ in range(one["demand"])
        ]
        width, best = WIDTH, read["best_length"] * scale
        lay = nested(items, width, gap=0.0, seconds=seconds, workers=workers)
        hold(lay, gap=0.0)
        begun = time.perf_counter()
        plain = placed_in_turn(items, width, gap=0.0)
        hold(plain, gap=0.0)
        taken = time.perf_counter() - begun
        print(
            f"{path.stem:<10} {lay.length / best:8.3f} {plain.length / best:8.3f} {100 * lay.efficiency:8.2f} %"
            f"   plain lay {taken:.1f} s",
            flush=True,
        )


if __name__ == "__main__":
    main()

"""The process that a lay is searched in: a strip packing solver, which ends its own process where it dislikes its
input. Run as `python -m flatcut.lay.solver`; it imports nothing of flatcut.

In: one line of JSON, {"width", "gap", "seconds", "seed", "workers", "items": [{"points", "turns", "count"}]}. Out: for
each better lay that was found a line of JSON, {"length", "placed": [[item, turn, x, y]]}, an item as often as it is to
be laid; the last one is the best.
"""

from __future__ import annotations

import json
import signal
import sys
import threading
from typing import Any


def _told(solution: Any) -> None:
    placed = [[int(p.id), p.rotation, *p.translation] for p in solution.placed_items]
    print(json.dumps({"length": solution.width, "placed": placed}), flush=True)


def main() -> None:
    """Solve what stands on standard input."""
    # a stop from the terminal is the first process's to answer: it takes the best lay so far, and ends this one
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    import spyrrow

    asked = json.loads(sys.stdin.readline())
    items = [
        spyrrow.Item(str(k), [tuple(p) for p in item["points"]], item["count"], item["turns"])
        for k, item in enumerate(asked["items"])
    ]
    instance = spyrrow.StripPackingInstance("lay", asked["width"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=True,
        # half the time to each: of the published instances that the benchmark holds the shirts come out shorter by
        # half a part in a hundred than with the solver's own four fifths for exploring
        total_computation_time=None,
        exploration_time=asked["seconds"] - asked["seconds"] // 2,
        compression_time=asked["seconds"] // 2,
        min_items_separation=asked["gap"] or None,
        num_workers=asked["workers"],
        seed=asked["seed"],
    )
    progress = spyrrow.ProgressQueue()
    whole = (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)  # reports of lays without overlaps
    done = threading.Event()

    def tell() -> None:
        best = float("inf")
        while not done.wait(0.1):
            for kind, solution in progress.drain():
                if kind in whole and solution.width < best:
                    best = solution.width
                    _told(solution)

    teller = threading.Thread(target=tell, daemon=True)
    teller.start()
    solution = instance.solve(config, progress)
    done.set()
    teller.join()
    _told(solution)


if __name__ == "__main__":
    main()

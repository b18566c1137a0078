"""The tests in one process and in several, and the slowest twenty.

Run: python -m tests.bench.bench_suite [PATHS] (all tests where none is given: that takes long)

Prints the ratio of both times, and what each test costs: seconds of processor, those of the processes that it starts
included, which hardly hang on what else the machine does.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

COSTS = "FLATCUT_COSTS"
"""The variable that names the file the costs are written to."""
MOST = 20


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """As a plugin of pytest: note what a test costs with all that is made for it."""
    before = sum(os.times()[:4])
    yield
    if COSTS in os.environ:
        with open(os.environ[COSTS], "a", encoding="utf-8") as file:
            file.write(f"{sum(os.times()[:4]) - before:.2f}\t{item.nodeid}\n")


def seconds(paths: list[str], *options: str, costs: Path | None = None) -> float:
    """How long the tests take. Errors: SystemExit where one fails."""
    words = [sys.executable, "-m", "pytest", "-p", "tests.bench.bench_suite", *options, *paths]
    start = time.perf_counter()
    done = subprocess.run(words, env=os.environ | ({COSTS: str(costs)} if costs else {}), check=False)
    if done.returncode:
        raise SystemExit(done.returncode)
    return time.perf_counter() - start


def main(paths: list[str]) -> int:
    """Print the times and the slowest."""
    with tempfile.TemporaryDirectory() as folder:
        costs = Path(folder) / "costs"
        one = seconds(paths, costs=costs)
        rows = [line.split("\t", 1) for line in costs.read_text(encoding="utf-8").splitlines()]
    several = seconds(paths, "-n", "auto")
    print(
        f"in one process {one:.0f} s, in {os.cpu_count()} processes {several:.0f} s: {one / several:.2f} times as fast"
    )
    print(f"{len(rows)} tests cost {sum(float(cost) for cost, _ in rows):.0f} s of processor; the slowest:")
    for cost, name in sorted(rows, key=lambda row: -float(row[0]))[:MOST]:
        print(f"{float(cost):8.2f}  {name}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

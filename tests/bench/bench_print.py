"""What printing many drawings takes: peak memory at 100 files against 10, two processes against one.

Run: PYTHONPATH=core python tests/bench/bench_print.py

The drawing is the worked example, copied; every figure is a ratio of two runs on the same machine.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from flatcut.cli import main

ROOT = Path(__file__).parents[2]
GOAL_MEMORY = 1.2
"""Peak memory at 100 files, as a multiple of that at 10."""


def run(files: list[str], folder: Path, *words: str) -> tuple[float, float]:
    """Seconds and peak memory, MB, of one print in a process of its own."""
    command = [sys.executable, "-m", "flatcut", "print", *files, "-o", str(folder / "out.pdf"), *words]
    code = (
        "import resource, subprocess, sys\n"
        f"subprocess.run({command!r}, stderr=subprocess.DEVNULL, check=True)\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
    )
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return time.perf_counter() - start, int(done.stdout) / 1024


def bench() -> None:
    """Print the ratios."""
    sample = ROOT / "samples" / "demo"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        assert main(["run", str(sample / "top.recipe"), str(sample / "top.svg"), "-o", str(folder / "top.svg")]) == 0
        files = [str(shutil.copy(folder / "top.svg", folder / f"top-{k}.svg")) for k in range(100)]
        few, many = (run(files[:count], folder)[1] for count in (10, 100))
        one, two = (run(files[:40], folder, f"--jobs={jobs}")[0] for jobs in (1, 2))
    print(f"peak memory: {few:.0f} MB at 10 files, {many:.0f} MB at 100: {many / few:.2f} (goal {GOAL_MEMORY})")
    print(f"40 files: two processes take {two / one:.2f} of the time of one ({one:.1f} s)")


if __name__ == "__main__":
    bench()

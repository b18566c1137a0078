"""One garment for many random bodies: how many are drafted, why the others are not, and what a body costs.

    python -m tests.bench.bench_bodies [COUNT] [RECIPE]

Prints seconds for each body at a tenth of COUNT and at COUNT, their ratio (1.0 is linear), the ratio of one process to
two, and the memory of the process that writes. Every drawing is checked (`--then=check`); a body that cannot be drafted
is told with its reason, and what the check finds is counted. The bodies are invented: between the sizes that flatcut
lists, each measurement off by some hundredths of its usual range.
"""

from __future__ import annotations

import csv
import re
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from flatcut.blocks.body import MEASUREMENTS, SIZES
from flatcut.cli import main as flatcut

RECIPE = Path(__file__).parents[2] / "samples" / "panels" / "armhole-panels.recipe"
OFF = 0.04
"""The part of its usual range by which a measurement strays, as a standard deviation."""


def bodies(count: int, seed: int = 1) -> list[dict[str, float]]:
    """Random bodies, mm."""
    chance = np.random.default_rng(seed)
    sizes = list(SIZES.values())
    made = []
    for _ in range(count):
        at = chance.uniform(0, len(sizes) - 1)
        low, share = int(at), at - int(at)
        body = {}
        for name, value in sizes[low].items():
            middle = (1 - share) * value + share * sizes[min(low + 1, len(sizes) - 1)][name]
            known = MEASUREMENTS[name]
            body[name] = round(middle + chance.normal() * OFF * (known.high - known.low), 1)
        made.append(body)
    return made


def run(folder: Path, recipe: Path, some: list[dict[str, float]], jobs: int) -> tuple[float, list[dict[str, str]]]:
    """Seconds, and the rows of the summary."""
    table = folder / "bodies.csv"
    with table.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["name", *some[0]])
        rows.writerows([f"b{k}", *body.values()] for k, body in enumerate(some))
    begun = time.perf_counter()
    flatcut(["run", str(recipe), f"--sizes={table}", f"--into={folder / 'out'}", f"--jobs={jobs}", "--then=check"])
    taken = time.perf_counter() - begun
    with (folder / "out" / f"{recipe.stem}-summary.csv").open(encoding="utf-8", newline="") as file:
        return taken, list(csv.DictReader(file))


def reason(text: str) -> str:
    """A sentence without its figures and names, so that those of one kind are counted together."""
    return re.sub(r"-?\d+(\.\d+)?", "#", text)[:110]


def main() -> None:
    """Run the garment for random bodies."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    recipe = Path(sys.argv[2]) if len(sys.argv) > 2 else RECIPE
    every = bodies(count)
    each = {}
    for number, jobs in ((max(count // 10, 1), 1), (count, 1), (count, 2)):
        with tempfile.TemporaryDirectory() as folder:
            taken, rows = run(Path(folder), recipe, every[:number], jobs)
        each[number, jobs] = taken / number
        print(f"{number} bodies, {jobs} at a time: {taken:.1f} s, {taken / number:.3f} s each", flush=True)
    small = max(count // 10, 1)
    print(f"growth from {small} to {count}: {each[count, 1] / each[small, 1]:.3f} x linear")
    print(f"two processes: {each[count, 1] / each[count, 2]:.2f} x as fast as one")
    print(f"memory of the process that writes: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    kinds = Counter(row["outcome"] for row in rows)
    print(", ".join(f"{number} {kind}" for kind, number in kinds.most_common()))
    told: Counter[str] = Counter()
    for row in rows:
        if row["outcome"] != "done":
            told.update({reason(text) for text in row["what to do or to look at"].split(" | ") if text})
    for text, number in told.most_common(12):
        print(f"  {number:>5}  {text}")


if __name__ == "__main__":
    main()

"""`flatcut check` over many drawings: two processes against one, and memory at a hundred drawings against ten.

Run: PYTHONPATH=core python tests/bench/bench_check.py

Ratios of one run on one machine; the drawings are blocks of every size with a sleeve, made up with allowances. With a
report each drawing has a dozen pictures. On two cores the best that two processes can do is 0.5.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from flatcut.blocks.body import SIZES
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.write import write
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay

COUNT = 100
ROUNDS = 3


def drawings(folder: Path) -> list[str]:
    """As many drawings as are checked, a few different ones over and over."""
    kinds = []
    for size in SIZES:
        lines = f"block bodice --size={size}\nblock sleeve --size={size}\nallowance all"
        kinds.append(write(new_drawing()[0], replay(read_recipe(lines), Pattern())))
    names = [folder / f"{k:03}.svg" for k in range(COUNT)]
    for k, name in enumerate(names):
        name.write_bytes(kinds[k % len(kinds)])
    return [str(name) for name in names]


def run(words: list[str]) -> tuple[float, float]:
    """Seconds, and the peak memory in MB of the largest process, of a check in a process of its own."""
    probe = (
        "import resource, sys; from flatcut.cli import main; code = main(sys.argv[1:]); "
        "kinds = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN); "
        "print(max(resource.getrusage(k).ru_maxrss for k in kinds), file=sys.stderr)"
    )
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", probe, "check", *words],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    return time.perf_counter() - start, int(done.stderr.splitlines()[-1]) / 1024


def main() -> None:
    """Print the ratios."""
    assert resource.RUSAGE_CHILDREN
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        names = drawings(folder)
        for title, more in (("text", []), ("report", [f"--report={folder / 'page.html'}"])):
            one = median(run([*names[:40], *more])[0] for _ in range(ROUNDS))
            two = median(run([*names[:40], *more, "--jobs=2"])[0] for _ in range(ROUNDS))
            print(f"{title:<7} 40 drawings: --jobs=2 takes {two / one:.2f} of one ({one / 40 * 1000:.0f} ms a drawing)")
            few, many = (run([*names[:count], *more])[1] for count in (10, COUNT))
            print(f"{title:<7} peak memory at {COUNT} drawings {many / few:.2f} of that at 10 ({few:.0f} MB)")
            few, many = (run([*names[:count], *more, "--jobs=2"])[1] for count in (10, COUNT))
            print(f"{title:<7} the same with --jobs=2 {many / few:.2f} ({few:.0f} MB)")


if __name__ == "__main__":
    main()

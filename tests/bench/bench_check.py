"""`flatcut check`: a garment of ten pieces in process, then many drawings in one process and in two, and memory.

Run: python -m tests.bench.bench_check [garment]; with `garment` only the first.

The garment is a blouse of the samples with another cuff, read from its drawing and checked by the command in a process
that has its modules loaded, without its page and with it (a picture for each seam); beside it what reading the drawing
costs. Goals: 150 ms, and 500 ms with the page (what a person does not notice as waiting; no source).

The rest are ratios of one run on one machine; the drawings are blocks of every size with a sleeve, made up with
allowances. With a report each drawing has a dozen pictures. On two cores the best that two processes can do is 0.5.
"""

from __future__ import annotations

import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from statistics import median

from flatcut.blocks.body import SIZES
from flatcut.cli import main as flatcut
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from tests.garments import ROW_A, drafted, text_of

COUNT = 100
ROUNDS = 3
MANY = 15
GOALS = {"check": 150, "check and page": 500}
"""ms of processor time."""


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


def least(work: Callable[[], object]) -> float:
    """ms of processor time, the least of MANY rounds."""
    found = []
    for _ in range(MANY):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return 1000 * min(found)


def quietly(*words: str) -> int:
    """A command in this process, what it says thrown away."""
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        return flatcut([*words])


def garment() -> None:
    """Print what the check of one garment costs."""
    text = text_of("hazel-blouse").replace("\nallowance all", "\ncopy cuff --names=cuff-facing\nallowance all", 1)
    pattern = drafted(text, ROW_A)
    data = write(new_drawing()[0], pattern)
    with tempfile.TemporaryDirectory() as folder:
        drawing, page = Path(folder, "blouse.svg"), Path(folder, "page.html")
        drawing.write_bytes(data)
        works = {
            "read": lambda: read(data),
            "check": lambda: quietly("check", str(drawing)),
            "check and page": lambda: quietly("check", str(drawing), f"--report={page}"),
        }
        print(f"hazel-blouse, {len(pattern.pieces)} pieces, {len(pattern.seams)} seams, ms of processor time:")
        for title, work in works.items():
            work()
            took = least(work)
            goal = f"   goal {GOALS[title]}" if title in GOALS else ""
            print(f"{title:<15}{took:8.0f}{goal}")


def main() -> None:
    """Print the figures."""
    garment()
    if sys.argv[1:] == ["garment"]:
        return
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

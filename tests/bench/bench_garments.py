"""Seconds for each worked garment from block to finished and checked set, and how many sizes of one cost.

    python -m tests.bench.bench_garments [COUNT] [GARMENT]

The first table drafts each garment for one body, checks it and writes it, beside a run that does nothing: a recipe of
one step that draws no piece, read, replayed, checked and written in the same way. The least of some rounds is taken.
The second drafts GARMENT (campion-skirt) by `flatcut run` for COUNT (100) bodies between those of the table and for a
tenth of them: 1.0 is linear. Seconds are those of this machine; look at what they are a multiple of.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from flatcut.checks.check import run_checks
from flatcut.cli import main as flatcut
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.values import Pattern
from tests.garments import FOLDER, NAMES, ROW_A, TABLE, drafted, text_of

NOTHING = "style --name=nothing"
EMPTY = b'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="700mm" viewBox="0 0 900 700"/>'
ROUNDS = 2
GOAL = 1.0
"""Seconds of a garment that a person waits for without losing the thread (no source)."""


def least(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Seconds of processor time."""
    found = []
    for _ in range(rounds):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def set_of(text: str) -> tuple[Pattern, bytes]:
    """A finished set: drafted, cut lines and labels made, checked, and the drawing as it is saved."""
    pattern = drafted(text, ROW_A)
    assert not run_checks(pattern)
    return pattern, write(read(EMPTY)[0], pattern)


def bodies(count: int) -> str:
    """A table of bodies, each between two of the sizes."""
    sizes = [body for body in TABLE.values() if isinstance(body, dict)]
    rows = ['units = "mm"']
    for k in range(count):
        at = k * (len(sizes) - 1) / max(count - 1, 1)
        low = min(int(at), len(sizes) - 2)
        one, two, share = sizes[low], sizes[low + 1], at - low
        rows.append(f"\n[b{k}]")
        rows += [f"{name} = {one[name] + share * (two[name] - one[name]):.3f}" for name in one]
    return "\n".join(rows)


def many(name: str, count: int) -> tuple[float, int]:
    """Seconds of processor time for so many bodies, and how many drawings came of it."""
    with tempfile.TemporaryDirectory() as folder:
        table, into = Path(folder, "bodies.toml"), Path(folder, "out")
        table.write_text(bodies(count))
        start = time.process_time()
        flatcut(["run", str(FOLDER / f"{name}.recipe"), f"--sizes={table}", f"--into={into}", "--jobs=1"])
        return time.process_time() - start, len(list(into.glob("*.svg")))


def main() -> None:
    """Print both tables."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    name = sys.argv[2] if len(sys.argv) > 2 else "campion-skirt"
    set_of(text_of("campion-skirt"))  # what is imported once is no garment's cost
    nothing = least(lambda: set_of(NOTHING))
    print(f"{'garment':17}{'pieces':>7}{'steps':>7}{'s':>8}{'times nothing':>15}   goal {GOAL:g} s")
    for one in NAMES:
        pattern, _ = set_of(text_of(one))
        took = least(partial(set_of, text_of(one)))
        met = "met" if took <= GOAL else f"{took / GOAL:.1f} times"
        print(f"{one:17}{len(pattern.pieces):7}{len(pattern.steps):7}{took:8.2f}{took / nothing:15.0f}   {met}")
    print(f"{'nothing':17}{0:7}{1:7}{nothing:8.4f}{1:15}")
    few = max(count // 10, 1)
    (small, a), (large, b) = many(name, few), many(name, count)
    print(f"{name}: {a} bodies {small:.2f} s, {b} bodies {large:.2f} s: each {large / b / (small / a):.2f} (1: linear)")


if __name__ == "__main__":
    main()

"""Seconds of processor until a garment is at rest on its form, for nets of several widths, beside drafting it.

`OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_wear`: the last column is that time over the time of its draft.
"""

from __future__ import annotations

import resource
import time

from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from flatcut.worn.choosing import chosen
from flatcut.worn.cloth import CLOTHS
from flatcut.worn.form import form_of
from flatcut.worn.wearing import worn


def main() -> None:
    """Print the table."""
    print(f"{'garment':<10}{'net mm':>8}{'points':>8}{'steps':>7}{'rest':>6}{'s':>8}{'MB':>7}{'of draft':>10}")
    for garment in ("bodice", "skirt", "dress"):
        start = time.process_time()
        pattern = replay(read_recipe(f"block {garment} --size=bust-90"), Pattern())
        drafted = time.process_time() - start
        form = form_of(pattern.body)
        pieces, _ = chosen(pattern, (), {})
        for wide in (18.0, 12.0, 9.0):
            start = time.process_time()
            found = worn(pattern, pieces, form, CLOTHS["calico"], mesh=wide)
            spent = time.process_time() - start
            points = 2 * found.sewn.count if len(found.sewn.plane) else found.sewn.count
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{garment:<10}{wide:>8.0f}{points:>8}{len(found.rest.energies) - 1:>7}{found.rest.still!s:>6}"
                f"{spent:>8.1f}{memory:>7.0f}{spent / drafted:>10.0f}"
            )


if __name__ == "__main__":
    main()

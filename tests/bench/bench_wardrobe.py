"""Digitised outlines made pieces with seams suggested: fifty against the ten of one dress.

Run: PYTHONPATH=core:. python tests/bench/bench_wardrobe.py

Ratios of one run on one machine: work that grows with the number of pieces gives 5, pairs of pieces would give 25.
"""

from __future__ import annotations

import sys
import time

from flatcut.formats.svg.read import read
from flatcut.operations.piece import MakePieces
from flatcut.operations.seam import StateSeam
from tests.wardrobe import Wardrobe, svg, table, wardrobe


def seconds(made: Wardrobe) -> tuple[float, float]:
    """How long it takes to make the pieces, and then to look for their seams."""
    start = time.perf_counter()
    pattern = MakePieces(table=table(made))(read(svg(made).encode())[1])
    between = time.perf_counter()
    StateSeam(suggest=True)(pattern)
    return between - start, time.perf_counter() - between


def main() -> int:
    """Print the ratios."""
    whole = wardrobe()
    pieces, seams = seconds(whole)
    few_pieces, few_seams = seconds(Wardrobe(sheets=whole.sheets[:10]))
    print(f"pieces made: fifty take {pieces / few_pieces:.1f} times as long as ten ({pieces:.1f} s)")
    print(f"seams suggested: fifty take {seams / few_seams:.1f} times as long as ten ({seams:.1f} s)")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The cloth that the garments of the samples take: two ways, with a nap, on the fold; beside what cutters reckon with.

    python -m tests.bench.bench_cloth [SECONDS] [GARMENT...]

Each garment is drafted for one body and its commonest material laid on cloth of 140 cm. Two ways and with a nap each
are searched from five seeds; the median of the lengths is told, and whether the nap took less than two ways (it never
should). Common practice, no source: a single garment uses 65 to 78 of 100 of its cloth, with a nap 3 to 8 less, on the
fold 2 to 5 less. Every lay is held against the cut lines.
"""

from __future__ import annotations

import os
import statistics
import sys
from collections import Counter

from flatcut.errors import FlatcutError
from flatcut.lay.gate import hold
from flatcut.lay.nesting import nested
from flatcut.lay.pieces import Laying, laid
from flatcut.lay.placing import placed_in_turn
from flatcut.lay.values import Lay, lower_bound
from flatcut.marking.derived import derive_all
from flatcut.pattern.values import Pattern
from tests.garments import NAMES, garment

WIDTH, GAP = 1400.0, 2.0
SEEDS = (1, 2, 3, 4, 5)
TWO_WAYS, NAP = (0.0, 180.0), (0.0,)


def searched(pattern: Pattern, material: str, turns: tuple[float, ...], seconds: int) -> list[Lay]:
    """A lay for each seed, each held. Errors: FlatcutError."""
    pieces = [piece for piece in pattern.pieces if piece.material == material]
    items, *_ = laid(pieces, derive_all(pieces, pattern.style), Laying(turns=turns))
    workers = len(os.sched_getaffinity(0))
    lays = [nested(items, WIDTH, gap=GAP, seconds=seconds, seed=seed, workers=workers) for seed in SEEDS]
    for lay in lays:
        hold(lay, gap=GAP)
        assert lay.length >= lower_bound(tuple(items), WIDTH) - 0.01
    return lays


def on_the_fold(pattern: Pattern, material: str) -> str:
    """What part of the cloth a plain lay on the fold uses, or why there is none."""
    pieces = [piece for piece in pattern.pieces if piece.material == material]
    try:
        items, *_ = laid(pieces, derive_all(pieces, pattern.style), Laying(turns=TWO_WAYS, folded=True))
        lay = placed_in_turn(items, WIDTH / 2, gap=GAP)
        hold(lay, gap=GAP)
    except FlatcutError as error:
        return f"   none: {error}"
    return f"{100 * lay.efficiency:8.1f} %"


def main() -> None:
    """Print a line for each garment."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    print(f"median of {len(SEEDS)} seeds, {seconds} s each; cloth of {WIDTH / 10:.0f} cm, {GAP:.0f} mm apart")
    print(f"{'garment':<18} {'pieces':>6} {'two ways cm':>12} {'uses':>7} {'nap cm':>8} {'uses':>7}  on the fold")
    shorter = []
    for name in sys.argv[2:] or NAMES:
        pattern = garment(name)
        counts = Counter(piece.material for piece in pattern.pieces for _ in range(piece.quantity))
        material = counts.most_common(1)[0][0]
        try:
            two, nap = (searched(pattern, material, turns, seconds) for turns in (TWO_WAYS, NAP))
        except FlatcutError as error:
            print(f"{name:<18} {counts[material]:>6} {error}", flush=True)
            continue
        long = [statistics.median(lay.length for lay in lays) / 10 for lays in (two, nap)]
        uses = [100 * statistics.median(lay.efficiency for lay in lays) for lays in (two, nap)]
        if long[1] < long[0] - 0.02:
            shorter.append(f"{name} by {long[0] - long[1]:.1f} cm")
        print(
            f"{name:<18} {counts[material]:>6} {long[0]:>12.1f} {uses[0]:>5.1f} % {long[1]:>8.1f} {uses[1]:>5.1f} %  "
            f"{on_the_fold(pattern, material)}",
            flush=True,
        )
    print("with a nap shorter than without:", ", ".join(shorter) or "none")


if __name__ == "__main__":
    main()

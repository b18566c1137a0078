"""How far outlines from photographs lie off the drawing that the photographs were rendered from, over tilts and lights.

`python -m tests.bench.bench_photo [TILT...]`: largest and mean distance, what the step says of it, and seconds.
"""

from __future__ import annotations

import sys
import time

from flatcut.photograph.photographed import outlined
from tests.photographs import Shot, block, off

SQUARES = {
    "one": {1: (280, 200, 3)},
    "four": {1: (280, 200, 3), 2: (-150, -20, -5), 3: (-160, 420, 10), 4: (290, 450, 0)},
}
LIGHTS = {
    "even": {},
    "shadow 40 %, wrinkles": {"shadow": 0.4, "wrinkles": 0.08},
    "dim, noise": {"shadow": 0.6, "noise": 5.0, "wrinkles": 0.05},
}
LENSES = {"one": ("true", (0.0, 0.0)), "four": ("bent by 3 %", (-0.05, 0.01))}
TILTS = (0.0, 5.0, 10.0, 15.0)


def main(tilts: tuple[float, ...]) -> None:
    """Print the table."""
    paper = block()
    print("| squares | lens | light | " + " | ".join(f"{tilt:g}°" for tilt in tilts) + " |")
    print("|---|---|---|" + "---|" * len(tilts))
    spent = []
    for many, squares in SQUARES.items():
        lens, bends = LENSES[many]
        for light, more in LIGHTS.items():
            row = []
            for tilt in tilts:
                seen = Shot(paper=paper, squares=squares, tilt=tilt, bends=bends, **more).picture()
                start = time.process_time()
                found = outlined(seen, 100.0)
                spent.append(time.process_time() - start)
                away = off(found.outline, paper, squares[1])
                row.append(f"{away.max():.2f} ({found.deviation:.1f})")
            print(f"| {many} | {lens} | {light} | " + " | ".join(row) + " |", flush=True)
    print(f"\nseconds of processor a photograph: {sum(spent) / len(spent):.1f}, at most {max(spent):.1f}")


if __name__ == "__main__":
    main(tuple(map(float, sys.argv[1:])) or TILTS)

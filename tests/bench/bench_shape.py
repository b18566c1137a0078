"""How long the steps of shaping take, against one pivot in the same run: python -m tests.bench.bench_shape.

Each is the best of several; what is measured is the step alone, without reading, writing and drawing of marks.
"""

from __future__ import annotations

from time import perf_counter

from flatcut.arguments import parse_line
from flatcut.pattern.values import Pattern

START = (
    "block torso --size=bust-90 --front-darts=1 --back-darts=1",
    "edge front.centre --use=seam",
    "pivot front.bust-dart --to=front.armhole/side@6cm --hold=front.centre",
)
STEPS = (
    "pivot front.bust-dart --to=front.shoulder@1/2",
    "contour front.neck@1/2 --amount=6mm --into=front.bust-dart",
    "line --start=front.waist-dart.lower --parallel=grain --until=front.hip --name=panel",
    "line --start=front.centre@1/2 --end=front.side@1/2 --leave=square --name=style",
    "move front.side/hip --by=-2cm --from=front.side/waist-line --mates=alike",
    "extend front.hip back.hip --by=25cm --flare=3cm --from=waist-line",
    "vent front.centre --length=15cm --width=4cm",
)
ROUNDS = 7


def main() -> None:
    """Print ms of each step and its ratio to the pivot."""
    pattern = Pattern()
    for text in START:
        step = parse_line(text)
        assert step is not None
        pattern = step(pattern)
    first = 0.0
    for text in STEPS:
        step = parse_line(text)
        assert step is not None
        best = float("inf")
        for _ in range(ROUNDS):
            start = perf_counter()
            step(pattern)
            best = min(best, perf_counter() - start)
        first = first or best
        print(f"{text.split()[0]:8} {1000 * best:7.1f} ms  {best / first:5.2f} of a pivot   {text}")


if __name__ == "__main__":
    main()

"""`cut`, `contour`, `join` and `true` of a bodice front against reading its drawing, and worked jobs, in one process.

Run: OPENBLAS_NUM_THREADS=1 PYTHONPATH=core python tests/bench/bench_panels.py

Processor time, the middle of several rounds: a machine that is busy shows no other figures. The goal is 40 ms a step,
and 1 s for a whole job.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from flatcut.tables import read_table

START = """block bodice --size=bust-90
pivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart
back-off front.waist-dart --to=front.bust-point
allowance all --width=1cm
"""
CUT = "cut front.shoulder-dart front.waist-dart --edge=princess --names=front-centre.centre,front-side.side"
JOIN = "join front-centre.princess@-251.3344..-0 front-side.princess@0..251.3344 --name=front --opens=waist-dart"
CONTOUR = "contour front.neck@1/2 --amount=6 --at=edge --into=front.shoulder-dart"
GOAL = 0.040
JOBS = (
    "panels/shoulder-panels",
    "panels/armhole-panels",
    "eight-panel-dress",
    "panels/one-piece-front",
    "panels/gathered-yoke",
)
JOB_GOAL = 1.0
ROUNDS = 5
SAMPLES = Path(__file__).parents[2] / "samples"


def spent(task: Callable[[], object]) -> float:
    """Seconds of the processor, the middle of several rounds."""
    task()
    found = []
    for _ in range(ROUNDS):
        start = time.process_time()
        task()
        found.append(time.process_time() - start)
    return median(found)


def main() -> None:
    """Print a row for each step: its time, and how often a reading of the drawing would go into it."""
    whole = replay(read_recipe(START), Pattern())
    parted = replay(read_recipe(CUT), whole)
    true = "true front-centre.waist+front-side.waist --within=3mm"
    data = write(new_drawing()[0], whole)
    reading = spent(lambda: read(data))
    print(f"{'read the drawing':24}{1000 * reading:8.1f} ms")
    rows = (
        ("cut", CUT, whole),
        ("contour", CONTOUR, whole),
        ("join", JOIN, parted),
        ("true over a seam", true, parted),
    )
    for name, steps, start in rows:
        recipe = read_recipe(steps)
        took = spent(lambda recipe=recipe, start=start: replay(recipe, start))
        print(f"{name:24}{1000 * took:8.1f} ms{took / reading:8.2f} readings{took / GOAL:8.2f} of the goal")
    body = read_table((SAMPLES / "panels" / "sizes.toml").read_text())["bust-90"]
    assert isinstance(body, dict)
    for job in JOBS:
        recipe = read_recipe((SAMPLES / f"{job}.recipe").read_text())
        took = spent(lambda recipe=recipe: replay(recipe, Pattern(body=body)))
        name = job.rpartition("/")[2]
        print(f"{name:24}{1000 * took:8.0f} ms{took / reading:8.0f} readings{took / JOB_GOAL:8.2f} of the goal")


if __name__ == "__main__":
    main()

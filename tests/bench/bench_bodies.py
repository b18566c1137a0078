"""One garment for many random bodies: how many are drafted, why the others are not, and what a body costs.

    python -m tests.bench.bench_bodies [COUNT] [RECIPE] [SEED]

Prints seconds of processor time for each body of a few and of COUNT, their ratio (1.0 is linear), the memory of the
process after both, and what a second process is good for. Every drawing is checked (`--then=check`); a body that cannot
be drafted is told with its reason, and what the check finds is counted. Of a straight skirt the drawings are read
again, and the relations of a skirt block are held on each. The bodies are invented: between the sizes that flatcut
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
from typing import NamedTuple

import numpy as np

from flatcut.blocks.body import MEASUREMENTS, SIZES
from flatcut.cli import main as flatcut
from flatcut.formats.opening import read
from flatcut.pattern.assembling import Draft
from tests.test_block_relations import Case, relation_2, relation_3, relation_5, relation_6, relation_8

RECIPE = Path(__file__).parent / "straight-skirt.recipe"
FEW = 100
OFF = 0.04
"""The part of its usual range by which a measurement strays, as a standard deviation."""
RELATIONS = (relation_2, relation_3, relation_5, relation_6, relation_8)
"""Of a skirt: waist and hip with their ease, equal sides, square centres, waist and hem that run on over the side."""


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


class Cost(NamedTuple):
    """Seconds of processor time of this process and of those that helped it, and by the clock."""

    own: float
    helpers: float
    clock: float


def run(folder: Path, recipe: Path, some: list[dict[str, float]], jobs: int) -> tuple[Cost, list[dict[str, str]]]:
    """What it cost, and the rows of the summary; the drawings are in folder/out."""
    table = folder / "bodies.csv"
    with table.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["name", *some[0]])
        rows.writerows([f"b{k}", *body.values()] for k, body in enumerate(some))
    own, helpers, begun = time.process_time(), _helpers(), time.perf_counter()
    flatcut(["run", str(recipe), f"--sizes={table}", f"--into={folder / 'out'}", f"--jobs={jobs}", "--then=check"])
    cost = Cost(time.process_time() - own, _helpers() - helpers, time.perf_counter() - begun)
    with (folder / "out" / f"{recipe.stem}-summary.csv").open(encoding="utf-8", newline="") as file:
        return cost, list(csv.DictReader(file))


def _helpers() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def memory() -> float:
    """MB that this process has used at most."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def reason(text: str) -> str:
    """A sentence without its figures and names, so that those of one kind are counted together."""
    return re.sub(r"-?\d+(\.\d+)?", "#", text)[:110]


def broken(folder: Path, rows: list[dict[str, str]], some: list[dict[str, float]]) -> list[str]:
    """The relations that do not hold on a drawing as it is read from its file, a line for each body."""
    found = []
    for row, body in zip(rows, some, strict=True):
        if row["outcome"] == "not done":
            continue
        file = next(name for name in row["files"].split() if name.endswith(".svg"))
        _, pattern, _ = read((folder / "out" / file).read_bytes(), name=file)
        pieces = (pattern.piece("skirt-back"), pattern.piece("skirt-front"))
        case = Case("skirt", "", body, Draft(pieces=pieces, seams=(), figures=(), warnings=()))
        for relation in RELATIONS:
            try:
                relation(case)
            except AssertionError as error:
                found.append(f"{row['name']} {relation.__name__}: {str(error).splitlines()[0]}")
    return found


def main() -> None:
    """Run the garment for random bodies."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    recipe = Path(sys.argv[2]) if len(sys.argv) > 2 else RECIPE
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    every, few = bodies(count, seed), min(FEW, count)
    each, rows = {}, []
    with tempfile.TemporaryDirectory() as warm:
        run(Path(warm), recipe, every[:2], 1)  # what is imported once is no body's cost
    for number, jobs in ((few, 1), (few, 2), (count, 1)):
        with tempfile.TemporaryDirectory() as folder:
            cost, rows = run(Path(folder), recipe, every[:number], jobs)
            each[number, jobs] = cost
            print(
                f"{number} bodies, {jobs} at a time: {cost.own + cost.helpers:.1f} s of processor time, "
                f"{(cost.own + cost.helpers) / number:.3f} s each; {cost.clock:.1f} s by the clock; "
                f"memory of this process {memory():.0f} MB",
                flush=True,
            )
            if jobs == 1 and recipe.resolve() == RECIPE.resolve():
                wrong = broken(Path(folder), rows, every[:number])
                print(f"relations of a skirt: {len(wrong)} do not hold", *wrong[:12], sep="\n  ", flush=True)
    one, two = each[few, 1], each[few, 2]
    print(f"growth from {few} to {count}: {each[count, 1].own / count / (one.own / few):.3f} x linear")
    # two processes share what the helpers do; what this process does beside it, nobody else can do meanwhile
    print(
        f"two processes: {one.own / max(two.own, two.helpers / 2):.2f} x as fast as one by processor time "
        f"(this process {two.own:.1f} s, both helpers {two.helpers:.1f} s, alone {one.own:.1f} s), "
        f"{one.clock / two.clock:.2f} x by the clock"
    )
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

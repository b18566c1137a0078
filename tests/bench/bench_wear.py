"""Seconds until a garment is at rest on its form, for nets of several widths, and how often its draft goes into that.

`OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_wear`: 3,000, 6,000 and 12,000 points on both sides together.
`python -m tests.bench.bench_wear nets`: what is told by nets of 15 and of 10 mm.
`python -m tests.bench.bench_wear samples [FOLDER [NAME...]]`: every sample garment, or those named, in three sizes on a
coarse net, with what is left out, and a page for each into a folder.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from flatcut.blocks.body import sizes_of_file
from flatcut.errors import FlatcutError
from flatcut.formats.worn_page import Shown, worn_page
from flatcut.pattern.values import Pattern, area
from flatcut.recipe import read_recipe, replay
from flatcut.worn.choosing import chosen, limbs_of, with_guessed
from flatcut.worn.cloth import CLOTHS
from flatcut.worn.form import form_of
from flatcut.worn.showing import form_mesh, record, said_html, spots, vertices
from flatcut.worn.telling import hold, told
from flatcut.worn.wearing import worn

SAMPLES = Path(__file__).parents[2] / "samples"
SIZES = ("bust-82", "bust-98", "bust-114")
MESH = 26.0
TOO_SMALL = "block bodice --size=bust-90 --across-back=32cm --across-chest=30cm --bust-ease=-4cm"
POINTS = (3000, 6000, 12000)
GOALS = {"bodice": 10.0, "dress": 30.0}
"""Seconds until a garment is at rest, on two cores."""


def seconds() -> None:
    """Print the table of nets; each row from a process of its own, so that its memory is its own."""
    print(
        f"{'garment':<9}{'net mm':>7}{'points':>8}{'computed':>9}{'steps':>6}{'at rest':>8}{'s':>7}{'processor s':>12}"
        f"{'MB':>6}{'of draft':>9}{'goal':>7}"
    )
    for garment, goal in GOALS.items():
        for wanted in POINTS:
            words = [sys.executable, "-m", "tests.bench.bench_wear", "row", garment, str(wanted), str(goal)]
            subprocess.run(words, check=True)


def row(garment: str, wanted: int, goal: float) -> None:
    """Print one row: a garment with a net of about so many points, on its own body; what of it is computed is a half.

    From the pieces to what is told: form, both nets and reading. goal: seconds.
    """
    start = time.process_time()
    pattern = replay(read_recipe(f"block {garment} --size=bust-90"), Pattern())
    drafted = time.process_time() - start
    began, start = time.monotonic(), time.process_time()
    pieces, _ = chosen(pattern, (), {})
    wide = float(np.sqrt(2 * sum(abs(area(piece)) for piece in pieces) / (wanted * np.sqrt(0.75))))
    found = worn(pattern, pieces, form_of(pattern.body), CLOTHS["calico"], mesh=wide)
    told(found, {})
    lasted, spent = time.monotonic() - began, time.process_time() - start
    points = 2 * found.sewn.count - len(found.sewn.plane) if len(found.sewn.plane) else found.sewn.count
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{garment:<9}{wide:>7.1f}{points:>8}{found.sewn.count:>9}{len(found.rest.energies) - 1:>6}"
        f"{'yes' if found.rest.still else 'no':>8}{lasted:>7.1f}{spent:>12.1f}{memory:>6.0f}{spent / drafted:>9.0f}"
        f"{goal:>5.0f} s",
        flush=True,
    )


def nets() -> None:
    """Print what two nets tell of the same garment, and by how much they differ."""
    for text in (TOO_SMALL, "block skirt --size=bust-90 --hip-ease=-6cm", "block bodice --size=bust-90"):
        pattern = replay(read_recipe(text), Pattern())
        pieces, _ = chosen(pattern, (), {})
        form = form_of(pattern.body)
        one, two = (told(worn(pattern, pieces, form, CLOTHS["calico"], mesh=wide), {}) for wide in (15.0, 10.0))
        print(text)
        rows = [(f"cloth at {a.name}, mm", a.cloth, b.cloth) for a, b in zip(one.levels, two.levels, strict=True)]
        rows.append(("stretch of 95 %, %", 100 * one.stretch[0], 100 * two.stretch[0]))
        rows += [
            (f"tight: {a.where}, %", 100 * a.value, 100 * b.value) for a, b in zip(one.tight, two.tight, strict=False)
        ]
        rows += [(f"loose: {a.where}, mm", a.value, b.value) for a, b in zip(one.loose[:3], two.loose, strict=False)]
        for name, a, b in rows:
            print(f"  {name:<60}{a:8.2f}{b:8.2f}   {b - a:+.2f}   {100 * (b / a - 1):+.1f} %")


def samples(folder: Path | None, names: Sequence[str]) -> None:
    """Print how sample garments are worn in three sizes: all, or those named."""
    bodies = sizes_of_file(str(SAMPLES / "panels" / "sizes.toml"))
    lost = 0
    for recipe in sorted(SAMPLES.glob("garments/*.recipe")):
        if names and recipe.stem not in names:
            continue
        shown: list[Shown] = []
        left: dict[str, str] = {}
        for size in SIZES:
            body = bodies[size]
            assert not isinstance(body, FlatcutError)
            try:
                one, left = sample(recipe, size, body)
            except FlatcutError as error:
                print(f"{recipe.stem:<16}{size:<10}refused: {error}", flush=True)
                lost += 1
                continue
            shown.append(one)
        for name, why in left.items():
            print(f"{'':<16}left out: {name}: {why}", flush=True)
        if folder is not None and shown:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / f"{recipe.stem}.html").write_text(worn_page(recipe.stem, shown), "utf-8")
    print(f"{lost} refused")


def sample(recipe: Path, size: str, body: Mapping[str, float]) -> tuple[Shown, dict[str, str]]:
    """A garment worn in one size, and what is left out of it; prints its line."""
    start = time.process_time()
    pattern = replay(read_recipe(recipe.read_text("utf-8")), Pattern(body=body))
    drafted = time.process_time() - start
    places = with_guessed(pattern, {})
    pieces, left = chosen(pattern, (), places)
    form = form_of(pattern.body, limbs_of(pieces, places))
    found = worn(pattern, pieces, form, CLOTHS["calico"], mesh=MESH, places=places)
    spent = time.process_time() - start - drafted
    of = told(found, places)
    hold(of)
    ease = " ".join(f"{level.name} {level.ease:+.0f}" for level in of.levels)
    print(
        f"{recipe.stem:<16}{size:<10}{len(pieces)} pieces {found.sewn.count:>5} points {spent:5.1f} s  "
        f"{'rest' if found.rest.still else 'not at rest':<12}{ease}, inside {of.inside:.1f} mm, "
        f"stretch {100 * of.stretch[0]:.1f} %",
        flush=True,
    )
    points, normals, triangles = form_mesh(form)
    return (
        Shown(
            title=f"{recipe.stem} {size}",
            **vertices(found, of),
            form=points,
            form_normal=normals,
            form_triangles=triangles,
            spots=spots(of),
            said=said_html(record(found, of, "calico", left)),
        ),
        left,
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["samples"]:
        samples(Path(sys.argv[2]) if sys.argv[2:] else None, sys.argv[3:])
    elif sys.argv[1:2] == ["nets"]:
        nets()
    elif sys.argv[1:2] == ["row"]:
        row(sys.argv[2], int(sys.argv[3]), float(sys.argv[4]))
    else:
        seconds()

"""Seconds of processor until a garment is at rest on its form, for nets of several widths, beside drafting it.

`OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_wear`: the last column is that time over the time of its draft.
`python -m tests.bench.bench_wear nets`: what is told by nets of 15 and of 10 mm.
`python -m tests.bench.bench_wear samples [FOLDER [NAME...]]`: every sample garment, or those named, in three sizes on a
coarse net, with what is left out, and a page for each into a folder.
"""

from __future__ import annotations

import resource
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
POINTS = (3000, 6000, 12000)


def seconds() -> None:
    """Print the table of nets."""
    print(f"{'garment':<10}{'net mm':>8}{'points':>8}{'steps':>7}{'rest':>6}{'s':>8}{'MB':>7}{'of draft':>10}")
    for garment in ("bodice", "dress"):
        start = time.process_time()
        pattern = replay(read_recipe(f"block {garment} --size=bust-90"), Pattern())
        drafted = time.process_time() - start
        form = form_of(pattern.body)
        pieces, _ = chosen(pattern, (), {})
        cloth = 2 * sum(abs(area(piece)) for piece in pieces)
        for wanted in POINTS:
            wide = float(np.sqrt(cloth / (wanted * np.sqrt(0.75))))
            start = time.process_time()
            found = worn(pattern, pieces, form, CLOTHS["calico"], mesh=wide)
            spent = time.process_time() - start
            points = 2 * found.sewn.count if len(found.sewn.plane) else found.sewn.count
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(
                f"{garment:<10}{wide:>8.1f}{points:>8}{len(found.rest.energies) - 1:>7}{found.rest.still!s:>6}"
                f"{spent:>8.1f}{memory:>7.0f}{spent / drafted:>10.0f}",
                flush=True,
            )


def nets() -> None:
    """Print what two nets tell of the same garment, and by how much they differ."""
    for text in ("block bodice --size=bust-90", "block skirt --size=bust-90 --hip-ease=-6cm"):
        pattern = replay(read_recipe(text), Pattern())
        pieces, _ = chosen(pattern, (), {})
        form = form_of(pattern.body)
        of = [told(worn(pattern, pieces, form, CLOTHS["calico"], mesh=wide), {}) for wide in (15.0, 10.0)]
        print(text)
        for one, two in zip(of[0].levels, of[1].levels, strict=True):
            print(
                f"  {one.name:<7} cloth {one.cloth:8.1f} {two.cloth:8.1f} mm  "
                f"{100 * (two.cloth / one.cloth - 1):+.2f} %"
            )
        a, b = of[0].tight[0].value, of[1].tight[0].value
        print(f"  tightest {100 * a:7.2f} {100 * b:7.2f} %   {100 * (b / a - 1):+.1f} %")
        a, b = of[0].loose[0].value, of[1].loose[0].value
        print(f"  loosest  {a:7.1f} {b:7.1f} mm  {100 * (b / a - 1):+.1f} %")


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
    else:
        seconds()

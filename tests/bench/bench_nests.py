"""Every garment of the samples in eight sizes: drafted, checked, and laid over each other as one nested drawing.

    python -m tests.bench.bench_nests DIR [GARMENT...]

The bodies are those of samples/panels/sizes.toml, bust 76 to 122, and an eighth half-way between two of them. Prints
for each garment how many sizes were drafted, what the check of each found, which sizes step unevenly, and the seconds
of processor time; the nests lie in DIR as SVG and PDF, to be looked at. Ends with 1 where a size could not be drafted,
or a check found anything.
"""

from __future__ import annotations

import contextlib
import csv
import io
import sys
import tempfile
import time
from pathlib import Path

from flatcut.cli import main as flatcut
from tests.garments import FOLDER, NAMES, TABLE

BETWEEN = ("bust-98", "bust-106", "bust-102")
"""Two sizes of the table, and the name of the one that is made half-way."""


def bodies() -> dict[str, dict[str, float]]:
    """Eight bodies by name, mm, from the smallest to the largest.

    >>> [name.removeprefix("bust-") for name in bodies()]
    ['76', '82', '90', '98', '102', '106', '114', '122']
    """
    table = {name: dict(body) for name, body in TABLE.items()}
    low, high, name = BETWEEN
    table[name] = {key: (table[low][key] + table[high][key]) / 2 for key in table[low]}
    return dict(sorted(table.items(), key=lambda item: item[1]["bust"]))


def written(path: Path) -> None:
    """The bodies as a table of the command's own kind."""
    found = bodies()
    columns = list(next(iter(found.values())))
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["name", *columns])
        rows.writerows([name, *(body[column] for column in columns)] for name, body in found.items())


def called(*words: str | Path) -> tuple[int, list[str]]:
    """What a call of the command ends with, and the lines it says."""
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
        ended = flatcut([str(word) for word in words])
    return ended, [line for line in said.getvalue().splitlines() if line.strip()]


def of_garment(name: str, table: Path, folder: Path) -> bool:
    """Draft, check and nest one garment, and tell of it. Returns whether all sizes are there and clean."""
    begun = time.process_time()
    recipe = FOLDER / f"{name}.recipe"
    with tempfile.TemporaryDirectory() as into:
        ended, said = called("run", recipe, f"--sizes={table}", "--units=mm", f"--into={into}", "--then=check")
        drawings = [path for size in bodies() if (path := next(Path(into).rglob(f"*{size}*.svg"), None))]
        lines = {path.name: called("check", path) for path in drawings if ended}
        found = {name: lines for name, (state, lines) in lines.items() if state}
        uneven: list[str] = []
        nested = 0
        for kind in ("svg", "pdf") if drawings else ():
            state, uneven = called("nest", *drawings, "-o", folder / f"{name}.{kind}")
            nested += state == 0
    clean = ended == 0 and len(drawings) == len(bodies()) and not found and nested == 2
    spent = time.process_time() - begun
    print(
        f"{name:<18} {len(drawings)} sizes, {len(found)} with findings, nested {nested} of 2, {spent:5.1f} s",
        flush=True,
    )
    for size, told in found.items():
        print(f"    {size}: {told[0]}")
    for line in uneven if drawings else said:
        print(f"    {line}")
    return clean


def main(words: list[str]) -> int:
    """Do it for all garments, or for those that are named."""
    folder = Path(words[0])
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        table = Path(place) / "sizes.csv"
        written(table)
        clean = [of_garment(name, table, folder) for name in words[1:] or NAMES]
    print(f"{sum(clean)} of {len(clean)} garments are clean in {len(bodies())} sizes")
    return 0 if all(clean) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

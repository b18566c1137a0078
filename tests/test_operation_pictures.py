"""The pictures of every operation, before and after, are what is drawn today; FLATCUT_UPDATE=1 draws them anew.

`samples/docs/operations/NAME.recipe` holds the drawing to start from, the steps before the operation, a line
"# before | after", and the operation.
"""

from __future__ import annotations

import os
import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

from flatcut.formats.svg.inline import picture
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load, names
from flatcut.recipe import read_recipe, replay

DOCS = Path(__file__).parents[1] / "samples" / "docs"
FOLDER = DOCS / "operations"
PAGE = DOCS / "operations.md"
UPDATE = bool(os.environ.get("FLATCUT_UPDATE"))
BETWEEN = "# before | after\n"
NUMBER = re.compile(r"-?\d+\.?\d*(?:e-?\d+)?")
EMPTY = b'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="700mm" viewBox="0 0 900 700"/>'
SAME = 0.05  # mm: what a fitted curve's handles may differ by from one version of a library to another


class Shown(NamedTuple):
    """Steps of an operation: the pictures before and after, its lines as recorded, and what they told."""

    before: str
    after: str
    lines: list[str]
    told: list[str]


@cache
def shown(name: str) -> Shown:
    """Replay a recipe of the docs."""
    given, _, operation = (FOLDER / f"{name}.recipe").read_text().partition(BETWEEN)
    source = given.splitlines()[0].removeprefix("# on ")
    data = (FOLDER / source).read_bytes() if source.endswith(".svg") else EMPTY
    drawing, start, _ = read(data)
    before = replay(read_recipe(given), start)
    after = replay(read_recipe(operation), before)
    steps = after.steps[len(before.steps) :]
    return Shown(
        "" if data is EMPTY else picture(write(drawing, before), label=f"before {name}"),
        picture(write(drawing, after), label=f"after {name}"),
        [line for line in operation.splitlines() if line],
        [str(told) for step in steps for told in (*step.figures, *step.warnings)],
    )


def alike(kept: str, made: str) -> bool:
    """Whether two pictures differ by no more than hairs."""
    if NUMBER.sub("", kept) != NUMBER.sub("", made):
        return False
    pairs = zip(NUMBER.findall(kept), NUMBER.findall(made), strict=True)
    return all(abs(float(a) - float(b)) <= SAME for a, b in pairs)


def section(name: str) -> str:
    """The part of the page about an operation."""
    what = shown(name)
    first = (load(name).__doc__ or "").strip().splitlines()[0]
    told = "; ".join(what.told[:6]) + (f"; and {len(what.told) - 6} more" if len(what.told) > 6 else "")
    before = f"![before {name}](operations/{name}-before.svg)" if what.before else "(an empty drawing)"
    lines = "\n".join(f"flatcut {line}" for line in what.lines)
    return (
        f"## {name}\n\n{first}\n\n```sh\n{lines}\n```\n\n| before | after |\n|---|---|\n"
        f"| {before} | ![after {name}](operations/{name}-after.svg) |\n" + (f"\nIt tells: {told}.\n" if told else "")
    )


@pytest.mark.parametrize("name", names())
def test_the_pictures_are_what_is_drawn(name: str) -> None:
    recipe = FOLDER / f"{name}.recipe"
    assert recipe.exists(), f"write {recipe.name} in samples/docs/operations, then FLATCUT_UPDATE=1 draws its pictures"
    what = shown(name)
    for when, made in (("before", what.before), ("after", what.after)):
        path = FOLDER / f"{name}-{when}.svg"
        if not made:
            continue
        if UPDATE and not (path.exists() and alike(path.read_text(), made)):
            path.write_text(made)
        assert alike(path.read_text(), made), f"{path.name} is older than the code: look, then FLATCUT_UPDATE=1"


def test_the_page_lists_every_operation() -> None:
    introduction = (
        "# Every operation, before and after\n\nEach picture is drawn by the command above it; the drawing it "
        "starts from and the steps before are in\n`samples/docs/operations/NAME.recipe`. "
        "`flatcut help NAME` lists the options.\n"
    )
    made = "\n".join([introduction, *(section(name) for name in names())])
    if UPDATE and not (PAGE.exists() and alike(PAGE.read_text(), made)):
        PAGE.write_text(made)
    assert alike(PAGE.read_text(), made), "samples/docs/operations.md is older than the code: FLATCUT_UPDATE=1"

"""The pictures of every block in three sizes are what is drawn today; FLATCUT_UPDATE=1 draws them anew."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from flatcut.cli.main import main
from flatcut.formats.svg.inline import picture
from tests.test_block_relations import APPLIES, RANGES, WHAT
from tests.test_operation_pictures import alike

DOCS = Path(__file__).parents[1] / "samples" / "docs"
FOLDER = DOCS / "blocks"
PAGE = DOCS / "blocks.md"
TABLE = DOCS.parent / "measures" / "sizes.toml"
SIZES = ("small", "medium", "large")
BLOCKS = {
    "bodice-neck-and-across": "The bodice, by neck and widths: bust dart in the corner of neck and shoulder.",
    "bodice-bust-only": "The bodice, by bust, waist and length of back only: bust dart in the armhole.",
    "torso-neck-and-across": "The torso, to the hip line, by the first method.",
    "torso-bust-only": "The torso, by the second.",
    "dress-neck-and-across": "The dress: torso and straight skirt in one, by the first method.",
    "dress-bust-only": "The dress, by the second.",
    "skirt": "The straight skirt.",
    "trousers": "Trousers: back and front of a leg, straight from the knee down. Tests hold, on three tables of bodies"
    " and at random, that side and inside legs are equally long or stretched as stated, that the crotch runs on over"
    " the inside leg, that its depth is the body rise and 1 cm, and that creases lie on the grain (common practice, no"
    " source).",
    "sleeve": "The sleeve, set into the armholes of the bodice beside it.",
}
HEAD = """# Blocks

Every block in three sizes of [a table](../measures/sizes.toml), drawn by `flatcut run` with `--sizes`. The bodies are
invented. All pictures are in one scale; stitch lines are dashed.
"""
TAIL = """## Necklines over the shoulder

The necklines of back and front of the middle size, laid together at the shoulder (dashed), with their bend drawn as a
comb: as they were drafted before, each for itself and square to the shoulder but for 8°, and now, as one line.

<img src="blocks/necklines.svg" width="660" alt="necklines before and after, with their bend">

## What holds

Tests hold these relations (common practice of the trade, no source) on every block over the sizes of two tables, and on
bodies at random (`FLATCUT_LONG=1` makes 500 of each); at most 5 of 100 may be refused, with a sentence, and none may
break a relation.

| | relation | blocks | why these, and where it is wider |
|---|---|---|---|
"""
UPDATE = bool(os.environ.get("FLATCUT_UPDATE"))
PER_MM = 0.4
"""Pixels of the page for one mm of a picture."""


def width(text: str) -> int:
    found = re.search(r'viewBox="\S+ \S+ (\S+)', text)
    assert found is not None
    return round(PER_MM * float(found[1]))


def section(name: str, pictures: list[str]) -> str:
    line = (FOLDER / f"{name}.recipe").read_text(encoding="utf-8").strip().replace("\n", "; ")
    shown = [
        f'<img src="blocks/{name}-{size}.svg" width="{width(text)}" alt="{name}, {size}">'
        for size, text in zip(SIZES, pictures, strict=True)
    ]
    return (
        f"## {name.replace('-', ' ', 1)}\n\n{BLOCKS[name]} Recipe: `{line}`.\n\n"
        f"| {' | '.join(SIZES)} |\n|---|---|---|\n| {' | '.join(shown)} |\n"
    )


def relations() -> str:
    rows = [f"| {k} | {what} | {', '.join(APPLIES[k][0])} | {APPLIES[k][1]} |" for k, what in WHAT.items()]
    ranges = [
        f"{name} {low / 10:g} to {high / 10:g}".replace(" off its mean", " off what follows from the bust")
        for name, (low, high) in RANGES.items()
    ]
    return TAIL + "\n".join(rows) + "\n\nThe bodies at random, in cm: " + "; ".join(ranges) + ".\n"


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    folder = tmp_path_factory.mktemp("blocks")
    found = {}
    for name in BLOCKS:
        assert main(["run", str(FOLDER / f"{name}.recipe"), f"--sizes={TABLE}", f"--into={folder}"]) == 0
        found[name] = [picture((folder / f"{name}-{size}.svg").read_bytes(), label=f"{name}, {size}") for size in SIZES]
    return found


@pytest.mark.parametrize("name", BLOCKS)
def test_the_pictures_are_what_is_drawn(name: str, drawn: dict[str, list[str]]) -> None:
    for size, text in zip(SIZES, drawn[name], strict=True):
        kept = FOLDER / f"{name}-{size}.svg"
        if UPDATE:
            kept.write_text(text, encoding="utf-8")
        assert alike(kept.read_text(encoding="utf-8"), text), f"{kept.name} is older than the code: FLATCUT_UPDATE=1"


def test_the_page_shows_every_block(drawn: dict[str, list[str]]) -> None:
    assert {path.stem for path in FOLDER.glob("*.recipe")} == set(BLOCKS)
    page = "\n".join([HEAD, *(section(name, drawn[name]) for name in BLOCKS), relations()])
    if UPDATE:
        PAGE.write_text(page, encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == page, "the page is older than the code: FLATCUT_UPDATE=1"

"""The README's commands do what it says, in its order, on the drawing of the demo."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import shutil
from pathlib import Path

import cv2
import pytest
from lxml import etree

from flatcut.cli.main import main
from tests.photographs import Shot, block

ROOT = Path(__file__).parents[1]
BLOCKS = re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(), flags=re.DOTALL)
LINES = [line for block in BLOCKS for line in block.splitlines() if line.startswith("flatcut ")]
FINDS_FAULTS = ("check set.svg", "check fifty.svg")
"""One set has edges that are sewn to nothing yet, into the other faults were put; nothing else has more to look at."""


def one_dress(folder: Path) -> None:
    """The digitised drawing and its table with one dress of the five: test_wardrobe does the whole of it."""
    drawing, table = folder / "wardrobe.svg", folder / "wardrobe.csv"
    root = etree.parse(drawing).getroot()
    for element in list(root.iterchildren(etree.Element)):
        number, words = (element.get("id") or "").rpartition("-")[2], element.text or ""
        if int(number or 0) > 10 or (not number and not words.startswith("aster")):
            root.remove(element)
    drawing.write_bytes(etree.tostring(root))
    heading, *rows = table.read_text().splitlines()
    uses = ("hem,", "cap,", "fold,", "neck,")
    table.write_text("\n".join([heading, *(row for row in rows if row.startswith(("aster", *uses)))]))


def test_every_command_of_the_readme_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(LINES) > 12
    shutil.copytree(ROOT / "samples", tmp_path / "samples")
    one_dress(tmp_path / "samples" / "digitised")
    for name in ("drawn.svg", "other.svg"):
        shutil.copy(ROOT / "samples" / "demo" / "top.svg", tmp_path / name)
    shot = Shot(paper=block() * 0.5, squares={1: (150, 100, 0)}, size=(1200, 900), wide=560.0)
    cv2.imwrite(str(tmp_path / "block.jpg"), shot.picture())
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO()))
    for line in LINES:
        command, _, into = line.removeprefix("flatcut ").partition(" > ")
        told = io.StringIO()
        with contextlib.redirect_stdout(told):
            code = main(shlex.split(command))
        if into:
            Path(into).write_text(told.getvalue())
        assert code == (1 if command in FINDS_FAULTS else 0), line
    made = {path.name for path in tmp_path.iterdir()}
    assert made >= {
        "set.svg",
        "top.recipe",
        "other-cut.svg",
        "olive.svg",
        "olive.recipe",
        "sizes",
        "fifty.svg",
        "set.pdf",
    }

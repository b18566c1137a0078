"""The output format that DEVELOPERS.md shows is added in a copy of the tree: one file by hand, the rest generated."""

from __future__ import annotations

import csv
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import shapely

from flatcut.cli import main
from tests import paper
from tests.test_added_kind import touched

ROOT = Path(__file__).parents[1]


def example() -> str:
    """The file that DEVELOPERS.md shows."""
    section = (ROOT / "DEVELOPERS.md").read_text().partition("## Adding an output format")[2]
    return re.findall(r"```python\n(.*?)```", section, re.DOTALL)[0]


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the tree with the format in it, and its dialogs written."""
    tree = tmp_path_factory.mktemp("tree")
    for name in ("core", "extensions", "samples"):
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    (tree / "core/flatcut/reports/wkt.py").write_text(example())
    done = flatcut(tree, "dialogs", "--write")
    assert done.returncode == 0, done.stderr
    return tree


def flatcut(tree: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(tree / "core"), "PYTHONDONTWRITEBYTECODE": "1"}
    run = [sys.executable, "-m", "flatcut", *words]
    return subprocess.run(run, cwd=tree, env=env, capture_output=True, text=True, check=False)


def test_an_output_format_is_one_file_by_hand(tree):
    files = {name: touched(tree / name, ROOT / name) for name in ("core", "extensions", "samples")}
    by_hand = files["core"][0]
    generated = files["extensions"][0]
    print(f"an output format: {len(by_hand)} file by hand, {len(generated)} generated, the others as they were")
    assert by_hand == ["flatcut/reports/wkt.py"]
    assert generated
    assert not any(edited for _, edited in files.values())
    assert all("wkt" in (tree / "extensions" / name).read_text() for name in generated)


def test_it_writes_what_the_drawing_shows(tree, tmp_path):
    """Shapely reads the lines; each stroke of the drawing is among them, as another reader of SVG measures it."""
    demo, drawing, out = ROOT / "samples" / "demo", tmp_path / "top.svg", tmp_path / "top.csv"
    assert main(["run", str(demo / "top.recipe"), str(demo / "top.svg"), "-o", str(drawing)]) == 0
    done = flatcut(tree, "wkt", str(drawing), "-o", str(out))
    assert done.returncode == 0, done.stderr
    with out.open(newline="") as file:
        rows = [(role, shapely.from_wkt(text)) for role, text in csv.reader(file)]
    assert {role for role, _ in rows} >= {"cut", "stitch", "grain", "arrow", "notch"}
    shown = sorted(far(stroke) for stroke in paper.svg_strokes(drawing))
    assert len(rows) == len(shown)
    assert np.abs(np.array(sorted(line.length for _, line in rows)) - np.array(shown)).max() < 0.5
    again = flatcut(tree, "wkt", "--stray=9m", str(drawing), "-o", str(out))
    assert again.returncode == 2
    assert "stray" in again.stderr


def far(stroke: paper.Drawn) -> float:
    return float(np.linalg.norm(np.diff(stroke.points, axis=0), axis=1).sum())

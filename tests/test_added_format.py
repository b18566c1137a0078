"""The output format that DEVELOPERS.md shows is added in a copy of the tree: one file by hand, the rest generated."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
import shapely

from flatcut.cli import main
from tests import paper
from tests.added import ROOT, Tree, copied, example


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Tree:
    """A copy of the tree with the format in it, and its dialogs written."""
    tree = copied(tmp_path_factory.mktemp("tree"), {"reports/wkt.py": example("wkt")})
    tree.told("dialogs --write")
    return tree


def test_an_output_format_is_one_file_by_hand(tree: Tree) -> None:
    added, edited = tree.touched()
    generated = [name for name in added if name.startswith("flatcut/extensions/")]
    by_hand = [name for name in added if name not in generated]
    print(f"an output format: {len(by_hand)} file by hand, {len(generated)} generated, the others as they were")
    assert by_hand == ["flatcut/reports/wkt.py"]
    assert generated
    assert edited == []
    assert all("wkt" in (tree.folder / name).read_text() for name in generated)


def test_it_writes_what_the_drawing_shows(tree: Tree, tmp_path: Path) -> None:
    """Shapely reads the lines; each stroke of the drawing is among them, as another reader of SVG measures it."""
    demo, drawing, out = ROOT / "samples" / "demo", tmp_path / "top.svg", tmp_path / "top.csv"
    assert main(["run", str(demo / "top.recipe"), str(demo / "top.svg"), "-o", str(drawing)]) == 0
    write = ["wkt", str(drawing), "-o", str(out)]
    done, again = tree.run(write, [*write, "--stray=9m"])
    assert done.code == 0, done.err
    with out.open(newline="") as file:
        rows = [(role, shapely.from_wkt(text)) for role, text in csv.reader(file)]
    assert {role for role, _ in rows} >= {"cut", "stitch", "grain", "arrow", "notch"}
    shown = sorted(far(stroke) for stroke in paper.svg_strokes(drawing))
    assert len(rows) == len(shown)
    assert np.abs(np.array(sorted(line.length for _, line in rows)) - np.array(shown)).max() < 0.5
    assert again.code == 2
    assert "stray" in again.err


def far(stroke: paper.Drawn) -> float:
    return float(np.linalg.norm(np.diff(stroke.points, axis=0), axis=1).sum())

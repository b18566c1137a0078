"""What is drawn is said once: SVG and PDF, each read from outside, show the same strokes with the same pens."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from tests import paper

ROOT = Path(__file__).parents[1]
GRAIN = 0.3
"""mm: the pen of a grain line (common practice, no source)."""


@pytest.fixture(scope="module")
def block(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pieces of a skirt block, which has no allowances."""
    file = tmp_path_factory.mktemp("block") / "skirt.svg"
    measures = ROOT / "samples" / "measures" / "olive.toml"
    assert main(["block", "skirt", f"--measures={measures}", "-o", str(file)]) == 0
    return file


def bold(drawn: list[paper.Drawn]) -> list[paper.Drawn]:
    """The strokes of the widest pen."""
    widest = max(stroke.width for stroke in drawn)
    return [stroke for stroke in drawn if stroke.width > widest - 0.01]


def test_the_outline_leads_the_eye_until_there_is_a_cut_line(block, tmp_path):
    drawn = paper.svg_strokes(block)
    outlines = bold(drawn)
    assert len(outlines) == 2
    assert not any(stroke.dashed for stroke in outlines)
    assert all(stroke.closed for stroke in outlines)
    assert any(abs(stroke.width - GRAIN) < 0.01 for stroke in drawn)  # the grain line is there, and thinner
    reach = {round(float(stroke.size[1])) for stroke in outlines}

    assert main(["allowance", "all", "--width=15", "-i", str(block), "-o", str(tmp_path / "cut.svg")]) == 0
    cut = paper.svg_strokes(tmp_path / "cut.svg")
    lines = bold(cut)
    assert len(lines) == 2
    assert {round(float(stroke.size[1])) for stroke in lines}.isdisjoint(reach)
    within = [stroke for stroke in cut if stroke.closed and stroke.dashed]
    assert {round(float(stroke.size[1])) for stroke in within} == reach  # what led the eye is sewn now


@pytest.mark.skipif(not shutil.which("pdftocairo"), reason="poppler-utils is missing: no PDF can be measured")
@pytest.mark.parametrize("sample", ["block", "top"])
def test_the_pdf_has_every_stroke_of_the_drawing(sample, block, tmp_path):
    pytest.importorskip("reportlab")
    drawing = block
    if sample == "top":
        drawing, demo = tmp_path / "top.svg", ROOT / "samples" / "demo"
        assert main(["run", str(demo / "top.recipe"), str(demo / "top.svg"), "-o", str(drawing)]) == 0
    out = tmp_path / "out.pdf"
    assert main(["print", str(drawing), "-o", str(out), "--as-drawn", "--paper=2500x2500mm"]) == 0
    printed = paper.strokes(out, 1)
    shown = paper.svg_strokes(drawing)
    assert len(shown) > 12
    for stroke in shown:
        same = [other for other in printed if alike(stroke, other)]
        assert same, f"a stroke {stroke.width:.2f} mm wide over {stroke.size.round(1)} mm is not on paper"
        printed.remove(same[0])
    # beside the pieces the sheet has its control lines and squares, bars and corner ticks: straight all of them
    assert all(stroke.cubics == 0 and len(stroke.points) <= 5 for stroke in printed)


def alike(a: paper.Drawn, b: paper.Drawn) -> bool:
    """The same pen over a path of the same length and extent, mm."""
    pens = abs(a.width - b.width) < 0.01 and a.dashed == b.dashed and a.closed == b.closed
    return pens and float(np.abs(a.size - b.size).max()) < 0.05 and abs(far(a) - far(b)) < 0.1


def far(stroke: paper.Drawn) -> float:
    return float(np.linalg.norm(np.diff(stroke.points, axis=0), axis=1).sum())

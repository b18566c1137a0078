"""Cut lines alone for plotters and lasers, and sizes nested: read from outside by poppler and svgelements."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from flatcut.cli import main
from flatcut.formats.opening import read
from flatcut.geometry.curves import bounds
from flatcut.marking.derived import derive
from flatcut.sizes.nested import KINDS, sizes_of
from tests import paper

pytest.importorskip("reportlab")
pytestmark = pytest.mark.skipif(
    not shutil.which("pdftocairo"), reason="poppler-utils is missing: no PDF can be measured"
)

DEMO = Path(__file__).parents[1] / "samples" / "demo"
SIZES = {"36": (700, 940), "38": (740, 980), "40": (780, 1020)}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def drawings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a top, and a skirt in three sizes."""
    folder = tmp_path_factory.mktemp("cut")
    assert main(["run", str(DEMO / "top.recipe"), str(DEMO / "top.svg"), "-o", str(folder / "top.svg")]) == 0
    for size, (waist, hip) in SIZES.items():
        recipe = folder / "skirt.recipe"
        recipe.write_text(
            f"block skirt --waist={waist} --hip={hip} --waist-to-hip=206 --waist-to-knee=580\n"
            f"style --name=trial --size={size}\nallowance all --width=10\n"
        )
        assert main(["run", str(recipe), "-o", str(folder / f"{size}.svg")]) == 0
    return folder


def boxes(file: Path) -> list[tuple[float, float]]:
    """Width and height of the cut line of each piece, mm; its grain stands upright in the drawing."""
    _, pattern, _ = read(file.read_bytes(), name=file.name)
    found = []
    for piece in pattern.pieces:
        x0, y0, x1, y1 = bounds(derive(piece).cut.curve)
        found.append((x1 - x0, y1 - y0))
    return found


def test_what_is_cut_is_one_path_for_each_piece_and_no_words(drawings, tmp_path):
    pdf, svg = tmp_path / "cut.pdf", tmp_path / "cut.svg"
    for file in (pdf, svg):
        words = ["--only=cut", "--paper=roll 914", "-o", str(file)]
        assert main(["print", str(drawings / "top.svg"), *words]) == 0
    root = etree.parse(str(svg)).getroot()
    assert [element.tag for element in root.iter()] == [f"{SVG}svg", f"{SVG}path", f"{SVG}path"]
    assert [path.get("id") for path in root] == ["front", "back"]
    assert paper.text(pdf, 1) == ""
    wanted = sorted(boxes(drawings / "top.svg"))
    for strokes in (paper.svg_strokes(svg), paper.strokes(pdf, 1)):
        rings = [stroke for stroke in strokes if stroke.closed and min(stroke.size) > 100]
        assert sorted(tuple(ring.size) for ring in rings) == [pytest.approx(size, abs=0.02) for size in wanted]
        assert len({round(stroke.width, 3) for stroke in strokes}) == 1
        assert not any(stroke.dashed for stroke in strokes)
    (page,) = paper.sizes(pdf)
    assert page[0] == pytest.approx(914, abs=0.1)
    # one path in the PDF too: poppler writes each path that is painted as an element of its own
    painted = tmp_path / "painted.svg"
    paper.run("pdftocairo", "-svg", str(pdf), str(painted))
    assert len(re.findall(r"<path [^>]*stroke-width", painted.read_text())) == 2


def test_each_piece_can_have_a_page_of_its_own_size(drawings, tmp_path):
    pdf = tmp_path / "own.pdf"
    words = ["--only=cut", "--pages=pieces", "--paper=own-size", "--margin=5"]
    assert main(["print", str(drawings / "top.svg"), "-o", str(pdf), *words]) == 0
    pages = paper.sizes(pdf)
    for page, (wide, high) in zip(pages, boxes(drawings / "top.svg"), strict=True):
        assert page == pytest.approx((wide + 10, high + 10), abs=0.5)


def test_pieces_go_whole_on_sheets_of_a_stated_size(drawings, tmp_path):
    pdf = tmp_path / "laser.pdf"
    assert main(["print", str(drawings / "top.svg"), "-o", str(pdf), "--only=cut", "--paper=500x500"]) == 0
    assert len(paper.sizes(pdf)) == 2
    for page in (1, 2):
        assert max(max(stroke.size) for stroke in paper.strokes(pdf, page)) < 480


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["top.svg", "--only=cut"], "take a larger one"),
        (["top.svg", "--only=cut", "--paper=500x500", "-o", "x.svg"], "takes 2"),
        (["top.svg", "-o", "x.svg"], "goes with --only=cut"),
        (["36.svg", "38.svg", "--nested", "--only=cut"], "do not go together"),
        (["36.svg", "--nested"], "2 to 12 sizes"),
        (["36.svg", "36.svg", "--nested"], "each drawing needs one of its own"),
    ],
)
def test_what_does_not_go_together_is_one_sentence(words, said, drawings, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(drawings)
    out = [] if "-o" in words else ["-o", str(tmp_path / "no.pdf")]
    assert main(["print", *words, *out]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert not (tmp_path / "no.pdf").exists()
    assert not (drawings / "x.svg").exists()


def test_nested_sizes_have_a_kind_of_line_and_a_letter_each_in_black(drawings, tmp_path):
    pdf = tmp_path / "nested.pdf"
    files = [str(drawings / f"{size}.svg") for size in SIZES]
    assert main(["print", *files, "--nested", "--paper=a0", "--jobs=2", "-o", str(pdf)]) == 0
    words = paper.text(pdf, 1)
    assert "Sizes 36 A, 38 B, 40 C" in words
    assert "Measure the test square before cutting." in words
    assert "Make a toile first." in words
    for letter in "ABC":
        assert len(re.findall(rf"\b{letter}\b", words)) >= 6
    painted = tmp_path / "painted.svg"
    paper.run("pdftocairo", "-svg", "-noshrink", str(pdf), str(painted))
    text = painted.read_text()
    pens = re.findall(r"stroke-width:[^\"]*stroke:([^;]*);[^\"]*", text)
    assert len(pens) > 20
    assert set(pens) == {"rgb(0%,0%,0%)"}
    assert len(set(re.findall(r"stroke-dasharray:([^;]*);", text))) >= 2
    # every size's cut line is there at true size
    strokes = paper.strokes(pdf, 1)
    for size in SIZES:
        for wide, high in boxes(drawings / f"{size}.svg"):
            away = [np.abs(stroke.size - (wide, high)).max() for stroke in strokes if stroke.closed]
            assert min(away) < 0.05, size


def test_nested_sizes_lie_on_each_other_at_their_fold(drawings, tmp_path):
    pdf = tmp_path / "nested.pdf"
    files = [str(drawings / f"{size}.svg") for size in SIZES]
    assert main(["print", *files, "--nested", "--paper=a0", "--pieces=skirt-back", "-o", str(pdf)]) == 0
    rings = [stroke.points for stroke in paper.strokes(pdf, 1) if stroke.closed and min(stroke.size) > 200]
    assert len(rings) == 3
    assert np.ptp([ring[:, 0].min() for ring in rings]) < 0.05
    assert np.ptp([ring[:, 0].max() for ring in rings]) == pytest.approx(20.0, abs=0.1)  # a quarter of two hip steps


def test_kinds_of_lines_are_all_different():
    assert len(set(KINDS)) == len(KINDS)
    assert len({size.letter for size in sizes_of([str(k) for k in range(12)])}) == 12

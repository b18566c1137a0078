"""The PDF measured: poppler draws its pages, another reader of SVG reads them, and the drawing is what they must be."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, MultiLineString, Polygon, box, points
from shapely.ops import unary_union
from svgelements import SVG
from svgelements import Path as DrawnPath

import flatcut
from flatcut.cli import main
from flatcut.drawing.ink import Stroke
from flatcut.drawing.roles import CUT as CUT_ROLE
from flatcut.formats.pdf import POINT, _stroke
from flatcut.geometry.curves import polyline
from tests import by_hand as hand
from tests import paper

ROOT = Path(__file__).parents[1]
CUT, STITCH, MAP, MATCH = 0.45, 0.25, 0.15, 0.2
"""mm: widths of pens, as the picture of the finished pieces in samples/docs shows them, and those of the sheets."""

if not shutil.which("pdftocairo"):
    if os.environ.get("CI", "").lower() in ("1", "true"):
        pytest.fail("poppler-utils is missing, and the PDF must be measured here", pytrace=False)
    pytest.skip("poppler-utils is missing: no PDF can be measured", allow_module_level=True)
pytest.importorskip("reportlab")

SVG_TEXT = '<svg xmlns="http://www.w3.org/2000/svg" width="3000mm" height="3000mm" viewBox="0 0 3000 3000">{}</svg>'
BOARD = "M 40,40 H 640 V 1040 H 40 Z"


@pytest.fixture(scope="session")
def board(tmp_path_factory):
    """A piece of 600 by 1000 mm."""
    return made(tmp_path_factory.mktemp("board"), BOARD)


@pytest.fixture(scope="session")
def top(tmp_path_factory):
    """The two pieces of the worked example, with allowances, notches and labels."""
    folder = tmp_path_factory.mktemp("top")
    sample = ROOT / "samples" / "demo"
    file = folder / "top.svg"
    assert main(["run", str(sample / "top.recipe"), str(sample / "top.svg"), "-o", str(file)]) == 0
    return file


def made(folder: Path, *paths: str) -> Path:
    drawn, file = folder / "drawn.svg", folder / "pieces.svg"
    drawn.write_text(SVG_TEXT.format("".join(f'<path id="p{k}" d="{d}"/>' for k, d in enumerate(paths))))
    assert main(["piece", "-i", str(drawn), "-o", str(file)]) == 0
    return file


def printed(file: Path, folder: Path, *words: str, code: int = 0) -> Path:
    pdf = folder / "out.pdf"
    assert main(["print", str(file), "-o", str(pdf), *words]) == code
    return pdf


def sheets(pdf: Path) -> dict[str, int]:
    """Page number of each sheet, by its name."""
    found = {}
    for page in range(1, len(paper.sizes(pdf)) + 1):
        name = re.search(r"sheet ([A-Z]+\d+) \(column", paper.text(pdf, page))
        if name:
            found[name.group(1)] = page
    return found


def assembled(pdf: Path, pens: float, *, step: tuple[float, float]) -> tuple[MultiLineString, dict[str, np.ndarray]]:
    """The sheets laid beside each other: all lines drawn with one pen, each clipped to its sheet; the sheets' corners.

    step: from one sheet to the next, as a person trims them: width and height between corner ticks less the overlap.
    """
    lines, corners = [], {}
    for name, page in sheets(pdf).items():
        column, row = ord(name[0]) - ord("A"), int(name[1:]) - 1
        drawn = paper.strokes(pdf, page)
        ticks = np.concatenate([s.points for s in drawn if len(s.points) == 3 and np.allclose(s.size, 6.0, atol=0.01)])
        low, high = ticks.min(axis=0), ticks.max(axis=0)
        move = np.array([column, row]) * step - low
        window = box(*(low + move), *(high + move))
        corners[name] = low + move
        shown = [s for s in drawn if abs(s.width - pens) < 0.01 and not s.dashed]
        lines += [LineString(s.points + move).intersection(window) for s in shown]
    return unary_union(lines), corners


# Sheets ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "size", "names", "pages"),
    [
        ((), (210, 297), "ABCD 1234", 17),
        (("--paper=letter", "--margin=12.7", "--overlap=12.7"), (215.9, 279.4), "ABCD 12345", 21),
        (("--paper=a0",), (841, 1189), "", 1),
        (("--paper=1200x700", "--turned"), (700, 1200), "", 1),
        (("--paper=24x36in",), (609.6, 914.4), "AB 12", 4),
    ],
)
def test_sheets_of_a_600_by_1000_piece(board, tmp_path, words, size, names, pages):
    """n = ceil((size - overlap) / (printable - overlap)) each way: 16 sheets of A4, 20 of Letter, one of A0.

    The words of the first page take one of their own on paper that has no room for them beside the piece.
    """
    pdf = printed(board, tmp_path, *words)
    found = paper.sizes(pdf)
    assert found == [pytest.approx(size, abs=0.01)] * len(found)
    columns, _, rows = names.partition(" ")
    assert sorted(sheets(pdf)) == sorted(column + row for column in columns for row in rows)
    assert len(found) == pages


@pytest.mark.parametrize(
    "words", [(), ("--paper=letter",), ("--paper=a0",), ("--paper=roll 914",), ("--pages=pieces", "--paper=own-size")]
)
def test_test_squares(top, tmp_path, words):
    """5 cm and 2 in, across and down, within 0.01 mm, on the first page."""
    pdf = printed(top, tmp_path, *words)
    squares = [s.size for s in paper.strokes(pdf, 1) if s.closed and len(s.points) == 5 and np.ptp(s.size) < 0.01]
    sides = sorted(float(side) for size in squares for side in size if 45 < side < 55)
    assert sides == pytest.approx([50.0, 50.0, 50.8, 50.8], abs=0.01)
    said = paper.text(pdf, 1)
    for words in ("5 cm across", "5 cm down", "2 in across", "2 in down"):
        assert words in said


@pytest.mark.parametrize(
    "words",
    [
        ("--paper=90x200", "--margin=5", "--overlap=8"),
        ("--paper=75x80", "--margin=5", "--overlap=0"),
        ("--paper=a4", "--turned", "--margin=3"),
        ("--pages=pieces",),
    ],
)
def test_the_first_pages_stay_on_their_paper(top, tmp_path, words):
    """On small paper squares and map go on, page by page; nothing reaches into the margins."""
    pdf = printed(top, tmp_path, *words)
    margin = float(re.findall(r"margin=(\d+)", " ".join(words) + " margin=10")[0])
    first, squares, maps = len(paper.sizes(pdf)) - len(sheets_of(pdf)), 0, 0
    for page, (wide, high) in list(enumerate(paper.sizes(pdf), start=1))[:first]:
        for s in paper.strokes(pdf, page):
            low, far = s.points.min(axis=0), s.points.max(axis=0)
            assert (low > margin - 0.3).all()
            assert (far < np.array([wide, high]) - margin + 0.3).all()
            squares += s.closed and len(s.points) == 5 and np.ptp(s.size) < 0.01 and 49 < s.size[0] < 52
        maps += "A1" in paper.text(pdf, page)
    assert squares == 2
    assert maps >= 1


def sheets_of(pdf: Path) -> list[int]:
    """Page numbers of all sheets, of several sets too."""
    return [k for k in range(1, len(paper.sizes(pdf)) + 1) if re.search(r"sheet [A-Z]+\d+ \(", paper.text(pdf, k))]


def test_every_page_says_what_to_do_before_cutting(top, tmp_path):
    pdf = printed(top, tmp_path, "--style=harbour top", "--size=14", "--date=3 May 2031")
    pages = len(paper.sizes(pdf))
    assert pages > 4
    for page in range(1, pages + 1):
        said = paper.text(pdf, page)
        assert "Measure the test square before cutting." in said
        assert "Make a toile first." in said
        # a sheet has room for the short form only, in letters of 3.5 mm
        assert ("Print at 100 %, not fitted to the page." if page == 1 else "Print at 100 %.") in said
        for words in ("harbour top", "size 14", "3 May 2031"):
            assert words in said
    assert "Map of the sheets" in paper.text(pdf, 1)


def test_pieces_are_numbered_and_allowances_that_differ_are_said_edge_by_edge(top, tmp_path):
    said = " ".join(paper.text(printed(top, tmp_path, "--paper=a0"), 1).split())
    for words in ("piece 1 of 2", "piece 2 of 2", "6 mm: neck, armhole", "20 mm: centre", "10 mm: other edges"):
        assert words in said
    even = tmp_path / "even.svg"
    assert main(["allowance", "front", "back", "--width=1cm", "-i", str(top), "-o", str(even)]) == 0
    said = " ".join(paper.text(printed(even, tmp_path, "--paper=a0", "--pieces=front"), 1).split())
    assert "10 mm allowance included" in said
    assert "other edges" not in said
    assert "piece 1 of" not in said, "it is the only one"


def test_a_print_preview_starts_at_full_size(top, tmp_path):
    """ISO 32000-1, table 150: PrintScaling None switches off the fitting of pages to the paper."""
    assert b"/PrintScaling /None" in printed(top, tmp_path).read_bytes()


# Pieces ---------------------------------------------------------------------------------------------------------------


def truth(pattern: Path, name: str) -> np.ndarray:
    """The outline of a drawn path as points (n, 2), read by another reader, mm."""
    drawing = SVG.parse(str(pattern), reify=True)
    path = next(e for e in drawing.elements() if isinstance(e, DrawnPath) and e.id == name)
    return paper.sampled(path)[0]


@pytest.mark.parametrize(
    ("words", "step"),
    [
        ((), (180, 267)),
        (("--paper=letter", "--margin=12.7", "--overlap=12.7"), (177.8, 241.3)),
        (("--paper=210x297", "--overlap=0"), (190, 277)),
        (("--overlap=25",), (165, 252)),
    ],
)
def test_a_piece_put_together_from_its_sheets_is_the_piece(tmp_path, words, step):
    """Within 0.05 mm both ways: no line is missing, and none is where it should not be."""
    sample = ROOT / "samples" / "demo" / "top.svg"
    pieces = tmp_path / "pieces.svg"
    assert main(["piece", "id:front", "--names=front", "-i", str(sample), "-o", str(pieces)]) == 0
    pdf = printed(pieces, tmp_path, "--lines=stitch", *words)
    found, _ = assembled(pdf, CUT, step=step)
    outline = truth(sample, "front")
    corner = np.array(found.bounds[:2])
    wanted = LineString(np.vstack([outline, outline[:1]]) - outline.min(axis=0) + corner)
    there = points(np.array(wanted.segmentize(1.0).coords))
    assert max(found.distance(point) for point in there) < 0.05
    here = points(np.concatenate([np.array(part.segmentize(1.0).coords) for part in found.geoms]))
    assert max(wanted.distance(point) for point in here) < 0.05
    assert found.bounds == pytest.approx(wanted.bounds, abs=0.05)


def test_curves_stay_curves(top, tmp_path):
    pdf = printed(top, tmp_path, "--paper=a0")
    drawn = paper.strokes(pdf, 1)
    assert sum(s.cubics for s in drawn if abs(s.width - CUT) < 0.01) > 5
    assert max(len(s.points) - 32 * s.cubics for s in drawn) < 40  # no curve is a row of short lines


def test_the_pen_does_not_reach_past_a_sharp_tip(tmp_path):
    """A needle of 13.7°, 100 mm long: its mitred stroke would be 102.1 mm long, its blunt one ends half a pen away."""
    from reportlab.pdfgen.canvas import Canvas

    needle = polyline([(20.0, 10.0), (120.0, 22.0), (20.0, 34.0), (20.0, 10.0)])
    canvas = Canvas(str(tmp_path / "needle.pdf"), pagesize=(140 * POINT, 50 * POINT))
    _stroke(canvas, Stroke(role=CUT_ROLE, curves=(needle,), closed=True), 0, 50)
    canvas.save()
    subprocess.run(["pdftoppm", "-r", "254", "-gray", tmp_path / "needle.pdf", tmp_path / "page"], check=True)
    (page,) = tmp_path.glob("page*.pgm")
    size = tuple(map(int, page.read_bytes().split(maxsplit=3)[1:3]))[::-1]
    dark = np.frombuffer(page.read_bytes(), dtype=np.uint8)[-size[0] * size[1] :].reshape(size) < 128
    across = np.flatnonzero(dark.any(axis=0))
    assert (across[-1] + 1 - across[0]) / 10 == pytest.approx(100 + CUT, abs=0.3)


def test_marks_of_neighbours_meet(board, tmp_path):
    pdf = printed(board, tmp_path)
    middles: dict[str, set[tuple[float, float]]] = {}
    for name, page in sheets(pdf).items():
        drawn = paper.strokes(pdf, page)
        ticks = np.concatenate([s.points for s in drawn if len(s.points) == 3 and np.allclose(s.size, 6.0, atol=0.01)])
        move = np.array([ord(name[0]) - ord("A"), int(name[1:]) - 1]) * (180, 267) - ticks.min(axis=0)
        halves = [s for s in drawn if len(s.points) == 3 and abs(s.width - MATCH) < 0.01]
        middles[name] = {tuple((s.points[[0, 2]].mean(axis=0) + move).round(2).tolist()) for s in halves}
        assert all(s.width <= 0.31 for s in drawn if len(s.points) == 2 and abs(s.width - STITCH) > 0.01)
    assert len(middles["A1"]) == 4
    assert len(middles["B2"]) == 8
    for name, other in (("A1", "B1"), ("A1", "A2"), ("B2", "C2"), ("C3", "C4")):
        away = [np.hypot(*np.subtract(one, two)) for one in middles[name] for two in middles[other]]
        assert sum(far < 0.02 for far in away) == 2


def test_the_control_line_is_500_mm_long_across_the_sheets(board, top, tmp_path):
    for file in (board, top):
        pdf = printed(file, tmp_path)
        assert "control line: 500 mm" in " ".join(paper.text(pdf, page) for page in sheets(pdf).values())
        found = []
        for name, page in sheets(pdf).items():
            for s in paper.strokes(pdf, page):
                if len(s.points) == 2 and abs(s.size.max() - 500) < 1:
                    found.append((name, s.size.max()))
        assert [length for _, length in found] == [pytest.approx(500, abs=0.02)] * len(found)
        assert len({name for name, _ in found}) >= 2  # whole on every sheet that shows a part of it


@pytest.mark.parametrize("words", [(), ("--paper=letter",), ("--paper=a3",), ("--paper=roll 914", "--margin=10")])
def test_the_rim_of_the_paper_stays_empty(top, tmp_path, words):
    """Printers leave 5 to 6.4 mm of the paper empty (trade custom, no source)."""
    pdf = printed(top, tmp_path, *words)
    subprocess.run(["pdftoppm", "-r", "50", "-gray", str(pdf), str(tmp_path / "page")], check=True)
    pictures = sorted(tmp_path.glob("page*.pgm"))
    assert len(pictures) == len(paper.sizes(pdf))
    rim = int(6.0 / 25.4 * 50)
    for file in pictures:
        head, rest = file.read_bytes().split(b"255\n", 1)
        wide, high = map(int, head.split()[1:3])
        pixels = np.frombuffer(rest, dtype=np.uint8).reshape(high, wide)
        assert pixels.min() < 128, "something is printed"
        inside = pixels[rim:-rim, rim:-rim]
        assert (pixels == 255).sum() - (inside == 255).sum() == pixels.size - inside.size


def test_what_is_printed_is_what_is_derived_and_not_what_is_drawn(top, tmp_path, capsys):
    """A node is moved by hand and nothing redrawn: the cut line follows in print, and the old drawing is said."""
    root = hand.root_of(top.read_bytes())
    hand.move_node(hand.outline(root, "back"), 3, (10.0, 10.0))
    edited = tmp_path / "edited.svg"
    edited.write_bytes(hand.bytes_of(root))
    capsys.readouterr()
    areas = {}
    for file in (top, edited):
        assert main(["print", str(file), "-o", str(tmp_path / "out.pdf"), "--paper=a0", "--pieces=back"]) in (0, 1)
        drawn = paper.strokes(tmp_path / "out.pdf", 1)
        areas[file] = max(Polygon(s.points).area for s in drawn if s.closed and abs(s.width - CUT) < 0.01)
    assert abs(areas[edited] - areas[top]) > 100
    said = capsys.readouterr().err
    assert said.count("warning: what is drawn round back is older than back itself; what is printed was made anew") == 1
    assert "older than back itself" in paper.text(tmp_path / "out.pdf", 1)


def test_only_cut_lines_or_only_stitch_lines(top, tmp_path):
    def pens(*words: str) -> dict[tuple[float, bool], int]:
        found: dict[tuple[float, bool], int] = {}
        for s in paper.strokes(printed(top, tmp_path, "--paper=a0", *words), 1):
            if s.closed and len(s.points) > 5:
                found[round(s.width, 2), s.dashed] = found.get((round(s.width, 2), s.dashed), 0) + 1
        return found

    assert pens() == {(STITCH, True): 2, (CUT, False): 2}
    assert pens("--lines=cut") == {(CUT, False): 2}
    assert pens("--lines=stitch") == {(CUT, False): 2}


def test_a_label_says_that_an_allowance_is_included_only_where_it_is(tmp_path):
    sample = ROOT / "samples" / "docs" / "finish" / "marks.svg"
    whole = paper.text(printed(sample, tmp_path, "--paper=a0"), 1)
    net = paper.text(printed(sample, tmp_path, "--paper=a0", "--lines=stitch"), 1)
    assert "mm allowance included" in whole
    assert "no allowance" not in whole
    assert "included" not in net
    assert net.count("stitch line, no allowance") == 6


def test_marks_and_labels(top, tmp_path):
    pdf = printed(top, tmp_path, "--paper=a0")
    said = paper.text(pdf, 1)
    for words in ("cut 1 on fold shell", "cut 2 (1 pair) shell", "summer top size 12", "cut on fold"):
        assert words in said
    for words in ("yoke-line", "bust-point", "shoulder"):  # names on a layer of their own are never printed
        assert words not in said


# Sets -----------------------------------------------------------------------------------------------------------------


def test_each_piece_by_itself(top, tmp_path):
    pdf = printed(top, tmp_path, "--pages=pieces", "--paper=own-size")
    assert len(paper.sizes(pdf)) == 3
    for page, name in ((2, "front"), (3, "back")):
        wide, high = paper.sizes(pdf)[page - 1]
        outline = max((s for s in paper.strokes(pdf, page) if abs(s.width - CUT) < 0.01), key=lambda s: s.size.max())
        assert outline.size == pytest.approx((wide - 20, high - 20), abs=0.3)
        assert name in paper.text(pdf, page)
    tiled = printed(top, tmp_path, "--pages=pieces")
    assert {name for name in ("front", "back") if f"{name}, summer top" in paper.text(tiled, 2)} == {"front"}
    assert len(paper.sizes(tiled)) > 3


def test_several_drawings_follow_each_other(top, board, tmp_path):
    pdf = tmp_path / "both.pdf"
    alone = [len(paper.sizes(printed(file, tmp_path))) for file in (top, board)]
    assert main(["print", str(top), str(board), "-o", str(pdf)]) == 0
    assert len(paper.sizes(pdf)) == sum(alone)
    assert "summer top" in paper.text(pdf, 1)
    assert "pieces" in paper.text(pdf, alone[0] + 1)


def test_a_long_roll_is_cut_into_lengths(tmp_path):
    """No page is longer than 14,400 units of 1/72 in (ISO 32000-1, annex C)."""
    file = made(tmp_path, "M 0,0 H 500 V 11000 H 0 Z")
    pdf = printed(file, tmp_path, "--paper=roll 914")
    assert len(sheets(pdf)) == 3
    assert all(high <= 5080.01 for _, high in paper.sizes(pdf))
    assert all(wide == pytest.approx(914, abs=0.01) for wide, _ in paper.sizes(pdf))


def test_pieces_where_they_lie(tmp_path):
    file = made(tmp_path, "M 100,100 h 50 v 80 h -50 z", "M 700,900 h 60 v 40 h -60 z")
    pdf = printed(file, tmp_path, "--as-drawn", "--paper=a0", "--lines=stitch")
    squares = [s for s in paper.strokes(pdf, 1) if s.closed and abs(s.width - CUT) < 0.01]
    assert [s.size.round(1).tolist() for s in squares] == [[50, 80], [60, 40]]
    assert squares[1].points.min(axis=0) - squares[0].points.min(axis=0) == pytest.approx([600, 800], abs=0.01)


def test_only_the_named_pieces(top, tmp_path):
    pdf = printed(top, tmp_path, "--pieces=back", "--paper=a0")
    assert "cut 2 (1 pair)" in paper.text(pdf, 1)
    assert "on fold" not in paper.text(pdf, 1)


def test_the_same_input_gives_the_same_bytes(top, tmp_path):
    first = printed(top, tmp_path).read_bytes()
    environment = {
        **os.environ,
        "PYTHONPATH": str(Path(flatcut.__file__).parents[1]),
        "PYTHONHASHSEED": "7",
        "TZ": "UTC-9",
    }
    other = subprocess.run(
        [sys.executable, "-m", "flatcut", "print", str(top), "-o", "-"],
        capture_output=True,
        env=environment,
        check=True,
    )
    assert other.stdout == first


def test_two_processes_give_the_same_as_one(top, board, tmp_path):
    one, two = tmp_path / "one.pdf", tmp_path / "two.pdf"
    assert main(["print", str(top), str(board), "-o", str(one)]) == 0
    assert main(["print", str(top), str(board), "-o", str(two), "--jobs=2"]) == 0
    assert one.read_bytes() == two.read_bytes()

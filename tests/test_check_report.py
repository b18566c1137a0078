"""The page of a check: stands alone, is read without colour, and shows and prints in a real browser."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from lxml import html

from flatcut.checks.seam_walk import SeamWalk
from flatcut.cli import main
from flatcut.drawing.laying import GAP, laid
from flatcut.editor.bridge import pressed, read_words
from flatcut.formats.check_page import SHAPES
from flatcut.formats.check_pictures import seam_picture
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import line
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.pattern.walking import sewn_length
from tests.seeding import bodice, corner_moved, handle_turned, made, top
from tests.test_check_drawings import drawn

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
PATIENCE = 90.0


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A page about three drawings: a sound one, one with a seam too long and a broken neckline, one that is none."""
    folder = tmp_path_factory.mktemp("page")
    (folder / "sound.svg").write_bytes(drawn(bodice()))
    faulty = handle_turned(corner_moved(top(), ("front", "side", "waist"), 3.0), "back", "neck", 0, 5.0)
    (folder / "faulty.svg").write_bytes(drawn(faulty))
    (folder / "none.svg").write_text("no drawing")
    made = folder / "check.html"
    names = [str(folder / f"{name}.svg") for name in ("sound", "faulty", "none")]
    assert main(["check", *names, f"--report={made}"]) == 1
    return made


@pytest.fixture(scope="module")
def read_page(page: Path) -> html.HtmlElement:
    return html.fromstring(page.read_bytes())


def test_it_stands_alone(page: Path, read_page: html.HtmlElement) -> None:
    assert page.read_bytes().startswith(b"<!DOCTYPE html>")
    assert read_page.get("lang") == "en"
    assert not list(read_page.iter("script", "link", "img", "iframe", "object", "embed"))
    text = page.read_text()
    assert not re.search(r"(?:href|src)\s*=|url\(|@import|javascript:|\son[a-z]+\s*=", text)
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")


def test_headings_go_down_step_by_step(read_page: html.HtmlElement) -> None:
    levels = [int(e.tag[1]) for e in read_page.iter("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert levels.count(2) == 3
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert len(list(read_page.iter("main"))) == 1
    ids = [e.get("id") for e in read_page.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert all(section.get("aria-labelledby") in ids for section in read_page.iter("section"))


def test_every_picture_has_a_text_alternative(read_page: html.HtmlElement) -> None:
    pictures = list(read_page.iter("svg"))
    # a picture for each of 7 + 2 seams and each of 2 findings
    assert len(pictures) == 11
    for svg in pictures:
        assert svg.get("role") == "img"
        title, description = svg.find("title"), svg.find("desc")
        assert title is not None
        assert description is not None
        assert title.text == svg.get("aria-label")
        assert len(description.text or "") > 20


def test_a_shape_and_a_number_for_each_finding(read_page: html.HtmlElement) -> None:
    headings = [e.text_content() for e in read_page.iter("h4")]
    assert [re.match(rf"{SHAPES['fault']} (\d+)\. fault", h)[1] for h in headings] == ["1", "2"]  # type: ignore[index]
    for number, article in enumerate(read_page.iter("article"), start=1):
        marks = [t.text_content() for t in article.iter("text")]
        assert str(number) in marks
    table = next(t for t in read_page.iter("table") if "front.side" in t.text_content() and "fault" in t.text_content())
    assert f"{SHAPES['fault']} fault" in table.text_content()
    assert all(th.get("scope") == "col" for th in table.iter("th"))


def test_it_says_what_to_do_before_cloth_is_cut(read_page: html.HtmlElement) -> None:
    text = read_page.text_content()
    assert "measure what is printed against a ruler" in text
    assert "sew a toile first" in text
    assert "not checked: " in text


def test_the_same_call_gives_the_same_page(page: Path, tmp_path: Path) -> None:
    again = tmp_path / "again.html"
    names = [str(page.parent / f"{name}.svg") for name in ("sound", "faulty", "none")]
    assert main(["check", *names, f"--report={again}", "--jobs=2"]) == 1
    assert again.read_bytes() == page.read_bytes()


def contrast(one: str, other: str) -> float:
    """Contrast of two colours (WCAG 2.1, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_colours_are_read_with_ease(page: Path) -> None:
    """WCAG 2.1, 1.4.3: at least 4.5 to 1, for every colour of the page against what lies behind it."""
    colours = set(re.findall(r"#[0-9a-f]{6}", page.read_text())) - {"#ffffff", "#f2f2f2"}
    assert contrast("#000000", "#f2f2f2") >= 4.5  # behind commands
    assert all(contrast(colour, "#ffffff") >= 4.5 for colour in colours), colours


@pytest.mark.parametrize("make", [top, bodice])
def test_laid_pieces_touch_along_the_seam_and_do_not_change(make) -> None:
    pattern = make()
    for seam in pattern.seams:
        one, two = laid(pattern, seam)
        for part in (*one.parts, *two.parts):
            assert part.to.is_rigid()
        places = np.linspace(0, 1, 40)
        gaps = [float(one.at(s * one.sewn)[1] - two.at(s * two.sewn)[1]) for s in places]
        assert min(gaps) == pytest.approx(GAP, abs=0.5)
        assert one.at(0.0)[0] == pytest.approx(two.at(0.0)[0], abs=1e-6)
        # the seam runs to the right
        assert one.at(one.sewn)[0] > one.at(0.0)[0]


# In a browser ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def browser(tmp_path: Path):
    """Run the browser without a window on a page; its standard output."""
    if BROWSER is None:
        if os.environ.get("CI"):
            pytest.fail("the page must be tried in a browser here, and chromium is missing", pytrace=False)
        pytest.skip("no browser to look at the page in: chromium is missing")

    def run(page: Path, *words: str) -> str:
        fixed = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--hide-scrollbars"]
        data = f"--user-data-dir={tmp_path / 'browser'}"
        done = subprocess.run(
            [str(BROWSER), *fixed, data, *words, page.as_uri()],
            capture_output=True, text=True, timeout=PATIENCE, check=True,
        )  # fmt: skip
        return done.stdout

    return run


def test_a_browser_shows_it_as_it_is_written(browser, page: Path) -> None:
    tree = html.fromstring(browser(page, "--dump-dom"))
    written = html.fromstring(page.read_bytes())
    for name in ("h2", "h3", "h4", "table", "figure", "article", "svg", "title", "desc", "path", "text"):
        assert len(list(tree.iter(name))) == len(list(written.iter(name))), name
    assert " ".join(tree.text_content().split()) == " ".join(written.text_content().split())


def test_a_picture_of_it_has_ink_and_the_one_colour(browser, page: Path, tmp_path: Path) -> None:
    shot = tmp_path / "page.png"
    browser(page, "--window-size=1000,7000", f"--screenshot={shot}")
    found = subprocess.run(
        ["convert", str(shot), "-format", "%w %h %[fx:mean]", "info:"], capture_output=True, text=True, check=True
    ).stdout.split()
    assert found[:2] == ["1000", "7000"]
    assert 0.85 < float(found[2]) < 0.999
    only_red = ["-fuzz", "8%", "-fill", "white", "+opaque", "#b3001b", "-format", "%[fx:w*h*(1-mean.g)]", "info:"]
    red = subprocess.run(["convert", str(shot), *only_red], capture_output=True, text=True, check=True).stdout
    assert float(red) > 300


def test_it_prints_on_few_pages_with_no_picture_cut_in_two(browser, page: Path, tmp_path: Path) -> None:
    sheet = tmp_path / "page.pdf"
    browser(page, "--no-pdf-header-footer", f"--print-to-pdf={sheet}")
    told = subprocess.run(["pdfinfo", str(sheet)], capture_output=True, text=True, check=True).stdout
    pages = int(re.search(r"Pages:\s+(\d+)", told)[1])  # type: ignore[index]
    # 11 pictures, at most three to a page, and a page of its own for each drawing
    assert 5 <= pages <= 9
    text = subprocess.run(["pdftotext", "-layout", str(sheet), "-"], capture_output=True, text=True, check=True).stdout
    leaves = text.split("\f")
    for number in ("1. fault: seam walk", "2. fault: run on"):
        leaf = next(leaf for leaf in leaves if number in leaf)
        # the heading, the sentence and the piece names of the picture stand on one page
        assert leaf.count("front") >= 2


def test_the_editor_saves_the_same_page(tmp_path: Path) -> None:
    """Save As hands over the document's bytes and takes the page's; its heading is the style's name."""
    faulty = drawn(corner_moved(top(), ("front", "side", "waist"), 3.0))
    done = pressed(read_words(["--operation=check-page", "--skip=grain", "in.svg"]), faulty)
    assert done.document is not None
    assert done.said == ""
    tree = html.fromstring(done.document)
    assert tree.findtext(".//h1") == "Check of summer top"
    assert len(list(tree.iter("svg"))) == 3


def test_a_run_over_two_pieces_is_laid_end_to_end() -> None:
    """Two pieces of 20 cm, turned about as they lie, against one of 40 cm: the stitch line runs on over both."""
    upper = moved(square("upper", 0.0), Affine.rotation(0.7))
    lower = moved(square("lower", 900.0), Affine.rotation(-1.9))
    pieces = (upper, lower, square("long", 2000.0, high=400.0))
    pattern = made("seam upper.right+lower.right long.left", Pattern(pieces=pieces))
    (seam,) = pattern.seams
    one, two = laid(pattern, seam)
    assert (one.sewn, two.sewn) == (pytest.approx(400), pytest.approx(400))
    places = np.array([one.at(s) for s in (0.0, 100.0, 199.99, 200.01, 300.0, 400.0)])
    assert np.allclose(places[:, 0], [0.0, 100.0, 199.99, 200.01, 300.0, 400.0], atol=1e-6)
    assert np.allclose(places[:, 1], 0.0, atol=1e-6)
    picture = seam_picture(pattern, seam, SeamWalk().verdict, [])
    words = [text.text_content() for text in html.fromstring(picture).iter("text")]
    assert words == ["upper", "lower", "long"]


def test_darts_and_pleats_are_closed_where_a_seam_is_walked() -> None:
    """No place of a laid side is farther from the next than it is sewn, and mates of notches face each other.

    The distances between points are plain arithmetic, and had no part in how the pieces are laid.
    """
    lines = ("block skirt --size=bust-90", "pleat skirt-front.waist@10mm..-100mm --count=1 --depth=1cm")
    plain_edge = Edge(uid="b", name="top", parts=(line((0.0, 2000.0), (400.0, 2000.0)),))
    pattern = made("\n".join(lines), Pattern())
    for name in ("skirt-back", "skirt-front"):
        waist = pattern.piece(name).edge("waist")
        band = replace(
            square("band", 2000.0),
            edges=(
                replace(plain_edge, parts=(line((0.0, 2000.0), (sewn_length(waist), 2000.0)),)),
                replace(plain_edge, uid="r", name="rest", parts=(line((sewn_length(waist), 2000.0), (0.0, 2100.0)),)),
                replace(plain_edge, uid="e", name="end", parts=(line((0.0, 2100.0), (0.0, 2000.0)),)),
            ),
        )
        whole = replace(pattern, pieces=(*pattern.pieces, band), seams=())
        whole = made(f"seam {name}.waist band.top", whole)
        one, two = laid(whole, whole.seams[-1])
        assert len(one.parts) > 1
        far = np.linspace(0.0, one.sewn, 400)
        steps = np.linalg.norm(np.diff(one.places(far), axis=0), axis=1)
        assert steps.max() == pytest.approx(far[1], abs=1e-3)
        assert steps.sum() == pytest.approx(sewn_length(waist), abs=0.05)
        # the bend of a waist apart, both sides go the same way: mates lie across from each other
        apart = one.places(far)[:, 0] - two.places(far * two.sewn / one.sewn)[:, 0]
        assert np.abs(apart).max() < 12.0


def test_the_page_begins_with_all_seams_and_says_which_side_is_longer(tmp_path: Path) -> None:
    faulty = drawn(corner_moved(top(), ("front", "side", "waist"), 3.0))
    (tmp_path / "top.svg").write_bytes(faulty)
    assert main(["check", str(tmp_path / "top.svg"), f"--report={tmp_path / 'page.html'}"]) == 1
    tree = html.fromstring((tmp_path / "page.html").read_text())
    order = [element.tag for element in tree.iter("table", "svg")]
    assert order[0] == "table"
    heads = [element.text for element in tree.iter("h3")]
    assert heads == ["All seams", "What does not fit", "Every seam with its pieces laid along it"]
    rows = [[cell.text_content() for cell in row.iter("td")] for row in tree.iter("tr")][1:]
    by_name = {row[0]: row for row in rows}
    one, two, ease, off = by_name["front.side"][2:6]
    assert off.split()[0] == ("A" if float(one) + float(ease) > float(two) else "B")
    assert float(off.split()[2]) == pytest.approx(abs(float(two) - float(one) - float(ease)), abs=0.011)
    longer = {"A": "front.side", "B": "back.side"}[off.split()[0]]
    assert any(
        f"{longer} is {off.split()[2]} mm longer than wanted" in c.text_content() for c in tree.iter("figcaption")
    )


def square(name: str, at: float, *, high: float = 200.0) -> Piece:
    corners = [(at, 0.0), (at + 200, 0.0), (at + 200, high), (at, high), (at, 0.0)]
    sides = ("top", "right", "bottom", "left")
    edges = tuple(
        Edge(uid=f"{name}-{side}", name=side, parts=(line(corners[k], corners[k + 1]),)) for k, side in enumerate(sides)
    )
    return Piece(uid=name, name=name, edges=edges)

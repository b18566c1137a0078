"""`flatcut demo DIR`: the page a newcomer opens, and the files beside it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from lxml import etree, html

from flatcut.checks.check import run_checks
from flatcut.cli.main import main
from flatcut.formats.svg.inline import LINES_FOR, MARGIN, picture
from flatcut.formats.svg.read import read
from flatcut.pattern.comparing import differences
from flatcut.recipe import read_recipe, replay


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("demo")
    assert main(["demo", str(made)]) == 0
    return made


def test_the_page_stands_alone(folder: Path) -> None:
    page = html.fromstring((folder / "index.html").read_bytes())
    headings = [element.text_content().partition(". ")[2] for element in page.iter("h2")]
    assert len(headings) == len(set(headings)) > 10
    assert page.get("lang") == "en"
    assert not list(page.iter("script", "link", "img", "iframe"))
    pictures = list(page.iter("svg"))
    assert len(pictures) >= 5
    assert all(svg.get("role") == "img" and svg.get("aria-label") for svg in pictures)


def test_it_begins_with_what_it_is_for(folder: Path) -> None:
    """A dart moved, a wrong seam with its picture, corners, sheets; and nothing is drawn that is not used."""
    page = html.fromstring((folder / "index.html").read_bytes())
    sections = list(page.iter("section"))[:4]
    assert [len(list(section.iter("svg"))) for section in sections] == [2, 1, 1, 1]
    (fault,) = (p.text_content() for p in sections[1].iter("p") if p.get("class") == "warning")
    assert "back.side is 5.05 mm longer than front.side" in fault
    assert "5.05 mm longer" in [text.text_content() for text in sections[1].iter("text")]
    assert "Map of the sheets" in sections[3].text_content()
    _, made, findings = read((folder / "top-cut.svg").read_bytes())
    assert not findings
    assert not list(made.drawn)
    assert not run_checks(made)


def test_every_step_is_on_the_page_and_in_the_recipe(folder: Path) -> None:
    page = html.fromstring((folder / "index.html").read_bytes())
    commands = [element.text_content() for element in page.iter("code")]
    _, made, _ = read((folder / "top-cut.svg").read_bytes())
    for step in made.steps:
        assert f"flatcut {step.line}" in commands
    text = page.text_content()
    assert all(str(figure) in text for step in made.steps for figure in step.figures)


def test_the_recipe_beside_it_makes_the_drawing_anew(folder: Path) -> None:
    _, drawn, _ = read((folder / "top.svg").read_bytes())
    _, made, _ = read((folder / "top-cut.svg").read_bytes())
    again = replay(read_recipe((folder / "top.recipe").read_text()), drawn)
    assert not differences(again, made, tolerance=1e-3)
    listing = json.loads((folder / "top-cut.json").read_text())
    assert [piece["name"] for piece in listing["pieces"]] == ["back", "front"]


def test_lines_of_a_wide_drawing_are_heavier_in_a_picture() -> None:
    def widths(across: float) -> list[str]:
        drawing = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{across}mm" height="10mm" viewBox="0 0 {across} 10">'
            f'<path style="stroke:#000;stroke-width:0.3;stroke-dasharray:4,2" d="M0 0h{across}v10h-{across}z"/>'
            f'<path stroke="#000" stroke-width="0.5mm" d="M0 5h{across}"/></svg>'
        )
        return [
            e.get("style") or e.get("stroke-width")
            for e in etree.fromstring(picture(drawing.encode(), label="x")).iter()
            if e.tag.endswith("path")
        ]

    assert widths(100) == ["stroke:#000;stroke-width:0.3;stroke-dasharray:4,2", "0.5mm"]
    # twice the diagonal, white included: lines twice as heavy
    across = math.sqrt((2 * LINES_FOR) ** 2 - (10 + 2 * MARGIN) ** 2) - 2 * MARGIN
    assert widths(across) == ["stroke:#000;stroke-width:0.6;stroke-dasharray:8,4", "1mm"]

"""Cautions where a garment must not harm, in the help and on the printed page; usual figures that can be set."""

from __future__ import annotations

from dataclasses import fields

import pytest

from flatcut.drawing.ink import Words
from flatcut.operations.operation import load
from flatcut.pattern.values import Pattern
from flatcut.printing.page import Page
from flatcut.reports.print import Print
from tests.seeding import made

CAN_HARM = {
    "button": "small parts",
    "collar": "ties and cords",
    "lining": "burn",
    "placket": "small parts",
    "sleeve": "drawstrings",
    "strip": "cords",
}
"""Operations that make what can harm, and a word of what their help says of it."""


@pytest.mark.parametrize("name", CAN_HARM)
def test_the_help_says_what_can_harm_and_who_decides(name: str) -> None:
    text = " ".join((load(name).__doc__ or "").split())
    assert CAN_HARM[name] in text
    assert "the rules of the place where" in text
    assert "somebody qualified" in text


def said(pages: tuple[Page, ...]) -> str:
    """All words of pages."""
    items = (item for page in pages for part in page.parts for item in part.ink.items)
    return " ".join(line for item in items if isinstance(item, Words) for line in item.lines)


def top(words: str) -> Pattern:
    return made(f"block bodice --size=bust-90\nlabel front --text='{words}'\nallowance all --width=1cm")


@pytest.mark.parametrize("paper", ["a4", "a0", "roll 914"])
@pytest.mark.parametrize("front", [False, True])
def test_the_printed_page_says_it_too(paper: str, front: bool) -> None:
    """Of every garment that rules decide, of a child's what cords and small parts do."""
    for words, child in (("a coat", False), ("for a child", True)):
        text = said(Print(paper=paper, instructions=front).perform(top(words)).pages)
        assert "a qualified person decide" in text
        assert "workwear, what burns easily" in text
        assert ("strangle" in text) == child


USUAL = {
    # operation, field: least and most that is usual, mm (common practice, no source)
    ("facing", "width"): (50, 65),
    ("facing", "roll"): (1, 3),
    ("lining", "ease_pleat"): (20, 25),
    ("lining", "hem"): (20, 30),
    ("lining", "jump"): (0, 15),
    ("lining", "underarm"): (0, 10),
    ("collar", "height"): (25, 40),
    ("collar", "rise"): (10, 20),
    ("collar", "overlap"): (10, 15),
    ("collar", "under"): (2, 3),
    ("collar", "short"): (0, 3),
    ("collar", "lapel"): (60, 100),
    ("placket", "stand"): (12, 25),
    ("button", "size"): (10, 25),
    ("strip", "ease"): (0, 15),
}


@pytest.mark.parametrize(("name", "key"), USUAL)
def test_what_is_usual_is_the_default_of_an_option(name: str, key: str) -> None:
    (field,) = [one for one in fields(load(name)) if one.name == key]
    low, high = USUAL[name, key]
    assert low <= float(field.default) <= high  # type: ignore[arg-type]

"""Sentences of the editor give dialogs, by their place in the menu and the labels of their fields, and no commands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from lxml import etree

from flatcut.dialogs.files import submenu
from flatcut.dialogs.spoken import by_dialog
from flatcut.editor.bridge import pressed, read_words
from flatcut.errors import FlatcutError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load, names
from tests.seeding import made

CORE = Path(__file__).parents[1] / "core" / "flatcut"
ROOMS = (
    "checks",
    "darts",
    "panels",
    "truing",
    "sewing",
    "operations",
    "marking",
    "strips",
    "copies",
    "reshape",
    "worn",
)


def words_of(document: bytes | None) -> str:
    """All that is written in a drawing, a line each."""
    assert document is not None
    return "\n".join(e.text or "" for e in etree.fromstring(document).iter("{http://www.w3.org/2000/svg}tspan"))


def press(recipe: str, *words: str) -> str:
    drawing, _, _ = new_drawing()
    return " ".join(words_of(pressed(read_words([*words, "in.svg"]), write(drawing, made(recipe))).document).split())


@pytest.mark.parametrize("name", names())
def test_a_dialog_is_named_as_the_menu_does(name: str) -> None:
    cls = load(name)
    assert by_dialog(f"draw it anew with {name}") == f"draw it anew with '{submenu(cls.menu)} > {cls.title}'"


def test_every_command_that_a_sentence_gives_is_said_as_a_dialog() -> None:
    """Sentences are looked for where they are made; what is filled in is written as a name."""
    given = set()
    for room in ROOMS:
        for path in (CORE / room).glob("*.py"):
            text = re.sub(r'"\s*\n\s*f?"', "", path.read_text(encoding="utf-8"))
            given |= {re.sub(r"\{[^}]*\}", "front.side", found) for found in re.findall(r"with: ([a-z][^\"\n]*)", text)}
    given = {line for line in given if line.split()[0] in names()}
    assert len(given) > 15
    for line in given:
        # what follows after a comma may speak of the dialog that is open
        said = by_dialog(f"make it so with: {line}").partition(", or")[0]
        assert " > " in said, said
        assert "--" not in said, said


def test_a_warning_of_a_press_gives_the_dialog() -> None:
    told = press("block bodice --size=bust-90", "--operation=dart", "--target=back.waist-dart", "--remove=true")
    assert "make it fair with '4 Shape > True lines': back.waist, 'It may move by': 3mm" in told


def test_what_the_check_marks_gives_the_dialog() -> None:
    told = press("block bodice --size=bust-90\nallowance all\ngrain all", "--operation=check")
    assert "state the seam with '1 Prepare > Sew edges', or another use with '1 Prepare > Name edge'" in told


def test_a_refusal_gives_the_dialog() -> None:
    with pytest.raises(FlatcutError, match=r"state it first with '1 Prepare > Sew edges': front.neck back.side"):
        press("block bodice --size=bust-90", "--operation=true", "--target=front.neck back.side", "--equal=true")

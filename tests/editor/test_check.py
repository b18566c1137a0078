"""The dialog of the check in the real editor: marks on a layer of their own, one undo step, and what it says."""

from __future__ import annotations

from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.formats.svg.document import load as load_document
from flatcut.formats.svg.elements import LABEL, tag
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.pattern.comparing import differences
from tests.editor import driver

pytestmark = pytest.mark.editor

DEMO = Path(__file__).parents[2] / "samples" / "demo"


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("checked")
    sound = (DEMO / "top.svg").read_text()
    assert sound.count("L 225,412 C 187.2,408") == 1
    longer = sound.replace("L 225,412 C 187.2,408", "L 224.68,414.98 C 186.88,410.98")
    for name, text in (("sound", sound), ("faulty", longer)):
        (folder / f"{name}-drawn.svg").write_text(text)
        words = ["run", str(DEMO / "top.recipe"), str(folder / f"{name}-drawn.svg"), "-o", str(folder / f"{name}.svg")]
        assert main(words) == 0
    return folder


def marks(data: bytes):
    root = load_document(data).root
    layers = [g for g in root.iter(tag("g")) if g.get(own("faults")) is not None]
    return [(g.get(LABEL), ["".join(t.itertext()) for t in g.iter(tag("text"))]) for g in layers]


@pytest.fixture(params=["as installed", "handing over"])
def each(request, host, handing):
    return host if request.param == "as installed" else handing


def test_a_press_marks_and_a_second_takes_its_place(host, files, tmp_path):
    driver.store(host.profile, {"check": {"warnings": "1"}})
    once, twice, undone = (tmp_path / f"{name}.svg" for name in ("once", "twice", "undone"))
    press = driver.press("check")
    actions = [press, *driver.export(once), press, *driver.export(twice), "undo", "undo", *driver.export(undone)]
    said = driver.act(host.profile, files / "faulty.svg", actions)
    assert undone.exists(), said
    ((label, words),) = marks(once.read_bytes())
    assert label == "check"
    assert words.count("1") == 2
    assert "front.side is 2.99 mm longer than back.side" in " ".join(words[-1].split())
    assert marks(twice.read_bytes()) == marks(once.read_bytes())
    assert marks(undone.read_bytes()) == []
    _, before, _ = read((files / "faulty.svg").read_bytes())
    for file in (once, twice, undone):
        _, after, notes = read(file.read_bytes())
        assert notes == []
        assert differences(before, after, tolerance=1e-3) == []
        assert after.steps == before.steps


def test_tolerances_of_the_dialog_count(each, files):
    filled = {
        "seam_walk_warn": "0.5",
        "seam_walk_pass": "0.4",
        "units": "cm",
    }
    assert sound(*driver.alone(each, "check", files / "faulty.svg", [], filled))
    result, said = driver.alone(each, "check", files / "faulty.svg", [], {})
    assert said == ""
    assert len(marks(result)) == 1


def sound(result: bytes, said: str) -> bool:
    """Whether it says beside the pieces, and in no window, that nothing was found."""
    words = " ".join("".join(row.itertext()) for row in load_document(result).root.iter(tag("tspan")))
    return not said and "2 pieces and 2 seams checked: nothing to put right was found." in words


def test_without_findings_it_says_so_and_takes_the_marks_away(each, files, tmp_path):
    assert sound(*driver.alone(each, "check", files / "sound.svg", [], {}))
    marked = tmp_path / "marked.svg"
    marked.write_bytes(driver.alone(each, "check", files / "faulty.svg", [], {})[0])
    assert marks(marked.read_bytes())
    result, said = driver.alone(each, "check", marked, [], {"skip": "seam-walk"})
    assert marks(result) == []
    assert said == ""
    words = " ".join("".join(row.itertext()) for row in load_document(result).root.iter(tag("tspan")))
    assert "nothing to put right was found, and the marks of the check before are taken away" in words

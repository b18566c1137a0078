"""A designer's job from start to end at the real window: a drawn block becomes two pieces that are ready to be cut."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.curves import same
from flatcut.pattern.comparing import differences
from tests.editor import driver
from tests.editor.comparing import TOLERANCE
from tests.editor.conftest import command
from tests.editor.person import Person, Press, bind
from tests.editor.screen import screen
from tests.editor.window import Window

pytestmark = pytest.mark.editor

BY_HAND = Path(__file__).parents[2] / "samples" / "by_hand"
BOX = (20.0, 20.0, 566.2, 451.4)
"""mm: of the two outlines."""

FAIR = 0.05
"""mm: the search for the fair side over the closed dart has two ends, 0.035 mm apart, and which of them it comes to
hangs on the last digits, which the editor rounds at each press."""

BACK, FRONT = (20.0, 240.0), (566.2, 240.0)
"""A point on each outline."""

PRESSES = (
    Press(operation="piece", at=(BACK, FRONT), fill={"names": "back,front"}),
    Press(operation="names"),
    Press(
        operation="edge",
        fill={
            "target": "back.e1 back.e2 back.e3 back.e4 back.e5 back.e6",
            "names": "neck,shoulder,armhole,side,waist,centre",
        },
    ),
    Press(operation="dart", fill={"target": "front.e2/e3", "name": "bust-dart"}),
    Press(
        operation="edge",
        fill={
            "target": "front.e1 front.e4 front.e5 front.e6 front.e7 front.e8",
            "names": "shoulder,neck,centre,waist,side,armhole",
        },
    ),
    Press(operation="edge", fill={"target": "front.centre back.centre", "use": "fold"}),
    Press(
        operation="edge",
        fill={
            "target": "front.neck back.neck front.armhole back.armhole front.waist back.waist",
            "use": "finished",
        },
        seen=False,
    ),
    Press(operation="point", at=((471.2, 280.0),), fill={"name": "bust-point"}),
    # the piece and the stroke where the dart shall go
    Press(operation="pivot", at=(FRONT, (325.0, 311.6)), fill={"target": "front.bust-dart"}),
    Press(operation="back-off", fill={"target": "front.bust-dart", "units": "cm", "by": "2.5"}),
    Press(operation="true", fill={"target": "front.side", "units": "mm", "within": "3"}),
    Press(operation="seam", fill={"target": "front.side back.side"}, seen=False),
    Press(operation="seam", fill={"target": "front.shoulder back.shoulder"}, seen=False),
    Press(operation="allowance", at=(BACK, FRONT), fill={"units": "cm", "width": "1"}),
    Press(operation="allowance", fill={"target": "front.neck back.neck", "units": "mm", "width": "6"}),
    # the sleeve is set in flat, so that the armhole is sewn before the side
    Press(
        operation="corner",
        fill={
            "target": "front.side/armhole back.armhole/side",
            "kind": "squared",
            "through": "front.armhole,back.armhole",
        },
    ),
    Press(operation="notch", at=((372.0, 214.0),)),
    Press(operation="grain", at=(BACK, FRONT)),
    Press(operation="label", at=(BACK, FRONT), fill={"cut": "fold", "material": "shell"}),
)


@pytest.mark.long
def test_a_bodice_by_hand(host, tmp_path, pytestconfig, pictures, capsys):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    profile, work = tmp_path / "profile", tmp_path / "bodice.svg"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    bind(profile)
    driver.store(profile, {})
    shutil.copy(BY_HAND / "bodice.svg", work)
    with screen() as shown, Window(profile, work, shown, pictures=pictures) as window:
        person = Person(window, BOX)
        for number, press in enumerate(PRESSES, start=1):
            person.press(press, shots=shots, number=number)
        window.key(window.main, "Escape")
        window.photograph(shots / "99-done.png")
        saved = window.saved(tmp_path / "saved.svg")

    by_hand, work = read(saved)[1], tmp_path / "saved.svg"
    assert main(["check", str(work)]) == 0
    recorded = [press.operation for press in PRESSES if press.operation != "names"]
    assert [step.line.split()[0] for step in by_hand.steps] == recorded
    assert read(saved)[2] == []

    capsys.readouterr()
    assert main(["steps", str(work)]) == 0
    steps = tmp_path / "steps.recipe"
    steps.write_text(capsys.readouterr().out)
    for recipe in (steps, BY_HAND / "bodice.recipe"):
        replayed = command(["run", str(recipe)], BY_HAND / "bodice.svg", tmp_path / "replayed.svg")
        pattern = read(replayed.read_bytes())[1]
        assert differences(by_hand, pattern, tolerance=FAIR) == []
        assert all(off.startswith("front.side lies") for off in differences(by_hand, pattern, tolerance=TOLERANCE))
        assert_same_cut(saved, replayed.read_bytes())
    drawn = [float(length) for length in re.findall(r"(?:front|back)[.]side sewn: ([0-9.]+) mm", told(by_hand))]
    assert drawn[0] == pytest.approx(drawn[1], abs=0.05)


def told(pattern):
    return "\n".join(str(figure) for step in pattern.steps for figure in step.figures)


def assert_same_cut(one, other):
    """The cut lines, as they are drawn."""
    cuts, others = (
        [sub.curve for element in read(data)[0].document.root.iter(tag("path")) if element.get(own("drawn")) == "cut"
         for sub in parse(element.get("d"))]
        for data in (one, other)
    )  # fmt: skip
    assert len(cuts) == len(others) == 2
    for cut, another in zip(cuts, others, strict=True):
        assert same(cut, another, tolerance=FAIR)
    assert any(same(cut, another, tolerance=TOLERANCE) for cut, another in zip(cuts, others, strict=True))

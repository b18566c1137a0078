"""flatcut's own drawing edited in the real editor: what was moved, deleted or simplified stands at the next step."""

from __future__ import annotations

import pytest
from lxml import etree

from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.pattern.comparing import differences
from tests.editor import driver
from tests.editor.conftest import command

pytestmark = pytest.mark.editor

PX = 96 / 25.4
"""The editor's actions count in px."""

EDITS = {
    "tick moved": ("notch-1", ["transform-translate:0,40"]),
    "tick deleted": ("notch-1", ["delete-selection"]),
    "label deleted": ("label-1", ["delete-selection"]),
    "button moved": ("button-1", ["transform-translate:10,-20"]),
    "cut line simplified": ("cut-1", ["path-simplify"]),
    "cut line moved": ("cut-1", ["transform-translate:15,15"]),
    "nothing": ("front", []),
}


@pytest.fixture(scope="module")
def start(starts, tmp_path_factory):
    """The front with a notch and buttons; what flatcut has drawn for it has ids, as the editor gives them."""
    folder = tmp_path_factory.mktemp("hand-edits")
    notched = command(["notch", "front.side@1/2"], starts["named"], folder / "notched.svg")
    made = command(["button", "front.centre", "--count=3", "--inset=2cm"], notched, folder / "made.svg")
    root = etree.fromstring(made.read_bytes())
    counts: dict[str, int] = {}
    uid = read(made.read_bytes())[1].piece("front").uid
    for element in root.iter(etree.Element):
        role = element.get(own("drawn"))
        if role is not None and element.get(own("piece-of")) == uid:
            counts[role] = counts.get(role, 0) + 1
            element.set("id", f"{role}-{counts[role]}")
    made.write_bytes(etree.tostring(root))
    return made


@pytest.fixture(scope="module")
def edited(host, start):
    """The drawing after each edit, done in one run of the editor."""
    actions = []
    for name, (what, acts) in EDITS.items():
        actions += [
            *driver.select([what]),
            *acts,
            *driver.export(start.with_name(f"{name}.svg")),
            *["undo"] * len(acts),
        ]
    said = driver.act(host.profile, start, actions)
    files = {name: start.with_name(f"{name}.svg") for name in EDITS}
    assert all(file.exists() for file in files.values()), said
    return files


def front(file):
    return read(file.read_bytes())[1].piece("front")


def by_hand(file):
    return [step.line for step in read(file.read_bytes())[1].steps if step.line.startswith("# by hand")]


def anew(file):
    """Redrawn by a command."""
    return command(["redraw"], file, file.with_name(f"{file.stem}-anew.svg"))


def drawn(file, role):
    root = etree.fromstring(file.read_bytes())
    return [e for e in root.iter() if e.get(own("drawn")) == role and e.get(own("piece-of")) == front(file).uid]


def test_what_is_left_alone_is_read_as_it_was(edited, start):
    assert by_hand(edited["nothing"]) == []
    assert differences(read(start.read_bytes())[1], read(edited["nothing"].read_bytes())[1], tolerance=1e-3) == []


def test_a_tick(edited, start):
    before, after = front(start), front(edited["tick moved"])
    along = before.edge("side").end - before.edge("side").start
    # 40 px down, laid along the straight side seam, as a part of its length
    part = 40 / PX * along[1] / float(along @ along)
    assert after.notches[0].at.value == pytest.approx(0.5 + part, abs=1e-4)
    assert by_hand(edited["tick moved"]) == ["# by hand: front.a notch on side moved"]
    assert front(edited["tick deleted"]).notches == ()
    assert drawn(anew(edited["tick deleted"]), "notch") == []


def test_a_label(edited):
    assert drawn(anew(edited["label deleted"]), "label") == []
    assert by_hand(edited["label deleted"]) == []


def test_a_button(edited, start):
    shifts = [b.at - a.at for a, b in zip(front(start).buttons, front(edited["button moved"]).buttons, strict=True)]
    assert shifts[0] == pytest.approx((10 / PX, -20 / PX), abs=1e-3)
    assert shifts[1] == pytest.approx((0, 0), abs=1e-3)


def test_a_cut_line(edited, start):
    simplified = anew(edited["cut line simplified"])
    assert front(simplified).cut_by_hand is not None
    assert len(front(simplified).cut_by_hand) < len(drawn_curve(start))
    assert len(drawn_curve(simplified)) == len(front(simplified).cut_by_hand)
    assert front(edited["cut line moved"]).cut_by_hand is None


def drawn_curve(file):
    return parse(drawn(file, "cut")[0].get("d"))[0].curve

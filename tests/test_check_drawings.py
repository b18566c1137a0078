"""Checks of drawings: what a person changed, the command over many files, its JSON, and the marks of the dialog."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from flatcut.cli import main
from flatcut.dialogs.spoken import by_dialog
from flatcut.editor.bridge import Pressed, pressed, read_words
from flatcut.formats.svg.elements import GROUP_MODE, LABEL, tag
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from flatcut.reports import report
from tests.seeding import ROOT, corner_moved, handle_turned, top
from tests.test_json_pieces import FLAG, NUMBER, TEXT, faults

Told = pytest.CaptureFixture[str]

SCHEMA: dict[str, Any] = {
    "format": int,
    "units": TEXT,
    "files": [
        {
            "file": TEXT,
            "error": (str, type(None)),
            "pieces": int,
            "seams": [
                {
                    "a": TEXT,
                    "b": TEXT,
                    "suggested": FLAG,
                    "sewn_a": NUMBER,
                    "sewn_b": NUMBER,
                    "ease": NUMBER,
                    "mismatch": NUMBER,
                    "verdict": TEXT,
                }
            ],
            "faults": int,
            "warnings": int,
            "findings": [
                {
                    "number": int,
                    "check": TEXT,
                    "severity": TEXT,
                    "where": [TEXT],
                    "text": TEXT,
                    "figure": NUMBER,
                    "unit": TEXT,
                    "passes": NUMBER,
                }
            ],
        }
    ],
}
"""Every key that is promised; more may come, none may go."""


def drawn(pattern: Pattern) -> bytes:
    """A pattern in a drawing of its own, pieces as new ones."""
    return write(new_drawing()[0], pattern)


@pytest.fixture(scope="module")
def sound() -> bytes:
    drawing, pattern, _ = read((ROOT / "samples/demo/top.svg").read_bytes())
    return write(drawing, replay(read_recipe((ROOT / "samples/demo/top.recipe").read_text()), pattern))


@pytest.fixture(scope="module")
def faulty() -> bytes:
    return drawn(handle_turned(corner_moved(top(), ("front", "side", "waist"), 3.0), "back", "neck", 0, 5.0))


def findings(data: bytes, **options: object) -> list[Any]:
    drawing, pattern, notes = read(data)
    return report.load("check")(**options).findings(drawing, pattern, notes)  # type: ignore[attr-defined, no-any-return]


# By hand --------------------------------------------------------------------------------------------------------------


def outline(root: etree._Element, piece: str) -> etree._Element:
    group = next(g for g in root.iter(tag("g")) if g.get(own("name")) == piece)
    return next(p for p in group if p.get(own("outline")) is not None)


def test_an_edit_by_hand_is_told_with_its_place(sound: bytes) -> None:
    """ "by-hand" and "out-of-date": the corner of side and waist pulled down by 3 mm, nothing redrawn."""
    root = etree.fromstring(sound)
    path = outline(root, "front")
    assert path.get("d", "").count("225,412") == 1
    path.set("d", path.get("d", "").replace("225,412", "224.7,415"))
    found = findings(etree.tostring(root))
    checks = [f.check for f in found]
    assert checks[0] == "seam-walk"
    assert found[0].figure == pytest.approx(-3.0, abs=0.1)
    by_hand = found[checks.index("by-hand")]
    assert set(by_hand.where) == {"front.side", "front.waist"}
    assert "largest 3.0 mm" in by_hand.text
    assert found[checks.index("out-of-date")].where == ("front",)
    # the same drawing with its data and its cut line brought up to date is still off by 3 mm, and no more than that
    drawing, pattern, _ = read(etree.tostring(root))
    again = findings(write(drawing, pattern))
    assert "out-of-date" not in [f.check for f in again]


def test_a_deleted_cut_line_is_out_of_date(sound: bytes) -> None:
    root = etree.fromstring(sound)
    cut = next(p for p in root.iter(tag("path")) if p.get(own("drawn")) == "cut")
    parent = cut.getparent()
    assert parent is not None
    parent.remove(cut)
    assert [(f.check, f.where) for f in findings(etree.tostring(root))] == [("out-of-date", ("front",))]


def test_a_cut_line_that_was_changed_by_hand_stands_and_is_told(sound: bytes) -> None:
    root = etree.fromstring(sound)
    cut = next(p for p in root.iter(tag("path")) if p.get(own("drawn")) == "cut")
    cut.set("d", re.sub(r"^M ?([\d.-]+)", lambda m: f"M {float(m[1]) + 4}", cut.get("d", "")))
    found = {f.check: f for f in findings(etree.tostring(root))}
    assert found.keys() == {"by-hand", "cut-line"}
    assert found["by-hand"].where == ("front",)
    assert "redraw front --force" in found["cut-line"].text


def test_what_could_not_be_read_comes_first(sound: bytes) -> None:
    """ "reading": an outline cut open."""
    root = etree.fromstring(sound)
    path = outline(root, "back")
    path.set("d", path.get("d", "").rstrip("zZ "))
    found = findings(etree.tostring(root))
    assert found[0].check == "reading"
    assert found[0].severity == "fault"
    assert "back" in found[0].text


# The command ----------------------------------------------------------------------------------------------------------


@pytest.fixture
def files(tmp_path: Path, sound: bytes, faulty: bytes) -> dict[str, str]:
    made = {"sound": sound, "faulty": faulty, "broken": b"<svg", "text": b"hello"}
    for name, data in made.items():
        (tmp_path / f"{name}.svg").write_bytes(data)
    return {name: str(tmp_path / f"{name}.svg") for name in made} | {"missing": str(tmp_path / "missing.svg")}


def test_text_for_a_person_is_short_with_faults_first(files: dict[str, str], capsys: Told) -> None:
    assert main(["check", files["sound"]]) == 0
    assert capsys.readouterr().out == f"{files['sound']}: 2 pieces, 2 seams: nothing found\n"
    assert main(["check", files["faulty"]]) == 1
    first, *lines = capsys.readouterr().out.splitlines()
    assert first.endswith("2 faults")
    assert [re.split(r"\W+", line.strip())[:2] for line in lines] == [["1", "fault"], ["2", "fault"]]
    assert "front.side is 3 mm longer than back.side (191.07 against 188.07 mm)" in "\n".join(lines)
    assert all("; " in line and max(map(len, lines)) < 200 for line in lines)


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["{sound}"], 0),
        (["{faulty}"], 1),
        (["{faulty}", "--seam-walk-warn=4mm", "--seam-walk-pass=0.5cm", "--run-on-most=9"], 0),
        (["{faulty}", "--skip=seam-walk,run-on"], 0),
        (["{faulty}", "--only=grain"], 0),
        (["{sound}", "{missing}"], 1),
        (["{sound}", "{broken}"], 1),
        (["{missing}"], 2),
        (["{missing}", "{text}"], 2),
        (["{sound}", "--seam-walk-pass=wide"], 2),
        (["{sound}", "--seam-width=1"], 2),
        (["{sound}", "--only=seams"], 2),
        (["{sound}", "--jobs=0"], 2),
        (["{sound}", "--jobs=many"], 2),
        (["{sound}", "--report"], 2),
        (["{sound}", "--report={sound}"], 2),
        (["{sound}", "--report=/nowhere/at/all.html"], 2),
        (["{sound}", "-o", "x.svg"], 2),
        (["{sound}", "--warnings=perhaps"], 2),
    ],
)
def test_exit_codes(words: list[str], code: int, files: dict[str, str], capsys: Told) -> None:
    before = {name: Path(file).read_bytes() for name, file in files.items() if Path(file).exists()}
    assert main(["check", *(word.format(**files) for word in words)]) == code
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    if code == 2:
        assert told.err.startswith("flatcut: ")
        assert all(line.startswith("flatcut: ") for line in told.err.splitlines())
    assert before == {name: Path(file).read_bytes() for name, file in files.items() if Path(file).exists()}


def test_lengths_of_options_may_come_from_the_pattern(files: dict[str, str]) -> None:
    assert main(["check", files["faulty"], "--only=seam-walk", "--seam-walk-pass=length(front.side) / 10"]) == 0
    assert main(["check", files["faulty"], "--only=seam-walk", "--seam-walk-pass=length(front.side) / 100"]) == 1


def test_many_drawings_with_two_processes_say_the_same(files: dict[str, str], capsys: Told) -> None:
    call = [files["sound"], files["faulty"], files["broken"], files["sound"], files["faulty"]]
    assert main(["check", *call]) == 1
    alone = capsys.readouterr()
    assert main(["check", *call, "--jobs=2"]) == 1
    assert capsys.readouterr() == alone
    assert alone.out.splitlines()[-1] == "5 drawings: 4 faults, 1 not read"
    assert alone.err.count("\n") == 1  # the broken file, and no progress bar where there is no terminal


def test_progress_shows_on_a_terminal_only(files: dict[str, str]) -> None:
    import pty
    import subprocess
    import sys

    leader, follower = pty.openpty()
    words = [sys.executable, "-m", "flatcut", "check", *[files["sound"]] * 3]
    env = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(words, stdout=subprocess.PIPE, stderr=follower, env=env, check=False)
    os.close(follower)
    shown = os.read(leader, 10_000).decode()
    os.close(leader)
    assert done.returncode == 0
    assert b"checked" not in done.stdout
    assert "checked 1 of 3 [##########                    ]" in shown
    assert "checked 3 of 3" in shown


def test_json_is_as_promised(files: dict[str, str], capsys: Told) -> None:
    assert main(["check", files["sound"], files["faulty"], files["missing"], "--json"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert faults(record, SCHEMA) == []
    assert [bool(file["error"]) for file in record["files"]] == [False, False, True]
    one = record["files"][1]
    assert (one["faults"], one["warnings"]) == (2, 0)
    assert [f["number"] for f in one["findings"]] == [1, 2]
    assert {seam["verdict"] for seam in one["seams"]} == {"aim", "fault"}
    assert {seam["a"]: seam["mismatch"] for seam in one["seams"]}["front.side"] == pytest.approx(-3, abs=0.01)


def test_the_example_in_the_docs_is_what_the_command_prints(tmp_path: Path, capsys: Told) -> None:
    page = ROOT / "samples/docs/check.md"
    text = page.read_text()
    source = tmp_path / "pocket.svg"
    source.write_text(re.search(r"```xml\n(.*?)```", text, re.DOTALL)[1])  # type: ignore[index]
    lines = re.search(r"```recipe\n(.*?)```", text, re.DOTALL)[1]  # type: ignore[index]
    drawing, pattern, _ = read(source.read_bytes())
    source.write_bytes(write(drawing, replay(read_recipe(lines), pattern)))
    assert main(["check", str(source), "--json"]) == 1
    printed = capsys.readouterr().out.replace(str(source), "IN.svg")
    if os.environ.get("FLATCUT_UPDATE"):
        page.write_text(re.sub(r"```json\n.*?```", lambda _: f"```json\n{printed}```", text, flags=re.DOTALL))
    example = re.search(r"```json\n(.*?)```", page.read_text(), re.DOTALL)[1]  # type: ignore[index]
    assert faults(json.loads(example), SCHEMA) == []
    assert printed == example


def test_help_lists_every_tolerance_and_every_check(capsys: Told) -> None:
    assert main(["help", "check"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("flatcut check IN.svg... [--json] [--report=OUT.html] [--jobs=N]")
    assert "--seam-walk-pass=LENGTH" in told
    assert "  seam-walk " in told


# The dialog -----------------------------------------------------------------------------------------------------------


def press(data: bytes, **given: str) -> Pressed:
    return pressed(read_words(["--operation=check", *(f"--{k}={v}" for k, v in given.items()), "in.svg"]), data)


def layers(data: bytes) -> list[etree._Element]:
    return [g for g in etree.fromstring(data).iter(tag("g")) if g.get(own("faults")) is not None]


def words_of(layer: etree._Element) -> list[str]:
    return ["".join(text.itertext()) for text in layer.iter(tag("text"))]


def test_a_press_marks_every_finding_on_a_layer_of_its_own(faulty: bytes) -> None:
    done = press(faulty)
    assert done.document is not None
    assert done.said == ""
    (layer,) = layers(done.document)
    assert (layer.get(GROUP_MODE), layer.get(LABEL)) == ("layer", "check")
    numbers = [word for word in words_of(layer) if word.isdigit()]
    found = findings(faulty)
    assert numbers == [str(k) for k, f in enumerate(found, start=1) for _ in f.where]
    listed = " ".join(words_of(layer)[-1].split())
    assert all(" ".join(by_dialog(f.text).split()) in listed for f in found)
    # nothing of the pattern has changed, and the marks are no drawing of a person's
    _, before, _ = read(faulty)
    _, after, notes = read(done.document)
    assert notes == []
    assert differences(before, after, tolerance=1e-9) == []
    assert [d.id for d in after.drawn] == [d.id for d in before.drawn]


def test_a_second_press_takes_the_place_of_the_first(faulty: bytes) -> None:
    once = press(faulty).document
    assert once is not None
    twice = press(once).document
    assert twice is not None
    assert len(layers(twice)) == 1
    assert words_of(layers(twice)[0]) == words_of(layers(once)[0])


def test_a_press_without_findings_takes_the_layer_away_and_says_so(faulty: bytes) -> None:
    marked = press(faulty).document
    assert marked is not None
    done = press(marked, skip="seam-walk,run-on")
    assert done.document is not None
    assert layers(done.document) == []
    assert done.said == ""
    assert "nothing to put right" in beside(done.document)
    assert "taken away" in beside(done.document)
    again = press(done.document, skip="seam-walk,run-on")
    assert again.document is not None
    assert "nothing to put right was found." in beside(again.document)


def beside(data: bytes) -> str:
    """What a press says beside the pieces."""
    said = [g for g in etree.fromstring(data).iter(tag("g")) if g.get(own("told")) is not None]
    return " ".join(row.text or "" for g in said for row in g.iter(tag("tspan")))


def test_marks_are_shapes_with_numbers_and_stay_readable_side_by_side(faulty: bytes) -> None:
    done = press(faulty)
    assert done.document is not None
    (layer,) = layers(done.document)
    filled = [p for p in layer.iter(tag("path")) if "fill:none" not in p.get("style", "")]
    spots = [p.get("d") for p in filled]
    assert len(filled) == len(set(spots)) == 4


def test_other_operations_leave_the_marks_where_they_are(faulty: bytes) -> None:
    marked = press(faulty).document
    assert marked is not None
    drawing, pattern, _ = read(marked)
    after = write(drawing, replay(read_recipe("allowance front.side --width=12"), pattern))
    assert len(layers(after)) == 1


def test_a_drawing_without_pieces_is_no_sound_set(tmp_path: Path, capsys: Told) -> None:
    bare = tmp_path / "bare.svg"
    bare.write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><path d="M0 0h9v9z"/></svg>')
    assert main(["check", str(bare)]) == 1
    assert "no pieces to check; make its closed paths pieces with piece" in capsys.readouterr().out


def test_a_piece_moved_as_a_whole_is_not_older_than_itself(sound: bytes) -> None:
    root = etree.fromstring(sound)
    group = next(g for g in root.iter(tag("g")) if g.get(own("name")) == "back")
    group.set("transform", f"translate(90,40) rotate(12) {group.get('transform', '')}".strip())
    assert [f.check for f in findings(etree.tostring(root))] == []

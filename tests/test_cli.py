"""The command line: pipes, files, exit codes, reports, `run`, `collect`."""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path

import pytest

from flatcut import __version__
from flatcut.cli.commands import command
from flatcut.cli.main import main
from flatcut.formats.svg.read import read
from flatcut.operations.operation import names
from flatcut.pattern.comparing import differences
from flatcut.reports.report import names as reports
from tests import by_hand as hand

Told = pytest.CaptureFixture[str]


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    path = tmp_path / "two.svg"
    path.write_bytes(hand.two_pieces())
    return path


def piped(monkeypatch: pytest.MonkeyPatch, words: list[str], data: bytes) -> tuple[int, bytes]:
    """A command with bytes on standard input; its code and what it writes to standard output."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    monkeypatch.setattr(sys, "stdout", out)
    code = main(words)
    out.flush()
    return code, out.buffer.getvalue()  # type: ignore[attr-defined]


def test_commands_make_a_pipe(monkeypatch: pytest.MonkeyPatch, capsys: Told) -> None:
    code, one = piped(monkeypatch, ["allowance", "all", "--width=8"], hand.two_pieces())
    assert code == 0
    code, two = piped(monkeypatch, ["point", "--at=front.side@1/2", "--name=hip", "-i", "-", "-o", "-"], one)
    assert code == 0
    pattern = read(two)[1]
    assert [step.line for step in pattern.steps[-2:]] == [
        "allowance all --width=8",
        "point --at=front.side@1/2 --name=hip",
    ]
    assert "front.hip x: 240.46 mm" in capsys.readouterr().err


def test_a_measurement_alone_writes_no_drawing(drawing: Path, capsys: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    before = drawing.read_bytes()
    assert main(["measure", "front.shoulder+back.shoulder", "-i", str(drawing)]) == 0
    told = capsys.readouterr()
    assert told.out == ""
    assert "front.shoulder+back.shoulder: " in told.err
    assert drawing.read_bytes() == before
    out = drawing.parent / "copy.svg"
    assert main(["measure", "front.shoulder", "-i", str(drawing), "-o", str(out)]) == 0
    assert out.read_bytes() == before, "asked for a file, the unchanged drawing is written"
    assert main(["measure", "front.side/waist..front.waist/centre", "-i", str(drawing)]) == 0
    assert "215 mm" in capsys.readouterr().err
    assert main(["measure", "front.side", "back.side", "-i", str(drawing)]) == 0


def test_figures_as_json(drawing: Path, capsys: Told) -> None:
    assert main(["measure", "front.waist", "--json", "-i", str(drawing)]) == 0
    record = json.loads(capsys.readouterr().err)
    # 215 mm less the dart's mouth of 25 mm
    assert record["figures"] == [{"label": "front.waist", "value": pytest.approx(190), "unit": "mm"}]


def test_help_for_everything(capsys: Told) -> None:
    assert main([]) == 0
    whole = capsys.readouterr().out
    for name in (*names(), *reports(), *command.names()):
        assert name in whole
        assert main([name, "--help"]) == 0
        assert name in capsys.readouterr().out
        assert main(["help", name]) == 0
        capsys.readouterr()
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"flatcut {__version__}\n"
    assert main(["operations", "allowance"]) == 0
    assert "--width=LENGTH" in capsys.readouterr().out
    assert main(["help", "alowance"]) == 2
    assert main(["operations", "alowance"]) == 2


@pytest.mark.parametrize("name", command.names())
def test_help_of_a_command_names_the_options_that_it_takes(name: str, capsys: Told) -> None:
    assert main(["help", name]) == 0
    told = capsys.readouterr().out
    assert told.startswith(f"flatcut {name}")
    assert main([name, "--nonsense"]) == 2
    refused = capsys.readouterr().err.replace("--nonsense", "")
    taken = set(re.findall(r"--[a-z-]+", refused))
    assert set(re.findall(r"--[a-z-]+", told)) == taken


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["allowance", "front.side", "--width="], "--width= has no value; write one, or leave the option out"),
        (["allowance", "front.side", "--width=-5"], "--width is -5 mm; it must lie between 0 and 200 mm"),
        (["piece", "--corner-angle=500"], "--corner-angle is 500; it must lie between "),
        (["piece", "--corner-angle=sharp"], "--corner-angle takes a number, not 'sharp'"),
        (["pleat", "front.hem", "--count=2.5"], "--count is 2.5; it takes a whole number, such as 2"),
        (["allowance", "front.side", "--width=1zoll"], "--width: 'zoll' is not a unit of length"),
        (["demo", "--quick"], "demo takes no options"),
        (["operations", "--json"], "operations takes no options"),
    ],
)
def test_a_wrong_call_is_told_in_one_plain_sentence(words: list[str], said: str, drawing: Path, capsys: Told) -> None:
    files = ["-i", str(drawing), "-o", str(drawing.with_name("out.svg"))]
    more = [] if words[0] in ("demo", "operations") else files
    assert main([*words, *more]) == 2
    assert capsys.readouterr().err.startswith(f"flatcut: {said}")
    assert not drawing.with_name("out.svg").exists()


def test_a_recipe_may_begin_with_the_mark_that_some_editors_write(drawing: Path) -> None:
    style = drawing.with_name("style.recipe")
    style.write_bytes("\ufeffallowance front.side --width=1cm\r\n".encode())
    assert main(["run", str(style), str(drawing), "-o", str(drawing.with_name("out.svg"))]) == 0


def test_choices_that_may_be_left_out_are_listed_without_a_gap(drawing: Path, capsys: Told) -> None:
    assert main(["piece", "--drawing-unit=inch", "-i", str(drawing)]) == 2
    assert "--drawing-unit takes one of mm, cm" in capsys.readouterr().err


def test_a_file_that_is_missing_is_named_once(drawing: Path, capsys: Told) -> None:
    missing = str(drawing.with_name("missing.svg"))
    assert main(["check", missing]) == 2
    assert capsys.readouterr().err.count(missing) == 1


def test_pieces_as_text_and_json(drawing: Path, capsys: Told) -> None:
    assert main(["pieces", str(drawing)]) == 0
    text = capsys.readouterr().out
    assert "front: 2 pair shell" in text
    assert "dart-1" in text
    assert main(["pieces", str(drawing), "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["format"] == 1
    assert [piece["name"] for piece in record["pieces"]] == ["front", "back"]
    front = record["pieces"][0]
    assert front["darts"][0]["host"] == "waist"
    # legs of 130.6 mm about an intake of 25 mm: 2·atan(12.5/130)
    assert front["darts"][0]["angle"] == pytest.approx(10.984, abs=1e-3)
    assert front["darts"][0]["leg_lengths"] == [pytest.approx(130.5996, abs=1e-4)] * 2
    assert main(["pieces", str(drawing), str(drawing), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 2


def test_check_finds_what_does_not_fit(drawing: Path, capsys: Told) -> None:
    assert main(["check", str(drawing)]) == 1
    text = capsys.readouterr().out
    # the side seams are 245.05 mm on both pieces, and the front has 4 mm of ease
    assert "back.side is 4 mm longer than front.side" in text
    assert main(["check", str(drawing), "--json"]) == 1
    findings = json.loads(capsys.readouterr().out)["files"][0]["findings"]
    walked = [f for f in findings if f["check"] == "seam-walk" and f["where"][0] == "back.side"]
    assert [f["figure"] for f in walked] == [pytest.approx(4.0, abs=1e-6)]
    assert main(["seam", "front.side", "back.side", "--ease=4", "-i", str(drawing), "--in-place"]) == 0
    capsys.readouterr()
    assert main(["check", str(drawing)]) in (0, 1)
    assert "back.side is 4 mm" not in capsys.readouterr().out


def test_run_on_many_and_one_that_fails(tmp_path: Path, drawing: Path, capsys: Told) -> None:
    recipe = tmp_path / "style.recipe"
    recipe.write_text("# wider\nallowance front --width=15\n")
    other = tmp_path / "none.svg"
    other.write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    into = tmp_path / "out"
    assert main(["run", str(recipe), str(drawing), str(other), f"--into={into}"]) == 1
    told = capsys.readouterr().err
    assert f"{drawing}: done" in told
    assert f"{other}: line 2 (allowance): there is no piece 'front'" in told
    assert sorted(path.name for path in into.iterdir()) == ["two.svg"]
    assert main(["run", str(recipe), str(other), f"--into={into}"]) == 2
    assert main(["run", str(recipe), str(drawing), f"--into={tmp_path}"]) == 2, "it would overwrite its input"
    assert main(["run", str(recipe), str(drawing), str(drawing), f"--into={into}"]) == 2
    for jobs in ("0", "x", "65"):
        assert main(["run", str(recipe), str(drawing), f"--into={into}", f"--jobs={jobs}"]) == 2
    assert main(["run"]) == 2
    assert main(["run", str(tmp_path / "missing.recipe"), str(drawing)]) == 2


def test_two_jobs_write_what_one_writes(tmp_path: Path, drawing: Path) -> None:
    recipe = tmp_path / "style.recipe"
    recipe.write_text("allowance front --width=15\n")
    (tmp_path / "b.svg").write_bytes(drawing.read_bytes())
    inputs = [str(drawing), str(tmp_path / "b.svg")]
    for jobs in ("1", "2"):
        assert main(["run", str(recipe), *inputs, f"--into={tmp_path / jobs}", f"--jobs={jobs}"]) == 0
    for name in ("two.svg", "b.svg"):
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()


def test_collect_brings_pieces_together(tmp_path: Path, drawing: Path, capsys: Told) -> None:
    second, output = tmp_path / "b.svg", tmp_path / "all.svg"
    second.write_bytes(drawing.read_bytes())
    assert main(["collect", str(drawing), str(second), "-o", str(output)]) == 2
    assert "write --prefix" in capsys.readouterr().err
    assert not output.exists()
    assert main(["collect", str(drawing), str(second), "--prefix", "-o", str(output)]) == 0
    pattern = read(output.read_bytes())[1]
    assert [piece.name for piece in pattern.pieces] == ["two-front", "two-back", "b-front", "b-back"]
    assert len(pattern.seams) == 4
    lines = [step.line for step in pattern.steps]
    assert "seam two-front.side two-back.side" in lines
    assert "seam b-front.side b-back.side" in lines
    assert "allowance all --width=10" in lines
    assert main(["collect", str(drawing)]) == 2
    assert main(["collect", str(drawing), str(second), "--prefix", "-o", str(second)]) == 2


def test_redraw_and_names_change_no_value(drawing: Path) -> None:
    before = read(drawing.read_bytes())[1]
    for words in (["redraw"], ["names"], ["names", "--show=false"]):
        assert main([*words, "-i", str(drawing), "--in-place"]) == 0
        after = read(drawing.read_bytes())[1]
        assert not differences(before, after, tolerance=1e-9)
        assert after.steps == before.steps
    assert main(["names", "-i", str(drawing), "--in-place"]) == 0
    text = drawing.read_text(encoding="utf-8")
    assert ">armhole<" in text
    assert read(drawing.read_bytes())[1].names_shown
    assert main(["names", "--show=false", "-i", str(drawing), "--in-place"]) == 0
    assert ">armhole<" not in drawing.read_text(encoding="utf-8")

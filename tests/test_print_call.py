"""Wrong calls of `print`: one sentence, exit code 2, no file; and what it says of what it did."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from flatcut.arguments import build
from flatcut.cli import main
from flatcut.errors import InputError, UsageError
from flatcut.pattern.values import Pattern
from flatcut.reports.print import Print
from tests import by_hand as hand

pytest.importorskip("reportlab")


@pytest.fixture
def drawing(tmp_path) -> Path:
    file = tmp_path / "in.svg"
    file.write_bytes(hand.two_pieces())
    return file


CALLS = {
    "an unknown paper": (["--paper=leter"], "did you mean 'letter'?"),
    "a paper of no size": (["--paper=a9"], "WIDTHxHEIGHT"),
    "a paper beyond any reader": (["--paper=6000x1000"], "between 75 and 5080 mm"),
    "a paper too small": (["--paper=90x90", "--margin=2cm"], "take larger paper or smaller margins"),
    "margins wider than the paper": (["--margin=50", "--paper=80x200"], "smaller margins"),
    "an overlap beyond the sheet": (["--paper=90x90", "--overlap=60", "--margin=5"], "10 to 15 mm is usual"),
    "an overlap beyond all measure": (["--overlap=1m"], "--overlap"),
    "a negative margin": (["--margin=-1"], "--margin"),
    "a decimal comma": (["--margin=0,5in"], "write 0.5in"),
    "no such piece": (["--pieces=fornt"], "did you mean 'front'?"),
    "no such option": (["--papr=a4"], "did you mean '--paper'?"),
    "a choice that is none": (["--lines=seam"], "both, cut, stitch"),
    "own size for a set": (["--paper=own-size"], "--pages=pieces"),
    "a font that is not there": (["--font=nowhere.ttf"], "nowhere.ttf"),
    "a font that is none": (["--font=in.svg"], "in.svg"),
    "letters that no font has": (["--style=\N{EGYPTIAN HIEROGLYPH A001}"], "--font=FILE.ttf"),
    "a character that no file holds": (["--style=a\x01"], "character"),
}


@pytest.mark.parametrize("what", CALLS)
def test_a_wrong_call_is_one_sentence_and_no_file(what, drawing, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    words, part = CALLS[what]
    assert main(["print", str(drawing), "-o", "out.pdf", *words]) == 2
    assert_one(capsys.readouterr().err, part)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in.svg"]


def assert_one(said: str, part: str) -> None:
    lines = said.splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("flatcut: ")
    assert part in lines[0]
    assert "fault of flatcut" not in lines[0]


def test_no_pieces_no_file_no_right_and_no_overwriting(drawing, tmp_path, capsys):
    empty = tmp_path / "empty.svg"
    empty.write_text('<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9"/>')
    before = drawing.read_bytes()
    (tmp_path / "folder.pdf").mkdir()
    for words, part in (
        ([str(empty), "-o", str(tmp_path / "out.pdf")], "no pieces to print"),
        ([str(tmp_path / "none.svg"), "-o", str(tmp_path / "out.pdf")], "cannot be read"),
        ([str(drawing), "-o", str(tmp_path / "no" / "out.pdf")], "cannot be written"),
        ([str(drawing), "-o", str(tmp_path / "folder.pdf")], "cannot be written"),
        ([str(drawing), "-o", str(tmp_path / "out")], "ends in none of .pdf, .svg"),
        ([str(drawing), "-o", str(drawing)], "would overwrite the drawing"),
    ):
        assert main(["print", *words]) == 2
        assert_one(capsys.readouterr().err, part)
    assert not (tmp_path / "out.pdf").exists()
    assert drawing.read_bytes() == before


def test_without_reportlab_one_sentence_says_how_to_get_it(drawing, tmp_path, capsys, monkeypatch):
    for name in [name for name in sys.modules if name.split(".")[0] == "reportlab"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "reportlab", None)
    assert main(["print", str(drawing), "-o", str(tmp_path / "out.pdf")]) == 2
    assert_one(capsys.readouterr().err, "pip install 'flatcut[print]'")
    assert not (tmp_path / "out.pdf").exists()


SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="999mm" height="999mm" viewBox="0 0 999 999">{}</svg>'


def test_a_piece_without_a_cut_line_is_printed_by_its_stitch_line_and_that_is_said(tmp_path, capsys):
    drawn, pieces = tmp_path / "in.svg", tmp_path / "pieces.svg"
    drawn.write_text(SVG.format('<path id="a" d="M 0,0 H 90 V 90 H 0 Z"/>'))
    assert main(["piece", "-i", str(drawn), "-o", str(pieces), "--names=cuff"]) == 0
    capsys.readouterr()
    assert main(["print", str(pieces), "-o", str(tmp_path / "out.pdf"), "--lines=cut"]) == 0
    assert "warning: cuff has no allowance and so no cut line; its stitch line is printed" in capsys.readouterr().err
    assert main(["print", str(pieces), "-o", str(tmp_path / "out.pdf")]) == 0
    assert "warning" not in capsys.readouterr().err


def test_a_cut_line_that_cannot_be_made_is_said_and_gives_1(tmp_path, capsys):
    """Allowances of 16 mm close a gap of 30 mm, and inside it a hole is left, 80 - 2 × 16 mm square."""
    drawn, pieces = tmp_path / "in.svg", tmp_path / "pieces.svg"
    ring = "M 0,0 H 120 V 45 H 100 V 20 H 20 V 100 H 100 V 75 H 120 V 120 H 0 Z"
    drawn.write_text(SVG.format(f'<path d="{ring}"/><path d="M 200,0 H 800 V 600 H 200 Z"/>'))
    assert main(["piece", "-i", str(drawn), "-o", str(pieces), "--names=ring,tall"]) == 0
    assert main(["allowance", "ring", "tall", "--width=16mm", "--in-place", "-i", str(pieces)]) == 1
    capsys.readouterr()
    assert main(["print", str(pieces), "-o", str(tmp_path / "out.pdf")]) == 1
    said = capsys.readouterr().err
    assert "warning: ring can have no cut line" in said
    assert "closes around a hole of 2304 mm² near 60, 60" in said
    assert "its stitch line is printed" in said
    assert "tall can have no cut line" not in said
    assert (tmp_path / "out.pdf").exists()


def test_a_hem_turned_up_deeper_than_its_sides_is_printed_with_a_word_for_each_corner(tmp_path, capsys):
    """Folded up it would stand out over the other end: it is mitred, and printed with a warning for each."""
    drawn, pieces = tmp_path / "in.svg", tmp_path / "pieces.svg"
    drawn.write_text(SVG.format('<path d="M 0,0 H 90 V 90 H 0 Z"/><path d="M 200,0 H 800 V 600 H 200 Z"/>'))
    hem = ["edge", "low.e3", "tall.e3", "--use=hem", "--in-place"]
    wide = ["allowance", "low.e3", "tall.e3", "--width=12cm", "--in-place"]
    assert main(["piece", "-i", str(drawn), "-o", str(pieces), "--names=low,tall"]) == 0
    assert main([*hem, "-i", str(pieces)]) == 0
    assert main([*wide, "-i", str(pieces)]) == 0
    capsys.readouterr()
    assert main(["print", str(pieces), "-o", str(tmp_path / "out.pdf")]) == 0
    said = capsys.readouterr().err
    for corner, side in (("low.e2/e3", "low.e2"), ("low.e3/e4", "low.e4")):
        assert (
            f"warning: at corner '{corner}' the allowance of edge 'low.e3' (120 mm), turned up, reaches past the "
            f"end of edge '{side}': it is mitred"
        ) in said
    assert "corner 'tall" not in said


def test_a_drawing_in_the_wrong_unit_would_take_too_many_sheets(tmp_path, capsys):
    drawn, pieces = tmp_path / "in.svg", tmp_path / "pieces.svg"
    drawn.write_text(SVG.format('<path id="a" d="M 0,0 H 60000 V 80000 H 0 Z"/>'))
    assert main(["piece", "-i", str(drawn), "-o", str(pieces)]) == 0
    capsys.readouterr()
    assert main(["print", str(pieces), "-o", str(tmp_path / "out.pdf")]) == 2
    assert_one(capsys.readouterr().err, "is the unit of the drawing right?")
    assert not (tmp_path / "out.pdf").exists()


def test_figures_are_told(drawing, tmp_path, capsys):
    assert main(["print", str(drawing), "-o", str(tmp_path / "out.pdf"), "--paper=a0"]) == 0
    assert capsys.readouterr().err.splitlines()[-3:] == ["pieces: 2", "sheets: 1", "pages: 1"]


def test_a_value_of_its_own_in_python():
    made = Print(paper="roll 36in", overlap="1/2in")
    assert made.evaluated(Pattern()).sheet().width == pytest.approx(914.4)
    with pytest.raises(UsageError, match="no paper"):
        Print(paper="foolscap")
    with pytest.raises(InputError, match="no pieces"):
        made.perform(Pattern())


def test_lengths_may_be_expressions(drawing):
    """The wrist is not measured here, and that is said as everywhere."""
    made = build(Print, [], {"gap": "2cm + 1in"})
    assert made.evaluated(Pattern()).gap == pytest.approx(45.4)
    with pytest.raises(UsageError, match="wrist"):
        build(Print, [], {"gap": "wrist"}).evaluated(Pattern())

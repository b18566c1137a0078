"""What the command ends with: 0 where all went well, 1 where there is something to look at, 2 where nothing was done.

So do `diff` and `grep` of POSIX (from memory).
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from flatcut.cli.main import main
from flatcut.formats.svg.read import read

Told = pytest.CaptureFixture[str]

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="999mm" height="999mm" viewBox="0 0 999 999">{}</svg>'
RING = "M 0,0 H 120 V 45 H 100 V 20 H 20 V 100 H 100 V 75 H 120 V 120 H 0 Z"
"""A slotted ring: allowances of 16 mm close its gap of 30 mm around a hole, so it can have no cut line; 8 mm do not."""
TALL = "M 200,0 H 800 V 600 H 200 Z"
NOTE = "ring can have no cut line"


@pytest.fixture
def drawing(tmp_path: Path, capsys: Told) -> Path:
    """Two pieces, ring and tall, of which one can have no cut line of 16 mm."""
    drawn, path = tmp_path / "drawn.svg", tmp_path / "two.svg"
    drawn.write_text(SVG.format(f'<path d="{RING}"/><path d="{TALL}"/>'))
    assert main(["piece", "-i", str(drawn), "-o", str(path), "--names=ring,tall"]) == 0
    drawn.unlink()
    capsys.readouterr()
    return path


def recipe(folder: Path, width: int) -> str:
    path = folder / f"wide-{width}.recipe"
    path.write_text(f"allowance ring tall --width={width}mm\n")
    return str(path)


@pytest.mark.parametrize(("width", "code"), [(8, 0), (16, 1)])
def test_an_operation_whose_cut_line_cannot_be_drawn_ends_with_1(
    width: int, code: int, drawing: Path, capsys: Told
) -> None:
    for ends in (["-o", str(drawing.with_name("out.svg"))], ["--in-place"]):
        assert main(["allowance", "ring", "tall", f"--width={width}mm", "-i", str(drawing), *ends]) == code
        assert (f"note: {NOTE}" in capsys.readouterr().err) == bool(code)
    # what could be done is written nevertheless
    for path in (drawing, drawing.with_name("out.svg")):
        widths = {e.allowance.width for p in read(path.read_bytes())[1].pieces for e in p.edges if e.allowance}
        assert widths == {width}


@pytest.mark.parametrize(("width", "code"), [(8, 0), (16, 1)])
@pytest.mark.parametrize("into", [False, True])
@pytest.mark.parametrize("jobs", [1, 2])
def test_a_recipe_whose_cut_line_cannot_be_drawn_ends_with_1(
    width: int, code: int, into: bool, jobs: int, drawing: Path, capsys: Told
) -> None:
    folder = drawing.parent / "out"
    ends = [f"--into={folder}", f"--jobs={jobs}"] if into else ["-o", str(drawing.with_name("out.svg"))]
    assert main(["run", recipe(drawing.parent, width), str(drawing), *ends]) == code
    told = capsys.readouterr().err
    assert (f"note: {NOTE}" in told) == bool(code)
    if into:
        assert (f"{drawing}: done\n" in told) == (not code)
        assert (f"{drawing}: done, but see the notes\n" in told) == bool(code)
    assert (folder / "two.svg" if into else drawing.with_name("out.svg")).exists()


def test_one_of_two_drawings_with_something_to_look_at_gives_1(drawing: Path, capsys: Told) -> None:
    """In either order: the last drawing's end is not that of the run."""
    sound = drawing.with_name("sound.svg")
    drawn = drawing.with_name("drawn.svg")
    drawn.write_text(SVG.format(f'<path d="{TALL}"/><path d="M 0,0 H 90 V 90 H 0 Z"/>'))
    assert main(["piece", "-i", str(drawn), "-o", str(sound), "--names=ring,tall"]) == 0
    style, into = recipe(drawing.parent, 16), f"--into={drawing.parent / 'out'}"
    for inputs in ([drawing, sound], [sound, drawing]):
        capsys.readouterr()
        assert main(["run", style, *map(str, inputs), into]) == 1
        told = capsys.readouterr().err
        assert f"{sound}: done\n" in told
        assert f"{drawing}: done, but see the notes\n" in told
    assert main(["run", style, str(sound), into]) == 0


def test_of_runs_that_fail_one_gives_1_and_all_give_2(drawing: Path) -> None:
    empty = drawing.with_name("empty.svg")
    empty.write_text(SVG.format(""))
    style, into = recipe(drawing.parent, 8), f"--into={drawing.parent / 'out'}"
    for inputs, code in (([drawing], 0), ([drawing, empty], 1), ([empty, drawing], 1), ([empty], 2)):
        assert main(["run", style, *map(str, inputs), into]) == code


@pytest.mark.parametrize("spelled", ["./in.svg", "in.svg", "sub/../in.svg", "{}/in.svg", "link.svg", "twin.svg"])
def test_the_inputs_own_name_spelled_otherwise_is_refused(
    spelled: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Told
) -> None:
    """Also a link to it, and a second name of the same file."""
    monkeypatch.chdir(tmp_path)
    given = Path("in.svg")
    Path("sub").mkdir()
    given.write_text(SVG.format(f'<path d="{TALL}"/>'))
    Path("link.svg").symlink_to("in.svg")
    os.link(given, "twin.svg")
    Path("other.svg").write_text(SVG.format(f'<path d="{RING}"/>'))
    style = tmp_path / "style.recipe"
    style.write_text("piece --names=tall\n")
    before, output = given.read_bytes(), spelled.format(tmp_path)
    for words in (
        ["piece", "-i", "in.svg", "-o", output],
        ["run", str(style), "in.svg", "-o", output],
        ["collect", "other.svg", "in.svg", "-o", output],
    ):
        assert main(words) == 2, words
        assert "would overwrite" in capsys.readouterr().err
        assert given.read_bytes() == before


@pytest.mark.parametrize("folder", [".", "./", "sub/..", "{}"])
def test_a_run_into_the_folder_of_its_drawing_is_refused(
    folder: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Told
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("sub").mkdir()
    Path("in.svg").write_text(SVG.format(f'<path d="{TALL}"/>'))
    Path("style.recipe").write_text("piece --names=tall\n")
    before = Path("in.svg").read_bytes()
    assert main(["run", "style.recipe", "in.svg", f"--into={folder.format(tmp_path)}"]) == 2
    assert "would overwrite in.svg" in capsys.readouterr().err
    assert Path("in.svg").read_bytes() == before

"""Blocks at the command line: measurements from a file, and one recipe in every size of a table."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from flatcut.cli.main import main
from flatcut.formats.svg.read import read
from flatcut.pattern.values import Pattern

MEASURES = Path(__file__).parent.parent / "samples" / "measures"
OLIVE = MEASURES / "olive.toml"
SIZES = MEASURES / "sizes.toml"
RECIPE = "style --name=Olive\nblock bodice\nblock sleeve\nallowance all --width=1cm\n"

Told = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _no_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))


@pytest.fixture
def recipe(tmp_path: Path) -> Path:
    path = tmp_path / "top.recipe"
    path.write_text(RECIPE, encoding="utf-8")
    return path


def opened(path: Path) -> Pattern:
    return read(path.read_bytes())[1]


def kept(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.glob("*.svg"))


def test_a_block_from_a_file_begins_a_drawing(tmp_path: Path) -> None:
    out = tmp_path / "olive.svg"
    assert main(["block", "bodice", f"--measures={OLIVE}", "-o", str(out)]) == 0
    pattern = opened(out)
    assert (pattern.body["bust"], pattern.body["wrist"], pattern.body["sleeve-length"]) == (915.0, 162.0, 585.0)
    assert [step.line for step in pattern.steps] == ["block bodice"], "the step drafts the next body as well"
    # the next block needs no file: the drawing holds the body
    assert main(["block", "skirt", "-i", str(out), "--in-place"]) == 0
    assert [piece.name for piece in opened(out).pieces] == ["back", "front", "skirt-back", "skirt-front"]


def test_a_figure_stated_goes_before_the_file_and_expressions_count_with_it(tmp_path: Path) -> None:
    out = tmp_path / "olive.svg"
    words = ["--hip=100cm", '--nape-to-waist="nape-to-waist + 1cm"'.replace('"', ""), "-o", str(out)]
    assert main(["block", "torso", f"--measures={OLIVE}", *words]) == 0
    assert (opened(out).body["hip"], opened(out).body["nape-to-waist"]) == (1000.0, 425.0)


def test_a_recipe_may_begin_with_a_file_of_measures(tmp_path: Path) -> None:
    style, plain, out = tmp_path / "a.recipe", tmp_path / "b.recipe", tmp_path / "a.svg"
    style.write_text(f'block bodice "--measures={OLIVE}"\nblock sleeve\n', encoding="utf-8")
    assert main(["run", str(style), "-o", str(out)]) == 0
    # and what it has recorded is drafted from another file
    plain.write_text("".join(f"{step.line}\n" for step in opened(out).steps), encoding="utf-8")
    again = tmp_path / "b.svg"
    assert main(["run", str(plain), f"--measures={OLIVE}", "-o", str(again)]) == 0
    assert again.read_bytes() == out.read_bytes()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("bust = 915", "bodice needs waist (girth at the natural waist); give --waist, usually 54 to 114 cm"),
        ("bust = 91.5", "m.toml: bust is 9.15 cm, and no body has that; it is usually 76 to 122 cm"),
        ("bust = nan", "m.toml: bust, usually 76 to 122 cm: 'nan' is not a length"),
        ("bsut = 915", "m.toml: there is no measurement 'bsut'; did you mean 'bust'?"),
        ("bust = ", "m.toml: the table cannot be read: "),
        ("[small]\nbust = 840", "m.toml: [small] is a table of its own; a file of measures holds one body"),
        ("", "bodice needs bust"),
    ],
)
def test_one_sentence_for_a_bad_file(text: str, said: str, tmp_path: Path, capsys: Told) -> None:
    path, out = tmp_path / "m.toml", tmp_path / "out.svg"
    path.write_text(text, encoding="utf-8")
    assert main(["block", "bodice", f"--measures={path}", "-o", str(out)]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.count("\n") == 1
    assert not out.exists()


def test_a_file_that_is_none(tmp_path: Path, capsys: Told) -> None:
    (tmp_path / "m.toml").write_bytes(b"bust = \xff\xfe")
    for name, said in (("n.toml", "no such file"), (".", "is a directory"), ("m.toml", "no text in UTF-8")):
        assert main(["block", "bodice", f"--measures={tmp_path / name}"]) == 2
        assert said in capsys.readouterr().err
    assert main(["block", "bodice", f"--measures={OLIVE}", "--size=bust-90"]) == 2
    assert "leave one out" in capsys.readouterr().err


def test_every_size_of_a_table(recipe: Path, tmp_path: Path, capsys: Told) -> None:
    folder = tmp_path / "sizes"
    assert main(["run", str(recipe), f"--sizes={SIZES}", f"--into={folder}"]) == 0
    assert kept(folder) == ["top-large.svg", "top-medium.svg", "top-small.svg"]
    told = capsys.readouterr().err
    assert [line for line in told.splitlines() if line.endswith(": done")] == [
        "size small: done",
        "size medium: done",
        "size large: done",
    ]
    for size, bust in (("small", 820.0), ("medium", 920.0), ("large", 1040.0)):
        pattern = opened(folder / f"top-{size}.svg")
        assert (pattern.style.name, pattern.style.size, pattern.body["bust"]) == ("Olive", size, bust)
        assert all(edge.allowance is not None for piece in pattern.pieces for edge in piece.edges if edge.use == "seam")


def test_jobs_give_the_same_bytes(recipe: Path, tmp_path: Path) -> None:
    for jobs in (1, 2):
        assert main(["run", str(recipe), f"--sizes={SIZES}", f"--into={tmp_path / str(jobs)}", f"--jobs={jobs}"]) == 0
    for name in kept(tmp_path / "1"):
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()


def test_what_a_recipe_says_of_one_body_gives_way_to_the_table(tmp_path: Path) -> None:
    style, folder = tmp_path / "top.recipe", tmp_path / "sizes"
    # drawn for one body in the editor: a size of the list, a figure, a label
    lines = 'style --size=34\nblock bodice --size=bust-90 --bust=93cm --nape-to-waist="nape-to-waist + 1cm"\n'
    style.write_text(lines + "block skirt --length=60cm\n", encoding="utf-8")
    assert main(["run", str(style), f"--sizes={SIZES}", f"--into={folder}"]) == 0
    small = opened(folder / "top-small.svg")
    assert (small.style.size, small.body["bust"], small.body["nape-to-waist"]) == ("small", 820.0, 412.0)
    hems = [piece.edge("hem").parts[0].start[1] - piece.edge("waist").parts[0].start[1] for piece in small.pieces[2:]]
    assert min(hems) > 560, "what is no measurement of the body stays"


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"bust = 92\n": "bust = 9.2\n"},
            "size medium: bust is 9.2 cm, and no body has that; it is usually 76 to 122 cm",
        ),
        ({"neck = 37.8\n": ""}, "size medium: line 2 (block): bodice needs neck (girth at the base of the neck)"),
        ({"waist = 75\n": "waist = 150\n"}, "size medium: line 2 (block): the bodice cannot be drawn: "),
        ({"waist = 75\n": "waits = 75\n"}, "size medium: there is no measurement 'waits'; did you mean 'waist'?"),
    ],
)
@pytest.mark.parametrize("jobs", [1, 2])
def test_a_failing_size_is_named_and_the_others_come_out(
    change: dict[str, str], said: str, jobs: int, recipe: Path, tmp_path: Path, capsys: Told
) -> None:
    text = SIZES.read_text(encoding="utf-8")
    for old, new in change.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    table, folder = tmp_path / "table.toml", tmp_path / "sizes"
    table.write_text(text, encoding="utf-8")
    folder.mkdir()
    (folder / "top-medium.svg").write_text("what was there")
    assert main(["run", str(recipe), f"--sizes={table}", f"--into={folder}", f"--jobs={jobs}"]) == 1
    told = capsys.readouterr().err
    assert said in told
    assert "Traceback" not in told
    assert kept(folder) == ["top-large.svg", "top-medium.svg", "top-small.svg"]
    assert (folder / "top-medium.svg").read_text() == "what was there"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--sizes={sizes}"], "--into=DIR"),
        (["--sizes={sizes}", "-o", "x.svg"], "--into=DIR"),
        (["--sizes={sizes}", "--into={folder}", "drawing.svg"], "drafts from the recipe alone"),
        (["--sizes={sizes}", "--into={folder}", "--measures={sizes}"], "drafts from the recipe alone"),
        (["--sizes=nothing.toml", "--into={folder}"], "nothing.toml cannot be read: no such file"),
        (["--sizes={olive}", "--into={folder}"], "olive.toml: 'bust' stands outside a size"),
        (["--sizes={slash}", "--into={folder}"], "size '10/12' cannot stand in a file's name"),
        (["--sizes={twice}", "--into={folder}"], "differs from another only in capitals"),
        (["--sizes={sizes}", "--into={folder}", "--job=2"], "there is no option of run '--job'"),
    ],
)
def test_a_call_that_is_wrong(words: list[str], said: str, recipe: Path, tmp_path: Path, capsys: Told) -> None:
    folder, slash, twice = tmp_path / "sizes", tmp_path / "slash.toml", tmp_path / "twice.toml"
    slash.write_text('["10/12"]\nbust = 900\n', encoding="utf-8")
    twice.write_text("[s]\nbust = 900\n[S]\nbust = 900\n", encoding="utf-8")
    filled = [w.format(sizes=SIZES, folder=folder, olive=OLIVE, slash=slash, twice=twice) for w in words]
    assert main(["run", str(recipe), *filled]) == 2
    assert said in capsys.readouterr().err
    assert not folder.exists()


def test_a_recipe_that_no_size_would_change(tmp_path: Path, capsys: Told) -> None:
    style = tmp_path / "top.recipe"
    style.write_text("allowance all\n", encoding="utf-8")
    assert main(["run", str(style), f"--sizes={SIZES}", f"--into={tmp_path / 'sizes'}"]) == 2
    assert "has no block line" in capsys.readouterr().err


def test_a_size_that_the_measurements_do_not_have_is_left_out_and_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    style = tmp_path / "style.recipe"
    style.write_text("block bodice\nstyle --name=Orchard --size=14\n", encoding="utf-8")
    out = tmp_path / "out.svg"
    assert main(["run", str(style), f"--measures={OLIVE}", "-o", str(out)]) == 0
    assert "note: size 14 of the recipe is left out" in capsys.readouterr().err
    _, pattern, _ = read(out.read_bytes())
    assert (pattern.style.name, pattern.style.size) == ("Orchard", "")

"""Printing from the editor: Save As offers the paper pattern, asks for the paper, and writes the command's own PDF."""

from __future__ import annotations

import shutil
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.formats.svg.document import load
from flatcut.formats.svg.elements import tag
from tests import paper
from tests.editor import driver
from tests.editor.screen import screen
from tests.editor.window import PATIENCE, STEP, Window

pytestmark = pytest.mark.editor
pytest.importorskip("reportlab")

TYPE = "Paper pattern at true scale (*.pdf)"


@pytest.fixture
def file(tmp_path, starts):
    return Path(shutil.copy(starts["named"], tmp_path / "work.svg"))


@pytest.fixture
def profile(host, tmp_path):
    """The plugin, whose kind of file Save As offers first, and Letter paper in its dialog."""
    folder = tmp_path / "profile"
    shutil.copytree(host.folder, folder / "extensions" / "flatcut")
    driver.store(folder, {"print": {"paper": "letter", "style": "harbour top"}}, saved_as="print")
    return folder


def there(file: Path) -> bool:
    """Whether a file is written, and stays as long as it is."""
    end = time.monotonic() + PATIENCE
    size = -1
    while time.monotonic() < end:
        now = file.stat().st_size if file.exists() else 0
        if now and now == size:
            return True
        size = now
        time.sleep(STEP * 2)
    return False


@pytest.mark.parametrize("way", ["host", "handing"])
def test_the_script_gives_the_pdf_of_the_command(way, request, file, tmp_path):
    """In the editor's own Python reportlab is missing: the Python that installed the plugin does the work."""
    data, said = driver.alone(request.getfixturevalue(way), "print", file, [], {"paper": "a3", "lines": "cut"})
    assert said == ""
    (tmp_path / "got.pdf").write_bytes(data)
    assert main(["print", str(file), "-o", str(tmp_path / "wanted.pdf"), "--paper=a3", "--lines=cut"]) == 0
    assert paper.sizes(tmp_path / "got.pdf") == paper.sizes(tmp_path / "wanted.pdf")
    for page in range(1, len(paper.sizes(tmp_path / "wanted.pdf")) + 1):
        one, other = (
            [(s.width, s.points.round(3).tolist()) for s in paper.strokes(tmp_path / name, page)]
            for name in ("got.pdf", "wanted.pdf")
        )
        assert one == other


def test_what_is_wrong_is_one_sentence_and_no_file(host, file, tmp_path):
    for filled, part in (
        ({"paper_other": "leter"}, "did you mean 'letter'?"),
        ({"pieces": "fornt"}, "did you mean 'front'?"),
    ):
        data, said = driver.alone(host, "print", file, [], filled)
        assert data == b""
        assert part in said
        assert len(said.splitlines()) == 1


@pytest.mark.parametrize("keys", ["ctrl+shift+s", "ctrl+shift+alt+s"], ids=["save as", "save a copy"])
def test_save_as(keys, profile, file, tmp_path, pytestconfig, pictures):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    target = tmp_path / "saved.pdf"
    before = file.read_bytes()
    with screen() as shown, Window(profile, file, shown, pictures=pictures) as window:
        window.key(window.main, keys)
        chooser = window.find("^Select file to save")
        window.key(chooser, "ctrl+a")
        window.write(str(target))
        window.settle()
        window.photograph(shots / "print-1-save-as.png")
        window.key(chooser, "Return")
        asked = window.find("^Print$")
        window.photograph(shots / "print-2-dialog.png")
        window.key(asked, "Return")
        assert there(target)
        window.photograph(shots / "print-3-saved.png")
    sizes = paper.sizes(target)
    assert sizes == [pytest.approx((215.9, 279.4), abs=0.01)] * len(sizes)
    assert len(sizes) > 3
    assert "harbour top" in paper.text(target, 1)
    squares = [s.size for s in paper.strokes(target, 1) if s.closed and len(s.points) == 5 and np.ptp(s.size) < 0.01]
    sides = sorted(float(side) for size in squares for side in size if 45 < side < 55)
    assert sides == pytest.approx([50, 50, 50.8, 50.8], abs=0.01)
    assert file.read_bytes() == before


def test_save_as_of_a_drawing_without_pieces_says_so(profile, starts, tmp_path, pytestconfig, pictures):
    """The sentence is shown, and no file that is not a PDF is left."""
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    file, target = Path(shutil.copy(starts["drawn"], tmp_path / "work.svg")), tmp_path / "saved.pdf"
    with screen() as shown, Window(profile, file, shown, pictures=pictures) as window:
        window.key(window.main, "ctrl+shift+s")
        chooser = window.find("^Select file to save to")
        window.key(chooser, "ctrl+a")
        window.write(str(target))
        window.key(chooser, "Return")
        asked = window.find("^Print$")
        before = windows(window)
        window.key(asked, "Return")
        end = time.monotonic() + PATIENCE
        while windows(window) != before and time.monotonic() < end:
            time.sleep(STEP)  # the dialog goes, the sentence comes
        window.settle()
        window.photograph(shots / "print-4-refused.png")
        assert windows(window) == before
        assert not window.is_there("^Print$")
    assert not target.exists()


def windows(window: Window) -> int:
    """How many windows the editor shows."""
    return len(window.tool("search", "--onlyvisible", "--class", "inkscape").splitlines())


def test_print_in_the_menu_writes_the_file_that_was_named(host, file, tmp_path):
    """Only the file is written, with the ending that it should have; the drawing is not touched, which is said."""
    named = tmp_path / "from menu"
    filled = {"to_file": "true", "file_to_write": str(named), "paper": "a3"}
    given = {**driver.opened("print"), **filled}
    press = [host.python, "flatcut_press.py", *(f"--{key}={value}" for key, value in given.items()), str(file)]
    environment = host.environment()

    def pressed(words: list[str]) -> tuple[str, str]:
        done = subprocess.run(words, cwd=host.folder / "extensions", env=environment, capture_output=True, check=False)
        rows = load(done.stdout).root.iter(tag("tspan")) if done.stdout else ()
        return " ".join("".join(row.itertext()) for row in rows), done.stderr.decode()

    def written(words: list[str], target: object) -> bool:
        beside, window = pressed(words)
        return f"{target} is written" in beside.replace(" ", "").replace("iswritten", " is written") and not window

    assert written(press, f"{named}.pdf".replace(" ", ""))
    assert paper.sizes(tmp_path / "from menu.pdf")[0] == pytest.approx((297, 420), abs=0.01)
    # a name alone means the folder of the document, and none at all is a slip
    environment["DOCUMENT_PATH"] = str(file)
    alone = [word.replace(str(named), "beside.PDF") for word in press]
    assert written(alone, file.parent / "beside.PDF")
    inside = [word.replace(str(named), str(host.folder / "extensions" / "bare")) for word in press]
    assert written(inside, file.parent / "bare.pdf")
    unnamed = [word for word in press if "file_to_write" not in word]
    assert pressed(unnamed) == ("", "name the file to write, such as pattern.pdf\n")


def test_print_in_the_menu_of_the_real_editor(host, file, tmp_path):
    """That it ended well is said in the drawing and opens no window that nobody would close here."""
    target = tmp_path / "real.pdf"
    profile = tmp_path / "profile"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    driver.store(profile, {})
    stored = f'org.flatcut.print.to-file.file_to_write="{target}" org.flatcut.print.to-file.paper="a2"'
    preferences = profile / "preferences.xml"
    preferences.write_text(
        preferences.read_text().replace('<group id="extensions" ', f'<group id="extensions" {stored} ')
    )
    said = driver.act(profile, file, ["org.flatcut.print.to-file.noprefs"], patience=20)
    assert "stopped at the limit" not in said
    assert paper.sizes(target)[0] == pytest.approx((420, 594), abs=0.01)

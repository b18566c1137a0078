"""A person at the real window: select, open the dialog, watch the preview, change a figure, apply, undo, save."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.formats.svg.read import read
from flatcut.pattern.comparing import differences
from tests.editor import driver
from tests.editor.screen import screen
from tests.editor.window import BESIDE, Window

pytestmark = pytest.mark.editor

KEYS = """<?xml version="1.0"?>
<keys name="flatcut test">
  <bind gaction="app.org.flatcut.allowance" keys="&lt;Primary&gt;&lt;Alt&gt;k"/>
</keys>
"""
OPEN = "ctrl+alt+k"


@pytest.fixture
def profile(host, tmp_path):
    """The plugin, a key that opens its dialog, and a width of 10 mm that stands in it."""
    folder = tmp_path / "profile"
    shutil.copytree(host.folder, folder / "extensions" / "flatcut")
    (folder / "keys").mkdir()
    (folder / "keys" / "default.xml").write_text(KEYS)
    driver.store(folder, {"allowance": {"width": "10", "units": "mm"}})
    return folder


@pytest.fixture
def file(tmp_path, drawing):
    start, made = tmp_path / "start.svg", tmp_path / "work.svg"
    # saving sets the version where it is another one, and that would be an undo step of its own
    said = subprocess.run(["inkscape", "--version"], capture_output=True, text=True, check=True).stdout
    version = said.splitlines()[0].removeprefix("Inkscape ").strip()
    start.write_bytes(drawing.replace(b'inkscape:version="1.2.2"', f'inkscape:version="{version}"'.encode()))
    assert main(["piece", "id:front", "--names=front", "-i", str(start), "-o", str(made)]) == 0
    return made


def widths(svg: bytes) -> set[float | None]:
    return {edge.allowance.width if edge.allowance else None for edge in read(svg)[1].piece("front").edges}


def lines(svg: bytes) -> list[str]:
    return [step.line for step in read(svg)[1].steps]


def test_select_preview_change_apply_undo_save(profile, file, tmp_path, pytestconfig, pictures):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    before = file.read_bytes()
    assert widths(before) == {None}
    with screen() as shown, Window(profile, file, shown, pictures=pictures) as window:
        window.key(window.main, "3", "Escape", "Tab")  # the first object of the layer: the piece
        window.key(window.main, OPEN)
        dialog = window.find("^Add allowance$")
        window.tool("windowmove", dialog, *BESIDE)
        window.settle()
        unpreviewed = window.sheet()
        window.photograph(shots / "1-dialog.png")
        # the tabs, the names, the unit, the width, that at the end, the two places, then the live preview
        window.key(dialog, *["Tab"] * 8, "space")
        previewed = window.changes(unpreviewed)
        window.photograph(shots / "2-preview.png")
        window.key(dialog, *["shift+Tab"] * 4, "ctrl+a")
        window.write("16")
        window.changes(previewed)
        window.photograph(shots / "3-changed.png")
        window.key(dialog, "alt+a")
        window.settle()
        window.key(dialog, "alt+c")
        assert not window.is_there("^Add allowance$")
        window.photograph(shots / "4-applied.png")
        applied = window.saved(tmp_path / "applied.svg")
        window.key(window.main, "ctrl+z")
        undone = window.saved(tmp_path / "undone.svg")
        window.key(window.main, "ctrl+shift+z")
        redone = window.saved(tmp_path / "redone.svg")

    assert widths(applied) == {16.0}
    assert lines(applied) == [*lines(before), "allowance front --width=16"]
    assert widths(undone) == {None}
    assert lines(undone) == lines(before)
    assert differences(read(before)[1], read(undone)[1], tolerance=1e-3) == []
    assert differences(read(applied)[1], read(redone)[1], tolerance=1e-3) == []
    assert lines(redone) == lines(applied)

"""Opening DXF files in the editor: the script makes a drawing of one, and the editor offers it under Open."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.dialogs import opening
from flatcut.dialogs.values import OPERATION
from flatcut.editor.host import Host
from flatcut.formats.svg.read import read
from flatcut.pattern.values import area
from tests.dxf_files import AREA, drawn
from tests.editor.window import PATIENCE

pytestmark = pytest.mark.editor


def opened(host: Host, file: Path) -> tuple[bytes, str]:
    """What the script makes of a file, started as the editor starts it for Open."""
    words = [host.python, "flatcut_press.py", f"--{OPERATION}={opening.COMMAND}", str(file)]
    folder = host.folder / "extensions"
    done = subprocess.run(words, cwd=folder, env=host.environment(), capture_output=True, timeout=PATIENCE, check=False)
    return done.stdout, done.stderr.decode()


@pytest.mark.parametrize("way", ["host", "handing"])
def test_outlines_come_in_at_true_size(way, request, tmp_path):
    """In the editor's own Python ezdxf is missing: the Python that installed the plugin does the work."""
    file = tmp_path / "front.dxf"
    file.write_bytes(drawn("lines and arc"))
    svg, said = opened(request.getfixturevalue(way), file)
    assert said == ""
    made = tmp_path / "front.svg"
    made.write_bytes(svg)
    assert main(["piece", "-i", str(made), "-o", str(made), "--in-place"]) == 2  # two ways to write are one too many
    assert main(["piece", "-i", str(made), "--in-place"]) == 0
    (piece,) = read(made.read_bytes())[1].pieces
    assert abs(area(piece)) == pytest.approx(AREA, abs=0.1)


def test_an_exchange_file_comes_in_as_pieces(host, starts, tmp_path):
    file = tmp_path / "set.dxf"
    assert main(["exchange", str(starts["named"]), "-o", str(file)]) == 0
    svg, said = opened(host, file)
    assert said == ""
    assert {p.name for p in read(svg)[1].pieces} == {p.name for p in read(starts["named"].read_bytes())[1].pieces}


def test_what_there_is_to_say_stands_beside_the_drawing(host, tmp_path):
    file = tmp_path / "old.dxf"
    file.write_bytes(drawn("bulged", "R12"))
    svg, said = opened(host, file)
    assert said == ""
    assert b"does not say what its" in svg


def test_a_damaged_file_is_one_sentence_and_no_drawing(host, tmp_path):
    file = tmp_path / "bad.dxf"
    file.write_bytes(b"no drawing")
    svg, said = opened(host, file)
    assert svg == b""
    assert "bad.dxf is no DXF file" in said
    assert len(said.splitlines()) == 1


@pytest.mark.skipif(not shutil.which("inkscape"), reason="inkscape is missing")
def test_the_editor_opens_such_a_file(host, starts, tmp_path):
    """The editor started on a file of that ending, with the plugin in its profile, shows flatcut's pieces."""
    profile = tmp_path / "profile"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    file, out = tmp_path / "set.dxf", tmp_path / "out.svg"
    assert main(["exchange", str(starts["named"]), "-o", str(file)]) == 0
    env = {**os.environ, "INKSCAPE_PROFILE_DIR": str(profile)}
    words = ["timeout", "-s", "KILL", "90", "inkscape", f"--export-filename={out}", str(file)]
    subprocess.run(words, env=env, capture_output=True, check=False)
    assert out.exists()
    if b"urn:flatcut:pattern" not in out.read_bytes():
        pytest.skip("this build takes its own reader for the ending; the choice in the dialog is by name")
    assert read(out.read_bytes())[1].pieces

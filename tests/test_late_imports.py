"""What a call does not need is not loaded: a press and a short command take little longer than their libraries."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.editor.install import scripts_folder
from tests.editor.driver import opened

DRAWING = Path(__file__).parent / "editor" / "drawing.svg"
SAY = "print(*sorted(sys.modules), file=sys.stderr)"
COMMAND = f"import sys; from flatcut.__main__ import main; sys.argv[0] = 'flatcut'; main(); {SAY}"
SCRIPT = f"import sys; sys.path.append({str(scripts_folder())!r}); import flatcut_press"
PRESS = f"{SCRIPT}; flatcut_press.main(sys.argv[1:]); {SAY}"

LARGE = {"shapely", "ezdxf", "reportlab", "cv2", "scipy", "distributed", "spyrrow", "rich"}
"""Packages that take a tenth of a second or more, each for a few calls."""
SLOW = {"asyncio", "concurrent", "email", "http", "importlib.metadata", "logging", "multiprocessing", "tempfile"}
"""Of Python's own, likewise; others come with numpy in any case."""
RARE = {
    f"flatcut.{name}"
    for name in (
        "dialogs.help",
        "formats.svg.arcs",
        "formats.svg.new_corners",
        "geometry.nearest",
        "marking.symbols.button",
        "marking.ticks",
        "pattern.tracing",
    )
}
"""Of flatcut itself, what few drawings have need of."""


def loaded(folder: Path, script: str, *words: str) -> set[str]:
    """What a Python of its own has loaded at the end of a script."""
    call = [sys.executable, "-c", script, *words]
    done = subprocess.run(call, cwd=folder, capture_output=True, check=True, text=True)
    return set(done.stderr.splitlines()[-1].split())


def rooms(modules: set[str]) -> set[str]:
    """The rooms of flatcut that modules lie in."""
    return {name.split(".")[1] for name in modules if name.startswith("flatcut.") and name.count(".") > 1}


@pytest.fixture(scope="module")
def drawing(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Two pieces."""
    file = tmp_path_factory.mktemp("late") / "drawing.svg"
    file.write_bytes(DRAWING.read_bytes())
    assert main(["piece", "id:front", "id:back", "-i", str(file), "--in-place"]) == 0
    return str(file)


def test_a_version_takes_nothing_along(tmp_path):
    found = loaded(tmp_path, COMMAND, "--version")
    assert not found & (LARGE | SLOW | {"numpy", "lxml", "dataclasses", "inspect", "json", "pathlib"})
    assert rooms(found) == {"cli"}


def test_a_list_of_pieces_loads_no_operation_and_nothing_that_draws(tmp_path, drawing):
    found = loaded(tmp_path, COMMAND, "pieces", drawing)
    assert "flatcut.reports.pieces" in found
    assert not found & (LARGE | SLOW | RARE | {"flatcut.drawing.ink", "flatcut.marking.derived"})
    assert rooms(found) == {"cli", "declared", "drawing", "formats", "geometry", "marking", "pattern", "reports"}


def test_a_press_loads_one_operation_and_no_report(tmp_path, drawing):
    words = [f"--{key}={value}" for key, value in (opened("allowance") | {"width": "12"}).items()]
    found = loaded(tmp_path, PRESS, "--id=front", *words, drawing)
    assert {name for name in found if name.startswith("flatcut.operations.")} == {
        "flatcut.operations.allowance",
        "flatcut.operations.operation",
    }
    assert not found & (LARGE | SLOW | RARE | {"argparse", "pkgutil", "subprocess", "traceback"})
    needed = {"declared", "dialogs", "drawing", "editor", "formats", "geometry", "marking", "operations", "pattern"}
    assert rooms(found) == needed


def test_what_hands_a_document_over_loads_nothing_of_what_is_not_there(tmp_path):
    """All that the editor's Python loads before it becomes the other one is loaded in vain."""
    found = loaded(tmp_path, f"{SCRIPT}; {SAY}")
    assert not found & (LARGE | SLOW | {"numpy", "lxml", "dataclasses", "inspect", "pathlib", "subprocess", "typing"})
    assert rooms(found) == {"editor"}

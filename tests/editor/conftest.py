"""What the tests in the editor share: a profile with the plugin, and the files that presses start from."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

from flatcut.cli import main
from tests.editor import driver
from tests.editor.cases import STARTS


@pytest.fixture(scope="session")
def host(tmp_path_factory):
    return driver.installed(tmp_path_factory.mktemp("profile"))


@pytest.fixture(scope="session")
def handing(host, tmp_path_factory):
    """The same plugin where every document goes to the Python that runs the tests."""
    return driver.handing(host, tmp_path_factory.mktemp("handing"))


@pytest.fixture(scope="session")
def pictures(pytestconfig) -> bool:
    """Whether the screen is photographed: where a folder is named for it, and for the docs."""
    return bool(pytestconfig.getoption("shots")) or os.environ.get("FLATCUT_UPDATE") == "1"


@pytest.fixture(scope="session")
def drawing() -> bytes:
    return (Path(__file__).parent / "drawing.svg").read_bytes()


@pytest.fixture(scope="session")
def starts(tmp_path_factory, drawing):
    """The files that presses start from, made by commands."""
    folder = tmp_path_factory.mktemp("starts")
    files = {}
    for name, lines in STARTS.items():
        here = folder / f"{name}-0.svg"
        here.write_bytes(drawing)
        for number, line in enumerate(lines, start=1):
            here = command(line.split(), here, folder / f"{name}-{number}.svg")
        files[name] = folder / f"{name}.svg"
        shutil.copy(here, files[name])
    return files


def command(words, source, target):
    """A command from one file into another; the other file."""
    assert main([*words, "-i", str(source), "-o", str(target)]) == 0, words
    return target

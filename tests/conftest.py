"""Which flatcut is tested, and the switches.

The installed flatcut is tested, or, where none is installed, the one of this checkout; never both.
FLATCUT_LONG=1 runs long tests; FLATCUT_EDITOR=1 or CI=true makes a missing editor a failure.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from pathlib import Path

import pytest
from hypothesis import settings

if importlib.util.find_spec("flatcut") is None:
    sys.path.insert(0, str(Path(__file__).parents[1] / "core"))

settings.register_profile("untimed", deadline=None)  # a busy machine is no fault of the code's
settings.load_profile("untimed")

EDITOR_NEEDS = ("inkscape", "Xvfb", "xvfb-run", "xdotool", "import")
"""Programs that a test in the real editor needs; the last is imagemagick's."""


def _on(name: str) -> bool:
    return os.environ.get(name, "").lower() in ("1", "true", "yes")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--shots", default="", help="a folder for pictures of the editor's windows")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if not _on("FLATCUT_LONG"):
        for item in items:
            if item.get_closest_marker("long"):
                item.add_marker(pytest.mark.skip(reason="a long run; FLATCUT_LONG=1 switches it on"))


def pytest_runtest_setup(item: pytest.Item) -> None:
    if not item.get_closest_marker("editor"):
        return
    missing = [name for name in EDITOR_NEEDS if shutil.which(name) is None]
    if missing and (_on("CI") or _on("FLATCUT_EDITOR")):
        pytest.fail(f"the tests in the real editor must run here, and {', '.join(missing)} is missing", pytrace=False)
    if missing:
        pytest.skip(f"no real editor to test in: {', '.join(missing)} is missing")

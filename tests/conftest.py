"""Which flatcut is tested, and the switches.

The installed flatcut is tested, or, where none is installed, the one of this checkout; never both.
FLATCUT_LONG=1 runs long tests; FLATCUT_EDITOR=1 or CI=true makes a missing editor a failure. Random tests draw the same
examples in every run; --hypothesis-profile=others draws others, the same again with --hypothesis-seed=N.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

# as `flatcut` itself has it, before numpy is loaded: with as many processes as cores a second thread only waits
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

if importlib.util.find_spec("flatcut") is None:
    sys.path.insert(0, str(Path(__file__).parents[1] / "core"))

# a busy machine is no fault of the code's; a red run must be red again on the next machine
settings.register_profile("usual", deadline=None, derandomize=True)
settings.register_profile("others", deadline=None, print_blob=True)
settings.load_profile("usual")

EDITOR_NEEDS = ("inkscape", "Xvfb", "xvfb-run", "xdotool", "import")
"""Programs that a test in the real editor needs; the last is imagemagick's."""


def _on(name: str) -> bool:
    return os.environ.get(name, "").lower() in ("1", "true", "yes")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--shots", default="", help="a folder for pictures of the editor's windows")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """`-n auto`: a process more than cores, for the one that drives the editor waits half of its time."""
    chosen = "PYTEST_XDIST_AUTO_NUM_WORKERS" in os.environ or config.option.numprocesses != "auto"
    return None if chosen else (os.cpu_count() or 1) + 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> object:
    from tests.scheduling import Groups

    return Groups(config, log) if config.getoption("dist") == "load" else None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    left_out, why = ("long", "a long run; FLATCUT_LONG=1 switches it on")
    if _on("FLATCUT_LONG"):
        left_out, why = ("brief", "the long run of the same holds more")
    for item in items:
        if item.get_closest_marker(left_out):
            item.add_marker(pytest.mark.skip(reason=why))


def pytest_runtest_setup(item: pytest.Item) -> None:
    if not item.get_closest_marker("editor"):
        return
    missing = [name for name in EDITOR_NEEDS if shutil.which(name) is None]
    if missing and (_on("CI") or _on("FLATCUT_EDITOR")):
        pytest.fail(f"the tests in the real editor must run here, and {', '.join(missing)} is missing", pytrace=False)
    if missing:
        pytest.skip(f"no real editor to test in: {', '.join(missing)} is missing")

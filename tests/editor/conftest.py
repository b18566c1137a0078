"""One profile with the plugin in it for all tests in the editor."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.editor.driver import installed


@pytest.fixture(scope="session")
def host(tmp_path_factory):
    return installed(tmp_path_factory.mktemp("profile"))


@pytest.fixture(scope="session")
def drawing() -> bytes:
    return (Path(__file__).parent / "drawing.svg").read_bytes()

"""The examples in the docstrings, run on the very modules that all other tests import."""

from __future__ import annotations

import doctest
import pkgutil
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

import pytest

import flatcut

FOUND = sorted(
    module.name
    for module in pkgutil.walk_packages(flatcut.__path__, "flatcut.")
    # running `python -m flatcut` is what its __main__ is for, and the editor's script needs the editor's library
    if not module.name.endswith("__main__") and not module.name.startswith("flatcut.extensions")
)

MODULES = [name for name in FOUND if ">>>" in Path(str(find_spec(name).origin)).read_text(encoding="utf-8")]
"""The modules with examples; the others are imported by what uses them."""


@cache
def run(name: str) -> doctest.TestResults:
    return doctest.testmod(import_module(name))


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name):
    assert run(name).failed == 0, "see the captured output"
    assert run(name).attempted > 0


def test_there_are_examples():
    assert len(MODULES) > 50
    assert sum(run(name).attempted for name in MODULES) > 100

"""Every press with the library of a newer editor, fetched from the package index; it needs no editor."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from lxml import etree

from flatcut.editor.host import Host, script_environment, script_facts
from flatcut.editor.install import install, try_it
from flatcut.formats.svg.read import read
from tests.editor import driver
from tests.editor.cases import CASES
from tests.editor.comparing import assert_alike
from tests.editor.conftest import command

pytestmark = pytest.mark.long

LIBRARY = ("inkex>=1.4,<1.5", "cssselect>=1.2", "tinycss2>=1.2", "webencodings>=0.5")
"""The library and what it imports beside numpy and lxml; with all that it names, it would need a compiler."""


@pytest.fixture(scope="module")
def newer(tmp_path_factory):
    """The plugin in a profile of an editor that has this library and runs scripts with the Python of the tests."""
    folder = tmp_path_factory.mktemp("newer")
    target = folder / "shared" / "extensions"
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--no-input"]
    done = subprocess.run(
        [*pip, "--no-deps", "--only-binary=:all:", "--target", str(target), *LIBRARY],
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["pip said nothing"])[-1]
        why = f"a newer library of the editor could not be fetched: {last}"
        if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
            pytest.fail(why, pytrace=False)
        pytest.skip(why)
    profile, program = folder / "profile", str(Path(sys.executable).with_name("inkscape"))
    environment = script_environment(program, profile, folder / "shared")
    host = Host(
        program=program,
        profile=profile,
        shared=folder / "shared",
        python=sys.executable,
        facts=script_facts((sys.executable,), environment),
    )
    install(host, fetch=False)
    return host


def test_it_is_the_newer_one(newer):
    words = [newer.python, "-c", "import inkex; print(inkex.__version__)"]
    done = subprocess.run(words, env=newer.environment(), capture_output=True, text=True, check=True)
    assert done.stdout.startswith("1.4.")


def test_the_trial_works(newer):
    works, said = try_it(newer)
    assert works, said


@pytest.mark.parametrize("name", CASES)
def test_the_script_does_what_the_command_does(name, newer, starts, tmp_path):
    case = CASES[name]
    result, said = driver.alone(newer, name, starts[case.start], case.select, case.fill)
    assert said == ""
    wanted = command([name, *case.command], starts[case.start], tmp_path / "wanted.svg")
    assert_alike(result, wanted)


def test_the_same_where_it_hands_over(newer, starts, tmp_path):
    other = driver.handing(newer, tmp_path)
    result, said = driver.alone(other, "piece", starts["drawn"], ["front"], {"names": "front"})
    assert said == ""
    assert [piece.name for piece in read(result)[1].pieces] == ["front"]


def test_an_error_is_one_sentence_and_no_drawing(newer, starts):
    result, said = driver.alone(newer, "seam", starts["drawn"], [], {})
    assert (result, said) == (b"", "seam takes two runs, and 0 are given; join edges of one run by +\n")


def test_an_error_of_a_dialog_with_a_preview_stands_in_the_drawing(newer, starts):
    """A preview opens no window: nothing is drawn but the sentence."""
    result, said = driver.alone(newer, "piece", starts["drawn"], [], {})
    assert said == ""
    assert "nothing is selected; select closed paths first" in " ".join(etree.fromstring(result).itertext())
    assert read(result)[1].pieces == ()

"""The script that the editor starts: what it says and when, whichever way it goes. It needs no window."""

from __future__ import annotations

import json
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest
from lxml import etree

from flatcut.editor.host import Host
from flatcut.editor.install import try_it
from flatcut.editor.ways import OTHER, RECORD, hand_over
from flatcut.formats.svg.read import read
from flatcut.pattern.comparing import differences
from tests.editor.driver import alone

pytestmark = pytest.mark.editor


@pytest.fixture(params=["as installed", "handing over"])
def each(request, host, handing):
    return host if request.param == "as installed" else handing


@pytest.fixture
def file(tmp_path, drawing):
    path = tmp_path / "in.svg"
    path.write_bytes(drawing)
    return path


def test_a_normal_run_says_nothing(each, file):
    result, said = alone(each, "piece", file, ["front", "back"], {"names": "front,back"})
    assert said == ""
    assert [piece.name for piece in read(result)[1].pieces] == ["front", "back"]


def test_both_ways_give_the_same(host, handing, file):
    one, other = (alone(each, "piece", file, ["sleeve"], {"names": "sleeve"})[0] for each in (host, handing))
    assert differences(read(one)[1], read(other)[1], tolerance=1e-9) == []


def test_a_python_beside_this_one_gives_the_same(handing, file):
    """As it goes where no process can become another one."""
    ended, drawing, said = hand_over(handing.folder, ["--operation=piece", "--id=sleeve", str(file)], file.read_bytes())
    assert (ended, said) == (0, "")
    assert drawing == alone(handing, "piece", file, ["sleeve"], {})[0]


def test_an_empty_selection_is_one_sentence_and_no_drawing(each, file):
    assert alone(each, "join", file, [], {}) == (b"", "nothing is selected; select the two edges first\n")


def test_a_dialog_with_a_preview_says_it_in_the_drawing_and_opens_no_window(each, file):
    result, said = alone(each, "piece", file, [], {})
    assert said == ""
    assert b"nothing is selected; select closed paths" in result
    assert read(result)[1].pieces == ()


@pytest.mark.parametrize(
    ("name", "ids", "filled", "sentence"),
    [
        ("allowance", ["note"], {}, "the text 'toile' is selected, and an edge, a piece or a stretch is wanted"),
        ("allowance", ["front"], {"target": "front"}, "there is no piece 'front'"),
        ("piece", ["front"], {"names": "1st"}, "'1st' cannot be a piece's name"),
        ("piece", ["front"], {"corner_angle": "500"}, "must lie between"),
        ("piece", ["yoke"], {}, "is not closed"),
    ],
)
def test_an_error_is_one_sentence_and_no_drawing(each, file, name, ids, filled, sentence):
    result, said = alone(each, name, file, ids, filled)
    assert said == ""
    words = " ".join("".join(row.itertext()) for row in etree.fromstring(result).iter("{*}tspan"))
    assert sentence in words
    assert "Traceback" not in words
    before, after = read(file.read_bytes())[1], read(result)[1]
    assert (after.pieces, after.steps) == (before.pieces, before.steps)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg",
        b'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]><svg xmlns="http://www.w3.org/2000/svg">&a;</svg>',
    ],
)
def test_bad_documents_are_one_sentence(each, file, data):
    file.write_bytes(data)
    result, said = alone(each, "piece", file, ["front"], {})
    assert result == b""
    assert said.startswith("the document")
    assert len(said.splitlines()) == 1


def broken(each, tmp_path, text):
    """A copy of the plugin with one operation that does not work."""
    profile = tmp_path / "profile"
    shutil.copytree(each.folder, profile / "extensions" / "flatcut")
    copy = Host(program=each.program, profile=profile, shared=each.shared, python=each.python, facts=each.facts)
    module = copy.folder / "operations" / "style.py"
    module.write_text(module.read_text() + text)
    return copy


def test_a_fault_of_our_own_is_one_sentence_with_the_place_of_the_details(each, file, tmp_path):
    copy = broken(each, tmp_path, "\n\ndef _broken(self, pattern):\n    1 / 0\n\n\nSetStyle._apply = _broken\n")
    result, said = alone(copy, "style", file, [], {"name": "x"})
    assert result == b""
    assert len(said.splitlines()) == 1
    assert "changed nothing" in said
    log = Path(said.rsplit(" in ", 1)[1].strip())
    assert log.parent == Path(tempfile.gettempdir())
    assert "ZeroDivisionError" in log.read_text()
    log.unlink()


def test_warnings_and_prints_of_other_packages_open_no_window(host, file, tmp_path):
    noise = "\n\nimport warnings\nwarnings.warn('old', DeprecationWarning)\nopen(__file__)\n"
    result, said = alone(broken(host, tmp_path, noise), "style", file, [], {"name": "x"})
    assert said == ""
    assert read(result)[1].style.name == "x"


def test_a_python_that_has_gone_is_said(handing, file, tmp_path):
    profile = tmp_path / "profile"
    shutil.copytree(handing.folder, profile / "extensions" / "flatcut")
    gone = Host(
        program=handing.program, profile=profile, shared=handing.shared, python=handing.python, facts=handing.facts
    )
    (gone.folder / RECORD).write_text(json.dumps({"way": OTHER, "python": str(tmp_path / "python")}))
    result, said = alone(gone, "piece", file, ["front"], {})
    assert result == b""
    assert said == "flatcut's packages do not fit the editor's Python any more; run: flatcut editor install\n"


def test_status_tries_it(each):
    works, said = try_it(each)
    assert works, said


def test_it_runs_without_the_environment_of_the_editor(host, file):
    """The package is found from where the script lies, also when PYTHONPATH names the editor's library only."""
    env = host.environment() | {"PYTHONPATH": str(host.shared / "extensions")}
    words = [host.python, "flatcut_press.py", "--operation=piece", "--id=front", str(file)]
    done = subprocess.run(words, cwd=host.folder / "extensions", env=env, capture_output=True, check=False)
    assert (done.stderr, len(read(done.stdout)[1].pieces)) == (b"", 1)

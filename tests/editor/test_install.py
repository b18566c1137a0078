"""Putting the plugin into a profile and taking it out: nothing that is not ours is touched, twice is as once."""

from __future__ import annotations

import re
import shutil
import stat

import pytest

from flatcut.cli import main
from flatcut.dialogs import opening
from flatcut.editor.host import find_host, script_python
from flatcut.editor.install import install, remove, status
from flatcut.editor.ways import DEPENDENCIES, RECORD, record
from flatcut.errors import InputError, OutputError
from flatcut.operations.operation import names
from flatcut.reports import report

pytestmark = pytest.mark.editor


@pytest.fixture
def fresh(host, tmp_path):
    """An installed plugin of its own, made quickly: what was fetched once is taken over."""
    profile = tmp_path / "profile"
    (profile / "extensions").mkdir(parents=True)
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    return find_host(profile=str(profile))


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_status_install_remove(tmp_path, capsys):
    profile = f"--profile={tmp_path / 'a profile'}"
    assert main(["editor", "status", profile]) == 1
    assert "run: flatcut editor install" in capsys.readouterr().out
    assert main(["editor", "install", profile, "--fetch=false"]) == 0
    assert "start Inkscape anew" in capsys.readouterr().out
    assert main(["editor", "status", profile]) == 0
    assert re.search(r"a trial worked, in \d\.\d\d s", capsys.readouterr().out)
    assert main(["editor", "remove", profile]) == 0
    assert list((tmp_path / "a profile" / "extensions").iterdir()) == []
    assert main(["editor", "remove", profile]) == 0
    assert "there is no flatcut" in capsys.readouterr().out


def test_all_dialogs_are_there_and_no_script_in_the_root(host):
    scripts = host.folder / "extensions"
    shown = {cls.command for cls in report.with_dialog()}
    assert set(report.names()) - shown == {"nest", "pieces", "rules", "steps"}, "which take several, or only print"
    makers = {f"{name}-to-file" for name in shown if report.load(name).saves}
    assert {path.stem for path in scripts.glob("*.inx")} == {*names(), *shown, *makers, "first-steps", opening.COMMAND}
    assert not list(host.folder.glob("*.inx"))
    assert (scripts / "flatcut_press.py").is_file()


def test_twice_is_as_once(fresh):
    before = tree(fresh.folder)
    install(fresh)
    assert tree(fresh.folder) == before
    assert [path.name for path in fresh.folder.parent.iterdir()] == ["flatcut"]


def test_an_old_one_is_replaced_whole(fresh):
    (fresh.folder / "operations" / "gone.py").write_text("")
    (fresh.folder / "units.py").write_text("broken")
    install(fresh)
    assert not (fresh.folder / "operations" / "gone.py").exists()
    assert status(fresh)[0]


def test_a_failed_install_leaves_the_old_one(fresh, monkeypatch):
    before = tree(fresh.folder)

    def full(package):
        (package / "half").mkdir(parents=True)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("flatcut.editor.install.copied", full)
    with pytest.raises(OutputError, match="no space left"):
        install(fresh)
    assert tree(fresh.folder) == before
    assert [path.name for path in fresh.folder.parent.iterdir()] == ["flatcut"]


def test_a_folder_of_somebody_else_is_left_alone(tmp_path):
    theirs = tmp_path / "extensions" / "flatcut"
    theirs.mkdir(parents=True)
    (theirs / "mine.txt").write_text("mine")
    host = find_host(profile=str(tmp_path))
    for act in (install, remove):
        with pytest.raises(OutputError, match="not put there by flatcut"):
            act(host)
    assert tree(theirs) == {"mine.txt": b"mine"}


def test_neighbours_are_left_alone(fresh):
    beside = fresh.folder.parent / "other" / "other.py"
    beside.parent.mkdir()
    beside.write_text("x")
    install(fresh)
    remove(fresh)
    assert beside.read_text() == "x"


def test_packages_that_do_not_fit_are_not_kept(fresh):
    if record(fresh.folder)["way"] != "beside":
        pytest.skip("the editor's Python has all packages itself")
    stamp = fresh.folder / DEPENDENCIES / "stamp"
    stamp.write_text("cpython-26 elsewhere")
    install(fresh, fetch=False)
    assert record(fresh.folder)["way"] == "other"
    assert not (fresh.folder / DEPENDENCIES).exists()
    assert status(fresh)[0]


def test_a_python_without_the_editors_library_is_refused(fresh):
    crippled = type(fresh)(
        program=fresh.program,
        profile=fresh.profile,
        shared=fresh.shared,
        python=fresh.python,
        facts={**fresh.facts, "trouble": "No module named 'lxml'"},
    )
    with pytest.raises(InputError, match="No module named 'lxml'"):
        install(crippled)


def test_the_python_of_the_preferences_comes_first(tmp_path):
    python = tmp_path / "bin" / "my-python"
    python.parent.mkdir()
    python.write_text("#!/bin/sh\n")
    python.chmod(python.stat().st_mode | stat.S_IXUSR)
    (tmp_path / "preferences.xml").write_text(
        f'<inkscape><group id="extensions" python-interpreter="{python}"/></inkscape>'
    )
    assert script_python(tmp_path, "/nowhere") == str(python)
    (tmp_path / "preferences.xml").write_text("<inkscape/>")
    with pytest.raises(InputError, match="no Python"):
        script_python(tmp_path, "/nowhere")


def test_calls_that_say_nothing_or_too_much(capsys):
    for line in (["editor"], ["editor", "instal"], ["editor", "install", "now"], ["editor", "status", "--profil=x"]):
        assert main(line) == 2
    assert main(["editor", "status", "--program=no-such-editor"]) == 2
    assert "no no-such-editor is found" in capsys.readouterr().err


def test_the_record_says_who_installed(fresh):
    assert set(record(fresh.folder)) == {"version", "python", "way"}
    assert (fresh.folder / RECORD).is_file()

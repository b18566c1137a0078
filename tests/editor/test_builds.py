"""Builds of the editor that are no command on the path, as fakes: their folders, and wrappers that start the real one.

What a Flatpak, a Snap, an AppImage, Windows and macOS really do is not tried here; the README says so.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.editor.builds import APP, APPIMAGE, FLATPAK, MACOS, PERMIT, SNAP, WINDOWS, Place, builds
from flatcut.editor.host import find_host
from flatcut.editor.install import install, status
from flatcut.editor.ways import record
from flatcut.errors import InputError

pytestmark = pytest.mark.editor

REAL = shutil.which("inkscape") or ""
PYTHON = "/usr/bin/python3"

FAKE_FLATPAK = f"""#!/bin/sh
# flatpak run [--command=C] [--env=N=V]... {APP} ARGUMENTS
shift
program={REAL}
while [ "$1" != {APP} ]; do
  case "$1" in
    --command=*) program=${{1#--command=}} ;;
    --env=*) export "${{1#--env=}}" ;;
  esac
  shift
done
shift
exec "$program" "$@"
"""
FAKE_SNAP = f"""#!/bin/sh
# snap run inkscape ARGUMENTS, or snap run --shell inkscape -c COMMAND ARGUMENTS
shift
if [ "$1" = --shell ]; then
  shift 2
  exec sh "$@"
fi
shift
exec {REAL} "$@"
"""
FAKE_SPAWN = """#!/bin/sh
# flatpak-spawn --host COMMAND
echo "$@" >> "$SPAWNED"
shift
exec "$@"
"""
STARTS_IT = f"""#!/bin/sh
exec {REAL} "$@"
"""


def program(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)
    path.chmod(0o755)
    return path


@pytest.fixture
def place(tmp_path, monkeypatch):
    """A home and a system in which no editor is on the path."""
    home, root = tmp_path / "home", tmp_path / "root"
    home.mkdir()
    (tmp_path / "bin").mkdir()
    for name in ("sh", "env", "python3"):
        (tmp_path / "bin" / name).symlink_to(shutil.which(name, path="/usr/bin:/bin"))

    def of(platform: str = "linux", **variables: str) -> Place:
        path = str(tmp_path / "bin")
        return Place(home=home, root=root, variables={"PATH": path, **variables}, platform=platform)

    return of


def test_nothing_is_found_where_nothing_is(place):
    assert builds(place()) == []
    with pytest.raises(InputError, match="no Inkscape is found; install it, or say --program=FILE, or --profile=DIR"):
        find_host(place=place())


def test_a_flatpak_hands_documents_over_and_says_what_it_needs(place, tmp_path, monkeypatch):
    program(tmp_path / "bin" / "flatpak", FAKE_FLATPAK)
    program(tmp_path / "bin" / "flatpak-spawn", FAKE_SPAWN)
    monkeypatch.setenv("SPAWNED", str(tmp_path / "spawned"))
    monkeypatch.setenv("PATH", f"{tmp_path / 'bin'}{os.pathsep}{os.environ['PATH']}")
    profile = tmp_path / "home" / ".var" / "app" / APP / "config" / "inkscape"
    profile.mkdir(parents=True)
    host = find_host(place=place())
    assert (host.build.kind, host.profile) == (FLATPAK, profile)
    assert host.facts["python"][0] == 3
    said = install(host, fetch=False)
    assert any(PERMIT in line for line in said)
    assert "the editor as Flatpak" in said[0]
    assert record(host.folder)["outside"] == ["flatpak-spawn", "--host"]
    works, told = status(host)
    assert works, told
    assert "--host" in (tmp_path / "spawned").read_text()  # the trial went that way


def test_a_snap_takes_packages_beside_the_plugin_or_says_that_it_cannot_work(place, host, tmp_path):
    program(tmp_path / "bin" / "snap", FAKE_SNAP)
    (tmp_path / "home" / "snap" / "inkscape").mkdir(parents=True)
    found = find_host(place=place())
    assert (found.build.kind, found.profile.parts[-4:]) == (SNAP, ("inkscape", "common", ".config", "inkscape"))
    if record(host.folder)["way"] != "beside":
        pytest.skip("the editor's Python has all packages itself")
    with pytest.raises(InputError, match="a Snap starts no other Python; take the editor as a package"):
        install(found, fetch=False)
    shutil.copytree(host.folder, found.folder)  # with the packages that were fetched for this Python
    said = install(found, fetch=False)
    assert any("packages put beside the plugin" in line for line in said)
    works, told = status(found)
    assert works, told


def test_an_appimage_is_found_by_its_file(place, tmp_path):
    file = program(tmp_path / "home" / "Applications" / "Inkscape-1.4.2.AppImage", STARTS_IT)
    host = find_host(place=place())
    assert (host.build.kind, host.program) == (APPIMAGE, str(file))
    assert host.profile == tmp_path / "home" / ".config" / "inkscape"
    install(host)
    assert record(host.folder)["way"] == "other"
    works, told = status(host)
    assert works
    assert "which cannot be asked from here" in told[0]
    assert "0 First steps" in told[-1]


def test_windows_and_macos_are_found_in_their_usual_folders(place, tmp_path):
    files, roaming = tmp_path / "Program Files", tmp_path / "Roaming"
    program(files / "Inkscape" / "bin" / "inkscape.com", STARTS_IT)
    host = find_host(place=place("win32", ProgramFiles=str(files), APPDATA=str(roaming)))
    assert (host.build.kind, host.profile) == (WINDOWS, roaming / "inkscape")
    contents = tmp_path / "root" / "Applications" / "Inkscape.app" / "Contents"
    program(contents / "MacOS" / "inkscape", STARTS_IT)
    program(contents / "Resources" / "bin" / "python3", f'#!/bin/sh\nexec {PYTHON} "$@"\n')
    host = find_host(place=place("darwin"))
    assert (host.build.kind, host.profile.parts[-4:]) == (
        MACOS,
        ("Application Support", APP, "config", "inkscape"),
    )
    assert host.python == str(contents / "Resources" / "bin" / "python3")
    install(host, fetch=False)
    assert status(host)[0]
    # one that does not start from outside, as is told of newer ones
    program(contents / "Resources" / "bin" / "python3", "#!/bin/sh\nexit 1\n")
    host = find_host(place=place("darwin"))
    assert host.facts == {}
    assert any("it hands each document to" in line for line in install(host))


def test_the_store_of_windows_is_found_by_its_folder(place, tmp_path):
    store = tmp_path / "Local" / "Packages" / "0000.Inkscape_abc" / "LocalCache" / "Roaming" / "inkscape"
    store.mkdir(parents=True)
    host = find_host(place=place("win32", LOCALAPPDATA=str(tmp_path / "Local")))
    assert (host.profile, host.facts) == (store, {})


def test_a_second_editor_is_told(place, tmp_path):
    program(tmp_path / "bin" / "inkscape", STARTS_IT)
    (tmp_path / "home" / "snap" / "inkscape").mkdir(parents=True)
    host = find_host(place=place(), profile=str(tmp_path / "mine"))
    assert [one.kind for one in host.others] == [SNAP]
    assert any(line.startswith("the editor as Snap is there too") for line in install(host, fetch=False))


MANAGE = """
import sys
from unittest.mock import MagicMock
for name in ("requests", "cachecontrol", "appdirs"):  # for what it finds in the network, which is not asked
    sys.modules[name] = MagicMock()
sys.modules["appdirs"].user_cache_dir = lambda *_: sys.argv[3]
sys.path[:0] = [sys.argv[1]]
from inkman.target import ExtensionsTarget
target = ExtensionsTarget("extension", "Extensions", "extensions")
print(target._install(sys.argv[2], {}))
"""
"""What the window Manage Extensions does with an archive that is chosen in it."""


@pytest.mark.parametrize("options", [[], ["--hand-over"]])
def test_the_archive_is_installed_by_the_editors_own_installer(host, tmp_path, options, capsys, drawing):
    manager = host.shared / "extensions" / "inkman" / "inkman"
    if not manager.is_dir():
        pytest.skip("the editor has no window for extensions")
    archive, profile = tmp_path / "flatcut.zip", tmp_path / "profile"
    fetched = ["--fetch=false"] if record(host.folder)["way"] == "own" else []
    words = [] if options else [f"--profile={host.profile}"]
    assert main(["editor", "pack", "-o", str(archive), *words, *options, *fetched]) == 0
    assert "flatcut.zip is written" in capsys.readouterr().out
    profile.mkdir()
    environment = {**host.environment(), "INKSCAPE_PROFILE_DIR": str(profile)}
    done = subprocess.run(
        [host.python, "-c", MANAGE, str(manager), str(archive), str(tmp_path / "cache")],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert "Package installed!" in done.stdout, done.stderr
    (placed,) = (profile / "extensions").iterdir()
    scripts = placed / "flatcut" / "extensions"
    assert (scripts / "first-steps.inx").is_file()
    file = tmp_path / "drawing.svg"
    file.write_bytes(drawing)
    done = subprocess.run(
        [host.python, "flatcut_press.py", "--operation=piece", "--id=front", str(file)],
        cwd=scripts,
        env=environment,
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.stderr == b""
    assert b"flatcut:piece" in done.stdout
    noted = json.loads((placed / "flatcut" / "installed.json").read_text())
    assert noted["way"] == ("other" if options else record(host.folder)["way"])
    assert not options or noted["python"] == sys.executable


@pytest.mark.parametrize(
    "line",
    ["pack", "pack -o flatcut.tar", "install -o flatcut.zip", "pack -i a.svg -o flatcut.zip", "install --hand-over"],
)
def test_calls_that_pack_nothing(line, capsys):
    assert main(["editor", *line.split()]) == 2
    assert "pack" in capsys.readouterr().err

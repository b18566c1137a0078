"""The real editor, driven without a person: installed plugin, stored parameters, actions, a limit."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree
from xml.sax.saxutils import quoteattr

from flatcut.declared.declared import Declared
from flatcut.dialogs.files import dialog, identity
from flatcut.editor.host import Host, find_host
from flatcut.editor.install import install
from flatcut.editor.ways import DEPENDENCIES, OTHER, RECORD, record
from flatcut.operations.operation import load
from flatcut.reports import report
from tests.editor.screen import SIZE

PATIENCE = 60.0
"""Seconds that one start of the editor may take: a message opens a window that nobody closes."""


def installed(profile: Path, *, fetch: bool = True) -> Host:
    """A profile of its own with the plugin in it."""
    profile.mkdir(parents=True, exist_ok=True)
    host = find_host(profile=str(profile))
    install(host, fetch=fetch)
    return host


def handing(host: Host, profile: Path) -> Host:
    """The same plugin in another profile, as it is where the editor's Python cannot have shapely.

    Each document goes to the Python that installed the plugin, and no package lies beside it.
    """
    shutil.copytree(host.folder, profile / "extensions" / "flatcut", ignore=shutil.ignore_patterns(DEPENDENCIES))
    other = replace(host, profile=profile)
    (other.folder / RECORD).write_text(json.dumps(record(other.folder) | {"way": OTHER}), encoding="utf-8")
    return other


def declared(name: str) -> type[Declared]:
    """The operation or the report of that name."""
    return report.load(name) if name in report.names() else load(name)


def store(profile: Path, filled: Mapping[str, Mapping[str, str]], *, saved_as: str = "") -> None:
    """Write the parameters of dialogs, by operation, as the editor keeps them when a dialog is closed.

    saved_as: the report whose kind of file Save As and Save a Copy offer first.
    """
    groups = ("save_as", "save_copy") if saved_as else ()
    offered = "".join(f'<group id="{group}" default="{identity(declared(saved_as))}"/>' for group in groups)
    attributes = " ".join(
        f"{identity(declared(name))}.{key}={quoteattr(value)}"
        for name, values in filled.items()
        for key, value in values.items()
    )
    (profile / "preferences.xml").write_text(
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<inkscape version="1" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
        ' xmlns:sodipodi="http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd">\n'
        '<group id="options"><group id="boot" enabled="0" shown="1.2"/><group id="autosave" enable="0"/></group>\n'
        f'<group id="dialogs">{offered}</group><group id="extensions" {attributes}/></inkscape>\n',
        encoding="utf-8",
    )


def environment(profile: Path) -> dict[str, str]:
    """The editor's environment: its own profile, and nothing of the Python that runs the tests."""
    dropped = ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV", "PYTHONWARNINGS")
    return {**{k: v for k, v in os.environ.items() if k not in dropped}, "INKSCAPE_PROFILE_DIR": str(profile)}


def act(profile: Path, file: Path, actions: Iterable[str], *, patience: float = PATIENCE) -> str:
    """Open a file on a screen of its own and do the actions; what the editor said. Ends in any case."""
    return _ended(["xvfb-run", "-a", "-s", f"-screen 0 {SIZE}", *_batch(file, actions)], environment(profile), patience)


def act_on(display: str, profile: Path, file: Path, actions: Iterable[str], *, patience: float = PATIENCE) -> str:
    """The same on a screen that is there already."""
    return _ended(_batch(file, actions), environment(profile) | {"DISPLAY": display}, patience)


def _batch(file: Path, actions: Iterable[str]) -> list[str]:
    return ["inkscape", "--batch-process", f"--actions={';'.join(actions)}", str(file)]


def _ended(words: Sequence[str], env: Mapping[str, str], patience: float) -> str:
    """Run to the end or to the limit, then kill the whole group: the editor catches gentler signals and goes on."""
    process = subprocess.Popen(
        words,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=dict(env),
        start_new_session=True,
    )
    try:
        said, _ = process.communicate(timeout=patience)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        said, _ = process.communicate()
        said += "\n(stopped at the limit: most likely a window was open)"
    return said


def export(file: Path) -> list[str]:
    """The actions that write the document as it stands."""
    return [f"export-filename:{file}", "export-do"]


def press(name: str) -> str:
    """The action of a dialog's Apply button, with the stored parameters."""
    return f"{identity(declared(name))}.noprefs"


def select(ids: Sequence[str]) -> list[str]:
    """The actions that select these objects and no others."""
    return ["select-clear", *([f"select-by-id:{','.join(ids)}"] if ids else [])]


def alone(host: Host, name: str, file: Path, ids: Sequence[str], filled: Mapping[str, str]) -> tuple[bytes, str]:
    """One press without the editor: its script, started as the editor starts it; the drawing, and what it said."""
    handed = opened(name)
    for key, value in filled.items():
        mark = handed[key] in ("true", "false")
        handed[key] = {"0": "false", "1": "true"}[value] if mark else value
    given = [f"--{key}={value}" for key, value in handed.items()]
    done = subprocess.run(
        [host.python, "flatcut_press.py", *(f"--id={i}" for i in ids), *given, str(file)],
        cwd=host.folder / "extensions",
        env=host.environment(),
        capture_output=True,
        timeout=PATIENCE,
        check=False,
    )
    return done.stdout, done.stderr.decode()


def opened(name: str) -> dict[str, str]:
    """What stands in a dialog when it is opened for the first time, the hidden parameter included."""
    found = {}
    for param in ElementTree.fromstring(dialog(declared(name))).iterfind(".//{*}param"):
        option = param.find("{*}option")
        if param.get("type") != "notebook":
            found[param.get("name", "")] = (param.text or "") if option is None else option.get("value", "")
    return found

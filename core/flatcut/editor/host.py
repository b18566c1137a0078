"""The editor on this machine: its program, its profile, and the Python that it runs scripts with."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lxml import etree

from flatcut.editor.ways import LEAKS
from flatcut.errors import InputError, UsageError

PATIENCE = 60.0
"""Seconds that a question to the editor or to its Python may take."""

ASK = """
import importlib.util, json, sys, sysconfig
def trouble(name):
    try:
        __import__(name)
    except Exception as error:  # whatever keeps it from loading, the person is told
        return str(error)
    return ""
def version(name):
    if importlib.util.find_spec(name) is None:
        return ""
    module = __import__(name)
    return str(getattr(module, "__version__", "")) or "0"
print(json.dumps({
    "stamp": "%s %s" % (sys.implementation.cache_tag, sysconfig.get_platform()),
    "python": list(sys.version_info[:3]),
    "numpy": version("numpy"), "lxml": version("lxml"), "shapely": version("shapely"),
    "trouble": trouble("inkex.base"),
    "pip": importlib.util.find_spec("pip") is not None,
}))
"""


@dataclass(frozen=True, kw_only=True)
class Host:
    """program: the editor; profile: the person's folder; shared: the folder of the editor's own files.

    python: what runs scripts; facts: what that Python is and has, as ASK prints it.
    """

    program: str
    profile: Path
    shared: Path
    python: str
    facts: Mapping[str, Any]

    @property
    def folder(self) -> Path:
        """Where the plugin lies, or would lie."""
        return self.profile / "extensions" / "flatcut"

    def environment(self) -> dict[str, str]:
        """The environment in which the editor starts a script."""
        return script_environment(self.program, self.profile, self.shared)


def find_host(*, profile: str = "", program: str = "") -> Host:
    """Look for the editor. Errors: InputError when there is none, or it has no Python."""
    found = shutil.which(program or "inkscape")
    if found is None:
        raise InputError(f"no {program or 'inkscape'} is found; install Inkscape, or say --program=FILE")
    where = Path(profile).absolute() if profile else Path(_asked(found, "--user-data-directory"))
    shared = Path(_asked(found, "--system-data-directory"))
    environment = script_environment(found, where, shared)
    python = script_python(where, environment["PATH"])
    return Host(program=found, profile=where, shared=shared, python=python, facts=script_facts(python, environment))


def script_environment(program: str, profile: Path, shared: Path) -> dict[str, str]:
    """As the editor sets it: its own folder first on PATH, the extension folders on PYTHONPATH."""
    folders = [profile / "extensions", shared / "extensions", shared / "extensions" / "inkex" / "deprecated-simple"]
    kept = {key: value for key, value in os.environ.items() if key not in LEAKS}
    return {
        **kept,
        "PATH": os.pathsep.join([str(Path(program).resolve().parent), os.environ.get("PATH", "")]),
        "PYTHONPATH": os.pathsep.join(map(str, folders)),
        "PYTHONIOENCODING": "UTF-8",
        "INKSCAPE_PROFILE_DIR": str(profile),
        "DOCUMENT_PATH": "",
    }


def script_python(profile: Path, path: str) -> str:
    """The Python that the editor takes: the one set in its preferences, else the first on its PATH."""
    chosen = ""
    try:
        root = etree.parse(str(profile / "preferences.xml")).getroot()
        chosen = next(
            (g.get("python-interpreter", "") for g in root.iter("{*}group") if g.get("id") == "extensions"), ""
        )
    except (OSError, etree.XMLSyntaxError):
        pass  # a profile that was never used has none
    usual = ("pythonw", "python") if sys.platform == "win32" else ("python3", "python")
    for name in (chosen, *usual):
        found = shutil.which(name, path=path) if name else None
        if found is not None:
            return found
    raise InputError("Inkscape has no Python to run extensions with; install python3, and the packages it names")


def _asked(program: str, question: str) -> str:
    try:
        done = subprocess.run(
            [program, question], stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=PATIENCE, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        raise InputError(f"{program} does not answer; check that Inkscape starts") from None
    lines = done.stdout.strip().splitlines()
    if done.returncode or not lines:
        raise UsageError(f"{program} does not say its folders; it must be Inkscape 1.0 or newer")
    return lines[-1]


def script_facts(python: str, environment: Mapping[str, str]) -> dict[str, Any]:
    """What that Python is and has, as ASK prints it. Errors: InputError when it does not run."""
    try:
        done = subprocess.run(
            [python, "-c", ASK],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            env=dict(environment),
            timeout=PATIENCE,
            check=False,
        )
        found: dict[str, Any] = json.loads(done.stdout.strip().splitlines()[-1])
    except (OSError, subprocess.TimeoutExpired, ValueError, IndexError):
        raise InputError(
            f"the editor's Python, {python}, does not run; mend it or choose another in Inkscape"
        ) from None
    return found

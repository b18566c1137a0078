"""The editor on this machine: its program, its profile, and the Python that it runs scripts with."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from lxml import etree

from flatcut.editor.builds import PLAIN, THE_SYSTEMS, Build, Place, builds, of_folder, of_program
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

    python: what runs scripts; facts: what that Python is and has, as ASK prints it, empty where it cannot be asked.
    build: what the editor is; others: further builds that are there.
    """

    program: str
    profile: Path
    shared: Path
    python: str
    facts: Mapping[str, Any]
    build: Build = THE_SYSTEMS
    others: tuple[Build, ...] = ()

    @property
    def folder(self) -> Path:
        """Where the plugin lies, or would lie."""
        return self.profile / "extensions" / "flatcut"

    @property
    def command(self) -> tuple[str, ...]:
        """What starts its Python."""
        return python_command(self.build, self.profile, self.shared) or (self.python,)

    def environment(self) -> dict[str, str]:
        """The environment in which the editor starts a script."""
        return script_environment(self.program, self.profile, self.shared)


def find_host(*, profile: str = "", program: str = "", place: Place | None = None) -> Host:
    """Look for the editor: the program named, else the one of that folder, else whatever build can be seen.

    Errors: InputError when there is none, or it has no Python.
    """
    known = builds(place)
    if program:
        found = shutil.which(program)
        if found is None:
            raise InputError(f"no {program} is found; install Inkscape, or say --program=FILE")
        build = of_program(found)
    elif profile:
        build = of_folder(Path(profile).absolute(), known)
    elif known:
        build = known[0]
    else:
        raise InputError(
            "no Inkscape is found; install it, or say --program=FILE, or --profile=DIR: the folder above the one that "
            "Edit > Preferences > System calls User extensions"
        )
    others = tuple(one for one in known if one.kind != build.kind)
    if profile or build.profile is not None:
        where = Path(profile).absolute() if profile else build.profile
        assert where is not None
    else:
        where = Path(_asked(build.run, "--user-data-directory"))
    unknown = Host(program=build.run[0] if build.run else "", profile=where, shared=Path(), python="", facts={})
    if not build.askable:
        return replace(unknown, build=build, others=others)
    shared = Path(_asked(build.run, "--system-data-directory"))
    environment = script_environment(build.run[0], where, shared)
    command = python_command(build, where, shared)
    python = command[0] if command else script_python(where, environment["PATH"])
    try:
        facts = script_facts(command or (python,), environment)
    except InputError:
        if build.kind == PLAIN:
            raise
        return replace(unknown, build=build, others=others)
    return Host(
        program=build.run[0], profile=where, shared=shared, python=python, facts=facts, build=build, others=others
    )


def python_command(build: Build, profile: Path, shared: Path) -> tuple[str, ...]:
    """The command that starts a build's Python with the variables of a script, () where it is found on the PATH."""
    words: list[str] = []
    for word in build.python:
        if word.startswith("{environment:"):
            mark = word.removeprefix("{environment:").removesuffix("}")
            given = script_environment("", profile, shared)
            words += [f"{mark}{key}={given[key]}" for key in ("PYTHONPATH", "PYTHONIOENCODING", "INKSCAPE_PROFILE_DIR")]
        else:
            words.append(word)
    return tuple(words)


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


def _asked(program: Sequence[str], question: str) -> str:
    try:
        done = subprocess.run(
            [*program, question],
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=PATIENCE,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        raise InputError(f"{program[0]} does not answer; check that Inkscape starts") from None
    lines = done.stdout.strip().splitlines()
    if done.returncode or not lines:
        raise UsageError(f"{program[0]} does not say its folders; it must be Inkscape 1.0 or newer")
    return lines[-1]


def script_facts(python: Sequence[str], environment: Mapping[str, str]) -> dict[str, Any]:
    """What that Python is and has, as ASK prints it. Errors: InputError when it does not run."""
    try:
        done = subprocess.run(
            [*python, "-c", ASK],
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
            f"the editor's Python, {' '.join(python)}, does not run; mend it or choose another in Inkscape"
        ) from None
    return found

"""Putting the plugin into the editor's profile, and out of it again."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import flatcut
from flatcut.editor.builds import PLAIN, Build
from flatcut.editor.host import Host
from flatcut.editor.ways import BESIDE, DEPENDENCIES, OLDEST_PYTHON, OTHER, OWN, PATIENCE, RECORD, STAMP, record
from flatcut.errors import FlatcutError, InputError, OutputError

OLDEST = {"numpy": (1, 24), "lxml": (4, 9), "shapely": (2, 0)}
"""What the core needs; the same as in the project's own requirements."""

TRIAL = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" viewBox="0 0 100 100">'
    b'<path id="trial" d="M 10,10 H 90 V 90 H 10 Z"/></svg>'
)


def install(host: Host, *, fetch: bool = True) -> list[str]:
    """Copy flatcut into the profile and make sure that it runs there; what was done, as sentences.

    The new folder is made beside the old one and then takes its place; packages fetched earlier are kept while they
    fit. fetch: whether packages may be fetched for the editor's Python. Errors: OutputError, InputError.
    """
    extensions = host.folder.parent
    if host.facts and host.facts["trouble"]:
        raise InputError(
            f"the editor's Python, {host.python}, cannot load the editor's own library ({host.facts['trouble']}); "
            "install what it lacks, then try again"
        )
    if host.folder.exists() and not record(host.folder):
        raise OutputError(f"{host.folder} was not put there by flatcut; move it away first")
    try:
        extensions.mkdir(parents=True, exist_ok=True)
        _sweep(extensions)
        fresh = Path(tempfile.mkdtemp(prefix=".flatcut-", dir=extensions))
        try:
            package = fresh / "flatcut"
            copied(package)
            way, said = ready(host, package, fetch=fetch)
            noted(package, way, host.build)
            if host.facts:
                _compiled(host, package)
            fresh.chmod(0o755)
            if host.folder.exists():
                host.folder.rename(fresh / "old")
            package.rename(host.folder)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)
    except OSError as error:
        raise OutputError(
            f"the plugin cannot be put into {extensions}: {(error.strerror or str(error)).lower()}"
        ) from None
    others = [
        f"{one.named} is there too: flatcut editor install --profile={one.profile}"
        for one in host.others
        if one.profile
    ]
    return [
        f"flatcut {flatcut.__version__} is in {host.folder} ({host.build.named})",
        said,
        "start Inkscape anew to see its menu",
        *others,
    ]


def remove(host: Host) -> list[str]:
    """Take the plugin out; nothing that flatcut did not put there is touched. Errors: OutputError."""
    if not host.folder.exists():
        return [f"there is no flatcut in {host.folder.parent}"]
    if not record(host.folder):
        raise OutputError(f"{host.folder} was not put there by flatcut; remove it by hand if it is not wanted")
    try:
        shutil.rmtree(host.folder)
    except OSError as error:
        raise OutputError(f"{host.folder} cannot be removed: {(error.strerror or str(error)).lower()}") from None
    return [f"flatcut is no longer in {host.folder.parent}"]


def status(host: Host) -> tuple[bool, list[str]]:
    """Whether the plugin works, and sentences: where it is, which way it goes, what came of trying it."""
    said = [_runs(host)]
    kept = record(host.folder)
    if not kept:
        return False, [*said, f"there is no flatcut in {host.folder.parent}; run: flatcut editor install"]
    said.append(f"flatcut {kept.get('version', '?')} is in {host.folder}")
    said.append(_way_said(str(kept.get("way", OWN)), str(kept.get("python", ""))))
    works, trial = try_it(host)
    return works, [*said, trial]


def _runs(host: Host) -> str:
    """What runs the scripts of the editor."""
    if not host.facts:
        return f"{host.build.named} has a Python of its own, which cannot be asked from here"
    version = ".".join(map(str, host.facts["python"]))
    return f"{host.build.named} runs scripts with {host.python} (Python {version})"


def try_it(host: Host) -> tuple[bool, str]:
    """Press a button once, as the editor would; whether it worked, in a sentence."""
    from flatcut.formats.svg.read import read

    if not host.facts:
        return True, "a trial is not possible from here; press Extensions > Flatcut > 0 First steps, and Apply"
    scripts = host.folder / "extensions"
    with tempfile.TemporaryDirectory(dir=host.profile) as folder:  # which a closed-off build can see
        file = Path(folder) / "trial.svg"
        file.write_bytes(TRIAL)
        start = time.monotonic()
        words = ["flatcut_press.py", "--operation=piece", "--id=trial", str(file)]
        try:
            done = subprocess.run(
                [*host.command, *words],
                cwd=scripts,
                env=host.environment(),
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=PATIENCE,
                check=False,
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            return False, f"a trial did not run: {error}"
        taken = time.monotonic() - start
    told = done.stderr.decode("utf-8", "replace").strip()
    if told:
        return False, f"a trial failed: {told.splitlines()[-1]}"
    try:
        pieces = read(done.stdout)[1].pieces
    except FlatcutError as error:
        return False, f"a trial gave no drawing: {error}"
    if [len(piece.edges) for piece in pieces] != [4]:
        return False, "a trial gave another drawing than was asked for"
    return True, f"a trial worked, in {taken:.2f} s"


def scripts_folder() -> Path:
    """Where the dialogs and their script lie: in the package once it is installed, beside core/ in a checkout."""
    package = Path(flatcut.__file__).parent
    inside = package / "extensions"
    return inside if inside.is_dir() else package.parents[1] / "extensions"


def copied(package: Path) -> None:
    """Copy flatcut and its dialogs to where nothing is. Errors: InputError."""
    leave = shutil.ignore_patterns("__pycache__", "*.pyc", DEPENDENCIES, RECORD, "extensions", "samples")
    shutil.copytree(Path(flatcut.__file__).parent, package, ignore=leave)
    scripts = scripts_folder()
    if not any(scripts.glob("*.inx")):
        raise InputError(f"there are no dialogs in {scripts}; run: flatcut dialogs --write")
    shutil.copytree(scripts, package / "extensions", ignore=shutil.ignore_patterns("__pycache__", "*.pyc"))


def ready(host: Host, package: Path, *, fetch: bool) -> tuple[str, str]:
    """Choose the way, fetching packages where that helps; the way, and a sentence about it. Errors: InputError."""
    if not host.facts:
        return OTHER, _other(host.build)
    lacking = [name for name, oldest in OLDEST.items() if _number(host.facts[name]) < oldest]
    if tuple(host.facts["python"][:2]) < OLDEST_PYTHON:
        return OTHER, _other(host.build)
    if not lacking:
        return OWN, _way_said(OWN, "")
    # one that is there but too old stays first on the path, and nothing put behind it would be found
    if all(not host.facts[name] for name in lacking):
        old, beside = host.folder / DEPENDENCIES, package / DEPENDENCIES
        if _stamped(old) == host.facts["stamp"] and all((old / name).is_dir() for name in lacking):
            shutil.copytree(old, beside)
            return BESIDE, _way_said(BESIDE, "")
        if fetch and _fetched(host, beside, lacking):
            (beside / STAMP).write_text(host.facts["stamp"], encoding="utf-8")
            return BESIDE, _way_said(BESIDE, "")
        shutil.rmtree(beside, ignore_errors=True)
    return OTHER, _other(host.build)


def _other(build: Build) -> str:
    """That documents are handed over, and what that needs. Errors: InputError where the build lets nothing out."""
    if build.outside is None:
        raise InputError(f"{build.named} lacks packages that cannot be fetched, and {build.needs}")
    first = f"; it needs this once: {build.needs}" if build.needs else ""
    return _way_said(OTHER, sys.executable) + first


def _way_said(way: str, python: str) -> str:
    return {
        OWN: "it runs in the editor's Python, which has all that it needs",
        BESIDE: "it runs in the editor's Python, with packages put beside the plugin",
        OTHER: f"it hands each document to {python}",
    }[way]


def _fetched(host: Host, beside: Path, lacking: Iterable[str]) -> bool:
    """Whether pip could put the packages beside the plugin: that of the editor's Python, else our own on its behalf."""
    wanted = [f"{name}>={'.'.join(map(str, OLDEST[name]))}" for name in lacking]
    end = ["install", "--target", str(beside), "--only-binary=:all:", "--no-deps", "--quiet", "--no-input", *wanted]
    ours = [sys.executable, "-m", "pip"]
    calls = [[*ours, "--python", host.python, *end]] if host.build.kind == PLAIN else []
    if host.facts["pip"]:
        calls.insert(0, [*host.command, "-m", "pip", *end])
    calls += [[*ours, *end, *made] for made in [_made_for(host.facts)] if made]
    for words in calls:
        try:
            done = subprocess.run(
                [*words, "--disable-pip-version-check"],
                stdin=subprocess.DEVNULL,
                capture_output=True,
                timeout=PATIENCE,
                check=False,
            )
        except (OSError, subprocess.TimeoutExpired):
            continue
        if done.returncode == 0:
            return True
        shutil.rmtree(beside, ignore_errors=True)
    return False


def _made_for(facts: Mapping[str, Any]) -> list[str]:
    """What tells pip which Python packages are for that it does not run in; [] where there are none to be had.

    >>> _made_for({"stamp": "cpython-312 linux-x86_64", "python": [3, 12, 1]})[:3]
    ['--python-version=3.12', '--implementation=cp', '--abi=cp312']
    >>> _made_for({"stamp": "cpython-311 mingw_x86_64_ucrt", "python": [3, 11, 0]})
    []
    """
    tag, _, platform = facts["stamp"].partition(" ")
    kind, _, machine = platform.replace(".", "_").partition("-")
    known = {"linux": ("manylinux_2_28_", "manylinux2014_"), "win": ("win_",), "macosx": ("macosx_",)}
    if not tag.startswith("cpython-") or kind not in known:
        return []
    number = tag.removeprefix("cpython-")
    words = [f"--python-version={'.'.join(map(str, facts['python'][:2]))}", "--implementation=cp", f"--abi=cp{number}"]
    return words + [f"--platform={start}{machine.replace('-', '_')}" for start in known[kind]]


def noted(package: Path, way: str, build: Build | None = None) -> None:
    """Write down the way that was chosen."""
    kept: dict[str, Any] = {"version": flatcut.__version__, "python": sys.executable, "way": way}
    if way == OTHER and build is not None and build.outside:
        kept["outside"] = list(build.outside)
    (package / RECORD).write_text(json.dumps(kept, indent=1, sort_keys=True), encoding="utf-8")


def _compiled(host: Host, package: Path) -> None:
    """Compile once now instead of at the first press; without it the plugin works just as well."""
    compile_all: Callable[..., Any] = subprocess.run
    words = [*host.command, "-m", "compileall", "-q", "-d", str(host.folder), str(package)]
    try:
        compile_all(words, stdin=subprocess.DEVNULL, capture_output=True, timeout=PATIENCE, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return


def _sweep(extensions: Path) -> None:
    """Remove what an install that was broken off has left."""
    for left in extensions.glob(".flatcut-*"):
        shutil.rmtree(left, ignore_errors=True)


def _stamped(beside: Path) -> str:
    try:
        return (beside / STAMP).read_text(encoding="utf-8")
    except OSError:
        return ""


def _number(version: str) -> tuple[int, ...]:
    """The first two figures of a version.

    >>> _number("2.1.0rc1"), _number("")
    ((2, 1), ())
    """
    return tuple(map(int, re.findall(r"\d+", version)[:2]))

"""How the editor's Python reaches numpy, lxml and shapely: its own, those put beside the plugin, or another Python.

Runs before anything of that is known to be there, in whatever Python the editor has: it needs the standard library
only, and no newer words of the language. It loads little of that: where a document is handed over, all that is loaded
here is loaded in vain.
"""

from __future__ import annotations

import json
import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any, NoReturn

    Folder = str | os.PathLike[str]

OWN, BESIDE, OTHER = "own", "beside", "other"
"""The ways: the packages of the editor's Python, some put beside the plugin, all of it through another Python."""

RECORD = "installed.json"
DEPENDENCIES = "deps"
STAMP = "stamp"
OLDEST_PYTHON = (3, 10)

LEAKS = ("PYTHONPATH", "PYTHONHOME", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "PYTHONIOENCODING")
"""Variables that the editor sets for its own Python, and that would mislead another one."""

REFUSED = 2
"""How the other Python ends when it has a sentence to say in place of a drawing."""

PATIENCE = 300.0
"""Seconds that another Python may take; then something is wrong."""

PIPED = "-"
"""In place of a file: the document comes by the pipe."""

SAYS = "flatcut says: "
"""What stands before a sentence for the person beside a drawing; other packages may chatter on the same stream."""

CHILD = (
    "import sys; sys.path.insert(0, sys.argv.pop(1)); "
    "from flatcut.editor.bridge import main; sys.exit(main(sys.argv[1:]))"
)
"""What the other Python runs; -I keeps it from looking anywhere but here and at its own packages."""


def stamp() -> str:
    """What compiled packages must have been made for to run in this Python.

    >>> stamp() == stamp()
    True
    """
    import sysconfig

    return f"{sys.implementation.cache_tag} {sysconfig.get_platform()}"


def record(folder: Folder) -> dict[str, Any]:
    """What was noted when the plugin in this folder was installed; empty when it never was."""
    try:
        with open(os.path.join(folder, RECORD), encoding="utf-8") as opened:
            found = json.load(opened)
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def way(folder: Folder) -> str:
    """The way that this Python goes; packages beside the plugin are put on its path, behind its own.

    They are left alone when they were made for another Python, as after an update of the system.
    """
    if sys.version_info < OLDEST_PYTHON:
        return OTHER
    noted = record(folder).get("way", OWN)
    if noted != BESIDE:
        return str(noted)
    beside = os.path.join(folder, DEPENDENCIES)
    try:
        with open(os.path.join(beside, STAMP), encoding="utf-8") as opened:
            fits = opened.read() == stamp()
    except OSError:
        fits = False
    if fits and beside not in sys.path:
        sys.path.append(beside)
    return BESIDE if fits else OTHER


def become(folder: Folder, script: str, words: list[str], document: int) -> NoReturn:
    """Go on as the Python that installed the plugin, with the same script, which knows by `PIPED` that it is that one.

    document: a file descriptor; what it holds is that Python's standard input, for a build that is closed off has
    temporary files that no other program sees. Raises OSError when that Python is not there any more.
    """
    before = _other(folder)
    os.dup2(document, 0)
    os.execvpe(before[0], [*before, "-I", script, *words[:-1], PIPED], _clean())


def hand_over(folder: Folder, words: list[str], document: bytes) -> tuple[int, bytes, str]:
    """Let that Python do a press beside this one: how it ended, its output, and what it said.

    Raises OSError when that Python is not there any more.
    """
    import subprocess

    done = subprocess.run(
        [*_other(folder), "-I", "-c", CHILD, os.path.dirname(folder), *words[:-1], PIPED],
        input=document,
        capture_output=True,
        env=_clean(),
        timeout=PATIENCE,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr.decode("utf-8", "replace").strip()


def _other(folder: Folder) -> list[str]:
    """The words that start the Python that installed the plugin. Raises OSError where none is known."""
    noted = record(folder)
    python = noted.get("python", "")
    if not python:
        raise OSError("no other Python is known")
    return [*noted.get("outside", []), python]


def _clean() -> dict[str, str]:
    return {key: value for key, value in os.environ.items() if key not in LEAKS}


def sentence(chatter: str) -> str:
    """What flatcut says in all that a process of its own wrote on standard error.

    >>> sentence("a warning\\nflatcut says: nothing was found")
    'nothing was found'
    """
    return "\n".join(line.removeprefix(SAYS) for line in chatter.splitlines() if line.startswith(SAYS))

"""How the editor's Python reaches numpy, lxml and shapely: its own, those put beside the plugin, or another Python.

Runs before anything of that is known to be there, in whatever Python the editor has: it needs the standard library
only, and no newer words of the language.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

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


def record(folder: Path) -> dict[str, Any]:
    """What was noted when the plugin in this folder was installed; empty when it never was."""
    try:
        found = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def way(folder: Path) -> str:
    """The way that this Python goes; packages beside the plugin are put on its path, behind its own.

    They are left alone when they were made for another Python, as after an update of the system.
    """
    if sys.version_info < OLDEST_PYTHON:
        return OTHER
    noted = record(folder).get("way", OWN)
    if noted != BESIDE:
        return str(noted)
    beside = folder / DEPENDENCIES
    try:
        fits = (beside / STAMP).read_text(encoding="utf-8") == stamp()
    except OSError:
        fits = False
    if fits and str(beside) not in sys.path:
        sys.path.append(str(beside))
    return BESIDE if fits else OTHER


def hand_over(folder: Path, words: list[str], document: bytes) -> tuple[int, bytes, str]:
    """Let the Python that installed the plugin do a press: how it ended, its output, and what it said.

    The document goes by the pipe: a build that is closed off has temporary files that no other program sees.
    Raises OSError when that Python is not there any more.
    """
    import subprocess

    noted = record(folder)
    python = noted.get("python", "")
    if not python:
        raise OSError("no other Python is known")
    clean = {key: value for key, value in os.environ.items() if key not in LEAKS}
    done = subprocess.run(
        [*noted.get("outside", []), python, "-I", "-c", CHILD, str(folder.parent), *words[:-1], PIPED],
        input=document,
        capture_output=True,
        env=clean,
        timeout=PATIENCE,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr.decode("utf-8", "replace").strip()


def sentence(chatter: str) -> str:
    """What flatcut says in all that a process of its own wrote on standard error.

    >>> sentence("a warning\\nflatcut says: nothing was found")
    'nothing was found'
    """
    return "\n".join(line.removeprefix(SAYS) for line in chatter.splitlines() if line.startswith(SAYS))

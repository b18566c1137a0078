"""Which tests go to one process where there are several: those in the editor, and files that share what is made once.

The plugin has marks for this, which it writes into the names of tests; since pytest 9.2 that has no effect and is not
told, and what is made once was made in every process.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from xdist.scheduler import LoadScopeScheduling

SHARING = re.compile(r"scope=.(module|session)|^@cache", re.MULTILINE)
GARMENTS = "from tests.garments import"
"""In files that share the garments of `tests/garments.py`, each drafted once where all of these are in one process."""
WORN = "from tests.wearing import"
"""The same of garments worn."""


class Groups(LoadScopeScheduling):
    """Hands out groups, those of the most tests first, each to one process, and all other tests one by one."""

    def _split_scope(self, nodeid: str) -> str:
        return group(self.config.rootpath / nodeid.partition("::")[0]) or nodeid


@cache
def group(path: Path) -> str:
    """The group that all tests of a file, or of several, belong to; empty where each may be run anywhere.

    >>> group(Path(__file__).parent / "editor" / "test_press.py")
    'editor'
    """
    if path.parent.name == "editor":
        return "editor"
    text = path.read_text(encoding="utf-8")
    if GARMENTS in text:
        return "garments"
    if WORN in text:
        return "worn"
    return path.stem if SHARING.search(text) else ""

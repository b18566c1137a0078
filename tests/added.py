"""A copy of the tree to which files are added by hand, and the commands that are run in it, all in one process."""

from __future__ import annotations

import filecmp
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[1]
FOLDERS = {"flatcut": "core/flatcut", "flatcut/extensions": "extensions", "flatcut/samples": "samples"}
"""The folders of the package as it is installed, and those of the tree."""

_RUN = """
import contextlib, io, json, sys
from flatcut.cli import main
said = []
for words in json.loads(sys.argv[1]):
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        if words[0] == "-c":
            code = exec(words[1], {}) or 0
        else:
            code = main(words)
    said.append([code, *(stream.buffer.getvalue().decode() for stream in (out, err))])
print(json.dumps(said))
"""


class Said(NamedTuple):
    """What came of a command."""

    code: int
    out: str
    err: str


class Tree(NamedTuple):
    """A copy of the package, as it is installed."""

    folder: Path

    def run(self, *commands: str | Sequence[str]) -> list[Said]:
        """What each of some commands says, as words or in one text; `-c CODE` runs Python, which may print."""
        words = [one.split() if isinstance(one, str) else list(one) for one in commands]
        done = subprocess.run(
            [sys.executable, "-c", _RUN, json.dumps(words)],
            cwd=self.folder,
            # what is compiled for the first process serves the next ones, and lies beside the tree
            env={
                **os.environ,
                "PYTHONPATH": str(self.folder),
                "PYTHONDONTWRITEBYTECODE": "",
                "PYTHONPYCACHEPREFIX": f"{self.folder}-compiled",
            },
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return [Said(*said) for said in json.loads(done.stdout)]

    def told(self, *commands: str | Sequence[str], code: int = 0) -> list[str]:
        """What each of some commands says on either stream, all of them with one exit code."""
        said = self.run(*commands)
        assert {one.code for one in said} == {code}, said
        return [one.out + one.err for one in said]

    def touched(self) -> tuple[list[str], list[str]]:
        """The files that are not in our tree, and those that differ from it."""
        added, edited = [], []
        for here, there in FOLDERS.items():
            inside = [f"{one.removeprefix(here)[1:]}/" for one in FOLDERS if one.startswith(f"{here}/")]
            more, less = touched(self.folder / here, ROOT / there)
            added += [f"{here}/{name}" for name in more if not name.startswith(tuple(inside))]
            edited += [f"{here}/{name}" for name in less]
        return added, edited


def copied(folder: Path, files: Mapping[str, str]) -> Tree:
    """A copy of the tree with more files in its package, by their names below it."""
    for here, there in FOLDERS.items():
        shutil.copytree(ROOT / there, folder / here, ignore=shutil.ignore_patterns("__pycache__", "docs"))
    for name, text in files.items():
        (folder / "flatcut" / name).write_text(text, encoding="utf-8")
    return Tree(folder)


def touched(tree: Path, ours: Path) -> tuple[list[str], list[str]]:
    """The files of a copy of a folder that are not in ours, and those that differ."""
    found = sorted(path.relative_to(tree).as_posix() for path in tree.rglob("*") if path.is_file())
    known = [name for name in found if (ours / name).exists()]
    edited = [name for name in known if not filecmp.cmp(tree / name, ours / name, shallow=False)]
    return [name for name in found if name not in known], edited


def example(of: str) -> str:
    """The file that DEVELOPERS.md shows whose first line names `of`."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (found,) = (code for code in re.findall(r"```python\n(.*?)```\n", text, re.DOTALL) if f"`{of}`" in code)
    return found

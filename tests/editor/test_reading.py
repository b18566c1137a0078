"""What the editor says when it reads a drawing of flatcut's: nothing, and it keeps all of it."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from flatcut.formats.svg.read import read

pytestmark = pytest.mark.editor

GOLDEN = Path(__file__).parents[1] / "golden"


@pytest.mark.parametrize(("file", "words"), [("two-pieces.svg", 0), ("format-1.svg", 1)])
def test_the_editor_reads_what_it_does_not_know_without_a_word(tmp_path, file, words):
    copy = tmp_path / file
    copy.write_bytes((GOLDEN / file).read_bytes())
    after = tmp_path / "after.svg"
    done = subprocess.run(
        ["inkscape", str(copy), f"--export-filename={after}"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    # the older format shows that a word would be seen
    assert ("unknown type: flatcut" in done.stdout + done.stderr) == bool(words)
    before, kept = read(copy.read_bytes())[1], read(after.read_bytes())[1]
    assert (kept.seams, kept.steps, kept.style) == (before.seams, before.steps, before.style)

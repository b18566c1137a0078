"""The pictures of finished pieces in the docs are what the command draws today; FLATCUT_UPDATE=1 draws them anew."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from flatcut.checks.check import FAULT, load, names, run_checks
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.comparing import differences
from flatcut.recipe import read_recipe, replay

FOLDER = Path(__file__).parents[1] / "samples" / "docs" / "finish"


@pytest.mark.parametrize("name", ["corners", "marks"])
def test_the_picture_is_what_is_drawn(name):
    drawing, pattern, _ = read((FOLDER / f"{name}-drawn.svg").read_bytes())
    pattern = replay(read_recipe((FOLDER / f"{name}.recipe").read_text()), pattern)
    data = write(drawing, pattern)
    picture = FOLDER / f"{name}.svg"
    if os.environ.get("FLATCUT_UPDATE"):
        picture.write_bytes(data)
    kept, made = (read(text)[1] for text in (picture.read_bytes(), data))
    assert differences(kept, made, tolerance=1e-3) == []
    # the pieces stand alone, so their seams are sewn to nothing
    others = [load(check)() for check in names() if check != "open-edges"]
    assert [f.text for f in run_checks(pattern, others) if f.severity == FAULT] == []

"""The pictures of whole pieces in the docs are what the command draws today; FLATCUT_UPDATE=1 draws them anew."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from flatcut.checks.check import load, names, run_checks
from flatcut.findings import FAULT
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.comparing import differences
from flatcut.recipe import read_recipe, replay

DOCS = Path(__file__).parents[1] / "samples" / "docs"


@pytest.mark.parametrize("name", ["finish/corners", "finish/marks", "fullness/flare", "fullness/pleats"])
def test_the_picture_is_what_is_drawn(name):
    drawing, pattern, _ = read((DOCS / f"{name}-drawn.svg").read_bytes())
    pattern = replay(read_recipe((DOCS / f"{name}.recipe").read_text()), pattern)
    data = write(drawing, pattern)
    picture = DOCS / f"{name}.svg"
    if os.environ.get("FLATCUT_UPDATE"):
        picture.write_bytes(data)
    kept, made = (read(text)[1] for text in (picture.read_bytes(), data))
    # handles of a fair curve may differ from one version of a library to another
    assert differences(kept, made, tolerance=0.05 if name.startswith("fullness") else 1e-3) == []
    # the pieces stand alone, so their seams are sewn to nothing
    others = [load(check)() for check in names() if check != "open-edges"]
    assert [f.text for f in run_checks(pattern, others) if f.severity == FAULT] == []

"""Nodes at the real window: one put into an edge and pulled out, corners selected one by one and, of the cut line, all
at once.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from flatcut.formats.svg.read import read
from tests.editor import driver
from tests.editor.conftest import command
from tests.editor.designer import Designer
from tests.editor.screen import screen
from tests.editor.window import Window

pytestmark = pytest.mark.editor

PAGE = (400.0, 300.0)
BOX = """<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"
     inkscape:version="1.2.2" width="400mm" height="300mm" viewBox="0 0 400 300">
<path id="box" style="fill:none;stroke:#000000" d="M 80,40 H 240 V 260 H 80 Z"/></svg>
"""
"""160 x 220 mm."""
INSIDE, PULLED = (160, 40), (160, 70)
"""mm: a place on the top edge, and where the node that is put there is pulled to."""


def test_nodes_put_in_pulled_and_selected(host, tmp_path, pytestconfig, pictures):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    profile, work = tmp_path / "profile", tmp_path / "box.svg"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    driver.store(profile, {})
    (tmp_path / "drawn.svg").write_text(BOX)
    command(["piece", "id:box", "--names=box"], tmp_path / "drawn.svg", work)
    with screen() as shown, Window(profile, work, shown, pictures=pictures) as window:
        one = Designer(window, PAGE, host.shared, shots)
        one.keys("Escape", "n")
        one.click((80, 150))  # with the node tool a click on a line of a piece selects that line
        one.click(INSIDE, twice=True)
        one.drag(INSIDE, PULLED)
        # the new corner and the old one right of it are both ends of an edge
        one.click(PULLED)
        one.click((240, 40), more=True)
        one.press("allowance", {"units": "cm", "width": "2,5"})
        one.keys("Escape", "n")
        one.click((80, 150))
        # now it is the cut line, which lies over the stitch line; the editor hands nodes over in an order of its own
        one.drag((60, 280), (300, 240))
        one.press("edge", {"names": "lower edge"})
        saved = window.saved(tmp_path / "saved.svg")
    pattern = read(saved)[1]
    (piece,) = pattern.pieces
    made = [tuple(edge.start.round(0)) for edge in piece.edges]
    assert made == [(80, 40), pytest.approx(PULLED, abs=1), (240, 40), (240, 260), (80, 260)]
    wide = {edge.name: edge.allowance.width for edge in piece.edges if edge.allowance is not None}
    ((name, width),) = wide.items()
    assert np.allclose(piece.edge(name).start, PULLED, atol=1)
    assert width == 25.0
    assert np.allclose(piece.edge("lower-edge").start, (240, 260), atol=1e-3)
    steps = [step.line.split()[0] for step in pattern.steps]
    # that the edge is another one now is told, since no step repeats it
    assert steps == ["piece", "edge", "#", "allowance", "edge"]

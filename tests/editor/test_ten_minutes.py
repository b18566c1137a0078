"""A designer's first ten minutes: from an empty drawing to two pieces that are ready to be cut, and their paper.

`FLATCUT_LONG=1 pytest tests/editor/test_ten_minutes.py --shots=DIR -s` keeps pictures of all steps and prints what each
took; `FLATCUT_UPDATE=1` makes the pictures of the README.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from flatcut.cli import main
from flatcut.formats.svg.read import read
from tests.editor import driver
from tests.editor.designer import Designer
from tests.editor.screen import screen
from tests.editor.window import Window

pytestmark = [pytest.mark.editor, pytest.mark.long]

STEPS = ["piece", "edge", "pivot", "seam", "seam", "allowance", "notch", "grain", "label"]
PICTURES = {"1-piece": "01-piece", "2-pivot": "04-pivot", "3-seam": "05-seam", "4-allowance": "07-allowance"}
"""The README's, and the steps that they show."""
HOME = Path(__file__).parents[2] / "samples" / "docs" / "editor"

PAGE = (620.0, 480.0)
EMPTY = """<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"
     inkscape:version="1.2.2" width="620mm" height="480mm" viewBox="0 0 620 480"/>
"""

FRONT = [
    (60, 110), (120, 60), (205, 80), (240, 220), (238, 250), (150, 266), (238, 282), (230, 430), (60, 430),
]  # fmt: skip
"""Neck, shoulder, armhole, side with a dart, waist, centre."""
BACK = [(560, 80), (560, 430), (390, 430), (380, 252), (415, 80), (500, 60)]
"""The same sides to the mm that a mouse hits."""
BENT = {
    "front": [((90, 85), (108, 104)), ((222, 150), (192, 170))],
    "back": [((397, 166), (430, 190)), ((530, 70), (532, 80))],
}
"""What is pulled into a curve: neck and armhole."""
ACROSS_WAIST = [(165, 420), (168, 440)]
ACROSS_SIDE = [(372, 360), (400, 362)]
ON_FRONT, ON_BACK = (60, 300), (560, 300)
"""On the centres, where nothing else lies."""


def test_the_first_ten_minutes(host, tmp_path, pytestconfig, pictures, capsys):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    profile, work, paper = tmp_path / "profile", tmp_path / "top.svg", tmp_path / "top.pdf"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    driver.store(profile, {})
    work.write_text(EMPTY)
    with screen() as shown, Window(profile, work, shown, pictures=pictures) as window:
        one = Designer(window, PAGE, host.shared, shots)
        one.pen()
        one.draw(FRONT, closed=True)
        one.draw(BACK, closed=True)
        for on, pulls in ((ON_FRONT, BENT["front"]), (ON_BACK, BENT["back"])):
            one.select(on)
            one.keys("n")
            for start, end in pulls:
                one.drag(start, end)
        one.photograph("drawn")
        one.select(ON_FRONT, ON_BACK)
        one.press("piece", {"names": "front,back"})
        one.press("names")
        one.press("edge", {"target": "front.e6 back.e1", "use": "centre"})
        one.draw(ACROSS_WAIST, closed=False)
        one.select(ON_FRONT, ACROSS_WAIST[1])
        one.press("pivot")
        one.select(ON_FRONT, ON_BACK)
        one.press("seam")
        one.press("seam", {"confirm": "true"})
        one.select(ON_FRONT, ON_BACK)
        one.press("allowance", {"units": "cm", "width": "1"})
        one.draw(ACROSS_SIDE, closed=False)
        one.select(ON_BACK, ACROSS_SIDE[0])
        one.press("notch", {"mates": "true"})
        one.select(ON_FRONT, ON_BACK)
        one.press("grain")
        one.select(ON_FRONT, ON_BACK)
        one.press("label", {"cut": "pair", "material": "shell"})
        one.press("check")
        one.press("print", {"file_to_write": str(paper)}, file=True)
        saved = window.saved(tmp_path / "saved.svg")
    if os.environ.get("FLATCUT_UPDATE") == "1":
        for name, step in PICTURES.items():
            look = ["-crop", "930x680+165+95", "+repage", "-resize", "60%", "-colors", "24"]
            subprocess.run(["convert", str(shots / f"{step}.png"), *look, str(HOME / f"{name}.png")], check=True)
    with capsys.disabled():
        for title, seconds in one.presses:
            print(f"{title:24} {seconds:5.1f} s")
        print(f"a person takes {one.seconds / 60:.1f} minutes")
    work.write_bytes(saved)
    pattern = read(saved)[1]
    assert [step.line.split()[0] for step in pattern.steps] == STEPS
    assert [(seam.suggested, len(seam.a)) for seam in pattern.seams] == [(False, 1)] * 2
    assert [len(piece.notches) for piece in pattern.pieces] == [1, 1]
    assert all(piece.grain is not None and piece.cut_as == "pair" for piece in pattern.pieces)
    # the dart went to the waist, and keeps its angle: arctan of 16 mm in 88 on both sides, as the mouse hits
    (dart,) = pattern.piece("front").darts
    assert dart.host == pattern.piece("front").edge("e5").uid
    (foot, other), apex = np.array(dart.feet), np.array(dart.points[0])
    cosine = (foot - apex) @ (other - apex) / np.linalg.norm(foot - apex) / np.linalg.norm(other - apex)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(2 * np.degrees(np.arctan2(16, 88)), abs=0.7)
    assert b"flatcut:faults" in saved  # a hand makes no true seams, and the check says where
    assert main(["check", str(work), "--only=seam-walk,pairs,labels,grain,notches"]) == 0
    said = subprocess.run(["pdfinfo", str(paper)], capture_output=True, text=True, check=True).stdout
    assert int(re.findall(r"Pages:\s+(\d+)", said)[0]) >= 6
    assert one.seconds < 10 * 60

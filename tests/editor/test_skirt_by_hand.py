"""A lined skirt with a waistband, made by hand at the real window from an empty page to its printed paper.

`FLATCUT_WINDOW=1 pytest tests/editor/test_skirt_by_hand.py --shots=DIR -s` keeps a picture of each press and stage, and
the drawing as it stands after each; FLATCUT_WINDOW_FROM=N goes on with the press numbered N from what stands there.
It takes some minutes of a screen, and is left out unless it is asked for. `FLATCUT_UPDATE=1` makes the pictures at
the beginning of the README.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from flatcut.cli import main
from flatcut.formats.svg.read import read
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay, write_recipe
from tests.editor import driver
from tests.editor.cutter import Cutter, named
from tests.editor.designer import Designer
from tests.editor.screen import screen
from tests.editor.window import Window

pytestmark = [
    pytest.mark.editor,
    pytest.mark.skipif(os.environ.get("FLATCUT_WINDOW") != "1", reason="some minutes of a screen: FLATCUT_WINDOW=1"),
]

SIZES = Path(__file__).parents[2] / "samples" / "panels" / "sizes.toml"
PAGE = (1500.0, 950.0)
EMPTY = f"""<?xml version="1.0" encoding="UTF-8"?>
<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"
     inkscape:version="1.2.2" width="{PAGE[0]:g}mm" height="{PAGE[1]:g}mm" viewBox="0 0 {PAGE[0]:g} {PAGE[1]:g}"/>
"""
HOME = Path(__file__).parents[2] / "samples" / "docs" / "editor"
PICTURES = {"5-block": ("02-stage-1-block", "410x470+86+102"), "6-lining": ("17-allowance", "470x524+505+98")}
"""Of the README: the photograph that each is cut from, and where; the third is the first page of the paper."""
BACK, FRONT = "skirt-back.centre@70%", "skirt-front.centre@70%"
"""Places where a piece is clicked."""


def test_a_skirt_by_hand(host, tmp_path, pytestconfig, pictures, capsys):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    shots.mkdir(parents=True, exist_ok=True)
    profile, work, paper = tmp_path / "profile", tmp_path / "skirt.svg", tmp_path / "skirt.pdf"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    driver.store(profile, {})
    work.write_text(EMPTY)
    first = int(os.environ.get("FLATCUT_WINDOW_FROM", "1"))
    if first > 1:
        shutil.copy(shots / f"{first - 1:02}.svg", work)
    with screen() as shown, Window(profile, work, shown, pictures=pictures) as window:
        start = read(work.read_bytes())[1]
        designer = Designer(window, start.page, host.shared, shots, done=first - 1)
        one = Cutter(designer, read(EMPTY.encode())[1], start, shots, first)
        one.designer.pen()
        one.press("block skirt --size=bust-90")
        one.press("style --name=linden --size=90 --materials=shell,lining,fusing")
        one.stage("1-block")
        # flared from the hip, two pieces behind
        one.press("extend skirt-back.hem skirt-front.hem --by=6cm --flare=2.5cm --from=hip-line")
        one.press("edge skirt-back.centre --use=seam")
        one.press("seam skirt-back.centre ~skirt-back.centre")
        one.press("label skirt-back --cut=pair --material=shell")
        one.press_on([FRONT], "label skirt-front --material=shell", {"material": "shell"})
        # a zip from the waist
        one.press("edge skirt-back.centre/waist@20cm --names=centre,zip", more={"split": "true"})
        one.press("edge skirt-back.zip --use=opening")
        one.stage("2-shell")
        one.press_on(["skirt-back.hem@1/3", FRONT], "lining skirt-back skirt-front")
        one.press(
            "strip waistband --kind=waistband --to=skirt-back.waist+skirt-front.waist --both=true", more={"ease": "8mm"}
        )
        one.press("label waistband --material=shell")
        one.press("copy waistband --inset=2mm")
        one.stage("3-lining-and-waistband")
        one.press("allowance all --width=1cm")
        one.press("allowance skirt-back.hem skirt-front.hem --width=4cm")
        one.press("allowance skirt-back-lining.hem skirt-front-lining.hem --width=2cm")
        one.press("allowance skirt-back.zip skirt-back-lining.zip --width=2cm")
        one.press("corner skirt-back.centre/zip skirt-back-lining.centre/zip --kind=stepped")
        one.press("notch skirt-front.side/hip-line --mates=true")
        one.press("arrange --width=150cm --gap=4cm")
        one.designer.keys("Escape", "5")
        one.stage("4-all-pieces")
        one.designer.press("check")
        one.designer.keys("5")
        one.stage("5-checked")
        one.designer.press("print", {"file_to_write": str(paper)}, file=True)
        saved = window.saved(tmp_path / "saved.svg")
    if os.environ.get("FLATCUT_UPDATE") == "1":
        for name, (step, part) in PICTURES.items():
            look = ["-crop", part, "+repage", "-colors", "24"]
            subprocess.run(["convert", str(shots / f"{step}.png"), *look, str(HOME / f"{name}.png")], check=True)
        page = ["-f", "1", "-singlefile", "-r", "60", "-png", str(paper), str(tmp_path / "page")]
        subprocess.run(["pdftoppm", *page], check=True)
        look = ["-trim", "-bordercolor", "white", "-border", "12", "+repage", "-colors", "24"]
        subprocess.run(["convert", str(tmp_path / "page.png"), *look, str(HOME / "7-paper.png")], check=True)
    with capsys.disabled():
        for title, seconds in designer.presses:
            print(f"{title:24} {seconds:5.1f} s")
        print(f"a person takes {designer.seconds / 60:.1f} minutes")
    _, pattern, findings = read(saved)
    assert findings == []
    assert not [step.line for step in pattern.steps if step.line.startswith("#")]
    assert named(pattern) == named(one.pattern)
    work.write_bytes(saved)
    assert main(["check", str(work)]) == 0
    said = subprocess.run(["pdfinfo", str(paper)], capture_output=True, text=True, check=True).stdout
    assert int(re.findall(r"Pages:\s+(\d+)", said)[0]) >= 6
    # its steps alone give the same pieces, and a set without a fault in every other size, with the same names
    recipe = tmp_path / "skirt.recipe"
    recipe.write_text(write_recipe(pattern.steps))
    again = replay(read_recipe(recipe.read_text()), Pattern())
    assert differences(pattern, again, tolerance=0.05) == []
    assert main(["run", str(recipe), f"--sizes={SIZES}", f"--into={tmp_path / 'sizes'}", "--then=check"]) == 0
    made = sorted((tmp_path / "sizes").glob("*.svg"))
    assert len(made) >= 5
    assert all(named(read(file.read_bytes())[1]) == named(pattern) for file in made)

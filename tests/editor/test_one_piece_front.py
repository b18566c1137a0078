"""A low-backed top with its front in one piece over lower panels, made by hand at the real window from drawn lines.

`FLATCUT_WINDOW=1 pytest tests/editor/test_one_piece_front.py --shots=DIR -s` keeps a picture of each stage, and the
drawing as it stands after each press; FLATCUT_WINDOW_FROM=N goes on with the press numbered N from what stands there.
It takes some minutes of a screen, and is left out unless it is asked for; what it draws and presses is what the recipe
samples/panels/one-piece-front.recipe constructs.
"""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import pytest

from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay, write_recipe
from flatcut.tables import read_table
from tests.editor import driver
from tests.editor.cutter import Cutter, named
from tests.editor.designer import Designer
from tests.editor.screen import screen
from tests.editor.window import Window

pytestmark = [
    pytest.mark.editor,
    pytest.mark.skipif(os.environ.get("FLATCUT_WINDOW") != "1", reason="some minutes of a screen: FLATCUT_WINDOW=1"),
]

SAMPLES = Path(__file__).parents[2] / "samples" / "panels"
BODIES = {n: b for n, b in read_table((SAMPLES / "sizes.toml").read_text()).items() if isinstance(b, dict)}
PAGE = (620.0, 720.0)
START = """block torso --front-darts=1 --back-darts=1
edge front.centre --use=seam
seam front.centre ~front.centre
"""


def test_a_front_in_one_piece_by_hand(host, tmp_path, pytestconfig, pictures):
    shots = Path(pytestconfig.getoption("shots") or tmp_path)
    shots.mkdir(parents=True, exist_ok=True)
    profile, work = tmp_path / "profile", tmp_path / "top.svg"
    shutil.copytree(host.folder, profile / "extensions" / "flatcut")
    driver.store(profile, {})
    start = replay(read_recipe(START), Pattern(body=BODIES["bust-90"]))
    text = write(new_drawing()[0], start).decode()
    page = f'width="{PAGE[0]:g}mm" height="{PAGE[1]:g}mm" viewBox="0 0 {PAGE[0]:g} {PAGE[1]:g}"'
    work.write_text(re.sub(r'width="[\d.]+mm" height="[\d.]+mm" viewBox="[^"]+"', page, text, count=1))
    first = int(os.environ.get("FLATCUT_WINDOW_FROM", "1"))
    if first > 1:
        shutil.copy(shots / f"{first - 1:02}.svg", work)
    with screen() as shown, Window(profile, work, shown, pictures=pictures) as window:
        designer = Designer(window, PAGE, host.shared, shots, done=first - 1)
        one = Cutter(designer, start, read(work.read_bytes())[1], shots, first)
        one.designer.pen()
        # front: cut away to the neck, the looseness over the hollows closed
        one.press("pivot front.bust-dart --to=front.side/armhole@8cm")
        cutaway = "front.neck/shoulder@1cm", "front.side/armhole@1cm"
        one.draw(*cutaway, -0.18, f"line --start={cutaway[0]} --end={cutaway[1]} --leave=80deg --arrive=square")
        one.stage("1-cut-away-line")
        one.press("cut front.line-1 --edge=cutaway --names=front.centre,off.shoulder --drop=off")
        one.press("pivot front.bust-dart --to=front.cutaway@45%")
        one.press(
            "contour front.cutaway@70% front.neck@1/2 front.centre/bust-line --amount=13,6,9.5 --at=edge",
            more={"into": "front.bust-dart"},
        )
        one.stage("2-gapes-closed")
        one.press("back-off front.waist-dart.upper --to=front.waist-dart.axis@5cm")
        one.press("line --start=front.bust-dart.point --end=front.waist-dart.upper")
        one.press("line --start=front.waist-dart.lower --parallel=grain", more={"until": "front.hip"})
        one.press(
            "cut front.bust-dart front.line-1 front.waist-dart front.line-2 --edge=panel"
            " --names=front-centre.centre,front-side.side"
        )
        one.stage("3-panels")
        # the panels lie together under the bust, and one line is drawn over both
        one.press(
            "arrange"
            " --against=front-centre.panel/waist-dart-upper@0..6cm:hip,front-side.panel/waist-dart-upper@0..6cm:hip"
        )
        style = "front-centre.centre/waist-line@6cm:neck", "front-side.side/waist-line@4cm:cutaway"
        one.draw(
            *style,
            0.03,
            f"line --start={style[0]} --end={style[1]} --leave=square"
            " --closed=front-centre.panel/waist-dart-upper@0..6cm:hip",
        )
        one.stage("4-line-over-the-panels")
        one.press(
            "cut front-centre.line-1 front-side.line-1 --edge=style"
            " --names=upper-centre.neck,low-centre.hip,upper-side.cutaway,low-side.hip"
        )
        one.press(
            "join upper-centre.panel/waist-dart-upper@0..100%:style upper-side.panel/waist-dart-upper@0..100%:style"
            " --name=upper --opens=bust-dart"
        )
        one.press("true upper.style")
        one.stage("5-upper-in-one-piece")
        # back: panels, and a low curve over both
        one.press("line --start=back.shoulder-dart.point --end=back.waist-dart.upper")
        one.press("line --start=back.waist-dart.lower --parallel=grain", more={"until": "back.hip"})
        one.press(
            "cut back.shoulder-dart back.line-1 back.waist-dart back.line-2 --edge=panel"
            " --names=back-centre.centre,back-side.side"
        )
        one.press(
            "arrange"
            " --against=back-centre.panel/waist-line@4cm..14cm:shoulder,"
            "back-side.panel/waist-line@4cm..14cm:shoulder"
        )
        low = "back-centre.centre/waist-line@9cm:neck", "back-side.side/armhole@1cm"
        one.draw(
            *low,
            0.05,
            f"line --start={low[0]} --end={low[1]} --leave=square"
            " --closed=back-centre.panel/waist-line@4cm..14cm:shoulder",
        )
        one.press(
            "cut back-centre.line-1 back-side.line-1 --edge=low-back"
            " --names=back-centre.hip,off-centre.neck,back-side.hip,off-side.armhole --drop=off-centre,off-side"
        )
        one.press("true back-centre.low-back+back-side.low-back+upper.cutaway@0..6cm")
        one.press("allowance all --width=10")
        one.press("arrange --width=60cm --gap=20")
        one.designer.keys("Escape", "5")
        one.stage("6-all-pieces")
    _, pattern, findings = read(one.saved)
    assert findings == []
    assert not [step.line for step in pattern.steps if step.line.startswith("#")]
    assert named(pattern) == named(one.pattern)
    # its steps alone give the same pieces, and the same names in two other sizes
    recipe = read_recipe(write_recipe(pattern.steps))
    again = replay(recipe, Pattern(body=BODIES["bust-90"]))
    assert differences(pattern, again, tolerance=0.05) == []
    for size in ("bust-76", "bust-122"):
        other = replay(recipe, Pattern(body=BODIES[size]))
        assert named(other) == named(pattern)

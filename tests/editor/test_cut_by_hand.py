"""Two guide lines drawn with the pen, two pieces selected with them, one press of *Cut piece*, one undo."""

from __future__ import annotations

import pytest
import shapely

from flatcut.formats.svg.read import read
from flatcut.geometry.curves import chain, flatten
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import outline
from tests.editor import driver
from tests.editor.comparing import TOLERANCE, assert_drawn_alike
from tests.editor.conftest import command

GUIDE = '<path id="guide" style="fill:none;stroke:#808080" d="M 545,168 C 480,172 420,160 331,166"/>'
"""A stroke over the back, from beyond the centre to beyond the armhole; `yoke` lies over the front."""
NAMES = "yoke-front.neck, low-front.hem, yoke-back.neck, low-back.hem"


def _shape(piece):
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


@pytest.mark.editor
def test_guide_lines_cut_two_pieces_in_one_press_and_one_undo(host, starts, tmp_path):
    start = tmp_path / "start.svg"
    text = starts["named"].read_text(encoding="utf-8")
    # as the pen leaves it: a path beside the others on the layer
    start.write_text(text.replace('<path id="yoke"', f'{GUIDE}<path id="yoke"', 1), encoding="utf-8")
    driver.store(host.profile, {"cut": {"names": NAMES}})
    done, undone = tmp_path / "done.svg", tmp_path / "undone.svg"
    said = driver.act(
        host.profile,
        start,
        [
            *driver.select(("front", "back", "yoke", "guide")),
            driver.press("cut"),
            *driver.export(done),
            "undo",
            *driver.export(undone),
        ],
    )
    assert done.exists(), said
    _, before, _ = read(start.read_bytes())
    _, after, findings = read(done.read_bytes())
    assert findings == []
    assert [p.name for p in after.pieces] == [name.partition(".")[0] for name in NAMES.split(", ")]
    assert sum(_shape(p).area for p in after.pieces) == pytest.approx(sum(_shape(p).area for p in before.pieces), abs=2)
    # two lines and a cut are recorded, none of them names a drawn object, and both strokes are used up
    steps = [step.line.split()[0] for step in after.steps[len(before.steps) :]]
    assert steps == ["line", "line", "cut"]
    # the same by commands: lines from the strokes, then the cut
    here = command(["line", "--drawn=id:yoke"], start, tmp_path / "1.svg")
    here = command(["line", "--drawn=id:guide"], here, tmp_path / "2.svg")
    here = command(["cut", "front.line-1", "back.line-1", f"--names={NAMES}"], here, tmp_path / "3.svg")
    _, wanted, _ = read(here.read_bytes())
    assert differences(wanted, after, tolerance=TOLERANCE) == []
    # one undo takes all of it back
    _, again, _ = read(undone.read_bytes())
    assert differences(before, again, tolerance=TOLERANCE) == []
    assert again.steps == before.steps
    assert_drawn_alike(undone.read_bytes(), start.read_bytes())

"""Several outlines selected at once: they are named in the order in which they are drawn, one by one as they came."""

from __future__ import annotations

import pytest

from flatcut.formats.svg.read import read
from tests.editor import driver

pytestmark = pytest.mark.editor

CORNERS = {"right": (300, 40), "left": (20, 20), "middle": (160, 80)}
"""Upper left corners, mm, in the order of the document, which is not that of the page."""
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
    'inkscape:version="1.2.2" width="450mm" height="300mm" viewBox="0 0 450 300">'
    '<g inkscape:groupmode="layer" id="layer">{}</g></svg>'
)
PATHS = "".join(
    f'<path id="{name}" style="fill:none;stroke:#000000" d="M {x},{y} h 100 v 150 h -100 z"/>'
    for name, (x, y) in CORNERS.items()
)


def test_all_at_once_is_the_order_of_the_drawing_and_one_by_one_that_of_the_clicks(host, tmp_path):
    start, ways = tmp_path / "start.svg", {"all": ["select-all"], "one": driver.select(["left", "right", "middle"])}
    start.write_text(SVG.format(PATHS))
    driver.store(host.profile, {"piece": {"names": "a,b,c"}})
    actions = []
    for name, chosen in ways.items():
        actions += [*chosen, driver.press("piece"), *driver.export(tmp_path / f"{name}.svg"), "undo"]
    said = driver.act(host.profile, start, actions)
    wanted = {"all": list(CORNERS), "one": ["left", "right", "middle"]}
    for name in ways:
        file = tmp_path / f"{name}.svg"
        assert file.exists(), said
        found = {p.name: min(e.start[0] for e in p.edges) for p in read(file.read_bytes())[1].pieces}
        assert [found[letter] for letter in "abc"] == pytest.approx([CORNERS[one][0] for one in wanted[name]]), name

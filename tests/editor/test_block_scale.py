"""A block drafted from its dialog in the editor lies on a layer of its own, at true scale in any document."""

from __future__ import annotations

import io
import subprocess

import pytest
from lxml import etree
from svgelements import SVG, Path

from tests.editor import driver

MM = 25.4 / 96
"""mm in one px of CSS: 1 in is 96 px (CSS Values and Units, level 3)."""
DOCUMENTS = {
    "px": 'width="2000" height="1500"',
    "mm": 'width="600mm" height="500mm" viewBox="0 0 600 500"',
    "in": 'width="40in" height="30in" viewBox="-2 -1 20 15"',
}
"""One unit of the drawing is 1 px, 1 mm, and 2 in."""
FILL = {"target": "skirt", "size": "bust-90", "hip": "98.5", "units": "cm"}
HALF_HIP = (985.0 + 20.0) / 2
"""mm: half of the hip as typed and its ease; the skirt is straight, so its two pieces are so wide together."""
OWN = "{urn:flatcut:pattern}"
INKSCAPE = "{http://www.inkscape.org/namespaces/inkscape}"


@pytest.fixture(scope="module", params=DOCUMENTS)
def pressed(request, host, tmp_path_factory):
    """The document after one press of the dialog."""
    folder = tmp_path_factory.mktemp(request.param)
    before, after = folder / "before.svg", folder / "after.svg"
    before.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="{INKSCAPE[1:-1]}" inkscape:version="1.2.2"'
        f' {DOCUMENTS[request.param]}><g id="mine" inkscape:groupmode="layer" inkscape:label="mine">'
        '<path id="drawn" d="M 1,1 H 3 V 2 Z"/></g></svg>',
        encoding="utf-8",
    )
    driver.store(host.profile, {"block": FILL})
    said = driver.act(host.profile, before, [*driver.select([]), driver.press("block"), *driver.export(after)])
    assert after.exists(), said
    return before, after


def outlines(root):
    """The outline's element of each piece, by name."""
    groups = [g for g in root.iter("{*}g") if g.get(f"{OWN}piece") is not None]
    return {g.get(f"{OWN}name"): next(p for p in g if p.get(f"{OWN}outline") is not None) for g in groups}


@pytest.mark.editor
def test_the_block_lies_on_a_layer_of_its_own(pressed):
    before, after = pressed
    root = etree.fromstring(after.read_bytes())
    layers = {g.get("id"): g for g in root if g.get(f"{INKSCAPE}groupmode") == "layer"}
    told = [layers.pop(name) for name, layer in list(layers.items()) if layer.get(f"{OWN}told")]
    assert len(told) == 1, "what is said stands on a layer of its own"
    assert len(layers) == 2, "the one that was there and a new one"
    mine = layers.pop("mine")
    assert [element.get("id") for element in mine] == ["drawn"]
    assert mine[0].get("d").replace(" ", "").lower() in ("m1,1h3v2z", "m1,1h2v1z")
    (new,) = layers.values()
    assert new.get(f"{INKSCAPE}label") == "pieces"
    assert set(outlines(new)) == {"skirt-back", "skirt-front"}
    was, now = (SVG.parse(io.BytesIO(path.read_bytes()), ppi=96) for path in (before, after))
    assert now.width >= was.width, "the page grows to what is drafted, and never shrinks"
    assert now.height >= was.height


@pytest.mark.editor
def test_the_written_paths_are_true_to_scale(pressed):
    """Read by a library that knows nothing of flatcut."""
    _, after = pressed
    ids = {name: path.get("id") for name, path in outlines(etree.fromstring(after.read_bytes())).items()}
    drawing = SVG.parse(io.BytesIO(after.read_bytes()), ppi=96)
    boxes = {}
    for path in drawing.select(lambda element: isinstance(element, Path) and element.id in ids.values()):
        boxes[path.id] = [MM * value for value in abs(path).bbox(with_stroke=False)]
    wide = sum(box[2] - box[0] for box in boxes.values())
    assert len(boxes) == 2
    assert wide == pytest.approx(HALF_HIP, abs=0.02)


@pytest.mark.editor
def test_the_editor_measures_the_same(pressed):
    """Its own measure of an object counts the line's width in."""
    _, after = pressed
    root = etree.fromstring(after.read_bytes())
    said = subprocess.run(
        ["inkscape", "--query-all", str(after)], capture_output=True, text=True, check=True, timeout=60
    ).stdout
    wide = {line.split(",")[0]: MM * float(line.split(",")[3]) for line in said.splitlines() if line.count(",") == 4}
    found = 0.0
    for path in outlines(root).values():
        stroke = next(part for part in path.get("style").split(";") if part.startswith("stroke-width"))
        scale = MM * float(_unit(root))
        found += wide[path.get("id")] - scale * float(stroke.partition(":")[2].removesuffix("px"))
    assert found == pytest.approx(HALF_HIP, abs=0.1)


def _unit(root) -> float:
    """px in one unit of the drawing."""
    if root.get("viewBox") is None:
        return 1.0
    whole = root.get("width")
    px = float(whole[:-2]) * {"mm": 96 / 25.4, "in": 96.0}[whole[-2:]]
    return px / float(root.get("viewBox").split()[2])

"""The same piece in many nestings, units and transforms is the same pattern, and writing leaves the nesting alone."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from lxml import etree

from flatcut.formats.svg.document import load as load_document
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Pattern, area

D = "M 40,30 C 60,34 80,22 95,15 L 180,50 C 170,90 180,110 200,120 L 195,260 L 40,260 Z"
SVG = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
INKSCAPE = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'


def document(body: str, head: str = 'width="300mm" height="300mm" viewBox="0 0 300 300"') -> bytes:
    return f"<svg {SVG} {INKSCAPE} {head}>{body}</svg>".encode()


def path(more: str = "") -> str:
    return f'<path id="p" d="{D}" {more}/>'


PT, PX = 25.4 / 72, 25.4 / 96  # CSS Values and Units Level 3, section 6.2

WAYS = {
    "plain, in mm": document(path()),
    "units of px": document(f'<g transform="scale({1 / PX!r})">{path()}</g>', 'width="900" height="900"'),
    "units of pt": document(path(), f'width="{300 / PT!r}pt" height="{300 / PT!r}pt" viewBox="0 0 300 300"'),
    "units of cm": document(path(), 'width="30cm" height="30cm" viewBox="0 0 300 300"'),
    "units of in": document(path(), f'width="{300 / 25.4!r}in" height="{300 / 25.4!r}in" viewBox="0 0 300 300"'),
    "a viewBox that is moved and smaller": document(
        f'<g transform="translate(-25,-10) scale(0.5)">{path()}</g>',
        'width="600mm" height="600mm" viewBox="-25 -10 300 300"',
    ),
    "groups in groups": document(
        f'<g transform="rotate(30)"><g transform="scale(4)"><g transform="scale(.25) rotate(-30)">{path()}</g></g></g>'
    ),
    "skewed and skewed back": document(
        '<g transform="skewX(20)"><g transform="skewX(-20) skewY(10)">' + path('transform="skewY(-10)"') + "</g></g>"
    ),
    "mirrored and mirrored back": document(
        f'<g transform="translate(300,0) scale(-1,1)"><g transform="matrix(-1,0,0,1,300,0)">{path()}</g></g>'
    ),
    "in a layer and an anchor": document(
        '<g inkscape:groupmode="layer" inkscape:label="a" transform="translate(9,9)"><a transform="translate(-9,-9)">'
        f"{path()}</a></g>"
    ),
    "an inner svg": document(f'<svg x="50" y="60" width="100" height="100" viewBox="50 60 100 100">{path()}</svg>'),
    "a clone of a definition": document(
        f'<defs><g id="s" transform="translate(-7,3)">{path()}</g></defs>'
        '<use id="u" href="#s" x="10" y="-8" transform="translate(-3,5)"/>'
    ),
    "a clone of a symbol": document(
        f'<defs><symbol id="s" viewBox="0 0 300 300">{path()}</symbol></defs>'
        '<use id="u" xlink:href="#s" width="300" height="300"/>'
    ),
}


def made(data: bytes) -> tuple[bytes, Pattern]:
    drawing, pattern, findings = read(data)
    assert not findings
    for step in (
        load("piece")(names=("front",)),  # type: ignore[call-arg]
        load("allowance")(target=("all",), width=10.0),  # type: ignore[call-arg]
        load("point")(at="at(front.e1/e2,front.e4/e5,0.4,0.1)", name="mark"),  # type: ignore[call-arg]
        load("line")(start="front.e2@1/2", end="front.e5@1/2", shape="0.3,0.1 0.6,0.1 1,0", name="fold"),  # type: ignore[call-arg]
    ):
        pattern = step(pattern)
    return write(drawing, pattern), pattern


@pytest.mark.parametrize("way", WAYS)
def test_the_same_piece_drawn_in_another_way_is_the_same_pattern(way: str) -> None:
    _, wanted = made(WAYS["plain, in mm"])
    data, pattern = made(WAYS[way])
    assert not differences(pattern, wanted, tolerance=1e-6)
    _, found, findings = read(data)
    assert not findings
    assert not differences(found, wanted, tolerance=1e-6)


@pytest.mark.parametrize("way", WAYS)
def test_writing_leaves_size_viewbox_and_groups_alone(way: str) -> None:
    before, after = etree.fromstring(WAYS[way]), etree.fromstring(made(WAYS[way])[0])
    assert dict(before.attrib) == dict(after.attrib)
    kept = [(e.tag, e.get("transform"), e.get("viewBox")) for e in after.iter(tag("g"), tag("a"), tag("svg"))]
    for element in before.iter(tag("g"), tag("a"), tag("svg")):
        assert (element.tag, element.get("transform"), element.get("viewBox")) in kept


@pytest.mark.parametrize("way", WAYS)
def test_what_is_drawn_by_flatcut_has_its_true_size_everywhere(way: str) -> None:
    """The cut line as a reader of SVG sees it, and a line's width: 0.45 mm on paper."""
    data, pattern = made(WAYS[way])
    drawn = load_document(data).drawn()
    cut = next(item for item in drawn if item.element.get(own("drawn")) == "cut")
    low, high = cut.subpaths[0].curve.nodes.min(axis=0), cut.subpaths[0].curve.nodes.max(axis=0)
    assert low[0] == pytest.approx(30, abs=0.05)
    assert high[1] == pytest.approx(270, abs=0.05)
    style = dict(part.split(":") for part in cut.element.get("style", "").split(";"))
    scale = math.sqrt(abs(cut.matrix.determinant))
    assert float(style["stroke-width"]) * scale == pytest.approx(0.45, abs=1e-5)
    assert area(pattern.pieces[0]) > 0


@pytest.mark.parametrize(
    "matrix",
    [
        Affine(1.3, 0.0, 0.0, 1.3, 4.0, 5.0),
        Affine(1.0, 0.2, 0.4, 1.0, 0.0, 0.0),
        Affine(-1.0, 0.0, 0.0, 1.0, 300.0, 0.0),
        Affine.rotation(0.4, (100, 100)),
    ],
)
def test_scale_and_skew_of_a_pieces_group_are_baked_in_and_rigid_ones_stay(matrix: Affine) -> None:
    root = etree.fromstring(made(WAYS["in a layer and an anchor"])[0])
    group = next(g for g in root.iter(tag("g")) if g.get(own("piece")) is not None)
    text = ",".join(map(repr, matrix))
    group.set("transform", f"matrix({text})")
    inside = etree.SubElement(group, tag("g"), id="mine", transform="rotate(5)")
    etree.SubElement(inside, tag("rect"), id="box", x="60", y="60", width="20", height="10")
    data = etree.tostring(root)
    drawing, pattern, _ = read(data)
    box = drawing.document.by_id("box")
    assert box is not None
    before = drawing.document.matrix_of(box).apply([[60, 60], [80, 70]])
    after = write(drawing, load("allowance")(target=("all",), width=12.0)(pattern))  # type: ignore[call-arg]
    drawing, found, findings = read(after)
    assert not findings
    box = drawing.document.by_id("box")
    assert box is not None
    assert np.allclose(drawing.document.matrix_of(box).apply([[60, 60], [80, 70]]), before, atol=1e-8)
    assert box.get("x") == "60"
    assert not differences(without_allowance(found), without_allowance(pattern), tolerance=1e-6)
    group = next(g for g in drawing.document.root.iter(tag("g")) if g.get(own("piece")) is not None)
    assert (group.get("transform") is None) == (not matrix.is_rigid(tolerance=1e-6))


def without_allowance(pattern: Pattern) -> Pattern:
    bare = [replace(p, edges=tuple(replace(e, allowance=None) for e in p.edges)) for p in pattern.pieces]
    return replace(pattern, pieces=tuple(bare))

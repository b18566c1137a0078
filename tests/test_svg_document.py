"""Documents: true size, every nesting, what is shown, and files that are wrong or harmful."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from flatcut.errors import InputError
from flatcut.formats.svg.document import Document, Drawn, load
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, bounds

NAMESPACES = (
    'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
    'xmlns:sodipodi="http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd"'
)
MM = 'width="200mm" height="100mm" viewBox="0 0 200 100"'
PX = 25.4 / 96
EXAMPLES = Path("/usr/share/inkscape/examples")


def svg(body: str, head: str = MM) -> bytes:
    return f"<svg {NAMESPACES} {head}>{body}</svg>".encode()


def drawn(body: str, head: str = MM) -> dict[str, Drawn]:
    return {item.id: item for item in load(svg(body, head)).drawn()}


def box(item: Drawn) -> list[float]:
    boxes = np.array([bounds(sub.curve) for sub in item.subpaths])
    return [round(v, 9) for v in (*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist())]


SQUARE = '<path id="a" d="M0 0h10v10h-10z"/>'


# Size ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "wanted"),
    [
        # CSS Values Level 3, section 6.2: 96 px = 1 in = 25.4 mm; SVG 2, section 8.2: without a viewBox units are px
        ("", [0, 0, 10 * PX, 10 * PX]),
        ('width="100" height="100"', [0, 0, 10 * PX, 10 * PX]),
        ('width="50mm" height="50mm"', [0, 0, 10 * PX, 10 * PX]),
        ('viewBox="0 0 100 100"', [0, 0, 10 * PX, 10 * PX]),
        ('width="100%" height="100%" viewBox="0 0 100 100"', [0, 0, 10 * PX, 10 * PX]),
        (MM, [0, 0, 10, 10]),
        ('width="20cm" height="10cm" viewBox="0 0 20 10"', [0, 0, 100, 100]),
        ('width="2in" height="1in" viewBox="0 0 2 1"', [0, 0, 254, 254]),
        ('width="72pt" height="36pt" viewBox="0 0 72 36"', [0, 0, 10 * 25.4 / 72, 10 * 25.4 / 72]),
        # Inkscape 1.2.2 --query-all: one side alone leaves the other at that of the viewBox in px; % is a part of it
        ('width="297" viewBox="0 0 594 840"', [0, 210 * PX, 5 * PX, 215 * PX]),
        ('height="420" viewBox="0 0 594 840"', [148.5 * PX, 0, 153.5 * PX, 5 * PX]),
        ('width="100%" height="50%" viewBox="0 0 594 840"', [148.5 * PX, 0, 153.5 * PX, 5 * PX]),
        ('width="200mm" viewBox="0 0 100 50"', [100 - 50 * PX, 0, 100 - 40 * PX, 10 * PX]),
        ('width="100mm" height="100mm" viewBox="-10 -20 100 100"', [10, 20, 20, 30]),
        # SVG 2, section 8.6: xMidYMid meet is the default; closed forms of the other ways
        ('width="200mm" height="100mm" viewBox="0 0 100 100"', [50, 0, 60, 10]),
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="xMinYMin"', [0, 0, 10, 10]),
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="xMaxYMid meet"', [100, 0, 110, 10]),
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="xMidYMin"', [50, 0, 60, 10]),
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="none"', [0, 0, 20, 10]),
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="xMidYMax slice"', [0, -100, 20, -80]),
        ('width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="odd"', [50, 0, 60, 10]),
    ],
)
def test_the_page_gives_the_true_size(head: str, wanted: list[float]) -> None:
    assert box(drawn(SQUARE, head)["a"]) == pytest.approx(wanted, abs=1e-9)


def test_the_page_is_known_in_mm() -> None:
    assert load(svg("", 'width="96" height="2in" viewBox="0 0 1 1"')).page == pytest.approx((25.4, 50.8))
    assert load(svg("", 'viewBox="0 0 96 48"')).page == pytest.approx((25.4, 12.7))


@pytest.mark.parametrize(
    ("head", "part"),
    [
        ('viewBox="0 0 10"', "has the viewBox '0 0 10'; it needs four numbers"),
        ('viewBox="0 0 0 10"', "has the viewBox '0 0 0 10'; it needs four numbers, the last two above zero"),
        ('viewBox="0 0 1e999 10"', "has the viewBox"),
        ('width="0"', "has a page of width '0'; set it in the document properties"),
        ('height="-3mm"', "has a page of height '-3mm'"),
        ('width="3em"', "has '3em' where a length is expected"),
    ],
)
def test_a_page_without_size_is_one_sentence(head: str, part: str) -> None:
    with pytest.raises(InputError) as caught:
        load(svg("", head), name="a.svg")
    assert str(caught.value).startswith("a.svg has")
    assert part in str(caught.value)


# Nesting ------------------------------------------------------------------------------------------------------------

TURNS = ["translate(5,-3)", "rotate(30)", "rotate(-45 4 2)", "scale(2,-0.5)", "skewX(20)", "skewY(-10)", "scale(-1,1)"]


@given(st.lists(st.sampled_from(TURNS), max_size=6))
@settings(deadline=None)
def test_transforms_of_groups_are_those_of_one_list(parts: list[str]) -> None:
    """SVG 1.1, section 7.6: a list is equal to nested groups; the list is parsed in one, the groups one by one."""
    nested = "".join(f'<g transform="{part}">' for part in parts) + SQUARE + "</g>" * len(parts)
    listed = f'<g transform="{" ".join(parts)}">{SQUARE}</g>'
    one, other = drawn(nested)["a"], drawn(listed)["a"]
    assert np.abs(one.subpaths[0].curve.controls - other.subpaths[0].curve.controls).max() < 1e-9
    assert one.matrix == pytest.approx(other.matrix, abs=1e-9)


def test_the_matrix_of_an_element_is_the_one_it_is_drawn_with() -> None:
    body = (
        '<g transform="rotate(90)"><svg x="10" y="20" width="50%" height="25" viewBox="0 0 10 10">'
        '<path id="a" transform="skewX(45)" d="M0 0h1v1z"/><rect id="r" width="100%" height="50%"/></svg></g>'
        '<use id="u" xlink:href="#a" x="3" y="4" transform="scale(2)"/>'
    )
    document = load(svg(body))
    items = {item.id: item for item in document.drawn()}
    for key in ("a", "r"):
        element = document.by_id(key)
        assert element is not None
        assert document.matrix_of(element) == pytest.approx(items[key].matrix, abs=1e-12)
    # by hand: window 100 x 25 at (10, 20), viewBox 10 x 10 meets it at 2.5, centred: 37.5 to the right; then a turn
    assert box(items["r"]) == pytest.approx([-32.5, 47.5, -20, 72.5])
    use = document.by_id("u")
    assert use is not None
    assert document.matrix_of(use) == pytest.approx(Affine.scaling(2) @ Affine.translation(3, 4))
    assert items["u"].matrix == pytest.approx(document.matrix_of(use) @ Affine(c=1.0))
    assert document.matrix_of(document.root) == document.to_mm


def test_clones_stand_where_they_are_used() -> None:
    body = (
        '<defs><path id="d" d="M0 0h10v10z"/><symbol id="s" viewBox="0 0 10 10"><path d="M0 0h10v10z"/></symbol></defs>'
        '<use id="u" href="#d" x="5" y="6"/>'
        '<g transform="translate(100,0)" id="g"><use id="v" xlink:href="#u" y="1"/></g>'
        '<use id="w" xlink:href="#s" x="50" y="20" width="40" height="20"/>'
        '<use id="x" xlink:href="other.svg#d"/><use id="y" xlink:href="#none"/><use id="z"/>'
    )
    items = drawn(body)
    assert list(items) == ["u", "v", "w"]
    assert box(items["u"]) == [5, 6, 15, 16]
    assert box(items["v"]) == [105, 7, 115, 17]
    assert box(items["w"]) == [60, 20, 80, 40]  # SVG 2, section 5.5: a symbol is a window of the size of its use
    assert items["v"].group_id == "g"
    assert [items[k].element.get("id") for k in "uv"] == ["d", "d"]
    assert items["v"].use is not None
    assert items["v"].use.get("id") == "v"
    assert items["u"].use is not None


def test_clones_of_themselves_are_shown_once() -> None:
    body = '<g id="g"><path id="a" d="M0 0h1"/><use id="u" xlink:href="#g"/></g>'
    assert list(drawn(body)) == ["a"]
    body = (
        '<g id="p"><path id="a" d="M0 0h1"/><use id="u" xlink:href="#q"/></g>'
        '<g id="q"><path id="b" d="M0 0h1"/><use id="v" xlink:href="#p"/></g><use id="w" xlink:href="#w"/>'
    )
    items = load(svg(body)).drawn()
    assert [item.id for item in items] == ["a", "u", "b", "v"]


def test_a_bomb_of_clones_is_refused() -> None:
    body = '<g id="g0"><path d="M0 0h1"/></g>' + "".join(
        f'<g id="g{k}">' + f'<use id="u{k}" xlink:href="#g{k - 1}"/>' * 10 + "</g>" for k in range(1, 9)
    )
    chain = SQUARE + '<use id="v0" xlink:href="#a"/>'
    chain += "".join(f'<use id="v{k}" xlink:href="#v{k - 1}"/>' for k in range(1, 5000))
    for bomb in (body, chain):
        with pytest.raises(InputError, match=r"use '[uv]\d+' has clones in clones without end; unlink some of them"):
            load(svg(bomb)).drawn()


# What is shown ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "body",
    [
        *(
            f"<{tag}>{SQUARE}</{tag}>"
            for tag in ("defs", "clipPath", "mask", "symbol", "marker", "pattern", "metadata")
        ),
        f'<g style="display:none">{SQUARE}</g>',
        f'<g style="fill:none; display : none ;x:y"><g style="display:inline">{SQUARE}</g></g>',
        f'<g display="none">{SQUARE}</g>',
        f'<g visibility="hidden">{SQUARE}</g>',
        f'<g style="visibility:collapse">{SQUARE}</g>',
        f'<g inkscape:groupmode="layer" style="display:none">{SQUARE}</g>',
        f'<style>.off {{ fill: red; display: none }}</style><g class="big off">{SQUARE}</g>',
        f"<style><![CDATA[/* x */ g.p, path {{display:none}}]]></style>{SQUARE}",
        f"<style>#a{{visibility:hidden !important}}</style>{SQUARE}",
        f"<style>*{{display:none}}</style>{SQUARE}",
        f'<g transform="scale(0)">{SQUARE}</g>',
        '<text id="a">M0 0h1</text>',
        "<!-- <path d='M0 0h1'/> --><?path d='M0 0h1'?>",
        '<other xmlns="urn:other"><path id="a" d="M0 0h10v10h-10z"/></other>',
        '<path id="a" xmlns="urn:other" d="M0 0h10v10h-10z"/>',
    ],
)
def test_what_is_not_shown_is_not_drawn(body: str) -> None:
    assert load(svg(body)).drawn() == []


@pytest.mark.parametrize(
    "body",
    [
        SQUARE,
        f'<a href="x">{SQUARE}</a>',
        f'<svg width="10" height="10">{SQUARE}</svg>',
        f'<g sodipodi:insensitive="true">{SQUARE}</g>',
        # SVG 2, section 11.6 (visibility is inherited and can be set back) and CSS Cascade Level 3, section 6
        '<g visibility="hidden"><path id="a" visibility="visible" d="M0 0h10v10h-10z"/></g>',
        '<style>.off{display:none}</style><path id="a" class="off" style="display:inline" d="M0 0h10v10h-10z"/>',
        '<style>.on{display:inline}</style><path id="a" class="on" display="none" d="M0 0h10v10h-10z"/>',
        f"<style>path{{display:none}} #a{{display:inline}} path{{display:none}}</style>{SQUARE}",
        f"<style>@media print{{path{{display:none}}}} g path{{display:none}} .other{{display:none}}</style>{SQUARE}",
        f'<switch><g systemLanguage="de"/><g requiredExtensions="http://x"/><g>{SQUARE}</g><path d="M0 0h5"/></switch>',
    ],
)
def test_what_is_shown_is_drawn(body: str) -> None:
    items = drawn(body)
    assert list(items) == ["a"]
    assert box(items["a"]) == [0, 0, 10, 10]


def test_every_kind_of_shape_in_the_order_of_the_document() -> None:
    body = (
        '<rect id="1" width="5" height="5"/><g><circle id="2" r="1"/></g><ellipse id="3" rx="2" ry="1"/>'
        '<line id="4" x2="3"/><polyline id="5" points="0,0 1,1"/><polygon id="6" points="0,0 1,1 0,1"/>'
        '<path id="7" d="M0 0h1"/><path d="M0 0h1"/><rect width="1" height="1"/><path d="M0 0h1"/><path id="8"/>'
    )
    items = load(svg(body)).drawn()
    assert [item.id for item in items] == [*"1234567", "unnamed-path-1", "unnamed-rect-1", "unnamed-path-2"]
    for item in items:
        for sub in item.subpaths:
            Curve(sub.curve.controls, sub.curve.straight)  # its own checks hold
            assert not sub.curve.controls.flags.writeable


def test_layers_labels_and_groups() -> None:
    body = (
        '<g id="l" inkscape:groupmode="layer" inkscape:label="Blocks" sodipodi:insensitive="true">'
        '<path id="a" inkscape:label="front" d="M0 0h1"/><g id="g"><path id="b" d="M0 0h1"/></g></g>'
        '<path id="c" d="M0 0h1"/><path id="d" sodipodi:insensitive="true" d="M0 0h1"/>'
    )
    items = drawn(body)
    layer = items["a"].layer
    assert layer is not None
    assert (layer.id, layer.label, layer.locked) == ("l", "Blocks", True)
    assert items["b"].layer is not None
    assert [items[k].label for k in "abcd"] == ["front", "", "", ""]
    assert [items[k].group_id for k in "abcd"] == ["l", "g", "", ""]
    assert [items[k].locked for k in "abcd"] == [True, True, False, True]
    assert items["c"].layer is None


def test_dropped_segments_are_counted() -> None:
    items = drawn('<path id="a" d="M0 0h0h5v0 M 7 7z"/><path id="b" d="M1 1z"/><path id="c" d="M1 1h5"/>')
    assert [items[k].dropped for k in "abc"] == [3, 1, 0]
    assert [len(items[k].subpaths) for k in "abc"] == [1, 0, 1]


def test_nothing_is_too_deep_in_a_large_file() -> None:
    body = f"<desc>{'x' * 10_000_000}</desc>" + "<g>" * 1500 + SQUARE + "</g>" * 1500
    body += "<text>" + "<tspan>" * 1500 + "deep" + "</tspan>" * 1500 + "</text>"
    document = load(svg(body))
    (item,) = document.drawn()
    assert document.matrix_of(item.element) == item.matrix
    assert [text.text for text in document.texts()] == ["deep"]


def test_texts_have_words_and_a_place() -> None:
    body = (
        '<g id="g" transform="translate(10,20)"><text id="t" x="1 9" y="2"> Front <tspan>cut 2</tspan>'
        "<title>no</title></text></g>"
        '<text id="u"><tspan sodipodi:role="line" x="5" y="6">one</tspan><tspan sodipodi:role="line">two  three</tspan>'
        '</text><text id="v" display="none">x</text>'
    )
    texts = load(svg(body)).texts()
    assert [(t.id, t.text, t.at.tolist(), t.group_id) for t in texts] == [
        ("t", "Front cut 2", [11, 22], "g"),
        ("u", "one\ntwo three", [5, 6], ""),
    ]


# What cannot be drawn -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ('<path id="p1" d="M0 0 L1e7 0"/>', "path 'p1' reaches farther than a kilometre; delete it or draw it smaller"),
        ('<path id="p1" d="M0 0 L1e999 0"/>', "path 'p1' reaches farther than a kilometre"),
        ('<path d="M0 0 L5 nan"/>', "the path on line 1 has 'n', which is no path data, at character 9"),
        (
            '<path id="ok" d="M0 0h1"/><path d=""/><rect id="r" width="1e8" height="1"/>',
            "rect 'r' reaches farther than a kilometre",
        ),
        ('<g transform="scale(1e9)"><path id="p" d="M0 0h1"/></g>', "path 'p' reaches farther"),
        ('<g id="g" transform="scale(NaN)"><path d="M0 0h1"/></g>', "g 'g' has a transform that cannot be read"),
        ('<use id="u" x="1,5" href="#u"/>', "use 'u' has '1,5' where a length is expected"),
        ('<svg id="n" viewBox="0 0 a b"/>', "svg 'n' has the viewBox '0 0 a b'"),
    ],
)
def test_what_cannot_be_drawn_is_named(body: str, sentence: str) -> None:
    with pytest.raises(InputError) as caught:
        load(svg(body)).drawn()
    assert str(caught.value).startswith(sentence)
    assert "\n" not in str(caught.value)


def test_a_flattened_element_has_no_matrix() -> None:
    document = load(svg('<path id="a" transform="scale(0,1)" d="M0 0h1"/>'))
    element = document.by_id("a")
    assert element is not None
    with pytest.raises(InputError, match="path 'a' is flattened to nothing; undo its transform"):
        document.matrix_of(element)


# Writing ------------------------------------------------------------------------------------------------------------


def c14n(tree: etree._ElementTree) -> bytes:
    return etree.tostring(tree, method="c14n")


def test_bytes_are_the_same_each_time_and_foreign_content_is_kept() -> None:
    body = f'{SQUARE}<x:y xmlns:x="urn:x" x:z="1 &lt; 2"> &amp; <![CDATA[<g>]]> ö </x:y><!-- c --><?p q?>\n'
    data = b'<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n' + svg(body) + b"\n"
    written = load(data).to_bytes()
    assert written == load(data).to_bytes() == load(written).to_bytes()
    assert written == data
    assert not load(svg(body)).to_bytes().startswith(b"<?xml")
    document = load(data)
    assert c14n(document.tree) == c14n(etree.ElementTree(etree.fromstring(data)))
    document.drawn()
    document.texts()
    assert document.to_bytes() == data


def test_fresh_ids_are_free_and_the_same_each_time() -> None:
    document = load(svg('<g id="piece-1"/><g id="piece-3"/>'))
    assert [document.fresh_id("piece") for _ in range(3)] == ["piece-2", "piece-4", "piece-5"]
    assert document.fresh_id("line") == "line-1"
    assert document.by_id("piece-3") is not None
    assert document.by_id("piece-2") is None


def test_ids_are_found_in_a_tree_that_changes() -> None:
    document = load(svg('<g id="a"/><g id="b"/>'))
    a, b = document.by_id("a"), document.by_id("b")
    assert a is not None
    assert b is not None
    a.set("id", "c")
    b.getparent().remove(b)
    assert document.by_id("a") is None
    assert document.by_id("b") is None
    assert document.by_id("c") is a


# Real files ---------------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not EXAMPLES.is_dir(), reason="the editor's example drawings are not on this machine")
def test_the_editors_own_examples_are_read_and_written() -> None:
    files = sorted([*EXAMPLES.glob("*.svg"), *EXAMPLES.glob("*.svgz")])
    for path in files:
        if path.name == "flow-go.svg":  # of all examples the one without the SVG namespace
            with pytest.raises(InputError, match=r"flow-go\.svg is no SVG drawing yet; write xmlns="):
                load(path.read_bytes(), name=path.name)
        else:
            check(load(path.read_bytes(), name=path.name))
    assert files


def check(document: Document) -> None:
    before = c14n(document.tree)
    for item in document.drawn():
        assert all(math.isfinite(v) for v in item.matrix)
        for sub in item.subpaths:
            Curve(sub.curve.controls, sub.curve.straight)
            assert not sub.closed or sub.curve.start.tolist() == sub.curve.end.tolist()
    document.texts()
    again = load(document.to_bytes())
    assert before == c14n(document.tree) == c14n(again.tree)
    assert again.to_bytes() == document.to_bytes()


def test_of_elements_with_the_same_id_the_first_has_it() -> None:
    twice = drawn('<path id="a" d="M0 0h10v10h-10z"/><path id="a" d="M20 0h10v10h-10z"/>')
    assert {name: box(item)[0] for name, item in twice.items()} == {"a": 0, "unnamed-path-1": 20}


def test_a_clone_of_several_shapes_has_one_name() -> None:
    body = '<defs><g id="g"><path d="M0 0h10v10z"/><path d="M20 0h10v10z"/></g></defs><use href="#g"/>'
    assert [item.id for item in load(svg(body)).drawn()] == ["unnamed-use-1"] * 2

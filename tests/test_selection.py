"""What a selection means: plain outlines, nodes in outline order, the pieces that are looked at, sentences."""

from __future__ import annotations

import numpy as np
import pytest
from lxml import etree

from flatcut.cli import main
from flatcut.editor import bridge
from flatcut.editor.bridge import needs_selection, read_words
from flatcut.editor.nodes import node_points
from flatcut.errors import FlatcutError, UsageError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.operations.operation import load, names
from flatcut.pattern.near_places import place_beside
from flatcut.recipe import read_recipe, replay

BOX = '<path id="box" style="fill:none;stroke:#000" d="M 20,20 H 120 V 220 H 20 Z"/>'
"""Clockwise from the upper left corner: top 100, right side 200, bottom 100, left side 200 mm."""
SECOND = '<path id="second" style="fill:none;stroke:#000" d="M 220,20 H 320 V 220 H 220 Z"/>'
DARTED = '<path id="{0}" style="fill:none;stroke:#000" d="M {1},20 h 40 l 10,60 10,-60 h 40 V 220 h -100 Z"/>'


def drawing(*parts, recipe=""):
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
        f'width="400mm" height="300mm" viewBox="0 0 400 300">{"".join(parts)}</svg>'
    )
    held, pattern, _ = read(text.encode())
    return write(held, replay(read_recipe(recipe), pattern)) if recipe else text.encode()


def press(svg, operation, *ids, nodes=(), **given):
    words = [*(f"--id={i}" for i in ids), *(f"--selected-nodes={n}" for n in nodes)]
    words += [f"--{key}={value}" for key, value in given.items()]
    return bridge.pressed(read_words([f"--operation={operation}", *words, "in.svg"]), svg)


def after(svg, *words, **given):
    done = press(svg, *words, **given)
    assert done.document is not None, done.said
    return read(done.document)[1]


def lines(pattern):
    return [step.line for step in pattern.steps]


def nodes(name, *numbers):
    return [f"{name}:0:{number}" for number in numbers]


# plain outlines


@pytest.mark.parametrize(
    ("operation", "given", "line"),
    [
        ("allowance", {}, "allowance piece-1"),
        ("label", {"material": "shell"}, "label piece-1 --material=shell"),
        ("grain", {}, "grain piece-1"),
    ],
)
def test_a_plain_outline_becomes_a_piece_first_in_a_step_of_its_own(operation, given, line):
    pattern = after(drawing(BOX), operation, "box", **given)
    assert lines(pattern) == ["piece drawn:1", line]


@pytest.mark.parametrize("operation", [name for name in names() if needs_selection(load(name))])
def test_any_dialog_takes_a_plain_outline_for_a_piece(operation):
    """Where an edge, a dart or a corner is wanted the sentence speaks of the piece that it would be."""
    begins = said = ""
    try:
        begins = lines(after(drawing(BOX), operation, "box"))[0]
    except FlatcutError as error:
        said = str(error)
    assert begins == "piece drawn:1" or ("piece-1" in said and "drawn object" not in said)


def test_an_allowance_pressed_on_a_drawn_rectangle_gives_its_cut_line():
    """10 mm round 100 x 200: 120 x 220, mitred."""
    done = press(drawing(BOX), "allowance", "box", width="10")
    cut = [e for e in etree.fromstring(done.document).iter() if e.get(own("drawn")) == "cut"]
    points = node_points(cut[0].get("d"))[0]
    assert np.allclose([points.min(axis=0), points.max(axis=0)], [[10, 10], [130, 230]], atol=1e-6)


def test_the_steps_replay_on_the_plain_drawing():
    pattern = after(drawing(BOX), "allowance", "box", width="10")
    again = replay(read_recipe("\n".join(lines(pattern))), read(drawing(BOX))[1])
    assert again.piece("piece-1").edges[0].allowance.width == 10


def test_two_plain_outlines_and_a_stroke_that_points_at_one():
    """The stroke stays a stroke: it says where the notch stands and is no line of the new piece."""
    stroke = '<path id="stroke" d="M 110,100 H 125"/>'
    pattern = after(drawing(BOX, SECOND, stroke), "notch", "box", "stroke")
    (piece,) = pattern.pieces
    assert lines(pattern) == ["piece drawn:1", "notch piece-1.e2@40%"]
    assert piece.lines == ()


def test_nodes_of_a_plain_outline_are_its_corners():
    pattern = after(drawing(BOX), "corner", "box", nodes=nodes("box", 1), kind="bevelled")
    assert lines(pattern) == ["piece drawn:1", "corner piece-1.e1/e2 --kind=bevelled"]


def test_on_the_command_line_too(tmp_path, capsys):
    (tmp_path / "in.svg").write_bytes(drawing(BOX))
    assert (
        main(["allowance", "id:box", "--width=1cm", "-i", str(tmp_path / "in.svg"), "-o", str(tmp_path / "o.svg")]) == 0
    )
    pattern = read((tmp_path / "o.svg").read_bytes())[1]
    assert lines(pattern) == ["piece drawn:1", "allowance piece-1 --width=1cm"]
    assert {edge.allowance.width for edge in pattern.piece("piece-1").edges} == {10.0}


def test_a_closed_shape_in_a_piece_is_still_what_a_dart_is_made_of():
    svg = drawing(BOX, recipe="piece id:box --names=box")
    svg = svg.replace(b"</svg>", b'<path id="eye" d="M 70,60 L 76,110 70,160 64,110 Z"/></svg>')
    pattern = after(svg, "dart", "box", "eye")
    assert len(pattern.piece("box").darts) == 1
    assert [piece.name for piece in pattern.pieces] == ["box"]


# only what is selected


@pytest.fixture(scope="module")
def darted():
    recipe = "piece id:front id:back --names=front,back\ndart back.dart-1 --name=waist-dart\n"
    plain = BOX.replace('"box"', '"front"')
    return drawing(plain, DARTED.format("back", 220), recipe=recipe)


@pytest.mark.parametrize("operation", ["release", "back-off", "drill", "pivot", "divide"])
def test_with_the_front_selected_nothing_touches_the_back(darted, operation):
    with pytest.raises(UsageError, match=r"front is selected and has no dart, and a dart.* is wanted; draw one"):
        press(darted, operation, "front", by="10")


@pytest.mark.parametrize("operation", ["release", "back-off", "drill"])
def test_with_the_back_selected_its_dart_is_meant(darted, operation):
    pattern = after(darted, operation, "back", **({"by": "10"} if operation == "back-off" else {}))
    assert lines(pattern)[-1].startswith(f"{operation} back.waist-dart")


# nodes


@pytest.fixture(scope="module")
def box():
    return drawing(BOX, recipe="piece id:box --names=box\nallowance box --width=10\n")


def test_corners_selected_clockwise_name_the_edges_clockwise_from_the_first(box):
    pattern = after(box, "edge", "box", nodes=nodes("box", 1, 2, 3, 0), names="right,bottom,left,top")
    named = {edge.name: tuple(edge.start.round(6)) for edge in pattern.piece("box").edges}
    assert named == {"right": (120, 20), "bottom": (120, 220), "left": (20, 220), "top": (20, 20)}


def test_corners_selected_all_at_once_name_the_edges_as_drawn(box):
    """The editor gives nodes selected all at once in an order of its own, as 2, 0, 1, 3."""
    pattern = after(box, "edge", "box", nodes=nodes("box", 2, 0, 1, 3), names="a,b,c,d")
    assert [edge.name for edge in pattern.piece("box").edges] == ["a", "b", "c", "d"]


def test_three_corners_across_the_start_are_two_edges_in_outline_order(box):
    pattern = after(box, "edge", "box", nodes=nodes("box", 1, 3, 0), names="left,top")
    assert [edge.name for edge in pattern.piece("box").edges] == ["top", "e2", "e3", "left"]


@pytest.mark.parametrize("operation", ["edge", "allowance"])
def test_one_corner_is_no_edge_and_no_piece(box, operation):
    with pytest.raises(UsageError, match=r"box.e1/e2 is selected, and .* may be box.e1 or box.e2; select both ends"):
        press(box, operation, "box", nodes=nodes("box", 1), names="a")


SPLIT = BOX.replace("H 120", "H 45 H 95 H 120")
"""Two nodes inside the top, 25 and 75 mm along it."""


def test_two_nodes_inside_an_edge_are_a_stretch_of_it():
    svg = drawing(SPLIT, recipe="piece id:box --names=box\n")
    pattern = after(svg, "allowance", "box", nodes=nodes("box", 2, 1), width="15")
    assert lines(pattern)[-1] == "allowance box.e1@25..75 --width=15"
    pattern = after(svg, "allowance", "box", nodes=nodes("box", 0, 1), width="15")
    assert lines(pattern)[-1] == "allowance box.e1@0..25 --width=15"
    with pytest.raises(UsageError, match=r"mark the stretch box.e1@25..75, and an edge or a place is wanted"):
        press(svg, "edge", "box", nodes=nodes("box", 1, 2), names="a")


@pytest.fixture(scope="module")
def two_darts():
    """A piece with a dart in its top and one in its side, that in the top, and its nodes by where they are."""
    leg = DARTED.format("two", 20).replace("l 10,60 ", "l 5,30 5,30 ")
    leg = leg.replace("V 220", "V 100 l -40,10 40,10 V 220")
    svg = drawing(leg, recipe="piece id:two --names=two\n")
    darts = read(svg)[1].piece("two").darts
    assert len(darts) == 2
    top = min(darts, key=lambda dart: dart.points[0][1])
    points = node_points(etree.fromstring(svg).find(".//*[@id='two']").get("d"))[0]
    return svg, top.name, {tuple(point.round(3)): number for number, point in enumerate(points)}


@pytest.mark.parametrize("at", [(60, 20), (65, 50), (70, 80), (80, 20)], ids=["foot", "leg", "point", "other foot"])
@pytest.mark.parametrize(
    ("operation", "given"),
    [
        ("release", {}),
        ("drill", {}),
        ("back-off", {"by": "10"}),
        ("pivot", {"to": "two.e4@1/2"}),
        ("divide", {"to": "two.e4@1/2", "shares": "50,50"}),
    ],
)
def test_point_leg_and_foot_of_a_dart_select_it_in_every_dialog_about_darts(two_darts, operation, given, at):
    svg, name, numbers = two_darts
    pattern = after(svg, operation, "two", nodes=nodes("two", numbers[at]), **given)
    assert lines(pattern)[-1].startswith(f"{operation} two.{name}")


def test_nodes_of_the_cut_line_mean_the_stitch_line_beside_them(box):
    svg = box
    root = etree.fromstring(svg)
    cut = next(e for e in root.iter() if e.get(own("drawn")) == "cut")
    cut.set("id", "cut")
    pattern = after(etree.tostring(root), "edge", "cut", nodes=nodes("cut", 0, 1), names="top")
    ends = node_points(cut.get("d"))[0][:2]
    middle = ends.mean(axis=0)
    (edge,) = [e for e in pattern.piece("box").edges if e.name == "top"]
    beside = (edge.start + edge.end) / 2
    assert np.hypot(*(beside - middle)) == pytest.approx(10, abs=1e-6)


def test_places_beside_a_cut_line(box):
    piece = read(box)[1].piece("box")
    assert place_beside(piece, np.array([130.0, 10.0])) == "box.e1/e2"
    assert place_beside(piece, np.array([130.0, 120.0])) == "box.e2@1/2"
    assert place_beside(piece, np.array([70.0, 10.0])) == "box.e1@1/2"


# sentences


def test_sentences_have_articles_and_no_ids():
    svg = drawing(BOX, '<text id="text9" x="30" y="50">toile</text>', '<path id="path77" d="M 300,20 H 350"/>')
    with pytest.raises(FlatcutError) as told:
        press(svg, "allowance", "text9")
    assert str(told.value).startswith("the text 'toile' is selected, and an edge, a piece or a stretch is wanted; ")
    with pytest.raises(FlatcutError) as told:
        press(svg, "allowance", "path77")
    assert str(told.value).startswith("the line of 50 mm, 300 mm from the left and 20 mm from the top is selected, and")
    assert "path77" not in str(told.value)


# names beside a selection


@pytest.fixture(scope="module")
def two():
    recipe = "piece id:box id:second --names=front,back\nedge front.e3 back.e3 --names=hem,hem\n"
    return drawing(BOX, SECOND, recipe=recipe)


def said(done):
    return " ".join(row.text for row in etree.fromstring(done.document).iter("{http://www.w3.org/2000/svg}tspan"))


def test_a_bare_edge_name_is_of_the_selected_piece(two):
    assert lines(after(two, "allowance", "box", target="hem", width="30"))[-1] == "allowance front.hem --width=30"
    both = after(two, "allowance", "box", "second", target="hem", width="30")
    assert lines(both)[-1] == "allowance front.hem back.hem --width=30"
    assert lines(after(two, "edge", "second", target="hem@1/2", split="true"))[-1].startswith("edge back.hem@1/2")


def test_a_selection_goes_before_a_name_left_in_the_dialog(two):
    done = press(two, "allowance", "box", target="back.hem", width="30")
    assert lines(read(done.document)[1])[-1] == "allowance front --width=30"
    assert "'back.hem' in 'Edges or stretches' is passed over" in said(done)
    done = press(two, "allowance", "box", nodes=nodes("box", 0, 1), target="front.hem", width="30")
    assert lines(read(done.document)[1])[-1] == "allowance front.e1 --width=30"
    assert "is passed over" in said(done)


def test_a_name_on_the_selected_piece_says_more_than_the_piece(two):
    done = press(two, "allowance", "box", target="front.hem", width="30")
    assert lines(read(done.document)[1])[-1] == "allowance front.hem --width=30"
    assert "passed over" not in said(done)


STROKE = '<path id="stroke" style="fill:none;stroke:#000" d="M 20,120 L 120,140"/>'


@pytest.fixture(scope="module")
def parted():
    """`front` was cut into two: what a dialog still says of it is left from before."""
    recipe = (
        "piece id:box id:second --names=front,back\n"
        "line --start=front.e2@1/4 --end=front.e4@3/4 --name=yoke\n"
        "cut front.yoke --names=upper.e1,lower.e3\n"
    )
    return drawing(BOX, SECOND, STROKE, recipe=recipe)


def test_a_name_on_a_piece_that_is_no_more_gives_way_and_a_slip_does_not(parted):
    done = press(parted, "line", "stroke", until="front.e3")
    assert lines(read(done.document)[1])[-1].startswith("line --start=lower.e4@2/3")
    assert "in 'Edge or line at which it ends' is passed over: there is no piece front any more" in said(done)
    with pytest.raises(FlatcutError, match="there is no piece 'frnot'"):
        press(parted, "line", "stroke", until="frnot.e3")
    with pytest.raises(FlatcutError, match="there is no piece 'front'"):  # what it is about is never passed over
        press(parted, "allowance", target="front.e3")


def test_what_counts_from_the_tab_of_more_is_told(two):
    done = press(two, "line", start="front.e1@1/2", square="front.e1", until="front.hem")
    assert "on the tab More, 'Edge or line at which it ends': front.hem" in said(done)
    assert "on the tab More" not in said(press(two, "line", start="front.e1@1/2", square="front.e1"))


def test_a_name_with_spaces_is_taken_and_told():
    done = press(drawing(BOX), "piece", "box", names="skirt  front")
    assert [piece.name for piece in read(done.document)[1].pieces] == ["skirt-front"]
    assert said(done).count("'skirt  front' is called skirt-front") == 1
    assert "is called" not in said(press(drawing(BOX, SECOND), "piece", "box", "second", names="front, back"))


def test_a_single_piece_that_is_turned_over_is_told_and_found(tmp_path, capsys):
    """A right front cut once, mirrored as the editor does it: its own data are others, and it is for the left now."""
    shape = BOX.replace("H 120", "L 100,60 H 120").replace('"box"', '"right"')
    svg = drawing(shape, recipe="piece id:right --names=right\nlabel right --cut=single\n")
    root = etree.fromstring(svg)
    group = next(g for g in root.iter("{http://www.w3.org/2000/svg}g") if g.get(own("piece")) is not None)
    group.set("transform", "matrix(-1,0,0,1,300,0)")
    turned = etree.tostring(root)
    told = "right was turned over by hand, and it is cut single"
    assert told in said(press(turned, "grain", "right"))
    (tmp_path / "turned.svg").write_bytes(turned)
    assert main(["check", str(tmp_path / "turned.svg")]) == 1
    assert "turned over" in capsys.readouterr().out

"""From ids and nodes of the editor to pieces, lines and places; no editor is needed for it."""

from __future__ import annotations

import csv
import re
import sys
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from shapely import LineString

from flatcut.editor import bridge
from flatcut.editor.bridge import main, needs_selection, read_words
from flatcut.editor.chosen import selection
from flatcut.editor.nodes import node_points, places
from flatcut.editor.ways import stamp, way
from flatcut.errors import FlatcutError, InputError, UsageError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import flatten
from flatcut.operations.operation import load, names
from flatcut.pattern.spots import spot
from flatcut.recipe import read_recipe, replay

DRAWING = (Path(__file__).parent / "editor" / "drawing.svg").read_bytes()
PREPARED = """piece id:front id:back --names=front,back
allowance all --width=1cm
line --drawn=id:yoke --name=yoke
"""


def prepared(recipe=PREPARED, svg=DRAWING):
    drawing, pattern, _ = read(svg)
    return write(drawing, replay(read_recipe(recipe), pattern))


def edited(svg, change):
    root = etree.fromstring(svg)
    change(root)
    return etree.tostring(root)


def by_id(root, name):
    return root.find(f".//*[@id='{name}']")


def written(references):
    return tuple(map(str, references))


def chosen(svg, *ids, nodes=()):
    drawing, pattern, _ = read(svg)
    return selection(drawing, pattern, ids, nodes)


def group_of(root, name):
    return by_id(root, name).getparent()


def named(svg):
    """The document with an id on every element, as the editor hands it over."""

    def change(root):
        for number, element in enumerate(root.iter(etree.Element)):
            if element.get("id") is None:
                element.set("id", f"made{number}")

    return edited(svg, change)


@pytest.fixture(scope="module")
def svg():
    return named(prepared())


def derived_ids(svg, piece):
    root = etree.fromstring(svg)
    uid = by_id(root, piece).get(own("outline"))
    return {e.get(own("drawn")): e.get("id") for e in root.iter(etree.Element) if e.get(own("of")) == uid}


def test_outline_group_cut_line_and_label_mean_the_piece(svg):
    root = etree.fromstring(svg)
    drawn = derived_ids(svg, "front")
    assert {"cut", "label"} <= set(drawn)
    label_line = by_id(root, drawn["label"])[0].get("id")
    for name in ("front", group_of(root, "front").get("id"), drawn["cut"], drawn["label"], label_line):
        assert chosen(svg, name).pieces == ("front",), name


def test_order_of_selection_is_kept_and_each_counts_once(svg):
    drawn = derived_ids(svg, "front")
    assert chosen(svg, "back", "front", drawn["cut"]).pieces == ("back", "front")


def test_drawn_objects_and_lines(svg):
    assert chosen(svg, "sleeve", "note").drawn == ("sleeve", "note")
    root = etree.fromstring(svg)
    inner = next(e for e in root.iter(etree.Element) if e.get(own("line")) is not None)
    assert written(chosen(svg, inner.get("id")).lines) == ("front.yoke",)
    assert chosen(svg, inner.get("id")).pieces == ()


def test_a_layer_means_all_that_is_in_it(svg):
    everything = chosen(svg, "layer")
    assert everything.pieces == ("front", "back")
    assert {"sleeve", "note", "bust"} <= set(everything.drawn)


def test_a_clone_means_what_it_shows(svg):
    def change(root):
        use = etree.SubElement(root, "{http://www.w3.org/2000/svg}use", id="clone")
        use.set("{http://www.w3.org/1999/xlink}href", "#" + group_of(root, "back").get("id"))

    assert "back" in chosen(edited(svg, change), "clone").pieces


def test_a_foreign_object_in_the_group_of_a_piece_is_itself(svg):
    def change(root):
        path = etree.SubElement(group_of(root, "front"), "{http://www.w3.org/2000/svg}path", id="mine")
        path.set("d", "M 60,200 H 90")

    found = chosen(edited(svg, change), "mine")
    assert (found.pieces, found.drawn) == ((), ("mine",))


def test_ids_that_are_not_there_mean_nothing(svg):
    assert not chosen(svg, "nobody")
    assert not chosen(svg)


# nodes


def corner_nodes(svg, piece):
    """Node numbers of an outline as the editor counts them, by position."""
    root = etree.fromstring(svg)
    points = node_points(by_id(root, piece).get("d"))[0]
    return points, [f"{piece}:0:{k}" for k in range(len(points))]


def test_corner_nodes_are_corners(svg):
    points, nodes = corner_nodes(svg, "front")
    found = chosen(svg, "front", nodes=nodes)
    assert found.pieces == ()
    assert len(found.places) == len(points)
    assert set(written(found.places)) == {
        "front.e1/e2",
        "front.e2/e3",
        "front.e3/e4",
        "front.e4/e5",
        "front.e5/e6",
        "front.e6/e1",
    }
    _, pattern, _ = read(svg)
    for place, at in zip(found.places, points, strict=True):
        assert np.allclose(spot(pattern, place).point, at, atol=1e-6)


def test_a_node_inside_an_edge_is_a_fraction_of_it():
    """Half a straight edge is half of it: node 1 is the middle of the side from (100, 40) to (200, 40)."""
    svg = DRAWING.replace(b"</svg>", b'<path id="box" d="M 100,40 L 150,40 200,40 200,90 100,90 Z"/></svg>')
    svg = named(prepared("piece id:box --names=box", svg))
    _, nodes = corner_nodes(svg, "box")
    assert written(chosen(svg, "box", nodes=nodes[1:2]).places) == ("box.e1@1/2",)


@pytest.mark.parametrize("change", ["reversed", "shifted", "relative", "moved"])
def test_nodes_are_found_by_where_they_are(change):
    """The file's path may run the other way, start elsewhere, be written otherwise, or be moved with its group."""
    svg = DRAWING.replace(b"</svg>", b'<path id="box" d="M 100,40 H 200 V 90 H 100 Z"/></svg>')
    svg = named(prepared("piece id:box --names=box", svg))
    paths = {
        "reversed": "M 100,40 L 100,90 200,90 200,40 Z",
        "shifted": "M 200,90 L 100,90 100,40 200,40 Z",
        "relative": "m 100,40 h 100 v 50 h -100 v -50 z",
    }

    def alter(root):
        if change == "moved":
            group_of(root, "box").set("transform", "translate(30,7) rotate(90)")
        else:
            by_id(root, "box").set("d", paths[change])

    svg = edited(svg, alter)
    drawing, pattern, _ = read(svg)
    outline = drawing.held[pattern.piece("box").uid].outline
    matrix = drawing.document.matrix_of(outline)
    points, nodes = corner_nodes(svg, "box")
    assert len(points) == 4
    for node, point in zip(nodes, points, strict=True):
        (place,) = places(pattern.piece("box"), outline, matrix, [node])
        assert np.allclose(spot(pattern, place).point, matrix.apply(point), atol=1e-3)
        assert "/" in place


def test_feet_and_point_of_a_dart_are_named():
    svg = DRAWING.replace(b"</svg>", b'<path id="box" d="M 100,40 H 140 L 150,110 160,40 H 200 V 190 H 100 Z"/></svg>')
    svg = named(prepared("piece id:box --names=box", svg))
    _, pattern, _ = read(svg)
    (dart,) = pattern.piece("box").darts
    found = written(chosen(svg, "box", nodes=["box:0:1", "box:0:2", "box:0:3"]).places)
    assert found == (f"box.{dart.name}.foot-1", f"box.{dart.name}.point", f"box.{dart.name}.foot-2")


def test_nodes_of_several_paths_are_refused(svg):
    with pytest.raises(UsageError, match="one path at a time"):
        chosen(svg, "front", "back", nodes=["front:0:0"])


def test_a_node_that_is_not_there_is_refused(svg):
    with pytest.raises(UsageError, match="no node"):
        chosen(svg, "front", nodes=["front:0:99"])


def test_nodes_of_a_drawn_line_leave_the_line_selected(svg):
    found = chosen(svg, "sleeve", nodes=["sleeve:0:1"])
    assert (found.drawn, found.places) == (("sleeve",), ())
    assert found.nodes == (("sleeve", 660, 200),)


def test_nodes_are_numbered_as_the_editor_does():
    """Measured in the editor: a 5-corner closed path has nodes 0 to 4; the closing node is not counted."""
    assert [len(p) for p in node_points("M0 0 4 0 5 3 2 5 0 3Z")] == [5]
    assert [len(p) for p in node_points("M0 0 4 0 5 3 2 5 0 3 0 0Z")] == [5]
    assert [len(p) for p in node_points("M0 0 4 0 5 3M0 0H1")] == [3, 2]
    assert node_points("M0 0C1 1 2 1 3 0S 5 -1 6 0")[0].tolist() == [[0, 0], [3, 0], [6, 0]]


# presses


def perform(press, data):
    """The document after a press."""
    return bridge.pressed(press, data).document


def pressed(svg, *words):
    return perform(read_words([*words, "in.svg"]), svg)


def test_a_press_equals_the_operation():
    result = pressed(DRAWING, "--operation=piece", "--id=front", "--names=front")
    drawing, pattern, _ = read(DRAWING)
    wanted = write(drawing, replay(read_recipe("piece id:front --names=front"), pattern))
    said = next(e for e in etree.fromstring(result).iter() if e.get(own("told")) is not None)
    bare = edited(result, lambda root: root.remove(by_id(root, said.get("id"))))
    one, other = (etree.tostring(etree.fromstring(data), method="c14n") for data in (bare, wanted))
    assert one == other


@pytest.mark.parametrize("name", names())
def test_empty_selection_says_what_to_select(name):
    cls = load(name)
    if needs_selection(cls):
        with pytest.raises(UsageError, match=r"nothing is selected; select .* first"):
            pressed(DRAWING, f"--operation={name}")


def test_what_is_no_part_of_a_pattern_is_said(svg):
    with pytest.raises(InputError, match="neither a piece nor a drawn line"):
        pressed(svg, "--operation=allowance", "--id=root-of-nothing")


def test_a_piece_that_cannot_be_read_is_said(svg):
    broken = edited(svg, lambda root: by_id(root, "front").set("d", "M 0,0 H 9 V 9"))
    with pytest.raises(FlatcutError, match="left as it is"):
        pressed(broken, "--operation=allowance", "--id=front")


def test_a_measurement_that_is_not_kept_is_told(svg):
    done = bridge.pressed(read_words(["--operation=measure", "--target=front.e1", "--as=", "in.svg"]), svg)
    assert done.said == ""
    assert re.search(r"front.e1: [\d.]+ mm", " ".join(told(done.document)))
    assert read(done.document)[1].steps == read(svg)[1].steps


def told(document):
    """The lines that a press left beside the pieces."""
    layers = [e for e in etree.fromstring(document).iter() if e.get(own("told")) is not None]
    return [row.text for layer in layers for row in layer.iter("{http://www.w3.org/2000/svg}tspan")]


LAYERS = b"""<svg xmlns="http://www.w3.org/2000/svg" xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"
xmlns:sodipodi="http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd" width="400mm" height="400mm" viewBox="0 0 400 400">
<defs><clipPath id="clip"><path id="clipper" d="M 0,0 H 50 V 50 H 0 Z"/></clipPath></defs>
<g inkscape:groupmode="layer" inkscape:label="old" style="display:none"><path id="unseen" d="M 20,20 H 90 V 90 Z"/></g>
<g inkscape:groupmode="layer" inkscape:label="block" sodipodi:insensitive="true">
<path id="locked" d="M 120,20 H 190 V 90 H 120 Z"/></g>
<g inkscape:groupmode="layer" inkscape:label="work"><text id="words" x="10" y="200">note</text>
<path id="clipped" clip-path="url(#clip)" d="M 20,120 H 90 V 190 H 20 Z"/><path id="open" d="M 220,120 H 290 V 190"/>
<image id="photo" width="10" height="10"/></g></svg>"""


@pytest.mark.parametrize(
    ("what", "sentence"),
    [
        ("unseen", "lies on the layer 'old', which is hidden; show it first"),
        ("clipper", "only cuts what another object shows; select that one"),
        ("words", "the text 'note' is selected, and a closed path is wanted"),
        ("open", "the line of 140 mm, 220 mm from the left and 120 mm from the top is not closed"),
        ("photo", "an image is selected, and outlines are drawn lines"),
    ],
)
def test_why_what_is_selected_becomes_no_piece(what, sentence):
    with pytest.raises(FlatcutError) as told:
        pressed(LAYERS, "--operation=piece", f"--id={what}")
    assert sentence in str(told.value)
    assert f"'{what}'" not in str(told.value)


@pytest.mark.parametrize(
    ("what", "sentence"),
    [("clipped", "its whole outline counts, not what the clip shows"), ("locked", "the layer 'block' is locked")],
)
def test_what_a_clip_or_a_locked_layer_means_is_said(what, sentence):
    after = pressed(LAYERS, "--operation=piece", f"--id={what}")
    assert sentence in " ".join(told(after))


def test_edges_of_two_pieces_are_sewn_as_selected_by_pieces_nodes_or_strokes(svg):
    """The sides of front and back, by both ends of each or by a stroke across each."""
    across = b'<path id="one" d="M 265,340 h 20"/><path id="other" d="M 296,340 h 20"/><path id="yoke"'
    stroked_too = svg.replace(b'<path id="yoke"', across, 1)
    front, back = (read(svg)[1].piece(name) for name in ("front", "back"))
    ends = [end_nodes(svg, piece, "e4") for piece in (front, back)]
    nodes = [f"--selected-nodes={node}" for pair in ends for node in pair]
    by_nodes = pressed(svg, "--operation=seam", "--id=front", "--id=back", *nodes)
    by_strokes = pressed(stroked_too, "--operation=seam", "--id=front", "--id=back", "--id=one", "--id=other")
    for after in (by_nodes, by_strokes):
        assert read(after)[1].steps[-1].line == "seam front.e4 back.e4"


def end_nodes(svg, piece, edge):
    """The nodes of a piece's path at both ends of an edge, as the editor counts them."""
    root = etree.fromstring(svg)
    drawn = node_points(by_id(root, piece.name).get("d"))[0]
    ends = (piece.edge(edge).start, piece.edge(edge).end)
    return [f"{piece.name}:0:{int(np.argmin(np.hypot(*(np.array(drawn) - end).T)))}" for end in ends]


STROKE = b'<path id="stroke" d="M 270,330 L 285,332"/>'
"""Across the front's side seam."""


@pytest.fixture
def stroked():
    """Front and back with a dart in the front's waist, and a stroke across its side."""
    lines = """piece id:front id:back --names=front,back
point --drawn=id:bust --name=bust-point
dart front.e5@1/2 --intake=30 --point=front.bust-point
back-off front.dart-1 --by=20
"""
    return prepared(lines, DRAWING.replace(b'<path id="bust"', STROKE + b'<path id="bust"'))


def crossing(svg, piece, edge):
    """Where the stroke meets the edge, by shapely on a fine polyline."""
    owner = read(svg)[1].piece(piece)
    points = np.concatenate([flatten(part, tolerance=1e-4) for part in owner.edge(edge).parts])
    return np.array(LineString(points).intersection(LineString([(270, 330), (285, 332)])).coords[0])


def test_a_stroke_selected_with_a_piece_says_where_a_dart_goes(stroked):
    at = crossing(stroked, "front", "e4")
    result = read(perform(press(stroked, "pivot", "front", "stroke"), stroked))[1]
    feet = np.array(result.piece("front").darts[0].feet)
    assert np.hypot(*(feet - at).T).min() < 0.01
    assert result.steps[-1].line.startswith("pivot front.dart-1 --to=front.e4@")


def test_a_stroke_says_where_a_notch_stands(stroked):
    at = crossing(stroked, "front", "e4")
    result = read(perform(press(stroked, "notch", "stroke"), stroked))[1]
    place = result.steps[-1].line.split()[1]
    assert np.allclose(spot(result, place).point, at, atol=0.01)
    assert len(result.piece("front").notches) == 1


def test_a_mark_on_the_point_of_a_dart_is_that_point(stroked):
    apex = read(stroked)[1].piece("front").darts[0].points[0]
    mark = f'<path id="mark" d="M {apex[0] - 2},{apex[1] + 0.5} h 4"/>'.encode()
    svg = stroked.replace(STROKE, STROKE + mark)
    result = read(perform(press(svg, "point", "mark", name="apex"), svg))[1]
    assert result.steps[-1].line == "point --at=front.dart-1.point --name=apex"
    assert np.allclose(result.piece("front").points[-1].at, apex)


def press(svg, operation, *ids, **given):
    words = [*(f"--id={i}" for i in ids), *(f"--{key}={value}" for key, value in given.items())]
    return read_words([f"--operation={operation}", *words, "in.svg"])


SHARE_AND_ANGLE = {"share": "0.5", "angle": "3"}


@pytest.mark.parametrize(
    ("operation", "given", "sentence"),
    [
        ("pivot", {"to": "front.e4@1/2", **SHARE_AND_ANGLE}, "'Share of the angle, 0 to 1' and 'Degrees"),
        (
            "edge",
            {"target": "front.e1", "names": "a,b"},
            "'Names' gives 2",
        ),
        ("dart", {"target": "front.dart-1"}, "give 'Name of the dart', 'Pressed toward'"),
        ("corner", {}, "front is selected, and a corner is wanted; select its node, or name it in 'Corners"),
    ],
)
def test_sentences_name_the_fields_of_the_dialog(stroked, operation, given, sentence):
    with pytest.raises(FlatcutError) as told:
        perform(press(stroked, operation, "front", **given), stroked)
    assert sentence in str(told.value)
    assert "--" not in str(told.value)


def test_unknown_words_and_operations_are_refused(svg):
    with pytest.raises(UsageError, match="no word of the editor"):
        read_words(["--width"])
    with pytest.raises(FlatcutError, match="operation"):
        pressed(svg, "--operation=mend", "--id=front")


def test_a_process_of_its_own_gives_drawing_or_sentence(tmp_path, capfdbinary):
    file = tmp_path / "in.svg"
    file.write_bytes(DRAWING)
    assert main(["--operation=piece", "--id=front", "--names=front", str(file)]) == 0
    out, err = capfdbinary.readouterr()
    assert read(out)[1].piece("front")
    assert err == b""
    assert main(["--operation=join", str(file)]) == 2
    out, err = capfdbinary.readouterr()
    assert out == b""
    assert err.decode().startswith("nothing is selected")
    assert main(["--nothing", str(file)]) == 2


# ways


def test_packages_beside_are_used_only_by_the_python_they_are_for(tmp_path, monkeypatch):
    monkeypatch.setattr("sys.path", [])
    (tmp_path / "deps").mkdir()
    (tmp_path / "installed.json").write_text('{"way": "beside", "python": "python3"}')
    assert way(tmp_path) == "other"
    (tmp_path / "deps" / "stamp").write_text("cpython-26 elsewhere")
    assert way(tmp_path) == "other"
    (tmp_path / "deps" / "stamp").write_text(stamp())
    assert way(tmp_path) == "beside"
    assert sys.path == [str(tmp_path / "deps")]


def test_without_a_record_the_own_packages_are_used(tmp_path):
    assert way(tmp_path) == "own"
    (tmp_path / "installed.json").write_text("{")
    assert way(tmp_path) == "own"


SAMPLES = Path(__file__).parent.parent / "samples" / "digitised"


def test_a_whole_drawing_selected_becomes_pieces_by_its_table(tmp_path):
    """The first ten outlines of the sample and their rows of its table; `test_wardrobe` has all fifty."""
    data = (SAMPLES / "wardrobe.svg").read_bytes().partition(b'<path id="outline-11"')[0] + b"</svg>"
    root = etree.fromstring(data)
    labels = {"".join(text.itertext()).strip() for text in root.iter("{http://www.w3.org/2000/svg}text")}
    with (SAMPLES / "wardrobe.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["drawn"] in labels or not row["cut"]]
    table = tmp_path / "ten.csv"
    with table.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    ids = [element.get("id") for element in root.iter(etree.Element) if element.get("id")]
    ids += ["unnamed-text-1"]
    made = perform(
        read_words(["--operation=piece", f"--table={table}", *(f"--id={name}" for name in ids), "in.svg"]), data
    )
    sewn = read(perform(read_words(["--operation=seam", "--suggest=true", "in.svg"]), made))[1]
    assert {piece.name for piece in sewn.pieces} == {row["name"] for row in rows if row["cut"]}
    assert len(sewn.pieces) == 10
    assert len(sewn.seams) >= 5
    assert all(seam.suggested for seam in sewn.seams)
    with pytest.raises(InputError, match="cannot be read; give a text file"):
        perform(read_words(["--operation=piece", "--table=/nowhere/pieces.csv", "--id=outline-1", "in.svg"]), data)

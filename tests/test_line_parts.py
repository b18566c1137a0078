"""A line that an open dart breaks is one line in parts: one name, one length, and every part is looked at.

Judged by lengths and crossings of straight lines, reckoned here in closed form.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.errors import FlatcutError
from flatcut.formats.json_pieces import piece_record
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import line, point, polyline
from flatcut.operations.operation import load
from flatcut.pattern.places import parse_place, read_run
from flatcut.pattern.runs import found_run, run_curves, run_sewn, show_run, walk
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece
from flatcut.recipe import read_recipe, replay


def panel() -> Pattern:
    """A square of 200 with a dart, 40 wide and 150 deep, in its foot, and a level line 80 from the top."""
    corners = [np.array(at, dtype=float) for at in ((0, 0), (200, 0), (200, 200), (120, 200), (80, 200), (0, 200))]
    edges = (
        Edge(uid="t", name="top", parts=(line(corners[0], corners[1]),)),
        Edge(uid="r", name="right", parts=(line(corners[1], corners[2]),)),
        Edge(uid="f", name="foot", parts=(line(corners[2], corners[3]), line(corners[4], corners[5]))),
        Edge(uid="l", name="left", parts=(line(corners[5], corners[0]),)),
    )
    apex = np.array([100.0, 50.0])
    dart = Dart(uid="d", name="dart", legs=(line(corners[3], apex), line(apex, corners[4])), host="f", after=0)
    level = Line(uid="x", name="level", curve=line((0, 80), (200, 80)), kind="balance")
    lines = (replace(level, curve=line((0, 80), (94, 80))), replace(level, uid="y", curve=line((106, 80), (200, 80))))
    return Pattern(pieces=(Piece(uid="p", name="p", edges=edges, darts=(dart,), lines=lines),))


def test_a_line_in_parts_is_met_and_measured_in_all_of_them() -> None:
    pattern = panel()
    assert spot(pattern, "p.right/level").point == pytest.approx([200, 80])
    assert spot(pattern, "p.left/level").point == pytest.approx([0, 80])
    # two parts of 94 mm: the mouth between them counts nothing
    assert run_sewn(pattern, found_run(pattern, read_run("p.level"))) == pytest.approx(188)
    assert spot(pattern, "p.level@100").point == pytest.approx([112, 80])
    assert spot(pattern, "p.level@-20").point == pytest.approx([180, 80])
    assert spot(pattern, "p.level/right@20:left").point == pytest.approx([180, 80])
    for text in ("p.level", "-p.level", "p.level@10..30"):
        assert show_run(pattern, found_run(pattern, read_run(text))) == text
    over = found_run(pattern, read_run("p.level@80..120"))
    assert len(over) == 2
    assert run_sewn(pattern, over) == pytest.approx(40)
    (told,) = piece_record(pattern.pieces[0], pattern)["lines"]
    assert told == {"name": "level", "kind": "balance", "length": pytest.approx(188)}


def test_what_wants_one_stroke_says_that_there_are_several() -> None:
    pattern = panel()
    for call in (
        lambda: load("spread")(target="p.level", amount="2cm")(pattern),
        lambda: load("button")(target="p.level", count=3)(pattern),
        lambda: load("drill")(target="p.level")(pattern),
    ):
        with pytest.raises(FlatcutError, match="is in 2 parts"):
            call()


def test_a_dart_that_opens_over_a_line_leaves_it_one_name_and_closing_makes_it_whole() -> None:
    text = """block torso --size=bust-90 --front-darts=1 --back-darts=1
    edge front.centre --use=seam
    pivot front.bust-dart --to=front.side@1/4 --hold=front.centre
    """
    opened = replay(read_recipe(text), Pattern())
    front = opened.piece("front")
    assert [item.name for item in front.lines] == ["bust-line", "waist-line", "waist-line"]
    at = spot(opened, "front.centre/waist-line").point
    ends = [point(item.curve, u) for item in front.lines if item.name == "waist-line" for u in (0, len(item.curve))]
    assert min(float(np.hypot(*(end - at))) for end in ends) < 0.01
    assert spot(opened, parse_place("front.side/waist-line")).edge == front.edge("side").uid
    drawing, _, _ = new_drawing()
    _, again, findings = read(write(drawing, opened))
    assert findings == []
    assert [item.name for item in again.piece("front").lines] == ["bust-line", "waist-line", "waist-line"]
    closed = replay(read_recipe("pivot front.bust-dart --to=front.shoulder@1/2 --hold=front.centre"), opened)
    assert [item.name for item in closed.piece("front").lines] == ["bust-line", "waist-line"]


def test_the_axis_of_a_dart_meets_a_line_in_any_of_its_parts() -> None:
    pattern = panel()
    piece = pattern.pieces[0]
    slant = Line(uid="s", name="slant", curve=line((0, 30), (200, 50)))
    pattern = pattern.with_piece(replace(piece, lines=(*piece.lines, slant)))
    # the axis is upright at 100; it runs on beyond the point, too
    assert spot(pattern, "p.dart.axis/slant").point == pytest.approx([100, 40])
    assert spot(pattern, "p.dart.axis/top").point == pytest.approx([100, 0])
    for text, said in (
        ("p.dart.axis/level", "the axis does not meet level"),
        ("p.dart.axis/slant@3cm", "told in two ways"),
        ("p.dart.axis", r"a whole axis; write how far .* or what it meets"),
        ("p.dart.axis/nothing", "nothing"),
    ):
        with pytest.raises(FlatcutError, match=said):
            spot(pattern, text)


def test_a_run_that_begins_a_hair_before_a_node_begins_at_it() -> None:
    """No span without a length is left there, which has no direction to go on in."""
    side = polyline([(0.0, 0.0), (100.0, 0.0), (200.0, 5.0)])
    back = line((200.0, 5.0), (0.0, 0.0))
    edges = (Edge(uid="a", name="a", parts=(side,)), Edge(uid="b", name="b", parts=(back,)))
    piece = Piece(uid="p", name="p", edges=edges)
    pattern = Pattern(pieces=(piece,))
    for at in ("99.9999999999mm", "100mm", "100.0000000001mm"):
        (step,) = walk(pattern, found_run(pattern, read_run(f"p.a@{at}..100%")))
        (curve,) = run_curves(step)
        assert len(curve) == 1, at
        assert curve.start == pytest.approx([100.0, 0.0], abs=1e-6)

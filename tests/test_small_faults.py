"""Small wrong changes to the code that once passed all tests, each held here by figures from outside it."""

from __future__ import annotations

import math
import subprocess
from collections import Counter
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from flatcut.checks.check import Subject, run_checks
from flatcut.checks.check import load as load_check
from flatcut.drawing.ink import Ink, Words
from flatcut.drawing.pieces import pattern_inks
from flatcut.drawing.roles import LABEL
from flatcut.findings import WARNING
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.pdf import pdf
from flatcut.formats.svg.matching import match
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import line, point, polyline
from flatcut.marking.cutline import cut_line
from flatcut.marking.labels import included
from flatcut.marking.line_words import LineWords
from flatcut.marking.symbols.shapes import circle
from flatcut.pattern.marks.hole import of_dart
from flatcut.pattern.values import Allowance, Dart, Pattern, Piece, Position, RunPart, Seam, Stretch
from flatcut.printing.control import ControlLine
from flatcut.printing.page import Page, Part
from tests.seeding import SETS, made
from tests.test_check_limits import SQUARE, ring, sewn
from tests.test_piece_operation import through_svg


@pytest.mark.parametrize("by", [5.0, 10.0, 25.0])
def test_a_drill_hole_lies_on_the_bisector_of_legs_of_two_lengths(by: float) -> None:
    """As far from the one leg as from the other, by the formula of a point's distance to a line through two others."""
    point, feet = np.array([50.0, 80.0]), (np.array([0.0, 0.0]), np.array([66.0, 35.0]))
    dart = Dart(uid="d", name="d", host="e", legs=(line(feet[0], point), line(point, feet[1])))
    at = of_dart(dart, "point", by)
    away = [
        abs((foot[0] - point[0]) * (at[1] - point[1]) - (foot[1] - point[1]) * (at[0] - point[0]))
        / math.hypot(*(foot - point))
        for foot in feet
    ]
    assert away[0] == pytest.approx(away[1], abs=1e-9)
    assert math.hypot(*(at - point)) == pytest.approx(by)
    # inside the dart, not on the other side of its point
    assert (at - point) @ (feet[0] - point) > 0
    assert (at - point) @ (feet[1] - point) > 0


# What is drawn and printed --------------------------------------------------------------------------------------------


def test_every_hole_button_and_point_is_drawn() -> None:
    lines = "button back.centre@1cm..-1cm --count=5\nbutton front.armhole --count=4 --inset=20\ndrill front.dart-1"
    pattern = made(f"{lines}\npoint --at=front.side@1/2 --name=here", SETS["top"]())
    front, back = pattern.piece("front"), pattern.piece("back")
    inks = dict(zip([p.name for p in pattern.pieces], pattern_inks(pattern), strict=True))
    for piece, counts in ((front, {"hole": 1, "button": 4, "point": len(front.points)}), (back, {"button": 5})):
        drawn = Counter(stroke.role.name for stroke in inks[piece.name].strokes)
        assert {name: drawn[name] for name in counts} == counts
        assert all(stroke.curves for stroke in inks[piece.name].strokes)
    # on paper too: the marks are strokes of the sheets, each at its place
    for button in back.buttons:
        near = [s for s in inks["back"].strokes if s.of == button.uid]
        nodes = np.concatenate([curve.nodes for s in near for curve in s.curves])
        assert (nodes.min(axis=0) + nodes.max(axis=0)) / 2 == pytest.approx(button.at, abs=0.01)


@pytest.mark.parametrize("angle", [30.0, -30.0, -90.0, 60.0])
def test_printed_words_are_turned_clockwise_by_their_angle(angle: float, tmp_path: Path) -> None:
    """Poppler draws the page; the greatest principal axis of what is dark is the line that the words stand on, and the
    long word at its end says which way it reads."""
    words = Words(
        role=LABEL, lines=("iiiiiiiiiiiiiiiiiiiiii MMMMMMMMMM",), at=np.array([100.0, 100.0]), height=6.0, angle=angle
    )
    page = Page(width=200.0, height=200.0, parts=(Part(ink=Ink(items=(words,))),), name="")
    file = tmp_path / "words.pdf"
    file.write_bytes(pdf([page], title="words"))
    subprocess.run(["pdftoppm", "-r", "72", "-gray", str(file), str(tmp_path / "w")], check=True)
    (image,) = tmp_path.glob("w*.pgm")
    data = image.read_bytes()
    wide, high = (int(number) for number in data.split(maxsplit=3)[1:3])
    grey = 255.0 - np.frombuffer(data[-wide * high :], dtype=np.uint8).reshape(high, wide)
    y, x = np.nonzero(grey > 60)
    weight = grey[y, x]
    points = np.stack([x, y], axis=1) - np.average(np.stack([x, y], axis=1), axis=0, weights=weight)
    values, ways = np.linalg.eigh((points * weight[:, None]).T @ points)
    way = ways[:, int(np.argmax(values))]
    along = points @ way
    # the heavy letters stand at the end of the line, so the light end is the farther one
    way = way if -along.min() > along.max() else -way
    assert math.degrees(math.atan2(way[1], way[0])) == pytest.approx(angle, abs=2)


def test_a_control_line_has_a_bar_at_each_end_and_at_every_100_mm() -> None:
    control = ControlLine(start=np.array([20.0, 50.0]), end=np.array([370.0, 50.0]), long=350.0)
    line_stroke, bars = control.ink.strokes
    assert [curve.nodes.tolist() for curve in line_stroke.curves] == [[[20, 50], [370, 50]]]
    places = sorted(float(bar.nodes[:, 0].mean()) for bar in bars.curves)
    assert places == pytest.approx([20, 120, 220, 320, 370])
    high = {float(bar.nodes[0, 0]): float(np.ptp(bar.nodes[:, 1])) for bar in bars.curves}
    assert high[20.0] == high[370.0] == 2 * high[120.0]


# What is read and written ---------------------------------------------------------------------------------------------


def test_the_usual_width_of_each_use() -> None:
    """Seam 1 cm, hem 4 cm, opening 2 cm, nothing on a fold (common practice, no source)."""
    piece = ring(SQUARE, top="opening", right="seam", bottom="hem", left="fold")
    bare = replace(piece, edges=tuple(replace(edge, allowance=None) for edge in piece.edges))
    done = made("allowance a", Pattern(pieces=(bare,))).piece("a")
    widths = {edge.name: 0.0 if edge.allowance is None else edge.allowance.width for edge in done.edges}
    assert widths == {"top": 20.0, "right": 10.0, "bottom": 40.0, "left": 0.0}


def test_text_behind_the_first_element_of_a_group_stays_when_that_is_taken_in() -> None:
    """The second leg of a drawn dart is alone in its group: the leg goes, what is written behind it does not."""
    body = (
        '<g id="front"><path id="o" d="M0,0 H400 V400 H0 Z"/><path id="one" d="M180,0 L200,200"/>'
        '<g id="apart"><path id="two" d="M220,0 L200,200"/>behind</g></g>'
    )
    data, pattern, _ = through_svg(body)
    assert [dart.name for dart in pattern.pieces[0].darts] == ["dart-1"]
    root = etree.fromstring(data)
    assert not root.xpath("//*[@id='two']")
    assert "behind" in "".join(root.itertext())


@pytest.mark.parametrize("nodes", [[(0, 0), (90, 10), (20, 80)], [(0, 0), (90, 0), (90, 60), (0, 60)]])
def test_a_dragged_corner_is_no_stretch(nodes: list[tuple[float, float]]) -> None:
    """Any three points are an affine image of any other three, so a triangle's corner says nothing of a stretch."""
    last = polyline([*nodes, nodes[0]])
    dragged = polyline([nodes[0], (nodes[1][0] + 8, nodes[1][1] + 3), *nodes[2:], nodes[0]])
    found = match(last, list(range(len(nodes))), dragged)
    assert found.how == "edited"
    assert [(k, round(by, 6)) for k, by in found.changed] == [(1, round(math.hypot(8, 3), 6))]


def test_a_stretched_rectangle_is_stretched() -> None:
    nodes = [(0, 0), (90, 0), (90, 60), (0, 60), (0, 0)]
    found = match(polyline(nodes), [0, 1, 2, 3], polyline([(1.1 * x, y) for x, y in nodes]))
    assert (found.how, round(found.motion.a, 6), round(found.motion.d, 6)) == ("moved", 1.1, 1.0)


@pytest.mark.parametrize("suggested", [(True, True, True), (False, False, False), (True, False, True)])
def test_what_is_suggested_is_read_as_suggested(suggested: tuple[bool, ...]) -> None:
    """As in the value, so in the drawing and what is listed of it, and its check warns and finds no fault."""
    pieces = tuple(ring(SQUARE, name, at=300.0 * k) for k, name in enumerate("abcd"))
    longer = ring([(0, 0), (200, 0), (200, 210), (0, 210)], "d", at=900.0)
    seams = tuple(
        Seam(
            uid=f"s{k}",
            a=(RunPart(piece=one, of=f"{one}-right"),),
            b=(RunPart(piece=two, of=f"{two}-left"),),
            reversed=True,
            suggested=suggested[k],
        )
        for k, (one, two) in enumerate(pairwise("abcd"))
    )
    drawing, blank, _ = new_drawing()
    data = write(drawing, replace(blank, pieces=(*pieces[:3], longer), seams=seams))
    _, again, found = read(data)
    assert not found
    assert tuple(seam.suggested for seam in again.seams) == suggested
    assert tuple(record["suggested"] for record in pattern_record(again)["seams"]) == suggested
    (walked,) = [f for f in run_checks(again) if f.check == "seam-walk"]
    assert (walked.severity == WARNING, "only suggested" in walked.text) == (suggested[2], suggested[2])


# Corners and widths ---------------------------------------------------------------------------------------------------


def bent(degrees: float) -> Piece:
    """A square of 200 mm whose top edge turns by so many degrees in its middle; positive: outward."""
    piece = ring(SQUARE)
    high = 100 * math.tan(math.radians(degrees / 2))
    top = replace(piece.edges[0], parts=(polyline([(0, 0), (100, -high), (200, 0)]),))
    return replace(piece, edges=(top, *piece.edges[1:]))


@pytest.mark.parametrize("degrees", [20.0, -20.0, 12.0, -45.0])
def test_a_corner_hidden_within_an_edge_is_mitred(degrees: float) -> None:
    """The tip of a mitre lies w / cos(turn / 2) from its corner, and on its bisector (plane trigonometry)."""
    made = cut_line(bent(degrees))
    assert made is not None
    assert not made.warnings
    corner = bent(degrees).edges[0].parts[0].nodes[1]
    away = made.curve.nodes - corner
    near = away[np.argmin(np.linalg.norm(away, axis=1))]
    assert near == pytest.approx([0, -10 / math.cos(math.radians(degrees / 2))], abs=1e-6)


@pytest.mark.parametrize(("degrees", "edges"), [(20.0, 5), (16.0, 5), (-20.0, 5), (14.0, 4), (-10.0, 4)])
def test_a_drawn_corner_of_more_than_15_degrees_parts_two_edges(degrees: float, edges: int) -> None:
    """So that the shallow corners of hems on tapered sides are found (common practice, no source)."""
    high = 100 * math.tan(math.radians(degrees / 2))
    _, pattern, found = through_svg(f'<path id="a" d="M0,0 L100,{-high} L200,0 V200 H0 Z"/>')
    assert not found
    assert len(pattern.pieces[0].edges) == edges


def test_the_label_says_both_widths_of_an_edge_that_tapers() -> None:
    tapered = Allowance(width=12.5, end_width=20)
    piece = ring(SQUARE)
    one = replace(piece, edges=(replace(piece.edges[0], allowance=tapered), *piece.edges[1:]))
    assert included(one) == ("allowance included", "12.5 to 20 mm: top", "10 mm: other edges")
    every = replace(piece, edges=tuple(replace(edge, allowance=tapered) for edge in piece.edges))
    assert included(every) == ("12.5 to 20 mm allowance included",)
    # from 5 cm on it widens to 3 cm at 8 cm
    start, end = Position(mode="start", value=50), Position(mode="start", value=80)
    partly = Allowance(width=10, stretches=(Stretch(start=start, end=end, width=10, end_width=30),))
    one = replace(piece, edges=(replace(piece.edges[0], allowance=partly), *piece.edges[1:]))
    assert included(one)[1:] == ("10 and 10 to 30 mm: top", "10 mm: other edges")
    drawn = [i for i in next(iter(pattern_inks(Pattern(pieces=(one,))))).items if isinstance(i, Words)]
    assert any("10 and 10 to 30 mm: top" in words.lines for words in drawn)


def test_the_circle_of_a_hole_is_round() -> None:
    """Four cubics stray from a circle by at most 0.03 % of its radius (closed form, from memory)."""
    at = np.array([30.0, -7.0])
    away = np.hypot(*(point(circle(at, 4.0), np.linspace(0, 4, 401)) - at).T)
    assert np.abs(away / 4 - 1).max() < 3e-4


@pytest.mark.parametrize("angle", [0.0, 25.0, -90.0])
def test_the_room_of_words_along_a_line_is_a_rectangle_about_their_middle(angle: float) -> None:
    box = LineWords(words="grain", centre=np.array([5.0, 9.0]), angle=angle, height=4.0, of="").box()
    assert box.nodes[0] == pytest.approx(box.nodes[-1])
    sides = np.diff(box.nodes, axis=0)
    assert [float(a @ b) for a, b in pairwise(sides)] == pytest.approx([0.0] * 3, abs=1e-9)
    assert box.nodes[:4].mean(axis=0) == pytest.approx([5.0, 9.0])
    assert math.degrees(math.atan2(sides[0][1], sides[0][0])) == pytest.approx(angle)


@pytest.mark.parametrize("by", [-0.6, 0.6])
def test_the_longer_side_of_a_seam_is_told_as_the_longer_one(by: float) -> None:
    """Also where they differ by less than a millimetre, and little is let pass."""
    one, two = ring(SQUARE, "a"), ring([(0, 0), (200, 0), (200, 200), (0, 200 + by)], "b", at=300.0)
    (found,) = load_check("seam-walk")(aim=0.1, pass_=0.2).find(Subject(pattern=sewn(one, two)))
    assert found.text.startswith("b.left is 0.6" if by > 0 else "a.right is 0.6")
    assert found.where == (("b.left", "a.right") if by > 0 else ("a.right", "b.left"))

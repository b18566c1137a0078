"""`drill` and `button`: where they stand, what they follow, that they are kept."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.errors import UsageError
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import cubic, line, polyline
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Dart, Edge, Line, Pattern, Piece


def front() -> Pattern:
    """A front with a cut-in waist dart (point 120 up, 30 wide), a double-pointed dart, a pocket and a curved centre."""
    edges = (
        Edge(uid="t", name="top", parts=(line((0, 0), (300, 0)),)),
        Edge(uid="s", name="side", parts=(line((300, 0), (300, 400)),)),
        Edge(uid="w", name="waist", parts=(line((300, 400), (165, 400)), line((135, 400), (0, 400)))),
        Edge(uid="c", name="centre", parts=(cubic((0, 400), (-20, 300), (-20, 100), (0, 0)),)),
    )
    cut = Dart(uid="d", name="dart", legs=(line((165, 400), (150, 280)), line((150, 280), (135, 400))), host="w")
    fish = Dart(
        uid="f",
        name="fish",
        form="lines",
        legs=(polyline([(250, 100), (265, 250), (250, 370)]), polyline([(250, 370), (235, 250), (250, 100)])),
    )
    pocket = Line(uid="p", name="pocket", curve=polyline([(40, 100), (110, 100), (110, 180), (40, 180), (40, 100)]))
    opening = Line(uid="b", name="button-line", curve=line((20, 20), (20, 380)))
    return Pattern(pieces=(Piece(uid="front", name="front", edges=edges, darts=(cut, fish), lines=(pocket, opening)),))


def run(made: Pattern, command: str, *target: str, **fields) -> Pattern:
    return load(command)(target=target, **fields)(made)


def places(made: Pattern) -> list[list[float]]:
    piece = made.pieces[0]
    return [np.round(hole.place(piece), 6).tolist() for hole in piece.holes]


def test_short_of_the_point_on_the_axis():
    """13 mm short of a dart's point; here the axis is upright.

    From memory: Joseph-Armstrong, Patternmaking for Fashion Design.
    """
    assert places(run(front(), "drill", "front.dart")) == [[150, 293]]


def test_a_double_pointed_dart_gets_four():
    """3 mm inside the widest place, and short of both points.

    From memory: Joseph-Armstrong, Patternmaking for Fashion Design.
    """
    assert places(run(front(), "drill", "front.fish")) == [[250, 113], [250, 357], [262, 250], [238, 250]]


def test_inside_the_corners_of_a_pocket():
    """3 mm inside pocket corners, that is 3 mm from each of the two sides.

    From memory: Joseph-Armstrong, Patternmaking for Fashion Design.
    """
    found = places(run(front(), "drill", "front.pocket"))
    assert sorted(found) == [[43, 103], [43, 177], [107, 103], [107, 177]]


def test_a_hole_of_a_dart_goes_where_the_dart_goes():
    made = run(front(), "drill", "front.dart")
    further = run(made, "back-off", "front.dart", by=20)
    assert places(further) == [[150, 313]]


def test_set_again_is_one_hole_and_away_is_none():
    made = run(run(front(), "drill", "front.dart"), "drill", "front.dart", short=20)
    assert places(made) == [[150, 300]]
    assert places(run(made, "drill", "front.dart", remove=True)) == []
    with pytest.raises(UsageError, match="no drill hole"):
        run(front(), "drill", "front.dart", remove=True)


@pytest.mark.parametrize("count", [2, 5, 9])
def test_buttons_are_even_along_the_sewn_edge(count):
    """Buttons evenly spaced within 1 mm (common practice, no source); measured along a polyline of 20,000 chords."""
    made = run(front(), "button", "front.centre@2cm..-3cm", count=count, kind="both", size=18)
    piece = made.pieces[0]
    buttons = [b for b in piece.buttons if b.kind == "button"]
    t = np.linspace(0, 1, 20_001)[:, None]
    p0, p1, p2, p3 = piece.edge("centre").parts[0].controls[0]
    curve = (1 - t) ** 3 * p0 + 3 * (1 - t) ** 2 * t * p1 + 3 * (1 - t) * t**2 * p2 + t**3 * p3
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    at = [along[np.argmin(np.linalg.norm(curve - b.at, axis=1))] for b in buttons]
    assert at[0] == pytest.approx(20, abs=0.05)
    assert at[-1] == pytest.approx(along[-1] - 30, abs=0.05)
    assert np.ptp(np.diff(at)) < 0.1
    holes = [b for b in piece.buttons if b.kind == "buttonhole"]
    assert [b.at.tolist() for b in holes] == [b.at.tolist() for b in buttons]
    assert [float(np.linalg.norm(b.slit[1] - b.slit[0])) for b in holes] == pytest.approx([21] * count)


def test_along_a_line_and_set_again():
    made = run(front(), "button", "front.button-line", count=4, first=10, last=20, kind="buttonhole", lie="along")
    assert [round(float(b.at[1]), 6) for b in made.pieces[0].buttons] == [30, 140, 250, 360]
    again = run(made, "button", "front.button-line", count=3, kind="buttonhole")
    assert len(again.pieces[0].buttons) == 3
    assert run(again, "button", "front.button-line", remove=True).pieces[0].buttons == ()


def test_kept_in_the_document_and_listed():
    made = run(front(), "drill", "front.dart", "front.pocket", "front.side@1/2", diameter=2.5)
    made = run(made, "button", "front.centre", count=3, first=20, last=20, kind="both", inset=15)
    drawing, _, _ = new_drawing()
    data = write(drawing, made)
    assert differences(made, read(data)[1], tolerance=1e-6) == []
    listed = pattern_record(made)["pieces"][0]["holes"]
    assert [hole["kind"] for hole in listed] == ["drill"] * 6 + ["button"] * 3 + ["buttonhole"] * 3
    assert listed[0] == {"kind": "drill", "at": [150.0, 293.0], "size": 2.5}


def test_they_move_with_the_piece():
    made = run(run(front(), "drill", "front.pocket", "front.dart"), "button", "front.centre", count=3, kind="both")
    motion = Affine.translation(30, 40) @ Affine.rotation(0.7) @ Affine.scaling(-1, 1)
    piece = made.pieces[0]
    image = moved(piece, motion)
    for one, two in zip(piece.holes, image.holes, strict=True):
        assert motion.apply(one.place(piece)) == pytest.approx(two.place(image), abs=1e-9)
    for one, two in zip(piece.buttons, image.buttons, strict=True):
        assert motion.apply(one.at) == pytest.approx(two.at)
        if one.slit is not None:
            assert motion.apply(one.slit) == pytest.approx(two.slit)


@pytest.mark.parametrize(
    ("command", "target", "fields", "said"),
    [
        ("button", "front.centre", {"count": 40, "size": 20}, "do not fit"),
        ("button", "front.dart", {}, "is wanted"),
        ("button", "front.side@30cm..10cm", {}, "backwards"),
        ("button", "front.side", {"remove": True}, "no buttons"),
        ("drill", "front.button-line", {}, "no corner"),
        ("drill", "front.nowhere", {}, "no edge, dart, line or point"),
    ],
)
def test_bad_input_gets_one_sentence(command, target, fields, said):
    with pytest.raises(UsageError, match=said):
        run(front(), command, target, **fields)

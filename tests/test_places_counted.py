"""Places counted from what an edge meets, told by measurements, on lines, on axes of darts, and over a seam.

The piece is a rectangle of round figures, so that every place is worked out by hand beside the test.
"""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.arguments import parse_line
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import line
from flatcut.pattern.places import parse_place, read_run
from flatcut.pattern.runs import found_run, run_sewn
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Dart, Edge, Line, NamedPoint, Pattern, Piece, RunPart, Seam

SIDES = ("top", "right", "hem", "left")


def rectangle(name: str, x: float, *, wide: float = 200.0, tall: float = 300.0) -> Piece:
    """Clockwise from the corner above left; a hip line 100 below the top, a point on the right side 60 below it."""
    nodes = [(x, 0.0), (x + wide, 0.0), (x + wide, tall), (x, tall)]
    edges = tuple(
        Edge(uid=f"{name}-{side}", name=side, parts=(line(nodes[k], nodes[(k + 1) % 4]),))
        for k, side in enumerate(SIDES)
    )
    lines = (Line(uid=f"{name}-hip", name="hip-line", curve=line((x, 100), (x + wide, 100)), kind="balance"),)
    points = (
        NamedPoint(uid=f"{name}-p", name="pocket", at=np.array([x + wide, 160.0])),
        NamedPoint(uid=f"{name}-q", name="inside", at=np.array([x + 50, 50.0])),
    )
    return Piece(uid=name, name=name, edges=edges, lines=lines, points=points)


@pytest.fixture(scope="module")
def pattern() -> Pattern:
    front, back = rectangle("front", 0), rectangle("back", 500)
    legs = line((80, 0), (100, 80)), line((100, 80), (120, 0))
    top = front.edges[0]
    parts = line((0, 0), (80, 0)), line((120, 0), (200, 0))
    dart = Dart(uid="d", name="dart", legs=legs, host=top.uid, after=0)
    fish = line((60, 120), (65, 180)), line((65, 180), (60, 120))
    double = Dart(uid="f", name="fish", legs=(fish[0], fish[1]))
    edges = (Edge(uid=top.uid, name="top", parts=parts), *front.edges[1:])
    front = Piece(uid="front", name="front", edges=edges, darts=(dart, double), lines=front.lines, points=front.points)
    seam = Seam(
        uid="s",
        a=(RunPart(piece="front", of="front-right"),),
        b=(RunPart(piece="back", of="back-left"),),
        reversed=True,
    )
    return Pattern(pieces=(front, back), seams=(seam,), body={"waist-to-hip": 210.0, "rise": 40.0})


@pytest.mark.parametrize(
    ("text", "x", "y"),
    [
        ("front.right/hip-line@4cm:hem", 200, 140),
        ("front.right/hip-line@4cm:top", 200, 60),
        ("front.right/hip-line@1/2:hem", 200, 200),
        ("front.right/pocket@2cm:hip-line", 200, 140),
        ("front.right/hip-line@50%:pocket", 200, 130),
        ("front.left/hip-line@3cm:hem", 0, 130),
        ("front.right/hem@(rise)", 200, 260),
        ("front.right@(waist-to-hip/2 + 1cm)", 200, 115),
        ("front.right@-(rise)", 200, 260),
        ("front.right@(min(rise, 3cm))", 200, 30),
        ("front.right@(max(rise, 3cm, 1in))", 200, 40),
        ("front.right/hip-line@(rise*2):hem", 200, 180),
        ("front.hip-line@1/4", 50, 100),
        ("front.hip-line@-3cm", 170, 100),
        ("front.hip-line/right@3cm", 170, 100),
        ("front.hip-line/left", 0, 100),
        ("front.dart.axis@3cm", 100, 50),
        ("front.dart.axis@1/2", 100, 40),
        ("front.fish.axis@1/2", 62.5, 150),
        ("mate(front.right@4cm)", 500, 40),
        ("mate(back.left/hip-line@5cm:hem)", 200, 150),
        ("at(front.right@(rise),front.left/top,0.5,0)", 100, 20),
    ],
)
def test_where_a_place_lies(pattern: Pattern, text: str, x: float, y: float) -> None:
    assert np.allclose(spot(pattern, text).point, [x, y], atol=1e-6)
    assert str(parse_place(str(parse_place(text)))) == str(parse_place(text))


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("front.right/hip-line@4cm", "toward which end, such as front.right/hip-line@40:"),
        ("front.right/hip-line@-4cm:hem", "without a minus"),
        ("front.right/hip-line@4cm:left", "do not meet"),
        ("front.right/hip-line@4cm:inside", "mm off right"),
        ("front.right/hip-line@3m:hem", "beyond"),
        ("front.right/hip-line@4cm:hip-line", "at one place"),
        ("front.inside@2cm", "counts from nothing"),
        ("front.dart@2cm", "counts from nothing"),
        ("front.dart.point@2cm", "counts from nothing"),
        ("front.dart.axis", "how far from the point"),
        ("front.dart.axis@9cm", "beyond the axis"),
        ("front.right@(riise)", "did you mean 'rise'"),
        ("front.right@(rise", "not a length"),
        ("front.right@(rise -)", "not a length"),
        ("front.right@4cm:hem", "from where"),
        ("front.right@(-2cm)", "less than nothing"),
        ("front.hip-line", "is a line"),
        ("front.top/right.point", "not a place"),
        ("front.right.point", "no dart"),
        ("mate(front.left@4cm)", "sewn to nothing"),
        ("mate(front.inside)", "on an edge"),
        ("front.inside/top", "meets nothing"),
    ],
)
def test_places_that_mean_nothing_are_refused_in_a_sentence(pattern: Pattern, text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        spot(pattern, text)
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)


def test_stretches_from_a_corner_or_a_line(pattern: Pattern) -> None:
    """20 to 60 mm from the hem corner, and from the hip line on to 30 mm below it; both on an edge that runs down."""
    for text, length in (("front.right/hem@2cm..6cm", 40.0), ("front.right/hip-line@0..3cm:hem", 30.0)):
        assert run_sewn(pattern, found_run(pattern, read_run(text))) == pytest.approx(length)


def test_the_notch_stands_where_it_is_written_and_the_step_keeps_the_words(pattern: Pattern) -> None:
    step = parse_line('notch "front.right/hip-line@(rise):hem" "front.top@1/2" front.dart')
    assert step is not None
    after = step(pattern)
    assert after.steps[-1].line == 'notch "front.right/hip-line@(rise):hem" front.top@1/2 front.dart'
    assert [round(n.at.along(300), 6) for n in after.piece("front").notches if n.edge == "front-right"] == [140.0]


@pytest.mark.parametrize(
    "text", ["notch front.right/hip-line@10cm", "notch front.dart@10cm", "point --at=front.dart@1cm"]
)
def test_a_figure_that_would_do_nothing_is_an_error(pattern: Pattern, text: str) -> None:
    step = parse_line(text)
    assert step is not None
    with pytest.raises(FlatcutError):
        step(pattern)


def test_an_edge_is_split_where_a_line_crosses_it(pattern: Pattern) -> None:
    step = parse_line("edge front.right/hip-line --split --names=upper,lower")
    assert step is not None
    after = step(pattern).piece("front")
    assert np.allclose(after.edge("upper").end, [200, 100])


@pytest.mark.parametrize("text", ["(min(rise,))", "(min(rise))", "(min(2, 3)*rise)"])
def test_least_and_most_in_lengths(pattern: Pattern, text: str) -> None:
    """One alone is no choice, and a number is no length where it is divided by one; min(2, 3) is a plain number."""
    good = text == "(min(2, 3)*rise)"
    if good:
        assert np.allclose(spot(pattern, f"front.right@{text}").point, [200, 80])
        return
    with pytest.raises(FlatcutError):
        spot(pattern, f"front.right@{text}")

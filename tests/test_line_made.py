"""Lines constructed without a drawing, on a piece of round figures and on blocks of other bodies."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from flatcut.arguments import parse_line
from flatcut.errors import FlatcutError
from flatcut.geometry.arrays import unit
from flatcut.geometry.curves import Curve, flatten, line, point, tangent
from flatcut.geometry.fairness import fairness
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Grain, Pattern, Piece, outline
from tests.test_places_counted import pattern as _pattern
from tests.test_places_counted import rectangle

pattern = _pattern


def made(pattern: Pattern, text: str) -> Curve:
    step = parse_line(f"line {text} --name=new")
    assert step is not None
    after = step(pattern)
    (curve,) = [item.curve for piece in after.pieces for item in piece.lines if item.name == "new"]
    return curve


@pytest.fixture
def plain() -> Pattern:
    front = rectangle("front", 0)
    grain = Grain(start=np.array([100.0, 50]), end=np.array([100.0, 250]))
    front = Piece(uid="front", name="front", edges=front.edges, lines=front.lines, points=front.points, grain=grain)
    return Pattern(pieces=(front, rectangle("back", 500)))


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("--start=front.right@4cm --square=front.right", [(200, 40), (0, 40)]),
        ("--start=front.right@4cm --square=right", [(200, 40), (0, 40)]),
        ("--start=front.inside --square=front.right", [(50, 50), (200, 50)]),
        ("--start=front.inside --square=front.hip-line", [(50, 50), (50, 100)]),
        ("--start=front.hip-line@5cm --square=front.hip-line", [(50, 0), (50, 300)]),
        ("--start=front.hip-line@5cm --square=front.hip-line --until=front.hem", [(50, 100), (50, 300)]),
        ("--start=front.inside --square=grain", [(0, 50), (200, 50)]),
        ("--start=front.inside --parallel=grain", [(50, 0), (50, 300)]),
        ("--start=front.inside --parallel=grain --until=front.hip-line", [(50, 50), (50, 100)]),
        ("--start=front.left@3cm --square=grain --until=right", [(0, 270), (200, 270)]),
        ("--parallel=front.hem --distance=5cm", [(0, 250), (200, 250)]),
        ("--parallel=front.hip-line --distance=2cm", [(0, 120), (200, 120)]),
        ("--parallel=front.hip-line --distance=-2cm", [(0, 80), (200, 80)]),
        ("--parallel=front.hem --start=front.inside", [(0, 50), (200, 50)]),
        ("--start=front.left/top --through=front.inside", [(0, 0), (200, 200)]),
        ("--start=front.left/top --through=front.inside --until=front.hip-line", [(0, 0), (100, 100)]),
        ("--start=front.right@1/2 --end=front.left@1/2", [(200, 150), (0, 150)]),
    ],
)
def test_straight_lines_end_where_they_should(plain: Pattern, text: str, ends: list[tuple[float, float]]) -> None:
    curve = made(plain, text)
    found = sorted(tuple(np.round(end, 6)) for end in (curve.start, curve.end))
    assert np.allclose(found, sorted(ends))
    assert len(curve) == 1


def test_along_the_axis_of_a_dart(pattern: Pattern) -> None:
    """The dart's point is (100, 80) below the middle of its mouth; the other runs from (60, 120) to (65, 180)."""
    curve = made(pattern, "--along=front.dart")
    assert np.allclose([curve.start, curve.end], [(100, 80), (100, 300)])
    down = made(pattern, "--along=front.fish")
    assert np.allclose([down.start, down.end], [(65, 180), (75, 300)])
    up = made(pattern, "--along=front.fish --start=front.fish.upper --until=front.hip-line")
    assert np.allclose(up.start, (60, 120))
    assert up.end[1] == pytest.approx(100)


def test_a_quarter_of_a_circle_is_a_quarter_of_a_circle() -> None:
    """The usual cubic for it has handles of 0.5523 of the radius and leaves the circle by 0.027 % (from memory)."""
    quarter = flowing(
        [np.array([100.0, 0]), np.array([0.0, 100])], leave=np.array([0.0, 1]), arrive=np.array([-1.0, 0])
    )
    assert len(quarter) == 1
    radii = np.hypot(*point(quarter, np.linspace(0, 1, 99)).T)
    assert np.abs(radii - 100).max() < 0.03
    third = flowing([100 * np.array([math.cos(a), math.sin(a)]) for a in np.radians([0, 40, 100])])
    assert np.abs(np.hypot(*point(third, np.linspace(0, 2, 99)).T) - 100).max() < 1.0


def test_a_line_through_points_of_a_line_is_straight() -> None:
    found = flowing([np.array([0.0, 0]), np.array([30.0, 10]), np.array([90.0, 30])])
    assert found.straight.all()
    assert length(found) == pytest.approx(math.hypot(90, 30))


@pytest.mark.parametrize(
    ("leave", "arrive", "degrees"),
    [("square", "square", (90, 90)), ("80deg", "square", (80, 90)), ("110", "70°", (110, 70))],
)
def test_curves_leave_and_arrive_as_stated(
    plain: Pattern, leave: str, arrive: str, degrees: tuple[float, float]
) -> None:
    """Angles from the edges as they run on clockwise, worked out from the ends of the curve: right runs down, the hem
    left."""
    curve = made(plain, f"--start=front.right@1/3 --end=front.hem@1/2 --leave={leave} --arrive={arrive}")
    out, back = tangent(curve, 0.0), -tangent(curve, float(len(curve)), before=True)
    assert math.degrees(math.acos(out @ [0, 1])) == pytest.approx(degrees[0], abs=1e-6)
    assert math.degrees(math.acos(back @ [-1, 0])) == pytest.approx(degrees[1], abs=1e-6)
    assert len(curve) == 1
    assert fairness(curve).inflections == 0


def test_a_curve_goes_through_its_places_without_a_kink(plain: Pattern) -> None:
    curve = made(
        plain, "--start=front.right@1/3 --through=at(front.left/top,front.right/hem,0.5,0) --end=front.left@1/4"
    )
    assert len(curve) == 2
    assert np.allclose(curve.nodes[1], [100, 150])
    assert fairness(curve).kink < 1e-6


def test_a_line_runs_on_from_a_dart(pattern: Pattern) -> None:
    """The dart's axis is upright, its point below its mouth: a curve that arrives there comes straight up."""
    curve = made(pattern, "--start=front.right@20cm --end=front.dart.point --leave=square --arrive=smooth:dart")
    assert np.allclose(tangent(curve, float(len(curve)), before=True), [0, -1], atol=1e-9)
    with pytest.raises(FlatcutError, match="the point of dart is not at that place"):
        made(pattern, "--start=front.right@4cm --end=front.left@4cm --leave=smooth:dart")


def test_a_line_runs_on_over_a_seam(pattern: Pattern) -> None:
    """A line of the back that meets the seam at 60 degrees is gone on with on the front: both lie on one straight line
    when the pieces are laid edge to edge, as the test lays them (a shift by 300 along x)."""
    step = parse_line("edge back.left/hip-line --split --names=lower,upper")
    assert step is not None
    back = parse_line("line --start=back.upper/lower --end=back.right@4cm --name=style")
    assert back is not None
    # cut along it, the upper part goes, and the line is an edge that meets the seam
    parted = back(step(pattern))
    cutting = parse_line("cut back.style --names=top.top,back")
    assert cutting is not None
    parted = cutting(parted)
    edge = parted.piece("back").edge("style")
    curve = made(parted, "--start=front.right/hip-line --end=front.left/hem@2cm --leave=smooth:back.style")
    at = [k for k, end in enumerate((edge.start, edge.end)) if abs(end[0] - 500) < 1e-6]
    away = (
        tangent(edge.parts[0], 0.0) if at == [0] else -tangent(edge.parts[-1], float(len(edge.parts[-1])), before=True)
    )
    assert np.allclose(tangent(curve, 0.0), -away, atol=1e-9)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("--start=front.right@4cm --square=front.right --parallel=grain", "in one way"),
        ("--square=front.right", "starts at a place"),
        ("--parallel=front.hem", "starts at a place; give --start or --distance"),
        ("--parallel=front.hem --distance=-5cm", "more than 0"),
        ("--parallel=front.hem --distance=50cm", "no cloth"),
        ("--start=front.right@4cm --square=back.left", "another piece"),
        ("--start=front.right@4cm --through=back.inside", "another piece"),
        ("--start=front.right@4cm --through=front.left@4cm,front.inside", "give --end"),
        ("--start=front.right@4cm --end=front.left@4cm --leave=wide", "--leave takes square"),
        ("--start=front.right@4cm --end=front.left@4cm --leave=190deg", "--leave takes square"),
        ("--start=front.inside --end=front.left@4cm --leave=80", "lies inside the piece"),
        ("--start=front.right@4cm --end=front.left@4cm --leave=smooth:hem", "does not come to that place"),
        ("--start=front.right@4cm --square=right --until=front.hem", "before it meets hem"),
        ("--start=back.right@4cm --square=grain", "no grain line"),
        (
            "--start=front.right@1/2 --through=front.left@1/3,front.right@1/2 --end=front.left@2/3",
            "crosses itself|turn back|leaves",
        ),
    ],
)
def test_what_cannot_be_constructed_is_refused_in_a_sentence(plain: Pattern, text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        made(plain, text)
    assert any(one in str(caught.value) for one in part.split("|"))
    assert "\n" not in str(caught.value)


def test_a_waist_line_square_to_the_grain_runs_over_an_open_dart(pattern: Pattern) -> None:
    """In the mouth of a dart it cannot end: there is no edge."""
    with pytest.raises(FlatcutError, match="mouth of a dart"):
        made(pattern, "--start=front.fish.upper --through=at(front.dart.foot-1,front.dart.foot-2,0.5,0)")
    curve = made(pattern, "--start=front.right@2cm --through=front.left/top@280")
    assert np.allclose(sorted([curve.start[0], curve.end[0]]), [0, 200])


def test_steps_are_recorded_as_they_are_told_and_replay(plain: Pattern) -> None:
    step = parse_line("line --start=front.inside --parallel=grain --until=hem --name=panel")
    assert step is not None
    assert step(plain).steps[-1].line == "line --start=front.inside --parallel=grain --until=hem --name=panel"


@pytest.mark.parametrize("bust", [78, 94, 118])
def test_on_blocks_of_other_bodies_lines_stay_inside_and_meet_their_edges(bust: int) -> None:
    block = parse_line(f"block torso --size=bust-{bust}") or pytest.fail("no step")
    pattern = block(Pattern())
    texts = [
        "--start=front.waist-dart.lower --parallel=grain --until=front.hip",
        '"--start=front.centre/waist-line@(min(4cm, waist-to-hip/4)):neck" --end=front.side/waist-line@4cm:armhole '
        "--leave=square --open",
        "--parallel=front.hip --distance=6cm",
    ]
    front = pattern.piece("front")
    ring = shapely.Polygon(np.concatenate([flatten(c, tolerance=0.01) for c in outline(front)])).buffer(0.3)
    for text in texts:
        curve = made(pattern, text)
        assert ring.covers(shapely.LineString(flatten(curve, tolerance=0.05))), text
    leave = made(pattern, texts[1])
    centre = spot(pattern, "front.centre@1/2").tangent
    assert centre is not None
    assert abs(tangent(leave, 0.0) @ unit(centre)) < 1e-9
    assert line(leave.start, leave.end) is not None

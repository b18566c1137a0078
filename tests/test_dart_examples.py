"""The worked examples of dart geometry (closed forms), done with the operations themselves.

The stated figures are in cm to four decimals or degrees to four; pieces here are ten times larger, in mm. Where a value
follows from a formula of the trade it is w = 2 L sin(θ/2) for the intake and θ = 2 asin(w / 2L) for the angle.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from flatcut.darts.darting import angle, double_angles, intake
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, line
from flatcut.marking.caps import AFTER, BEFORE, OPEN, cap
from flatcut.operations.operation import load
from flatcut.pattern.values import Dart, NamedPoint, Pattern, area
from tests.dart_pieces import at, corner, dart, fan, front, square, the

CM = 0.005
"""mm: half of the last stated digit of a figure in cm."""
DEG = 0.005


def pivot(pattern: Pattern, to: str, *, of: str = "dart", **options: object) -> Pattern:
    return load("pivot")(target=(f"front.{of}",), to=to, **options)(pattern)


def lone(leg: float, wide: float) -> Dart:
    half = math.asin(wide / 2 / leg)
    foot = leg * math.sin(half), leg * math.cos(half)
    return Dart(
        uid="d",
        name="d",
        host="e",
        legs=(line((-foot[0], 0), (0, foot[1])), line((0, foot[1]), (foot[0], 0))),
    )


def test_1_intake_from_leg_and_angle() -> None:
    pattern = fan(100.0, 20.0, [150.0] * 5)
    assert intake(dart(pattern, "dart")) == pytest.approx(34.730, abs=CM)


def test_2_angle_from_intake_and_leg() -> None:
    assert angle(lone(250.0, 60.0)) == pytest.approx(13.7842, abs=DEG)


@pytest.mark.parametrize(("leg", "wanted"), [(125.0, 30.0), (180.0, 43.2), (220.0, 52.8), (300.0, 72.0)])
def test_3_the_same_dart_at_another_leg(leg: float, wanted: float) -> None:
    pattern = fan(250.0, angle(lone(250.0, 60.0)), [270.0, 280.0, leg, 290.0, 280.0])
    moved = pivot(pattern, corner(3))
    assert intake(dart(moved, "dart")) == pytest.approx(wanted, abs=CM)
    assert angle(dart(moved, "dart")) == pytest.approx(13.7842, abs=DEG)


@pytest.mark.parametrize(
    ("count", "leg", "each"), [(2, 250.0, 30.054), (2, 200.0, 24.043), (3, 250.0, 20.043), (4, 250.0, 15.034)]
)
def test_4_divided_evenly(count: int, leg: float, each: float) -> None:
    pattern = fan(250.0, angle(lone(250.0, 60.0)), [280.0, leg, leg, leg, 280.0])
    to = tuple(corner(k + 2) for k in range(count - 1))
    done = load("divide")(target=("front.dart",), to=to)(pattern)
    born = [d for d in the(done).darts if d.name != "dart"]
    assert [intake(d) for d in born] == pytest.approx([each] * (count - 1), abs=CM)
    assert [angle(d) for d in the(done).darts] == pytest.approx([13.7842 / count] * count, abs=DEG)
    if leg == 250.0:
        total = sum(intake(d) for d in the(done).darts)
        assert total == pytest.approx({2: 60.109, 3: 60.129, 4: 60.136}[count], abs=CM)


def test_5_divided_60_to_40() -> None:
    pattern = fan(250.0, angle(lone(250.0, 60.0)), [280.0, 250.0, 280.0, 280.0])
    done = load("divide")(target=("front.dart",), to=(corner(2),), shares=(60, 40), names=("small",))(pattern)
    assert angle(dart(done, "dart")) == pytest.approx(8.2705, abs=DEG)
    assert angle(dart(done, "small")) == pytest.approx(5.5137, abs=DEG)
    assert intake(dart(done, "dart")) == pytest.approx(36.056, abs=CM)
    assert intake(dart(done, "small")) == pytest.approx(24.049, abs=CM)


def test_6_a_square_closed_and_opened_at_the_side() -> None:
    pattern = square()
    assert angle(dart(pattern, "dart")) == pytest.approx(11.4212, abs=DEG)
    moved = pivot(pattern, "front.right@1/2", hold="left")
    top, right = the(moved).edge("top"), the(moved).edge("right")
    np.testing.assert_allclose(top.parts[0].nodes[1], (180.0, 0.0), atol=CM)
    np.testing.assert_allclose(top.end, (356.436, -35.644), atol=CM)
    np.testing.assert_allclose(right.parts[0].end, (396.040, 160.396), atol=CM)
    assert intake(dart(moved, "dart")) == pytest.approx(39.801, abs=CM)
    assert area(the(pattern)) == pytest.approx(156_000.0)
    assert area(the(moved)) == pytest.approx(156_000.0, rel=1e-9)


@pytest.mark.parametrize(("to", "wanted"), [("front.right/bottom", 56.288), ("front.bottom@1/2", 39.801)])
def test_7_the_square_opened_at_a_corner_and_below(to: str, wanted: float) -> None:
    assert intake(dart(pivot(square(), to), "dart")) == pytest.approx(wanted, abs=CM)


def test_8_back_off() -> None:
    leg = math.hypot(250.0, 30.0)
    pattern = fan(leg, math.degrees(2 * math.atan(30 / 250)), [300.0] * 5)
    assert angle(dart(pattern, "dart")) == pytest.approx(13.6855, abs=DEG)
    assert leg == pytest.approx(251.794, abs=CM)
    moved = dart(load("back-off")(target=("front.dart",), by=25.0)(pattern), "dart")
    assert angle(moved) == pytest.approx(15.1893, abs=DEG)
    assert np.hypot(*(moved.feet[0] - moved.points[0])) == pytest.approx(226.991, abs=CM)
    assert intake(moved) == pytest.approx(60.0, abs=1e-9)


def test_9_cap_of_an_edge_square_to_the_legs() -> None:
    one = lone(120.0, 30.0)
    assert angle(one) == pytest.approx(14.3615, abs=DEG)
    before, after = _edges(one, 90.0)
    for side in (BEFORE, AFTER, OPEN):
        peak = cap(one, before, after, toward=side)[0].end
        assert np.hypot(*(peak - one.points[0])) == pytest.approx(120.949, abs=CM)
        assert peak[0] == pytest.approx(0.0, abs=1e-9)
    assert 120 * math.cos(math.radians(angle(one) / 2)) == pytest.approx(119.059, abs=CM)


@pytest.mark.parametrize(("beta", "wanted"), [(80, 118.320), (85, 119.630), (95, 122.297), (100, 123.697)])
def test_10_cap_of_an_edge_at_another_angle(beta: float, wanted: float) -> None:
    one = lone(120.0, 30.0)
    before, after = _edges(one, beta)
    for side in (BEFORE, AFTER, OPEN):
        first, second = cap(one, before, after, toward=side)
        assert np.hypot(*(first.end - one.points[0])) == pytest.approx(wanted, abs=CM)
        np.testing.assert_allclose(first.end, second.start, atol=1e-9)


def test_10_cap_of_an_untrued_straight_edge() -> None:
    one = lone(120.0, 30.0)
    first, _ = cap(one, line((-200, 0), one.feet[0]), line(one.feet[1], (200, 0)))
    # d = L cos(θ/2) / cos θ
    assert np.hypot(*(first.end - one.points[0])) == pytest.approx(122.899, abs=CM)


def _edges(one: Dart, beta: float) -> tuple[Curve, Curve]:
    """Straight edges that meet both legs at `beta` degrees."""
    apex = one.points[0]
    ends = []
    for foot, sign in zip(one.feet, (1.0, -1.0), strict=True):
        about = Affine.rotation(sign * math.radians(beta), (float(foot[0]), float(foot[1])))
        ends.append(about.apply(foot + 300.0 * (apex - foot) / np.hypot(*(apex - foot))))
    return line(ends[0], one.feet[0]), line(one.feet[1], ends[1])


def test_11_double_pointed_at_the_waist() -> None:
    pattern = front()
    # 15 up and 12 down scaled by two thirds, so that it lies inside the piece: the angles are the same
    pattern = _named(pattern, "top", (110.0, 250.0))
    pattern = _named(pattern, "waist-place", (110.0, 350.0))
    pattern = _named(pattern, "bottom", (110.0, 430.0))
    made = load("dart")(
        target=("front.waist-place",), point="front.top", lower="front.bottom", intake=20.0, name="eye"
    )(pattern)
    eye = dart(made, "eye")
    assert double_angles(eye) == pytest.approx((11.4212, 14.2500), abs=DEG)
    upper, lower = eye.points
    wide = eye.feet[0]
    assert 1.5 * np.hypot(*(wide - upper)) == pytest.approx(150.748, abs=CM)
    assert 1.5 * np.hypot(*(wide - lower)) == pytest.approx(120.934, abs=CM)


def _named(pattern: Pattern, name: str, xy: tuple[float, float]) -> Pattern:
    piece = the(pattern)
    points = (*piece.points, NamedPoint(uid=f"pt-{name}", name=name, at=np.array(xy)))
    return replace(pattern, pieces=(replace(piece, points=points),))


def test_12_in_inches() -> None:
    inch = 25.4
    one = lone(10 * inch, 3 * inch)
    assert angle(one) == pytest.approx(17.2539, abs=DEG)
    pattern = fan(10 * inch, angle(one), [11 * inch, 7 * inch, 8.5 * inch, 11 * inch, 11 * inch])
    assert intake(dart(pivot(pattern, corner(2)), "dart")) == pytest.approx(2.1 * inch, abs=0.0005 * inch)
    assert intake(dart(pivot(pattern, corner(3)), "dart")) == pytest.approx(2.55 * inch, abs=0.0005 * inch)


def test_13_a_line_from_a_skirt_dart() -> None:
    theta = angle(lone(120.0, 25.0))
    assert theta == pytest.approx(11.9583, abs=DEG)
    pattern = fan(120.0, theta, [200.0, 300.0, 480.0, 300.0, 200.0])
    assert intake(dart(pivot(pattern, corner(3)), "dart")) == pytest.approx(100.0, abs=CM)


def test_14_two_darts_with_one_point_become_one() -> None:
    theta = angle(lone(200.0, 40.0))
    assert theta == pytest.approx(11.4783, abs=DEG)
    pattern = fan(200.0, 2 * theta, [260.0, 150.0, 240.0, 260.0, 260.0])
    # the two darts: half of the angle stays at 20, half is put at 15, where it is 3 wide
    pattern = pivot(pattern, corner(2), share=0.5, name="second")
    assert intake(dart(pattern, "dart")) == pytest.approx(40.0, abs=CM)
    assert intake(dart(pattern, "second")) == pytest.approx(30.0, abs=CM)
    pattern = pivot(pattern, corner(3), name="both")
    pattern = pivot(pattern, "front.both", of="second")
    assert [d.name for d in the(pattern).darts] == ["both"]
    assert angle(dart(pattern, "both")) == pytest.approx(22.9567, abs=DEG)
    assert intake(dart(pattern, "both")) == pytest.approx(95.519, abs=CM)


def test_15_back_shoulder_dart() -> None:
    assert angle(lone(80.0, 15.0)) == pytest.approx(10.7588, abs=DEG)


@pytest.mark.parametrize(("wide", "leg", "wanted"), [(6.0, 90.0, 11.333), (13.0, 80.0, 27.625)])
def test_16_a_gape_dart_opened_from_nothing(wide: float, leg: float, wanted: float) -> None:
    pattern = fan(leg, angle(lone(leg, wide)), [120.0, 170.0, 200.0, 200.0, 150.0])
    assert intake(dart(pivot(pattern, corner(2)), "dart")) == pytest.approx(wanted, abs=CM)


def test_a_gape_closed_into_a_dart_that_is_there() -> None:
    # closed form: 4.32 at 18 with a gape of 0.6 at 9 becomes 5.5089; intakes do not add
    theta = angle(lone(180.0, 43.2)) + angle(lone(90.0, 6.0))
    pattern = fan(90.0, theta, [120.0, 180.0, 200.0, 200.0, 150.0])
    pattern = pivot(pattern, corner(2), angle=angle(lone(180.0, 43.2)), name="waist")
    assert intake(dart(pattern, "waist")) == pytest.approx(43.2, abs=CM)
    assert intake(dart(pattern, "dart")) == pytest.approx(6.0, abs=CM)
    assert intake(dart(pivot(pattern, "front.waist"), "waist")) == pytest.approx(55.089, abs=CM)


def test_amount_is_measured_at_the_old_mouth() -> None:
    pattern = fan(250.0, angle(lone(250.0, 60.0)), [280.0, 250.0, 280.0, 280.0])
    done = pivot(pattern, corner(2), amount=20.0, name="other")
    # at the same leg the new mouth is what was closed at the old one
    assert intake(dart(done, "other")) == pytest.approx(20.0, abs=1e-6)
    assert np.hypot(*(at(0, 0) - dart(done, "other").points[0])) < 1e-9

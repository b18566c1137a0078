from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import approx_fprime, least_squares

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import cross
from flatcut.geometry.curves import Curve, chain, cubic, line, point, reverse, tangent, transform
from flatcut.geometry.fair import Fairing, _fair, fair
from flatcut.geometry.fair_problem import Problem, Source
from flatcut.geometry.fairness import fairness
from flatcut.geometry.least_squares import Residuals
from flatcut.geometry.least_squares import least_squares as own_least_squares
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest

# drawn by hand for these tests, mm
WAIST_2 = [cubic((0, 0), (40, 2), (80, 6), (120, 14)), cubic((120, 14), (160, 26), (200, 30), (240, 30))]
WAIST_3 = [
    cubic((0, 0), (30, 0), (60, 3), (90, 8)),
    cubic((90, 8), (115, 11), (140, 16), (165, 22)),
    cubic((165, 22), (190, 31), (220, 34), (250, 34)),
]
ARMHOLE = [cubic((0, 0), (-28, 45), (-30, 95), (-5, 130)), cubic((-5, 130), (18, 158), (60, 172), (105, 168))]
CORNER = [cubic((0, 0), (40, 0), (70, 5), (100, 10)), cubic((100, 10), (127, 38), (157, 60), (200, 75))]  # 37 degrees

# case: curves, within mm, most cubics, most curvature extrema, inflections
CASES = {
    "waist of 2": (WAIST_2, 1.0, 1, 2, 1),
    "waist of 3": (WAIST_3, 1.0, 1, 2, 1),
    "waist of 3, 2 mm": (WAIST_3, 2.0, 1, 2, 1),
    "armhole": (ARMHOLE, 1.0, 1, 2, 0),
    "armhole, 0.5 mm": (ARMHOLE, 0.5, 2, 3, 0),
    "corner, 3 mm": (CORNER, 3.0, 2, 3, 1),
}


def both_ways(a: Curve, b: Curve, samples: int = 1500) -> float:
    """Hausdorff distance from dense samples that share nothing with those of the program."""
    ways = ((a, b), (b, a))
    return max(float(nearest(q, point(p, np.linspace(0, len(p), samples * len(p) + 7)))[1].max()) for p, q in ways)


def assert_trued(found: Fairing, curves: list[Curve], within: float) -> None:
    source = chain(curves)
    assert found.deviation <= within
    assert both_ways(source, found.curve) == pytest.approx(found.deviation, rel=0.01)
    assert both_ways(source, found.curve) <= within * 1.001
    assert np.array_equal(found.curve.start, source.start)
    assert np.array_equal(found.curve.end, source.end)
    for u, before in ((0.0, False), (1.0, True)):
        turn = cross(
            tangent(found.curve, u * len(found.curve), before=before), tangent(source, u * len(source), before=before)
        )
        assert abs(math.degrees(float(turn))) < 1e-6
    assert found.after.kink < 1e-6
    assert found.length_change == pytest.approx(length(found.curve) - length(source), abs=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_joined_edges_become_one_fair_curve(name: str) -> None:
    curves, within, parts, extrema, inflections = CASES[name]
    found = fair(curves, within=within)
    assert_trued(found, curves, within)
    assert found.before.kink > 3
    assert len(found.curve) <= parts
    assert found.after.extrema <= extrema
    assert found.after.inflections <= inflections
    assert found.after.jump < 0.2


@pytest.mark.parametrize("name", ["waist of 2", "waist of 3", "armhole", "armhole, 0.5 mm"])
def test_the_length_is_held_when_asked(name: str) -> None:
    curves, within = CASES[name][:2]
    found = fair(curves, within=within, hold_length=True)
    assert_trued(found, curves, within)
    assert abs(found.length_change) <= 0.05
    assert abs(found.length_change) <= abs(fair(curves, within=within).length_change) + 1e-9


def test_more_room_is_used_for_a_fairer_curve() -> None:
    rooms = [fair(WAIST_3, within=w) for w in (1.0, 2.0, 4.0)]
    assert rooms[0].after.mvc > rooms[1].after.mvc > rooms[2].after.mvc


def test_the_result_moves_with_the_drawing() -> None:
    plain = fair(ARMHOLE, within=1.0)
    move = Affine.rotation(0.7) @ Affine.translation(500, -300)
    moved = fair([transform(c, move) for c in ARMHOLE], within=1.0)
    assert np.abs(transform(plain.curve, move).controls - moved.curve.controls).max() < 0.05
    turned = fair([reverse(c) for c in reversed(ARMHOLE)], within=1.0)
    assert both_ways(plain.curve, turned.curve) < 0.2


def test_a_curve_that_cannot_be_is_refused_with_the_least_distance() -> None:
    zigzag = [line((20 * k, 15 * (k % 2)), (20 * k + 20, 15 * (1 - k % 2))) for k in range(6)]
    with pytest.raises(GeometryError, match=r"within 1\.00 mm .* leaves them by \d\.\d\d mm; allow more") as refused:
        fair(zigzag, within=1.0)
    least = float(str(refused.value).split("leaves them by ")[1].split(" mm")[0])
    assert least > 1
    # what the message names can be had
    assert fair(zigzag, within=least * 1.02).deviation > 1.0


def test_straight_edges_stay_straight() -> None:
    found = fair([line((0, 0), (30, 40)), line((30, 40), (60, 80))], within=1.0)
    assert found.curve.straight.all()
    assert len(found.curve) == 1
    assert found.deviation == pytest.approx(0.0, abs=1e-9)


def test_the_calls_that_make_no_sense() -> None:
    with pytest.raises(GeometryError, match="more than 0 mm"):
        fair(WAIST_2, within=0.0)
    with pytest.raises(GeometryError, match="apart"):
        fair([WAIST_2[0], transform(WAIST_2[1], Affine.translation(1, 0))], within=1.0)
    with pytest.raises(GeometryError, match="no length"):
        fair([line((1, 1), (1, 1))], within=1.0)


@pytest.mark.parametrize("parts", [1, 2, 3])
@pytest.mark.parametrize("hold_length", [False, True])
def test_the_jacobian_agrees_with_differences_of_scipy(parts: int, hold_length: bool) -> None:
    source = chain(ARMHOLE)
    problem = Problem(Source(source, length(source)), parts, 1.0, hold_length)
    x = problem.starts()[0] + np.random.default_rng(parts).normal(size=problem.unknowns) * 0.05
    problem.distances(x)
    residuals = problem.residuals(-2.0)
    for _ in range(3):  # the feet settle
        jacobian = residuals(x)[1]
    wanted = approx_fprime(x, lambda y: residuals(y, slopes=False)[0], 1e-7)
    assert np.abs(jacobian - wanted).max() < 2e-5 * np.abs(jacobian).max()


@pytest.mark.parametrize("parts", [1, 2, 3])
@pytest.mark.parametrize("hold_length", [False, True])
def test_the_second_derivatives_agree_with_differences_of_the_slope(parts: int, hold_length: bool) -> None:
    source = chain(ARMHOLE)
    problem = Problem(Source(source, length(source)), parts, 1.0, hold_length)
    x = problem.starts()[0] + np.random.default_rng(parts + 7).normal(size=problem.unknowns) * 0.02
    problem.distances(x)
    residuals = problem.residuals(-2.0)

    def slope(y: np.ndarray) -> np.ndarray:
        for _ in range(3):  # the feet settle
            r, jacobian, _ = residuals(y)
        return np.asarray(jacobian.T @ r)

    wanted = np.stack([(slope(x + step) - slope(x - step)) / 2e-6 for step in 1e-6 * np.eye(len(x))])
    slope(x)
    _, jacobian, bend = residuals(x)
    assert np.abs(jacobian.T @ jacobian + bend - wanted).max() < 1e-5 * np.abs(wanted).max()
    # without the bend it would not be
    assert np.abs(jacobian.T @ jacobian - wanted).max() > 1e-2 * np.abs(wanted).max()


@pytest.mark.parametrize("hold_length", [False, True])
@pytest.mark.parametrize("parts", [2, 3])
def test_what_is_told_of_the_tight_residuals_alone_is_what_all_of_them_say(parts: int, hold_length: bool) -> None:
    source = chain(CORNER)
    problem = Problem(Source(source, length(source)), parts, 1.0, hold_length)
    aim = problem.residuals(-1.0)
    x = np.random.default_rng(7).normal(scale=0.1, size=problem.unknowns)
    tight = aim.tight(x)  # type: ignore[attr-defined]  # of more than one cubic
    assert len(tight) == parts - 1 + hold_length
    assert tight == pytest.approx(aim(x)[0][-len(tight) :], rel=1e-9, abs=1e-12)


def test_scipy_finds_no_fairer_curve() -> None:
    def by_scipy(residuals: Residuals, x: np.ndarray) -> np.ndarray:
        return np.asarray(
            least_squares(lambda y: residuals(y, slopes=False)[0], x, jac=lambda y: residuals(y)[1], xtol=1e-10).x
        )

    for curves, within in ((WAIST_2, 1.0), (ARMHOLE, 1.0)):
        own = fair(curves, within=within)
        other = _fair(curves, within=within, hold_length=False, weld=0.01, minimise=by_scipy)
        assert own.after.mvc <= other.after.mvc * 1.1


def test_own_least_squares_agrees_with_scipy() -> None:
    # the fit of a decay, whose answer is known because the data are made from it
    t = np.linspace(0, 3, 30)
    data = 2.5 * np.exp(-1.3 * t) + 0.5

    def decay(x: np.ndarray, *, slopes: bool = True) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        e = np.exp(-x[1] * t)
        r = x[0] * e + x[2] - data
        across, twice = float(-r @ (t * e)), float(r @ (x[0] * t * t * e))
        bend = np.array([[0.0, across, 0.0], [across, twice, 0.0], [0.0, 0.0, 0.0]])
        return r, np.stack([e, -x[0] * t * e, np.ones_like(t)], axis=1), bend

    start = np.array([1.0, 0.5, 0.0])
    found = own_least_squares(decay, start)
    assert found == pytest.approx([2.5, 1.3, 0.5], abs=1e-4)
    assert found == pytest.approx(least_squares(lambda x: decay(x)[0], start).x, abs=1e-4)


def test_a_step_up_the_side_of_a_bent_valley_saves_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rosenbrock's valley from its usual start: what the watchdog is for (R. Chamberlain and others, 1982)."""

    def evaluations() -> int:
        count = 0

        def valley(x: np.ndarray, *, slopes: bool = True) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
            nonlocal count
            count += 1
            r = np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]])
            return r, np.array([[-20 * x[0], 10.0], [-1.0, 0.0]]), r[0] * np.array([[-20.0, 0.0], [0.0, 0.0]])

        assert own_least_squares(valley, np.array([-1.2, 1.0])) == pytest.approx([1, 1], abs=1e-5)
        return count

    watched = evaluations()
    monkeypatch.setattr("flatcut.geometry.least_squares.WORSE", 0.0)
    assert watched < evaluations()


def test_fairness_of_known_shapes() -> None:
    # a parabola has one curvature extremum and no inflection; y = x³ has two extrema and one inflection
    parabola = fairness(cubic((-3, 9), (-1, -3), (1, -3), (3, 9)))
    assert (parabola.extrema, parabola.inflections, parabola.kink) == (1, 0, 0.0)
    cube = fairness(cubic((-3, -27), (-1, 27), (1, -27), (3, 27)))
    assert (cube.extrema, cube.inflections) == (2, 1)
    bent = fairness(chain([line((0, 0), (10, 0)), line((10, 0), (10 + math.cos(0.3), math.sin(0.3)))]))
    assert bent.kink == pytest.approx(math.degrees(0.3))
    assert bent.mvc == 0.0
    # an arc and its tangent: the jump is 1 / R, here of the cubic's end, which is that of the circle within 2.5 %
    k = 4 / 3 * math.tan(math.pi / 8)
    arc = chain([line((-100, 50), (0, 50)), cubic((0, 50), (50 * k, 50), (50, 50 * k), (50, 0))])
    assert fairness(arc).jump == pytest.approx(length(arc) / 50, rel=0.025)


def test_the_change_of_curvature_is_the_integral_of_quadpack() -> None:
    x, y = np.polynomial.Polynomial([0, 90, -60, 80]), np.polynomial.Polynomial([0, 30, 90, -60])
    curve = cubic((0, 0), (30, 10), (40, 50), (110, 60))

    def rate_squared(t: float) -> float:
        # k = (x' y'' - y' x'') / v³ differentiated by hand
        x1, x2, x3 = (float(x.deriv(n)(t)) for n in (1, 2, 3))
        y1, y2, y3 = (float(y.deriv(n)(t)) for n in (1, 2, 3))
        v2 = x1 * x1 + y1 * y1
        dk = (x1 * y3 - y1 * x3) / v2**1.5 - 3 * (x1 * y2 - y1 * x2) * (x1 * x2 + y1 * y2) / v2**2.5
        return dk * dk / math.sqrt(v2)

    assert np.abs(point(curve, 0.3) - [x(0.3), y(0.3)]).max() < 1e-9
    wanted = length(curve) ** 3 * quad(rate_squared, 0, 1, epsabs=1e-14)[0]
    assert fairness(curve).mvc == pytest.approx(wanted, rel=1e-6)

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, chain, cubic, line, point, polyline, reverse, section
from flatcut.geometry.length import length, length_to, lengths_to, place_at, places_at, span_lengths

NASTY = {
    "near-cusp": cubic((0, 0), (100, 100), (0.001, 100), (100, 0)),
    "cusp": cubic((0, 0), (100, 100), (0, 100), (100, 0)),
    "loop": cubic((0, 0), (150, 100), (-50, 100), (100, 0)),
    "hairpin": cubic((0, 0), (200, 1e-3), (200, -1e-3), (0, 0.5)),
    "folded line": cubic((0, 0), (120, 0), (-20, 0), (100, 0)),
    "zero handle": cubic((0, 0), (0, 0), (50, 80), (100, 0)),
    "two zero handles": cubic((0, 0), (0, 0), (100, 30), (100, 30)),
    "tiny": cubic((0, 0), (1e-7, 0), (1e-7, 1e-7), (0, 1e-7)),
    "huge": cubic((0, 0), (1e6, 2e6), (-3e5, 1e6), (4e5, 0)),
}


def reference(curve: Curve, t1: float = 1.0) -> float:
    """The integral of the speed by scipy.integrate.quad (QUADPACK), broken where the speed is least."""
    d = 3 * np.diff(curve.controls[0], axis=0)

    def speed(t: float) -> float:
        s = 1 - t
        return float(np.hypot(*(s * s * d[0] + 2 * s * t * d[1] + t * t * d[2])))

    # the quartic under the root is least at a root of its derivative, a cubic
    x, y = (
        np.polynomial.Polynomial([d[0, k], 2 * (d[1, k] - d[0, k]), d[0, k] - 2 * d[1, k] + d[2, k]]) for k in (0, 1)
    )
    roots = (x * x + y * y).deriv().trim(1e-12).roots()
    breaks = sorted({0.0, t1, *(float(r.real) for r in roots if abs(r.imag) < 1e-6 and 0 < r.real < t1)})
    total = 0.0
    for a, b in pairwise(breaks):
        for c in np.linspace(a, b, 9)[:-1]:
            total += quad(speed, c, c + (b - a) / 8, epsabs=1e-12, epsrel=1e-13, limit=400)[0]
    return total


@pytest.mark.parametrize("name", NASTY)
def test_nasty_cubics_agree_with_quadpack(name: str) -> None:
    curve = NASTY[name]
    wanted = reference(curve)
    assert length(curve) == pytest.approx(wanted, abs=1e-8, rel=1e-13)
    assert length_to(curve, 0.37) == pytest.approx(reference(curve, 0.37), abs=1e-8, rel=1e-13)


def test_folded_line_has_the_closed_length_of_its_back_and_forth() -> None:
    # x(t) is a cubic polynomial: the length is the sum of its moves between its turning points
    x = np.polynomial.Polynomial([0, 360, -780, 520])
    turns = sorted(t.real for t in x.deriv().roots())
    stops = x(np.array([0.0, *turns, 1.0]))
    assert length(NASTY["folded line"]) == pytest.approx(np.abs(np.diff(stops)).sum(), abs=1e-9)


def test_close_turns_of_a_folded_line_are_both_seen() -> None:
    # the two turns come nearer and nearer, until they fall between neighbouring points of a rule of integration
    x = np.array([38.0, 117.0, 55.0, 133.5])
    p = np.polynomial.Polynomial(
        [x[0], 3 * (x[1] - x[0]), 3 * (x[0] - 2 * x[1] + x[2]), x[3] - x[0] + 3 * (x[1] - x[2])]
    )
    for squeeze in np.linspace(0.6, 1.4, 41):
        bent = p + np.polynomial.Polynomial([0, 0, 1]) * (squeeze - 1) * 10
        turns = sorted(t.real for t in bent.deriv().roots() if t.imag == 0 and 0 < t.real < 1)
        a0, a1, a2, a3 = bent.coef
        controls = [a0, a0 + a1 / 3, a0 + 2 * a1 / 3 + a2 / 3, a0 + a1 + a2 + a3]
        wanted = np.abs(np.diff(bent(np.array([0.0, *turns, 1.0])))).sum()
        assert length(cubic(*[(0.6 * c, 0.8 * c) for c in controls])) == pytest.approx(wanted, abs=1e-9)


def test_exact_cusp_has_its_closed_length() -> None:
    # Tschirnhausen-like cubic with hodograph (a t, b t²): length = ((a² + b²)^1.5 - a³) / (3 b²)
    a, b = 60.0, 90.0
    curve = cubic((0, 0), (0, 0), (a / 6, 0), (a / 2, b / 3))
    assert length(curve) == pytest.approx(((a * a + b * b) ** 1.5 - a**3) / (3 * b * b), abs=1e-9)


def test_quarter_circle_cubic_is_near_the_circle() -> None:
    # the usual constant 4/3·tan(pi/8): radial error at most 2.73e-4 R, so the length is within that of pi R / 2
    k = 4 / 3 * math.tan(math.pi / 8)
    curve = cubic((100, 0), (100, 100 * k), (100 * k, 100), (0, 100))
    assert length(curve) == pytest.approx(50 * math.pi, rel=2.73e-4)


def test_straight_spans_are_exact() -> None:
    curve = polyline([(0, 0), (3, 4), (3, 4), (3, 5)])
    assert list(span_lengths(curve)) == [5.0, 0.0, 1.0]
    assert length_to(curve, 0.25) == 1.25
    assert place_at(curve, 5.5) == 2.5
    assert list(places_at(curve, [0.0, 6.0])) == [0.0, 3.0]


@pytest.mark.parametrize("name", NASTY)
def test_places_invert_lengths_like_brentq(name: str) -> None:
    curve = NASTY[name]
    total = length(curve)
    goals = np.array([0.0, 1e-3, 0.1, 0.25, 0.5, 0.77, 1.0]) * total
    found = places_at(curve, goals)
    rounding = 1e-12 * total
    assert np.abs(lengths_to(curve, found) - goals).max() <= 1e-8 + rounding
    for goal, place in zip(goals[2:-1], found[2:-1], strict=True):
        wanted = brentq(lambda t, goal=goal: reference(curve, t) - goal, 1e-9, 1.0, xtol=1e-13)
        assert np.linalg.norm(point(curve, place) - point(curve, wanted)) <= 1e-6


coordinates = st.floats(-300, 300).map(lambda x: round(x, 3))
cubics = st.lists(st.tuples(coordinates, coordinates), min_size=4, max_size=4).map(lambda p: cubic(*p))


@settings(max_examples=60, deadline=None)
@given(cubics)
def test_any_cubic_agrees_with_quadpack(curve: Curve) -> None:
    assert length(curve) == pytest.approx(reference(curve), abs=1e-7)


@settings(max_examples=60, deadline=None)
@given(cubics, st.floats(0, 1))
def test_parts_add_up_and_reversal_keeps_the_length(curve: Curve, part: float) -> None:
    total = length(curve)
    place = place_at(curve, part * total)
    assert length_to(curve, place) == pytest.approx(part * total, abs=1e-8)
    assert length(reverse(curve)) == pytest.approx(total, abs=1e-8)
    if 1e-6 < place < 1 - 1e-6:
        assert length(section(curve, 0, place)) == pytest.approx(part * total, abs=1e-7)


def test_arrays_keep_their_shape_and_spans_their_order() -> None:
    curve = chain([line((0, 0), (10, 0)), cubic((10, 0), (20, 0), (30, 10), (30, 20)), line((30, 20), (30, 50))])
    goals = np.linspace(0, length(curve), 12).reshape(3, 4)
    found = places_at(curve, goals)
    assert found.shape == (3, 4)
    assert np.abs(lengths_to(curve, found) - goals).max() < 1e-9
    assert found[0, 0] == 0.0
    assert found[-1, -1] == 3.0
    assert place_at(curve, 10.0) == 1.0


def test_a_curve_of_no_length_has_a_place_at_nought() -> None:
    assert place_at(polyline([(1, 1), (1, 1)]), 0.0) in (0.0, 1.0)
    assert length(cubic((1, 1), (1, 1), (1, 1), (1, 1))) == 0.0


@pytest.mark.parametrize("wrong", [-0.01, 10.01, math.nan, math.inf])
def test_a_distance_outside_is_an_error(wrong: float) -> None:
    with pytest.raises(GeometryError, match=r"on a line of 10\.00 mm"):
        place_at(line((0, 0), (10, 0)), wrong)


def test_a_hair_outside_is_the_end() -> None:
    assert place_at(line((0, 0), (10, 0)), 10 + 5e-7) == 1.0
    assert place_at(line((0, 0), (10, 0)), -5e-7) == 0.0

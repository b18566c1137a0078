from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, point, polyline
from flatcut.geometry.nearest import nearest, nearest_place

NASTY = {
    "near-cusp": cubic((0, 0), (100, 100), (0.001, 100), (100, 0)),
    "cusp": cubic((0, 0), (100, 100), (0, 100), (100, 0)),
    "loop": cubic((0, 0), (150, 100), (-50, 100), (100, 0)),
    "hairpin": cubic((0, 0), (200, 1e-3), (200, -1e-3), (0, 0.5)),
    "folded line": cubic((0, 0), (120, 0), (-20, 0), (100, 0)),
    "zero handle": cubic((0, 0), (0, 0), (50, 80), (100, 0)),
    "two zero handles": cubic((0, 0), (0, 0), (100, 30), (100, 30)),
    "s": cubic((0, 0), (60, 80), (40, -80), (100, 0)),
    "no length": cubic((5, 5), (5, 5), (5, 5), (5, 5)),
}


def by_quintic(curve: Curve, to: Array) -> float:
    """Least distance by all roots of (B - p)·B' (numpy.roots: eigenvalues of the companion matrix) and the ends."""
    best = np.inf
    for p in curve.controls:
        parts = [
            np.polynomial.Polynomial(
                [q[0], 3 * (q[1] - q[0]), 3 * (q[0] - 2 * q[1] + q[2]), q[3] - q[0] + 3 * (q[1] - q[2])]
            )
            for q in (p[:, 0], p[:, 1])
        ]
        x, y = parts[0] - to[0], parts[1] - to[1]
        g = x * x.deriv() + y * y.deriv()
        roots = np.roots(g.coef[::-1])
        # a double root comes back as a pair with a small imaginary part: every real part in range is a candidate
        places = np.concatenate([[0.0, 1.0], np.clip(roots.real, 0, 1)])
        best = min(best, float(np.hypot(x(places), y(places)).min()))
    return best


@pytest.mark.parametrize("name", NASTY)
def test_nasty_cubics_agree_with_the_roots_of_the_quintic(name: str) -> None:
    curve = NASTY[name]
    rng = np.random.default_rng(7)
    points = np.concatenate(
        [rng.uniform(-60, 160, (150, 2)), rng.uniform(40, 60, (50, 2)), point(curve, rng.random(30))]
    )
    places, distances = nearest(curve, points)
    assert np.abs(distances - [by_quintic(curve, p) for p in points]).max() < 1e-9
    gap = point(curve, places) - points
    assert np.abs(np.hypot(gap[:, 0], gap[:, 1]) - distances).max() < 1e-12


def test_a_chain_agrees_with_shapely_on_its_chords() -> None:
    curve = chain(
        [
            line((0, 0), (40, 0)),
            cubic((40, 0), (90, 0), (90, 60), (60, 90)),
            cubic((60, 90), (20, 130), (-40, 60), (0, 20)),
        ]
    )
    chords = shapely.LineString(point(curve, np.linspace(0, 3, 3 * 4000 + 1)))
    points = np.random.default_rng(3).uniform(-50, 150, (500, 2))
    distances = nearest(curve, points)[1]
    # chords of 4000 a span lie within 1e-5 mm of these curves
    assert np.abs(distances - shapely.distance(chords, shapely.points(points))).max() < 1e-5


def test_centre_of_a_near_circle() -> None:
    # the quarter-circle cubic with handle 0.5522847498 touches R at both ends and the middle and is outside between
    k = 55.22847498
    quarter = cubic((100, 0), (100, k), (k, 100), (0, 100))
    place, distance = nearest_place(quarter, (0, 0))
    assert distance == pytest.approx(100.0, abs=1e-6)
    assert min(abs(place - t) for t in (0.0, 0.5, 1.0)) < 1e-3
    # from a little off centre the answer is unique and closed: on the diagonal, the middle
    place, distance = nearest_place(quarter, (10, 10))
    assert place == pytest.approx(0.5, abs=1e-9)
    assert distance == pytest.approx(np.hypot(*(point(quarter, 0.5) - 10)), abs=1e-12)


def test_parabola_has_the_closed_answer() -> None:
    # y = x²: from (0, h) with h > 1/2 the nearest are x = ±sqrt(h - 1/2) at distance sqrt(h - 1/4); below, the vertex
    parabola = cubic((-3, 9), (-1, -3), (1, -3), (3, 9))
    for h in (0.5001, 0.7, 2.0, 5.0):
        assert nearest_place(parabola, (0, h))[1] == pytest.approx(np.sqrt(h - 0.25), abs=1e-12)
    assert nearest_place(parabola, (0, 0.5)) == (pytest.approx(0.5, abs=1e-3), pytest.approx(0.5, abs=1e-12))
    assert nearest_place(parabola, (0, -1)) == (pytest.approx(0.5), pytest.approx(1.0))


coordinates = st.floats(-300, 300).map(lambda x: round(x, 3))
cubics = st.lists(st.tuples(coordinates, coordinates), min_size=4, max_size=4).map(lambda p: cubic(*p))


@settings(max_examples=150, deadline=None)
@given(cubics, coordinates, coordinates)
@example(cubic((7, 0), (1, 7), (7, 0), (1, 7)), 169.0, 144.25)
def test_any_cubic_agrees_with_the_quintic_and_dense_samples(curve: Curve, x: float, y: float) -> None:
    place, distance = nearest_place(curve, (x, y))
    assert distance == pytest.approx(by_quintic(curve, np.array([x, y])), abs=1e-6)
    dense = point(curve, np.linspace(0, 1, 4001)) - (x, y)
    assert distance <= np.hypot(dense[:, 0], dense[:, 1]).min() + 1e-9
    assert 0 <= place <= 1


def test_straight_spans_and_corners_are_exact() -> None:
    square = polyline([(0, 0), (10, 0), (10, 10), (10, 10), (0, 10), (0, 0)])
    places, distances = nearest(square, [(5, -2), (13, 14), (5, 5), (-1, 5)])
    assert list(distances) == [2.0, 5.0, 5.0, 1.0]
    assert list(places[[0, 1, 3]]) == [0.5, 2.0, 4.5]
    assert places[2] == 0.5  # of four equal ones the first


def test_shapes_are_kept_and_none_is_no_fault() -> None:
    curve = NASTY["s"]
    places, distances = nearest(curve, np.zeros((3, 4, 2)))
    assert places.shape == distances.shape == (3, 4)
    assert nearest(curve, np.zeros((0, 2)))[0].shape == (0,)

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, point, polyline, reverse, section, transform
from flatcut.geometry.intersect import Crossing, crossings, self_crossings

PARABOLA = cubic((-3, 9), (-1, -3), (1, -3), (3, 9))  # y = x², x from -3 to 3
LOOP = cubic((0, 0), (150, 100), (-50, 100), (100, 0))


def on_chords(curve: Curve, chords: int = 4000) -> shapely.LineString:
    return shapely.LineString(point(curve, np.linspace(0, len(curve), len(curve) * chords + 1)))


def common_points(a: Curve, b: Curve) -> Array:
    """Common points of the chords of both curves (shapely, so GEOS), those closer than 1e-6 mm counted once."""
    kept: list[Array] = []
    for p in shapely.get_coordinates(shapely.intersection(on_chords(a), on_chords(b))):
        if all(np.hypot(*(p - q)) > 1e-6 for q in kept):
            kept.append(p)
    return np.array(kept).reshape(-1, 2)


def assert_on_both(a: Curve, b: Curve, hits: list[Crossing], tolerance: float = 1e-6) -> None:
    for hit in hits:
        for p in (point(a, hit.u), point(b, hit.v)):
            assert np.hypot(*(p - hit.point)) <= tolerance


def random_curve(rng: np.random.Generator) -> Curve:
    q = rng.uniform(0, 200, (4, 2))
    kind = rng.integers(0, 6)
    if kind == 1:
        q[1] = q[0]  # a handle of length zero
    elif kind == 2:
        q[2] = q[1] + rng.normal(size=2) * 0.01
    elif kind == 3:  # a near-cusp
        q = np.array([[0, 0], [100, 100], [10.0 ** rng.uniform(-6, 0), 100], [100, 0]]) + rng.uniform(0, 50, 2)
    elif kind == 4:
        q = LOOP.controls[0] + rng.uniform(0, 50, 2)
    elif kind == 5:
        return line(q[0], q[3])
    return cubic(*q)


def fuzz(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    for _ in range(count):
        a, b = random_curve(rng), random_curve(rng)
        hits, wanted = crossings(a, b), common_points(a, b)
        assert_on_both(a, b, hits)
        assert len(hits) == len(wanted)
        for hit in hits:
            assert np.hypot(*(wanted - hit.point).T).min() < 0.01


@pytest.mark.brief
def test_random_and_nasty_pairs_agree_with_shapely() -> None:
    fuzz(0, 120)


@pytest.mark.long
def test_many_random_and_nasty_pairs_agree_with_shapely() -> None:
    for seed in range(4):
        fuzz(seed, 500)


def test_line_and_parabola_have_the_closed_roots() -> None:
    for slope, level in ((0.0, 4.0), (1.5, 2.0), (-0.3, 0.01)):
        hits = crossings(PARABOLA, line((-4, level - 4 * slope), (4, level + 4 * slope)))
        root = math.sqrt(slope * slope + 4 * level)
        assert [h.point[0] for h in hits] == pytest.approx([(slope - root) / 2, (slope + root) / 2], abs=1e-12)
        assert [h.u for h in hits] == pytest.approx([(h.point[0] + 3) / 6 for h in hits], abs=1e-12)
        assert not any(h.contact for h in hits)


def test_parabolas_have_the_closed_roots() -> None:
    # y = x² and y = c - x² meet at x = ±sqrt(c / 2)
    turned = transform(PARABOLA, Affine(d=-1))
    for c in (8.0, 0.5, 1e-3, 4e-6):
        hits = crossings(PARABOLA, transform(turned, Affine(f=c)))
        assert [h.point[0] for h in hits] == pytest.approx([-math.sqrt(c / 2), math.sqrt(c / 2)], abs=1e-9)
        assert not any(h.contact for h in hits)


@pytest.mark.parametrize("as_line", [True, False])
@pytest.mark.parametrize("gap", [0.0, 4e-7, -4e-7])
def test_a_touch_within_the_tolerance_is_one_contact(as_line: bool, gap: float) -> None:
    other = line((-5, gap), (5, gap)) if as_line else transform(PARABOLA, Affine(d=-1, f=gap))
    [hit] = crossings(PARABOLA, other)
    assert hit.contact
    assert hit.point == pytest.approx([0, 0], abs=1e-6)


@pytest.mark.parametrize("as_line", [True, False])
def test_beside_the_tolerance_there_are_two_hits_or_none(as_line: bool) -> None:
    def other(gap: float) -> Curve:
        return line((-5, gap), (5, gap)) if as_line else transform(PARABOLA, Affine(d=-1, f=gap))

    assert len(crossings(PARABOLA, other(1e-5))) == 2
    assert crossings(PARABOLA, other(-1e-5)) == []


def test_an_inflection_along_a_line_is_one_contact() -> None:
    # y = x³ crosses y = 0 with the tangent along it
    wave = cubic((-3, -27), (-1, 27), (1, -27), (3, 27))
    [hit] = crossings(wave, line((-5, 0), (5, 0)))
    assert hit.contact
    assert hit.point == pytest.approx([0, 0], abs=1e-6)
    [hit] = crossings(wave, cubic((-5, 0), (-1, 0), (1, 0), (5, 0)))
    assert hit.contact


def test_nine_crossings_of_two_cubics() -> None:
    # Bézout: two cubics meet at most nine times. Chebyshev's y = T3(x) and x = T3(y) do: there T9(x) = x, so
    # x = cos(k pi / 4) or cos(k pi / 5) (T9 = T3 after T3; T9(cos w) = cos 9 w)
    wave = cubic((-1, -1), (-1 / 3, 5), (1 / 3, -5), (1, 1))
    big = transform(wave, Affine.scaling(100))
    hits = crossings(big, transform(big, Affine(0, 1, 1, 0)))
    wanted = {round(100 * math.cos(math.pi * k / n), 9) + 0.0 for n in (4, 5) for k in range(n + 1)}
    assert len(wanted) == 9
    assert sorted(h.point[0] for h in hits) == pytest.approx(sorted(wanted), abs=1e-9)


def test_circles_meet_where_the_closed_form_says() -> None:
    k = 55.22847498
    quarter = [cubic((100, 0), (100, k), (k, 100), (0, 100))]
    for _ in range(3):
        quarter.append(transform(quarter[-1], Affine.rotation(math.pi / 2)))
    circle = chain(quarter, within=1e-9)
    other = transform(circle, Affine.translation(120, 0))
    hits = crossings(circle, other)
    # two circles of radius R a distance d apart meet at (d/2, ±sqrt(R² - d²/4)); the cubics lie within 2.73e-4 R
    assert sorted(h.point[1] for h in hits) == pytest.approx([-80, 80], abs=0.06)
    assert [h.point[0] for h in hits] == pytest.approx([60, 60], abs=1e-9)
    assert_on_both(circle, other, hits)


def test_ends_and_joints_count_once() -> None:
    corner = polyline([(0, 0), (10, 0), (10, 10)])
    [hit] = crossings(corner, line((0, -10), (20, 10)))
    assert (hit.u, hit.v) == (1.0, 0.5)
    [hit] = crossings(line((5, 0), (5, 7)), corner)  # ends on it
    assert (hit.u, hit.v, hit.contact) == (0.0, 0.5, False)
    [hit] = crossings(line((5, 5e-7), (5, 7)), corner)  # ends half a tolerance before it
    assert hit.u == 0.0
    assert crossings(line((5, 1e-5), (5, 7)), corner) == []
    [hit] = crossings(corner, line((10, 10), (3, 12)))  # end to end
    assert (hit.u, hit.v) == (2.0, 0.0)


def test_a_closed_curve_gives_its_start_not_its_end() -> None:
    square = polyline([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    hits = crossings(square, line((-5, -5), (15, 15)))
    assert [(h.u, h.v) for h in hits] == [(0.0, 0.25), (2.0, 0.75)]


def test_an_end_at_a_flat_angle_counts_once() -> None:
    # the end passes the line by half a tolerance; the crossing itself lies 0.5 mm before it
    [hit] = crossings(line((0, 1e-4), (101, -5e-7)), line((-10, 0), (200, 0)))
    assert hit.contact


def test_shared_stretches_are_given_by_their_ends() -> None:
    hits = crossings(line((0, 0), (10, 0)), line((4, 0), (30, 0)))
    assert [(h.point[0], h.contact) for h in hits] == [(4.0, True), (10.0, True)]
    curve = cubic((0, 0), (60, 80), (40, -80), (100, 0))
    for other in (curve, reverse(curve)):
        hits = crossings(curve, other)
        assert [(h.u, h.contact) for h in hits] == [(0.0, True), (1.0, True)]
    hits = crossings(curve, section(curve, 0.25, 0.75))
    assert [h.u for h in hits] == pytest.approx([0.25, 0.75], abs=1e-7)
    assert [h.v for h in hits] == [0.0, 1.0]
    hits = crossings(section(curve, 0, 0.6), section(curve, 0.4, 1))
    assert [h.v for h in hits] == pytest.approx([0.0, 1 / 3], abs=1e-7)


def test_parallel_curves_a_hair_apart_do_not_meet() -> None:
    curve = cubic((0, 0), (60, 80), (40, -80), (100, 0))
    assert crossings(curve, transform(curve, Affine.translation(0, 30))) == []
    assert crossings(line((0, 0), (10, 0)), line((0, 1e-5), (10, 1e-5))) == []


def test_curves_of_no_length() -> None:
    dot = cubic((5, 0), (5, 0), (5, 0), (5, 0))
    assert len(crossings(dot, line((0, 0), (10, 0)))) == 1
    assert crossings(dot, line((0, 1), (10, 1))) == []
    assert len(crossings(polyline([(5, 0), (5, 0)]), cubic((0, 0), (3, 0), (7, 0), (10, 0)))) == 1


coordinates = st.floats(0, 100).map(lambda x: round(x, 2))
points = st.tuples(coordinates, coordinates)
curves = st.one_of(
    st.lists(points, min_size=4, max_size=4).map(lambda p: cubic(*p)),
    st.lists(points, min_size=2, max_size=4).map(polyline),
    st.tuples(points, points, points, points, points, points, points).map(
        lambda p: chain([cubic(*p[:4]), cubic(*p[3:])])
    ),
)


@settings(max_examples=40, deadline=None)
@given(curves, curves)
@example(cubic((0, 0), (0, 0), (0, 0), (1, 1)), cubic((0, 0), (0, 1), (1, 1), (1, 1)))
def test_swapping_and_reversing_find_the_same_points(a: Curve, b: Curve) -> None:
    hits = crossings(a, b)
    assert_on_both(a, b, hits)
    swapped = crossings(b, a)
    assert_on_both(b, a, swapped)
    turned = crossings(reverse(a), b)
    seam_free = not np.array_equal(a.start, a.end)
    if not any(h.contact for h in hits + swapped + turned) and seam_free:
        assert sorted(h.v for h in hits) == pytest.approx(sorted(h.u for h in swapped), abs=1e-6)
        assert sorted(h.u for h in hits) == pytest.approx(sorted(len(a) - h.u for h in turned), abs=1e-6)


def test_a_loop_has_its_closed_crossing() -> None:
    [hit] = self_crossings(LOOP, closed=False)
    assert np.hypot(*(point(LOOP, hit.u) - point(LOOP, hit.v))) < 1e-9
    assert hit.point == pytest.approx([50, 300 / 7], abs=1e-9)  # by symmetry on x = 50; t s = 1/7


def test_self_crossings_of_closed_and_open_curves() -> None:
    bow = polyline([(0, 0), (10, 10), (10, 0), (0, 10), (0, 0)])
    [hit] = self_crossings(bow, closed=True)
    assert (hit.u, hit.v) == (0.5, 2.5)
    assert len(self_crossings(bow, closed=False)) == 2  # the end that meets the start counts
    square = polyline([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    assert self_crossings(square, closed=True) == []
    six = polyline([(0, 0), (10, 0), (10, 10), (5, 10), (5, 0)])
    [hit] = self_crossings(six, closed=False)
    assert (hit.u, hit.v) == (0.5, 4.0)


def test_smooth_joints_cusps_and_hairpins() -> None:
    curve = cubic((0, 0), (60, 80), (40, -80), (100, 0))
    parts = chain([section(curve, k / 5, (k + 1) / 5) for k in range(5)], within=1e-9)
    assert self_crossings(parts, closed=False) == []
    assert self_crossings(cubic((0, 0), (100, 100), (0, 100), (100, 0)), closed=False) == []
    [hit] = self_crossings(polyline([(0, 0), (10, 0), (4, 0)]), closed=False)  # runs back along itself
    assert (hit.v, hit.contact) == (2.0, True)
    assert self_crossings(polyline([(0, 0), (5, 0), (5, 0), (9, 3)]), closed=False) == []  # a span of no length


def test_random_closed_curves_agree_with_shapely() -> None:
    rng = np.random.default_rng(11)
    for _ in range(25):
        nodes = rng.uniform(0, 200, (3, 2))
        spans = [cubic(nodes[k], *rng.uniform(-50, 250, (2, 2)), nodes[(k + 1) % 3]) for k in range(3)]
        curve = chain(spans)
        hits = self_crossings(curve, closed=True)
        assert_on_both(curve, curve, hits)
        # the points of degree 4 in the planar graph of its chords (GEOS noding)
        noded = shapely.node(on_chords(curve, 2000))
        ends = np.concatenate([np.asarray(part.coords)[[0, -1]] for part in noded.geoms])
        count = np.unique(ends.round(7), axis=0, return_counts=True)[1]
        assert len(hits) == int((count == 4).sum())

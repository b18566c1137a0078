from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, hausdorff_distance

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, polyline, tangent
from flatcut.geometry.fit_points import Sampled, corners, fit_lines, fit_points
from flatcut.geometry.length import length, places_at
from flatcut.geometry.nearest import nearest
from flatcut.geometry.straights import straights

S_CURVE = cubic((0, 0), (100, 120), (150, -90), (260, 40))
ARMHOLE = chain(
    [cubic((0, 0), (-28, 45), (-30, 95), (-5, 130)), cubic((-5, 130), (22.7, 168.8), (60, 172), (105, 168))]
)
CROTCH = chain([line((0, 0), (0, 150)), cubic((0, 150), (0, 200), (30, 230), (90, 235))])
BODICE = [
    cubic((0, 0), (40, 0), (60, -20), (65, -70)),
    line((65, -70), (190, -40)),
    cubic((190, -40), (165, 20), (175, 110), (230, 140)),
    line((230, 140), (215, 380)),
    cubic((215, 380), (140, 395), (70, 392), (0, 390)),
    line((0, 390), (0, 0)),
]


def sampled(curve: Curve, step: float) -> Array:
    """Points about `step` mm apart along a curve, both ends included."""
    size = length(curve)
    return point(curve, places_at(curve, np.linspace(0, size, max(2, round(size / step)) + 1)))


def outline(step: float) -> Array:
    """The bodice's points, each edge with its ends."""
    return np.concatenate([sampled(edge, step)[:-1] for edge in BODICE])


def circle(radius: float, count: int) -> Array:
    a = 2 * np.pi * np.arange(count) / count
    return radius * np.stack([np.cos(a), np.sin(a)], axis=1)


def assert_follows(found: Curve, points: Array, tolerance: float, bulge: float = 0.0, closed: bool = False) -> None:
    """Both ways: each point by the program's nearest place, the curve by shapely's distance to the polyline."""
    assert nearest(found, points)[1].max() <= tolerance
    ring = LineString(np.concatenate([points, points[:1]]) if closed else points)
    dense = LineString(point(found, np.linspace(0, len(found), 200 * len(found) + 1)))
    assert hausdorff_distance(dense, ring, densify=0.02) <= tolerance + bulge + 0.01


def assert_smooth(found: Curve, but: tuple[int, ...] = ()) -> None:
    joints = np.array([k for k in range(1, len(found)) if k not in but], dtype=float)
    if len(joints):
        turn = tangent(found, joints, before=True) * tangent(found, joints)
        assert turn.sum(axis=1).min() > 1 - 1e-9


@pytest.mark.parametrize("step", [1.0, 2.0, 5.0, 10.0])
def test_samples_of_a_cubic_give_the_cubic_back(step: float) -> None:
    found = fit_points(sampled(S_CURVE, step))
    assert len(found) == 1
    assert np.abs(found.controls - S_CURVE.controls).max() < 0.05
    there = nearest(found, point(S_CURVE, np.linspace(0, 1, 500)))[1]
    assert there.max() < 0.005


@pytest.mark.parametrize("step", [1.0, 3.0])
@pytest.mark.parametrize("rough", [0.0, 0.05])
def test_two_cubics_stay_two(step: float, rough: float) -> None:
    points = sampled(ARMHOLE, step)
    points = points + np.random.default_rng(2).uniform(-rough, rough, points.shape)
    found = fit_points(points)
    assert len(found) <= 2
    assert_follows(found, points, 0.1, bulge=0.02)
    assert_smooth(found)
    # roughness is averaged out: the fit is nearer to the curve itself than the points are
    assert nearest(found, point(ARMHOLE, np.linspace(0.02, 1.98, 400)))[1].max() < max(rough * 1.5, 0.005)


@pytest.mark.parametrize("count", [24, 100, 400])
def test_a_circle_has_its_radius(count: int) -> None:
    points = circle(60.0, count)
    found = fit_points(points, corner_angle=20.0, closed=True)
    assert len(found) <= 4
    radius = np.hypot(*point(found, np.linspace(0, len(found), 2000)).T)
    assert np.abs(radius - 60).max() <= 0.1
    assert np.allclose(found.start, points[0])
    assert np.allclose(found.end, points[0])
    assert_smooth(found)
    seam = tangent(found, 0.0) @ tangent(found, float(len(found)), before=True)
    assert seam > 1 - 1e-9


def test_an_arc_has_its_length() -> None:
    a = np.linspace(0, math.radians(80), 50)
    found = fit_points(200 * np.stack([np.cos(a), np.sin(a)], axis=1), tolerance=0.02)
    assert len(found) == 1
    assert length(found) == pytest.approx(200 * math.radians(80), abs=0.05)


@pytest.mark.parametrize("step", [2.0, 6.0])
@pytest.mark.parametrize("rough", [0.0, 0.04])
def test_an_outline_keeps_its_corners_and_straight_edges(step: float, rough: float) -> None:
    points = outline(step)
    points = points + np.random.default_rng(4).uniform(-rough, rough, points.shape)
    found = fit_points(points, closed=True)
    assert len(found) <= 7 + (rough > 0)
    assert np.count_nonzero(found.straight) == 3
    assert_follows(found, points, 0.1, bulge=0.08, closed=True)
    for edge in BODICE:
        gap = np.hypot(*(found.nodes - edge.start).T).min()
        assert gap <= 1.5 * rough
        exact = np.hypot(*(points - edge.start).T).argmin()
        assert np.abs(found.nodes - points[exact]).max(axis=1).min() == 0.0


@pytest.mark.parametrize("step", [2.0, 5.0])
def test_straight_edges_among_rougher_points_are_straight_from_end_to_end(step: float) -> None:
    points = outline(step)
    points = points + np.random.default_rng(8).uniform(-0.1, 0.1, points.shape)
    found = fit_points(points, tolerance=0.2, closed=True)
    ends = found.controls[found.straight][:, [0, 3]]
    wanted = np.array([[edge.start, edge.end] for edge in BODICE if edge.straight[0]])
    assert np.hypot(*np.moveaxis(ends - wanted, -1, 0)).max() < 0.15


def test_lines_fitted_together_are_what_each_is_alone() -> None:
    a = np.linspace(0, 2 * np.pi, 150)[:-1]
    blob = (80 + 9 * np.cos(3 * a + 1))[:, None] * np.stack([np.cos(a), np.sin(a)], axis=1)
    lines = [Sampled(sampled(curve, step)) for curve in (S_CURVE, ARMHOLE, CROTCH) for step in (0.7, 2.0, 9.0)]
    lines += [Sampled(blob, closed=True), Sampled(outline(2.0), closed=True), Sampled([(0, 0), (9, 2)])]
    for line_, found in zip(lines, fit_lines(lines), strict=True):
        alone = fit_points(line_.points, closed=line_.closed)
        assert list(found.curve.straight) == list(alone.straight)
        assert both(found.curve, alone) < 0.02
        assert found.away == pytest.approx(float(nearest(found.curve, line_.points)[1].max()), abs=1e-3)


def test_a_polygon_is_given_back_exactly() -> None:
    corner = [(0, 0), (100, 0), (100, 50), (60, 50), (55, 42), (50, 50), (0, 50)]  # with a V in one side
    dense = np.concatenate(
        [sampled(line(p, q), 2.0)[:-1] for p, q in zip(corner, corner[1:] + corner[:1], strict=True)]
    )
    for points in (np.array(corner, dtype=float), dense):
        found = fit_points(points, closed=True)
        assert found.straight.all()
        assert np.array_equal(found.nodes[:-1], np.array(corner, dtype=float))


def test_a_line_that_runs_into_a_curve_becomes_straight() -> None:
    found = fit_points(sampled(CROTCH, 2.0))
    assert list(found.straight) == [True, False]
    assert_smooth(found)
    assert_follows(found, sampled(CROTCH, 2.0), 0.1, bulge=0.03)
    assert found.controls[0, 3] == pytest.approx([0, 150], abs=4)


def test_a_line_of_which_only_the_ends_were_digitised_is_straight() -> None:
    points = np.concatenate([[[0.0, 0.0]], sampled(CROTCH, 3.0)[50:]])
    found = fit_points(points)
    assert found.straight[0]
    assert_smooth(found)


def test_a_rounded_rectangle_keeps_its_straight_sides() -> None:
    k = 20 * 4 / 3 * math.tan(math.pi / 8)
    side, corner = line((20, 0), (140, 0)), cubic((140, 0), (140 + k, 0), (160, 20 - k), (160, 20))
    half = chain(
        [side, corner, line((160, 20), (160, 100)), cubic((160, 100), (160, 100 + k), (140 + k, 120), (140, 120))]
    )
    points = sampled(half, 2.0)[:-1]
    points = np.roll(np.concatenate([points, [160, 120] - points]), 17, axis=0)
    found = fit_points(points, closed=True)
    assert np.count_nonzero(found.straight) >= 4
    assert len(found) <= 9 + 4
    assert np.hypot(*(found.start - points[0])) <= 0.1
    assert_smooth(found)
    assert_follows(found, points, 0.1, bulge=0.03, closed=True)


def test_coarse_chords_of_a_flattened_outline() -> None:
    points = flatten(chain(BODICE), tolerance=0.3)[:-1]
    assert len(points) < 40
    found = fit_points(points, closed=True)
    assert len(found) == 6
    assert both(found, chain(BODICE)) < 0.2


def both(a: Curve, b: Curve) -> float:
    return max(float(nearest(q, point(p, np.linspace(0, len(p), 1500)))[1].max()) for p, q in ((a, b), (b, a)))


def test_a_long_wave_takes_many_cubics_and_stays_within() -> None:
    x = np.linspace(0, 1200, 900)
    points = np.stack([x, 25 * np.sin(x / 30)], axis=1)
    found = fit_points(points)
    assert len(found) <= 26  # two for each of 12.7 half waves
    assert_follows(found, points, 0.1, bulge=0.01)
    assert_smooth(found)


def test_a_tighter_tolerance_is_kept() -> None:
    points = (
        sampled(ARMHOLE, 1.0)
        + np.stack([0 * np.arange(262), 0.3 * np.sin(np.arange(262) / 20)], axis=1)[: len(sampled(ARMHOLE, 1.0))]
    )
    counts = []
    for tolerance in (0.5, 0.1, 0.02):
        found = fit_points(points, tolerance=tolerance)
        assert_follows(found, points, tolerance, bulge=0.01)
        counts.append(len(found))
    assert counts[0] <= counts[1] <= counts[2]


def test_corners_are_found_in_rough_points_and_not_in_tight_curves() -> None:
    points = outline(1.0) + np.random.default_rng(1).uniform(-0.05, 0.05, outline(1.0).shape)
    found = corners(points, closed=True)
    wanted = [int(np.hypot(*(outline(1.0) - edge.start).T).argmin()) for edge in BODICE]
    assert found == sorted(wanted)
    assert corners(circle(3.0, 100), closed=True) == []
    assert corners([(0, 0), (10, 0), (20, 1)]) == []  # 5.7 degrees
    assert corners([(0, 0), (10, 0), (20, 4)]) == [1]  # 21.8 degrees
    assert corners([(0, 0), (10, 0)]) == []


def test_straight_stretches_of_known_shapes() -> None:
    # an arc of 8 m radius rises by 0.025 mm over 40 mm: what bends more is no straight stretch
    a = np.linspace(0, 300 / 1500, 151)
    assert straights(1500 * np.stack([np.cos(a), np.sin(a)], axis=1), tolerance=0.1) == []
    found = straights(sampled(CROTCH, 2.0), tolerance=0.1)
    assert [(s.first, s.last) for s in found] == [(0, pytest.approx(75, abs=2))]


shapes = st.lists(st.tuples(st.floats(-200, 200), st.floats(-200, 200)), min_size=4, max_size=4)


@settings(max_examples=15, deadline=None)
@given(shapes, st.floats(1.0, 4.0))
def test_any_sampled_cubic_is_followed(handles: list[tuple[float, float]], step: float) -> None:
    curve = cubic(*handles)
    if length(curve) < 20:
        return
    points = sampled(curve, step)
    found = fit_points(points)
    kept = points[np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 1e-9])]
    assert nearest(found, kept)[1].max() <= 0.1
    assert np.array_equal(found.start, points[0])
    assert np.array_equal(found.end, points[-1])


def test_points_that_are_no_outline() -> None:
    for points in ([], [(0, 0)], [(1, 1), (1, 1)], [(0, 0), (math.nan, 1)], [1, 2, 3]):
        with pytest.raises(GeometryError, match="outline needs"):
            fit_points(points)
    with pytest.raises(GeometryError, match="closed one three"):
        fit_points([(0, 0), (1, 1), (0, 0)], closed=True)
    with pytest.raises(GeometryError, match="larger tolerance"):
        fit_points([(0, 0), (1, 1)], tolerance=0)


def test_repeated_points_do_no_harm() -> None:
    points = np.repeat(sampled(S_CURVE, 3.0), 2, axis=0)
    assert len(fit_points(points)) == 1
    square = [(0, 0), (10, 0), (10, 0), (10, 10), (0, 10), (0, 0)]
    assert np.array_equal(
        fit_points(square, closed=True).controls, polyline([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]).controls
    )


@pytest.mark.parametrize("seed", [0, 9, 36, 43])
def test_roughness_does_not_turn_the_ends(seed: int) -> None:
    # an arc of radius 300 over 60 mm, as half a waist: its tangents at the ends are known in closed form
    half = 0.1
    t = np.linspace(-half, half, 8)
    rough = np.random.default_rng(seed).uniform(-0.04, 0.04, (8, 2))
    found = fit_points(300 * np.stack([np.sin(t), -np.cos(t)], axis=1) + rough, tolerance=0.1, corner_angle=180.0)
    for u, wanted, before in ((0, -half, False), (len(found), half, True)):
        way = tangent(found, u, before=before)
        assert np.degrees(np.arctan2(way[1], way[0])) == pytest.approx(np.degrees(wanted), abs=1.5)

"""The offset of one curve against closed forms, and its true deviation against shapely's distances."""

import math

import numpy as np
import pytest
import shapely

from flatcut.errors import GeometryError
from flatcut.geometry.curves import chain, cubic, derivative, line, point, polyline, reverse, tangent
from flatcut.geometry.offset import offset_curve

QUARTER = 4 / 3 * math.tan(math.pi / 8)  # handle length of a quarter circle (closed form)


def arc(radius):
    """A clockwise quarter circle (y down) about the origin, from 12 to 3 o'clock; radius true to 2.8e-4 of it."""
    k = QUARTER * radius
    return cubic((0, -radius), (k, -radius), (radius, -k), (radius, 0))


def dense(curve, n=3000):
    return shapely.LineString(point(curve, np.linspace(0, len(curve), n * len(curve) + 1)))


def two_sided(source, result, width):
    """Largest |distance - width| from the result to the source and back (the source's own ends left out)."""
    there = shapely.distance(
        shapely.points(point(result, np.linspace(0, len(result), 120 * len(result)))), dense(source)
    )
    u = np.linspace(0, len(source), 120 * len(source))[1:-1]
    t = tangent(source, u)
    exact = point(source, u) + width * np.stack([t[:, 1], -t[:, 0]], axis=1)
    back = shapely.distance(shapely.points(exact), dense(result))
    return max(np.abs(there - abs(width)).max(), back.max())


def test_a_line_moves_to_its_left_on_the_screen():
    assert offset_curve(line((0, 0), (10, 0)), 3).controls[0].tolist() == [
        [0, -3], [pytest.approx(10 / 3), -3], [pytest.approx(20 / 3), -3], [10, -3],
    ]  # fmt: skip


@pytest.mark.parametrize("width", [-40, -10, 5, 25, 80])
def test_a_circle_stays_a_circle(width):
    # closed form: radius R + d; the source is a circle to 2.8e-4 R only
    r = np.hypot(*point(offset_curve(arc(100), width, tolerance=0.01), np.linspace(0, 1, 50)).T)
    assert np.abs(r - (100 + width)).max() < 0.028 + 0.01


@pytest.mark.parametrize("width", [10, 40, -25])
@pytest.mark.parametrize("tolerance", [0.1, 0.05, 0.01])
def test_the_true_deviation_is_within_the_tolerance(width, tolerance):
    crotch = chain([cubic((0, 0), (2, 60), (10, 95), (30, 110)), cubic((30, 110), (50, 125), (75, 128), (95, 127))])
    assert two_sided(reverse(crotch), offset_curve(reverse(crotch), width, tolerance=tolerance), width) <= tolerance


def test_joints_are_smooth_and_ends_square():
    c = chain([cubic((0, 0), (30, 0), (60, 20), (80, 60)), cubic((80, 60), (100, 100), (100, 120), (100, 160))])
    o = offset_curve(c, 40, tolerance=0.001)
    assert len(o) > 2
    for u in range(1, len(o)):
        a, b = tangent(o, float(u), before=True), tangent(o, float(u))
        assert abs(a[0] * b[1] - a[1] * b[0]) < 1e-9
    assert np.allclose(tangent(o, 0.0), tangent(c, 0.0))
    assert np.allclose(o.start, (0, -40))


def test_a_tapering_width_runs_linearly_along_the_arc():
    o = offset_curve(line((0, 0), (100, 0)), 10, end_width=20)
    assert len(o) == 1
    assert np.allclose(o.nodes, [(0, -10), (100, -20)])
    # closed form on a circle about the origin: the radius grows linearly with the angle
    p = point(offset_curve(arc(100), 10, end_width=30, tolerance=0.005), np.linspace(0, 1, 40))
    angle = np.arctan2(p[:, 0], -p[:, 1])
    assert np.abs(np.hypot(*p.T) - (110 + 20 * angle / (math.pi / 2))).max() < 0.028 + 0.01


def test_a_taper_runs_on_over_several_spans():
    o = offset_curve(polyline([(0, 0), (30, 0), (100, 0)]), 0, end_width=10)
    assert np.allclose(o.nodes, [(0, 0), (30, -3), (100, -10)])


def test_small_kinks_are_mitred_or_trimmed():
    c = polyline([(0, 0), (50, 0), (100, 5)])  # a turn clockwise: the left side opens
    phi = math.atan2(5, 50)
    assert np.allclose(offset_curve(c, 10).nodes[1], (50 + 10 * math.tan(phi / 2), -10))
    assert np.allclose(offset_curve(c, -10).nodes[1], (50 - 10 * math.tan(phi / 2), 10))


def test_width_zero_gives_the_curve_itself():
    c = cubic((0, 0), (30, 0), (60, 20), (80, 60))
    assert (offset_curve(c, 0).controls == c.controls).all()


def test_a_handle_of_no_length_is_looked_through():
    c = cubic((0, 0), (0, 0), (60, 0), (100, 40))
    o = offset_curve(c, 10)
    assert np.linalg.norm(derivative(o, 0.0)) > 0
    assert two_sided(c, o, 10) <= 0.05


@pytest.mark.parametrize(
    ("curve", "width", "says"),
    [
        (arc(20), -25, r"radius of 19\.\d mm, too tight for an allowance of 25 mm"),
        (arc(20), math.nan, "does not stay on one side"),
        (polyline([(0, 0), (5, 0), (10, 1), (15, 0)]), 60, "too short or too bent"),
    ],
)
def test_refusals_name_the_figures(curve, width, says):
    with pytest.raises(GeometryError, match=says):
        offset_curve(curve, width)

"""Basic shapes: closed forms, the standard's rules, and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from shapely.geometry import Polygon

from flatcut.errors import InputError
from flatcut.formats.svg.pathdata import SubPath
from flatcut.formats.svg.shapes import shape
from flatcut.geometry.curves import bounds, point, signed_area

ARC = 4.3e-6  # of the radius, as in the tests of path data


def shapes(text: str, **options: tuple[float, float]) -> list[SubPath]:
    return shape(etree.fromstring(text.replace(" ", ' xmlns="http://www.w3.org/2000/svg" ', 1)), **options)


def one(text: str, **options: tuple[float, float]) -> SubPath:
    (found,) = shapes(text, **options)
    return found


def test_a_rect_runs_clockwise_from_its_upper_left_corner() -> None:
    """SVG 2, section 10.2."""
    found = one('<rect x="1" y="2" width="30" height="20"/>')
    assert found.closed
    assert found.curve.nodes.tolist() == [[1, 2], [31, 2], [31, 22], [1, 22], [1, 2]]
    assert found.curve.straight.all()


@pytest.mark.parametrize(
    ("radii", "rx", "ry"),
    [
        # SVG 2, section 10.2: one radius stands for the other, neither is more than half a side
        ('rx="3" ry="2"', 3, 2),
        ('rx="3"', 3, 3),
        ('ry="2"', 2, 2),
        ('rx="auto" ry="2"', 2, 2),
        ('rx="-1" ry="2"', 2, 2),
        ('rx="99"', 15, 10),
        ('rx="99" ry="2"', 15, 2),
        ('rx="10%" ry="2"', 10, 2),
        ('rx="4" ry="0"', 0, 0),
        ('rx="0" ry="4"', 0, 0),
        ('rx="0"', 0, 0),
        ('rx="1mm"', 96 / 25.4, 96 / 25.4),
    ],
)
def test_corners_of_a_rect(radii: str, rx: float, ry: float) -> None:
    found = one(f'<rect x="1" y="2" width="30" height="20" {radii}/>', viewport=(100, 50))
    assert found.closed
    assert found.dropped == 0
    assert found.curve.start == pytest.approx([1 + rx, 2])
    assert signed_area(found.curve) == pytest.approx(30 * 20 - (4 - math.pi) * rx * ry, abs=4e-5 * (rx * ry + 1e-9))
    assert bounds(found.curve) == pytest.approx((1, 2, 31, 22), abs=1e-9)
    straight = 0 if (rx, ry) == (15, 10) else 2 if rx == 15 or ry == 10 else 4
    assert found.curve.straight.sum() == straight


def test_circle_and_ellipse_start_at_three_o_clock_and_run_clockwise() -> None:
    """SVG 2, sections 10.3 and 10.4."""
    for text, rx, ry in (('<circle cx="5" cy="6" r="4"/>', 4, 4), ('<ellipse cx="5" cy="6" rx="4" ry="2"/>', 4, 2)):
        found = one(text)
        assert found.closed
        assert found.curve.start.tolist() == [5 + rx, 6]
        assert len(found.curve) == 8
        assert signed_area(found.curve) == pytest.approx(math.pi * rx * ry, rel=1e-5)
        points = (point(found.curve, np.linspace(0, 8, 257)) - [5, 6]) / [rx, ry]
        assert np.abs(np.hypot(*points.T) - 1).max() < ARC
    assert signed_area(one('<ellipse rx="3"/>').curve) == pytest.approx(9 * math.pi, rel=1e-5)
    # SVG 2, section 8.9: a percentage of a radius is one of the diagonal over √2
    assert one('<circle r="10%"/>', viewport=(30, 40)).curve.start[0] == pytest.approx(math.hypot(30, 40) / 10 / 2**0.5)


@given(
    st.lists(
        st.tuples(st.integers(-999, 999), st.integers(-999, 999)).map(lambda p: (p[0] / 8, p[1] / 8)),
        min_size=3,
        max_size=9,
        unique=True,
    )
)
@settings(deadline=None)
def test_a_polygon_is_shapelys(points: list[tuple[float, float]]) -> None:
    """shapely (GEOS): area and bounds of the same ring."""
    text = " ".join(f"{x},{y}" for x, y in points)
    found = one(f'<polygon points="{text}"/>')
    ring = Polygon(points).exterior
    assert found.closed
    assert found.curve.nodes.tolist() == [*map(list, points), list(points[0])]
    assert bounds(found.curve) == pytest.approx(ring.bounds)
    if Polygon(points).is_valid:
        assert abs(signed_area(found.curve)) == pytest.approx(Polygon(points).area)
        assert (signed_area(found.curve) > 0) == ring.is_ccw  # y down here: clockwise is shapely's ccw


def test_lines_and_polylines_are_open() -> None:
    assert one('<line x1="1" y2="3"/>').curve.nodes.tolist() == [[1, 0], [0, 3]]
    found = one('<polyline points="0 0 4-1.5.5.5 0,0"/>')
    assert (found.closed, found.curve.nodes.tolist()) == (False, [[0, 0], [4, -1.5], [0.5, 0.5], [0, 0]])


def test_a_polygon_that_states_its_start_twice_has_no_speck() -> None:
    found = one('<polygon points="0 0 4 0 4 3 0 0"/>')
    assert (len(found.curve), found.dropped) == (3, 0)


@pytest.mark.parametrize(
    "text",
    [
        "<path />",
        '<path d=""/>',
        '<path d="none"/>',
        '<rect width="5"/>',
        '<rect width="5" height="-1"/>',
        '<circle cx="5"/>',
        '<circle r="-5"/>',
        '<ellipse rx="0" ry="4"/>',
        '<line x1="5" x2="5"/>',
        '<polygon points=""/>',
        '<polyline points="1 1"/>',
    ],
)
def test_a_shape_without_size_draws_nothing(text: str) -> None:
    assert shapes(text) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('<polygon id="p" points="1 2 3"/>', "polygon 'p' has points that are not pairs of numbers; redraw it"),
        ('<polyline id="p" points="1 2 3 nan"/>', "polyline 'p' has points that are not pairs of numbers; redraw it"),
        ('<rect id="r" width="5em" height="1"/>', "rect 'r' has '5em' where a length is expected"),
        ('<rect id="r" width="1e999" height="1"/>', "rect 'r' has a number too large to draw; redraw it smaller"),
        ('<path id="q" d="M 1"/>', "path 'q' has numbers missing in command M at character 1"),
        ('<path d="M 1"/>', "the path on line 1 has numbers missing"),
    ],
)
def test_a_shape_that_cannot_be_read_is_named(text: str, sentence: str) -> None:
    with pytest.raises(InputError) as caught:
        shapes(text)
    assert str(caught.value).startswith(sentence)

"""Darts cut into an outline, against the rule that tells them from other V's (common practice, no source)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, polyline, reverse
from flatcut.geometry.length import length
from flatcut.pattern.tracing import Traced, ring_of, rolled, trace

POINT = np.array([50.0, 60.0])


def pieces_of(found: Traced) -> Curve:
    """The ring that the runs and darts make up again."""
    curves: list[Curve] = []
    for run, parts in enumerate(found.runs):
        for k, part in enumerate(parts):
            curves.append(part)
            if (run, k) in found.darts:
                curves += found.darts[run, k]
    return chain(curves, within=1e-9)


def with_dart(half: float = 5.0, *, point: Array = POINT, corner: float = 0.0) -> Curve:
    """A square of 100 with a dart in its upper edge about x = 50; corner: how far its left corner is moved up."""
    return ring_of(
        polyline(
            [(0, -corner), (50 - half, 0), tuple(point), (50 + half, 0), (100, 0), (100, 100), (0, 100), (0, -corner)]
        )
    )


@pytest.mark.parametrize("turned", range(7))
@pytest.mark.parametrize("back", [False, True])
def test_a_dart_wherever_the_drawing_starts(turned: int, back: bool) -> None:
    ring = rolled(with_dart(), turned)
    if back:
        ring = ring_of(reverse(ring))
    found = trace(ring)
    assert len(found.runs) == 4
    ((run, after),) = found.darts
    assert after == 0
    assert [len(parts) for parts in found.runs] == [2 if k == run else 1 for k in range(4)]
    one, two = found.darts[run, after]
    assert one.end.tolist() == two.start.tolist() == [50, 60]
    assert one.start.tolist() == [45, 0]
    assert two.end.tolist() == [55, 0]
    assert length(pieces_of(found)) == pytest.approx(length(ring))


@pytest.mark.parametrize(
    ("half", "point", "why"),
    [
        (18.0, (50, 60), ""),  # 2 atan(18/60) = 33.4°
        (19.5, (50, 60), "it is 36° wide (at most 35)"),
        (5.0, (50.0 + 11.9, 60), ""),  # legs: hypot(16.9, 60) - hypot(6.9, 60) = 1.94
        (5.0, (50.0 + 13.0, 60), "its legs differ by 2.1 mm (at most 2)"),  # hypot(18, 60) - hypot(8, 60) = 2.11
    ],
)
def test_the_limits_of_a_dart(half: float, point: tuple[float, float], why: str) -> None:
    found = trace(with_dart(half, point=np.array(point)))
    assert bool(found.darts) == (not why)
    assert len(found.runs) == (7 if why else 4)
    assert [told.why for told in found.nearly] == ([why] if why else [])


def test_edges_that_do_not_run_on() -> None:
    # the dart's angle is 9.5°: the edges may turn 29.5°; the left one comes up at atan(corner / 45)
    assert trace(with_dart(corner=45 * np.tan(np.radians(29)))).darts
    found = trace(with_dart(corner=45 * np.tan(np.radians(30))))
    assert not found.darts
    assert [told.why for told in found.nearly] == ["the edges beside it turn by 30°"]


def test_two_darts_on_one_edge_and_one_in_the_hem() -> None:
    top = [(0, 0), (25, 0), (30, 40), (35, 0), (60, 0), (66, 50), (72, 0), (100, 0)]
    hem = [(100, 100), (56, 100), (50, 80), (44, 100), (0, 100), (0, 0)]
    ring = ring_of(polyline([*top, *hem]))
    for turned in range(len(ring)):
        found = trace(rolled(ring, turned))
        assert len(found.runs) == 4
        assert sorted(len(parts) for parts in found.runs) == [1, 1, 2, 3]
        assert sorted(float(legs[0].end[0]) for legs in found.darts.values()) == [30, 50, 66]


@pytest.mark.parametrize("beside", [0.5, 2.0, 10.0])
def test_a_dart_beside_a_corner(beside: float) -> None:
    ring = ring_of(
        polyline([(0, 0), (beside, 0), (beside + 4, 50), (beside + 8, 0), (100, 0), (100, 90), (0, 90), (0, 0)])
    )
    for turned in range(len(ring)):
        found = trace(rolled(ring, turned))
        ((run, after),) = found.darts
        assert length(found.runs[run][after]) == pytest.approx(beside)


def test_curved_legs_of_several_spans() -> None:
    left = [cubic((45, 0), (46, 10), (47, 20), (48, 30)), cubic((48, 30), (49, 40), (49.5, 50), (50, 60))]
    right = [cubic((50, 60), (50.5, 50), (51, 40), (52, 30)), cubic((52, 30), (53, 20), (54, 10), (55, 0))]
    parts = [line((0, 0), (45, 0)), *left, *right, polyline([(55, 0), (100, 0), (100, 100), (0, 100), (0, 0)])]
    ring = ring_of(chain(parts))
    for turned in range(len(ring)):
        found = trace(rolled(ring, turned))
        ((run, after),) = found.darts
        assert [len(leg) for leg in found.darts[run, after]] == [2, 2]


@pytest.mark.parametrize("turned", range(4))
def test_a_dart_is_all_there_is_to_a_round_piece(turned: int) -> None:
    dart = polyline([(-3, 0), (0, 60), (3, 0)])
    level = chain(
        [cubic((3, 0), (60, 0), (100, 40), (100, 100)), cubic((100, 100), (100, 240), (-100, 240), (-100, 100))]
    )
    closing = cubic((-100, 100), (-100, 40), (-60, 0), (-3, 0))
    ring = ring_of(chain([level, closing, dart]))
    found = trace(rolled(ring, turned))
    assert len(found.runs) == 1
    assert len(found.darts) == 1
    assert length(pieces_of(found)) == pytest.approx(length(ring))


@pytest.mark.parametrize("turned", range(3))
def test_a_round_piece_whose_every_node_is_the_darts(turned: int) -> None:
    flat = cubic((3, 0), (400, 40), (-400, 40), (-3, 0))
    ring = ring_of(chain([flat, polyline([(-3, 0), (0, 12), (3, 0)])]))
    found = trace(rolled(ring, turned))
    assert len(found.darts) == 1
    assert len(found.runs) == 1
    assert length(pieces_of(found)) == pytest.approx(length(ring))


def test_a_zigzag_holds_no_dart() -> None:
    ring = ring_of(
        polyline([(0, 0), (20, 0), (25, 50), (30, 0), (35, 50), (40, 0), (100, 0), (100, 90), (0, 90), (0, 0)])
    )
    assert not trace(ring).darts


@settings(max_examples=40, deadline=None)
@given(
    st.floats(2, 15),
    st.floats(60, 90),
    st.floats(0, 360),
    st.integers(0, 6),
    st.booleans(),
)
def test_turning_the_drawing_changes_nothing(half: float, deep: float, angle: float, start: int, back: bool) -> None:
    ring = with_dart(half, point=np.array([50.0, deep]))
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turned = rolled(Curve(ring.controls @ np.array([[c, s], [-s, c]]), ring.straight), start)
    if back:
        turned = ring_of(reverse(turned))
    found = trace(turned)
    assert len(found.runs) == 4
    assert len(found.darts) == 1

"""Notches cut into outlines come back at the places where they were put in, and the edge is as it was before.

The places are known in closed form: they are put in by the test. No outside source is needed.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, polyline, reverse, section, tangent
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.outlines.doubling import doubled
from flatcut.outlines.notching import Cut, without_notches
from flatcut.pattern.tracing import ring_of, rolled, trace


def excursion(kind: str, width: float, depth: float) -> Curve:
    """A notch from (0, 0) to (width, 0) that goes `depth` in the direction of +y."""
    w, d = width, depth
    if kind == "v":
        return polyline([(0, 0), (w / 2, d), (w, 0)])
    if kind == "slit":
        return polyline([(0, 0), (0, d), (0, 0)])
    if kind == "castle":
        return polyline([(0, 0), (0, d), (w, d), (w, 0)])
    # a u: legs, and a half circle as two cubics (handles 0.5523 r, the usual quarter circle)
    r, c = w / 2, 0.5522847498 * w / 2
    s = d - r
    return chain(
        [
            line((0, 0), (0, s)),
            cubic((0, s), (0, s + c), (r - c, d), (r, d)),
            cubic((r, d), (r + c, d), (w, s + c), (w, s)),
            line((w, s), (w, 0)),
        ]
    )


def notched(ring: Curve, at: float, kind: str, *, width: float, depth: float, inward: bool) -> tuple[Curve, Array]:
    """The ring with a notch whose mouth's middle is `at` mm along it, and that middle on the ring."""
    width = 0.0 if kind == "slit" else width
    u, v = place_at(ring, at - width / 2), place_at(ring, at + width / 2)
    p, q = point(ring, u), point(ring, v)
    along = tangent(ring, place_at(ring, at))
    if width:
        along = (q - p) / np.hypot(*(q - p))
    across = np.array([-along[1], along[0]]) * (1 if inward else -1)
    shape = excursion(kind, float(np.hypot(*(q - p))), depth)
    turned = Curve(shape.controls[..., :1] * along + shape.controls[..., 1:] * across + p, shape.straight)
    parts = [section(ring, 0, u), turned, section(ring, v, len(ring))]
    return chain(parts, within=1e-6), point(ring, place_at(ring, at))


def block() -> Curve:
    """A bodice-like outline: straight, concave and convex edges, clockwise."""
    return ring_of(
        chain(
            [
                line((60, 0), (130, 20)),
                cubic((130, 20), (115, 80), (130, 120), (180, 135)),
                line((180, 135), (172, 330)),
                cubic((172, 330), (110, 345), (60, 340), (0, 335)),
                line((0, 335), (0, 60)),
                cubic((0, 60), (30, 55), (55, 40), (60, 0)),
            ]
        )
    )


KINDS = ("v", "slit", "castle", "u")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("inward", [True, False])
@pytest.mark.parametrize("edge", range(6))
def test_each_kind_on_each_edge(kind: str, inward: bool, edge: int) -> None:
    base = block()
    before = length(section(base, 0, edge)) if edge else 0.0
    at = before + 0.4 * length(section(base, edge, edge + 1))
    ring, place = notched(base, at, kind, width=4.0, depth=5.0, inward=inward)
    done = without_notches(ring)
    assert [(cut.kind, cut.into) for cut in done.cuts] == [(kind, "in" if inward else "out")]
    cut = done.cuts[0]
    assert np.hypot(*(cut.at - place)) < 0.05
    assert cut.depth == pytest.approx(5.0, abs=0.06)
    assert abs(length(done.ring) - length(base)) < 0.1
    # the edge is as it was: no bump, no needless node
    assert nearest(base, flatten(done.ring, tolerance=0.01))[1].max() < 0.03
    assert len(done.ring) == len(base)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_random_notches_come_back(data: st.DataObject) -> None:
    base = block()
    ends = [length(section(base, 0, k)) if k else 0.0 for k in range(7)]
    edges = data.draw(st.lists(st.integers(0, 5), min_size=1, max_size=6, unique=True))
    ring, wanted = base, []
    for edge in sorted(edges, reverse=True):
        kind = data.draw(st.sampled_from(KINDS))
        width = data.draw(st.floats(1.5, 8.0))
        depth = data.draw(st.floats(max(2.0, 0.6 * width), 12.0))
        at = data.draw(st.floats(ends[edge] + 12, ends[edge + 1] - 12))
        inward = data.draw(st.booleans())
        ring, place = notched(ring, at, kind, width=width, depth=depth, inward=inward)
        wanted.append((kind, inward, place))
    start = data.draw(st.integers(0, len(ring) - 1))
    ring = rolled(ring, start)
    if data.draw(st.booleans()):
        ring = ring_of(reverse(ring))
    done = without_notches(ring)
    assert len(done.cuts) == len(wanted)
    for kind, inward, place in wanted:
        near = min(done.cuts, key=lambda cut: float(np.hypot(*(cut.at - place))))
        assert np.hypot(*(near.at - place)) < 0.05
        assert (near.kind, near.into) == (kind, "in" if inward else "out")
    assert abs(length(done.ring) - length(base)) < 0.1
    assert len(trace(done.ring).runs) == 6


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("count", [2, 3])
@pytest.mark.parametrize("apart", [6.0, 8.0, 10.0])
def test_double_and_triple_notches(kind: str, count: int, apart: float) -> None:
    # a double notch stands 0.6 to 1 cm apart (common practice, no source); castles 3 mm wide leave 3 mm between,
    # just as wide as they
    ring = block()
    first = length(section(ring, 0, 2)) + 60
    for k in reversed(range(count)):
        ring, _ = notched(ring, first + k * apart, kind, width=3.0, depth=3.0, inward=True)
    done = without_notches(ring)
    assert [(cut.kind, cut.into) for cut in done.cuts] == [(kind, "in")] * count
    assert len(done.ring) == 6
    foot = length(section(done.ring, 0, 2))
    places = [(length(section(done.ring, 0, nearest(done.ring, cut.at)[0])) - foot, cut) for cut in done.cuts]
    (mark,) = doubled(places)
    assert (mark.count, mark.middle, mark.apart) == (
        count,
        pytest.approx(60 + (count - 1) * apart / 2, abs=0.01),
        pytest.approx(apart, abs=0.01),
    )


@pytest.mark.parametrize(
    ("places", "counts"),
    [
        ([0, 7], [2]),
        ([0, 4], [1, 1]),  # nearer than 6 mm
        ([0, 12], [1, 1]),  # farther than 10 mm
        ([0, 7, 16], [1, 1, 1]),  # uneven: not one triple notch
        ([0, 7, 14], [3]),
        ([0, 7, 14, 21], [1, 1, 1, 1]),  # four in a row are no mark of the trade
        ([0, 7, 40, 48], [2, 2]),
    ],
)
def test_which_notches_belong_together(places: list[float], counts: list[int]) -> None:
    cut = Cut(at=np.zeros(2), kind="v", into="in", depth=3.0, width=3.0)
    assert [mark.count for mark in doubled([(float(at), cut) for at in places])] == counts


def test_kinds_and_senses_are_not_mixed() -> None:
    cut = Cut(at=np.zeros(2), kind="v", into="in", depth=3.0, width=3.0)
    other = Cut(at=np.zeros(2), kind="v", into="out", depth=3.0, width=3.0)
    assert [mark.count for mark in doubled([(0.0, cut), (8.0, other)])] == [1, 1]


def test_feet_that_touch_are_one_mouth() -> None:
    ring = polyline([(0, 0), (40, 0), (43, 4), (46, 0), (49, 4), (52, 0), (100, 0), (100, 80), (0, 80), (0, 0)])
    done = without_notches(ring)
    assert [cut.at.round(9).tolist() for cut in done.cuts] == [[43, 0], [49, 0]]
    assert len(done.ring) == 4


def test_teeth_are_outline() -> None:
    teeth = [(6.0 * k + (3 if high else 0), 4.0 if high else 0.0) for k in range(10) for high in (False, True)]
    ring = polyline([*teeth, (60, 0), (60, -80), (0, -80), (0, 0)])
    done = without_notches(ring_of(ring))
    assert not done.cuts
    assert len(done.ring) == len(ring)
    assert len(done.doubtful) > 3


def test_a_notch_in_a_corner_is_told_not_guessed() -> None:
    ring = ring_of(polyline([(0, 0), (97, 0), (96, 4), (100, 3), (100, 80), (0, 80), (0, 0)]))
    done = without_notches(ring)
    assert not done.cuts
    assert len(done.ring) == 6
    ((place, why),) = done.doubtful
    assert np.hypot(*(place - (98.5, 1.5))) < 1e-9
    assert "corner" in why


@pytest.mark.parametrize("turned", range(6))
def test_a_smooth_outline_with_one_notch(turned: int) -> None:
    # a circle of radius 50 in four quarters: 2πr = 314.159, closed form; the handles are those of the quarter circle
    r, c = 50.0, 0.5522847498 * 50
    quarter = [(r, 0), (r, c), (c, r), (0, r)]
    turn = np.array([[0, 1], [-1, 0]])
    parts = [cubic(*(np.array(quarter) @ np.linalg.matrix_power(turn, k))) for k in range(4)]
    base = chain(parts, within=1e-6)
    ring, place = notched(base, 200.0, "v", width=5.0, depth=5.0, inward=True)
    done = without_notches(rolled(ring, turned))
    assert len(done.cuts) == 1
    assert np.hypot(*(done.cuts[0].at - place)) < 0.05
    assert length(done.ring) == pytest.approx(2 * np.pi * r, abs=0.15)


def test_an_outline_with_no_node_but_those_of_its_notch() -> None:
    right, left = cubic((2, 0), (60, 0), (60, 80), (2, 80)), cubic((-2, 80), (-60, 80), (-60, 0), (-2, 0))
    upper, lower = polyline([(-2, 0), (0, 6), (2, 0)]), polyline([(2, 80), (0, 75), (-2, 80)])
    for turned in range(6):
        done = without_notches(rolled(ring_of(chain([right, lower, left, upper])), turned))
        assert {(cut.kind, cut.into, round(cut.depth, 9)) for cut in done.cuts} == {("v", "in", 6.0), ("v", "in", 5.0)}
        assert sorted(cut.at.round(9).tolist() for cut in done.cuts) == [[0, 0], [0, 80]]


def test_deep_or_wide_cuts_stay() -> None:
    for wide, deep in ((8.2, 5.0), (5.0, 12.2), (20.0, 10.0)):
        ring = polyline(
            [(0, 0), (50 - wide / 2, 0), (50, deep), (50 + wide / 2, 0), (99, 0), (99, 80), (0, 80), (0, 0)]
        )
        assert not without_notches(ring).cuts
        assert without_notches(ring, deepest=25, widest=25).cuts


def test_a_step_is_no_notch() -> None:
    ring = polyline([(0, 0), (50, 0), (50, 5), (100, 5), (100, 80), (0, 80), (0, 0)])
    assert not without_notches(ring).cuts


def test_cuts_that_are_the_whole_outline_are_none() -> None:
    small = polyline([(0.6, 0.1), (4.6, 1.5), (7.8, 0.9), (3.6, 3.2), (1.9, 6.0), (0.6, 0.1)])
    done = without_notches(small)
    assert len(done.ring) == 5
    assert done.cuts == ()
    assert {why for _, why in done.doubtful} == {"is one of those that are the whole outline"}

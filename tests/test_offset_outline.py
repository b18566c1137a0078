"""The offset of an outline: corners against closed forms, both senses, refusals by name."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, cubic, flatten, line, point, polyline, reverse, signed_area, transform
from flatcut.geometry.nearest import nearest
from flatcut.geometry.offset_outline import OffsetCorner, OffsetEdge, offset_outline, offset_outlines, try_outlines


def polygon(nodes, widths, *, corners=None, names=()):
    """Edges of a polygon and its corners; corner k lies at node k + 1."""
    n = len(nodes)
    widths = [widths] * n if np.isscalar(widths) else widths
    names = names or [""] * n
    edges = [OffsetEdge(curve=line(nodes[i], nodes[(i + 1) % n]), width=widths[i], name=names[i]) for i in range(n)]
    return edges, corners or [OffsetCorner()] * n


def wedge(gamma, a, b):
    """A triangle with its interior angle of gamma degrees at the origin: edge 1 arrives along +x, edge 2 leaves.

    Clockwise on the screen (y down): the interior lies below edge 1.
    """
    g = math.radians(gamma)
    far = (-200 * math.cos(g), 200 * math.sin(g))
    return [
        OffsetEdge(curve=line((-200, 0), (0, 0)), width=a, name="one"),
        OffsetEdge(curve=line((0, 0), far), width=b, name="two"),
        OffsetEdge(curve=line(far, (-200, 0)), width=0, name="three"),
    ]


def nearest_node(ring, place):
    return ring.nodes[np.argmin(np.linalg.norm(ring.nodes - place, axis=1))]


@pytest.mark.parametrize("gamma", [60, 75, 90, 110, 120, 150])
@pytest.mark.parametrize(("a", "b"), [(1, 1), (15, 15), (1, 4), (1.5, 4), (10, 6), (0, 10), (10, 0)])
def test_a_mitre_lies_where_both_offset_lines_meet(gamma, a, b):
    # C1: with edge 1 along +x and edge 2 at gamma the tip is in edge 1's direction
    # (a cos γ + b) / sin γ and a away from it (elementary)
    g = math.radians(gamma)
    tip = ((a * math.cos(g) + b) / math.sin(g), -a)
    ring = offset_outline(wedge(gamma, a, b), [OffsetCorner(limit=10)] * 3).curve
    assert np.allclose(nearest_node(ring, tip), tip, atol=1e-9)


def test_the_figures_of_the_trade():
    # C1: equal widths a / sin(γ/2) from the seam end (closed form); 1.5 and 4 at 75° meet at (4.5430, -1.5)
    for gamma, ratio in ((90, 1.4142), (60, 2.0), (120, 1.1547)):
        ring = offset_outline(wedge(gamma, 1, 1), [OffsetCorner()] * 3).curve
        assert np.hypot(*ring.nodes.T).min() == pytest.approx(ratio, abs=5e-5)
    tip = nearest_node(offset_outline(wedge(75, 1.5, 4), [OffsetCorner()] * 3).curve, (4.5, -1.5))
    assert tip == pytest.approx((4.5430, -1.5), abs=5e-5)
    ring = offset_outline(wedge(30, 1.5, 1.5), [OffsetCorner(limit=4)] * 3).curve
    assert np.hypot(*ring.nodes.T).min() == pytest.approx(5.7956, abs=5e-5)


def test_a_long_mitre_is_cut_off_square_and_reported():
    edges = wedge(20, 10, 10)
    answer = offset_outline(edges, [OffsetCorner(limit=2.5, name="tip"), OffsetCorner(), OffsetCorner(limit=20)])
    # a / sin(γ/2) = 5.76 widths (closed form); the cut is square to the bisector at 2.5 widths
    assert any("'tip'" in w and "5.8 widths" in w and "2.5" in w for w in answer.warnings)
    way = np.array([math.cos(math.radians(10)), -math.sin(math.radians(10))])
    own = [k for k, s in enumerate(answer.sources) if s == -1]
    assert answer.curve.controls[own[-1]][[0, 3]] @ way == pytest.approx([25, 25])


def test_a_bevelled_corner_is_one_width_deep():
    answer = offset_outline(wedge(60, 10, 10), [OffsetCorner(kind="bevelled"), OffsetCorner(), OffsetCorner()])
    cut = answer.curve.controls[answer.sources.index(-1)]
    way = np.array([math.cos(math.radians(30)), -math.sin(math.radians(30))])
    assert cut[[0, 3]] @ way == pytest.approx([10, 10])
    assert answer.warnings == ()


def test_a_step_stands_square_to_the_stitch_line():
    nodes = [(0, 0), (60, 0), (100, 0), (100, 50), (0, 50)]
    corners = [OffsetCorner(kind="stepped")] + [OffsetCorner()] * 4
    answer = offset_outline(*polygon(nodes, [10, 20, 10, 10, 10], corners=corners))
    step = answer.curve.controls[answer.sources.index(-1)]
    assert step[[0, 3]].tolist() == [[60, -10], [60, -20]]


def test_either_sense_gives_the_same_cut_line():
    edges, corners = polygon([(0, 0), (100, 10), (80, 90), (40, 50), (0, 70)], [10, 15, 0, 20, 10])
    turned = [OffsetEdge(curve=reverse(e.curve), width=e.width) for e in edges[::-1]]
    for inward in (False, True):
        one, two = offset_outline(edges, corners, inward=inward), offset_outline(turned, corners, inward=inward)
        assert signed_area(edges[0].curve) == pytest.approx(0, abs=1e-9)
        assert signed_area(one.curve) == pytest.approx(-signed_area(two.curve), abs=1e-8)
        assert (signed_area(one.curve) > signed_area(polyline([e.curve.start for e in edges]))) != inward


def test_a_curved_outline_is_closed_to_the_last_bit_and_keeps_its_sense():
    edges = [
        OffsetEdge(curve=cubic((0, 0), (30, 20), (70, 20), (100, 0)), width=15, name="neck"),
        OffsetEdge(curve=cubic((100, 0), (110, 40), (110, 60), (95, 100)), width=10, name="side"),
        OffsetEdge(curve=line((95, 100), (0, 100)), width=40, name="hem"),
        OffsetEdge(curve=line((0, 100), (0, 0)), width=0, name="fold"),
    ]
    answer = offset_outline(edges, [OffsetCorner()] * 4)
    ring = answer.curve
    assert (ring.start == ring.end).all()
    assert signed_area(ring) > 0
    assert shapely.Polygon(flatten(ring, tolerance=0.01)).is_valid
    assert {s for s in answer.sources if s >= 0} == {0, 1, 2, 3}
    fold = ring.controls[answer.sources.index(3)]
    assert (fold[:, 0] == 0).all()  # the cut line stays on the fold


def test_many_outlines_in_one_call_are_as_one_by_one():
    outlines = [polygon([(0, 0), (90, 5 * k), (80, 90), (10, 80)], [5 + k, 10, 0, 12]) for k in range(4)]
    for one, many in zip((offset_outline(*o) for o in outlines), offset_outlines(outlines), strict=True):
        assert (one.curve.controls == many.curve.controls).all()
        assert one.sources == many.sources


SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]


@pytest.mark.parametrize(
    ("outline", "says"),
    [
        (polygon(SQUARE, [-1, 1, 1, 1], names="abcd"), "allowance of edge 'a' is -1"),
        (polygon(SQUARE, [1, math.nan, 1, 1]), "allowance of edge 2 is nan"),
        (polygon(SQUARE, 5, corners=[OffsetCorner(kind="rounded")] * 4), "'rounded' is no kind of corner; choose one"),
        (polygon(SQUARE, 5, corners=[OffsetCorner()] * 3), "one corner for each edge, not 3 for 4"),
        ((polygon(SQUARE, 5)[0][:3], [OffsetCorner()] * 3), "edge 3 ends 100 mm from where edge 1 begins"),
        (polygon([(0, 0), (10, 10), (10, 0), (0, 10)], 1), r"crosses or touches itself near 5\.0, 5\.0"),
        (
            ([OffsetEdge(curve=polyline([*SQUARE, SQUARE[0]]), width=5, name="all")], [OffsetCorner()]),
            r"edge 'all' turns by 90\.0° near 100\.0, 0\.0",
        ),
    ],
)
def test_refusals_name_edge_corner_and_figures(outline, says):
    with pytest.raises(GeometryError, match=says):
        offset_outline(*outline)


def test_one_failure_does_not_stop_the_others():
    good, bad = polygon(SQUARE, 5), polygon(SQUARE, [-1, 1, 1, 1])
    first, second, third = try_outlines([good, bad, good])
    assert isinstance(second, GeometryError)
    assert first.curve.controls.tolist() == third.curve.controls.tolist()


@pytest.mark.parametrize("ends", [True, False])
def test_an_edge_without_allowance_is_the_stitch_line_itself_up_to_where_its_neighbour_meets_it(ends: bool) -> None:
    """A hollow corner: the neighbour's cut line, 15 mm beside it, cuts the curve; what is left is one span of it."""
    bare = cubic((200, 100), (165, 112), (135, 92), (100, 100))
    rest = [line(a, b) for a, b in pairwise([(100, 100), (100, 200), (0, 200), (0, 0), (200, 0), (200, 100)])]
    curves, widths = [bare, *rest], [0, 15, 10, 10, 10, 10]
    if not ends:  # the same from the other end: mirrored, and walked the other way
        curves = [reverse(transform(c, Affine(-1, 0, 0, 1, 300, 0))) for c in reversed(curves)]
        widths.reverse()
    edges = [OffsetEdge(curve=c, width=w) for c, w in zip(curves, widths, strict=True)]
    made = offset_outline(edges, [OffsetCorner()] * 6)
    k = 0 if ends else 5
    (mine,) = [made.curve.controls[j] for j, source in enumerate(made.sources) if source == k]
    on = point(Curve(mine[None], np.array([False])), np.linspace(0, 1, 20))
    assert nearest(curves[k], on)[1].max() < 1e-6
    met = 115 if ends else 185
    assert min(abs(on[0, 0] - met), abs(on[-1, 0] - met)) < 1e-6
    assert np.ptp(on[:, 0]) == pytest.approx(85)

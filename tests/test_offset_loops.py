"""Outlines whose allowances run into themselves: what is left against shapely's mitred offset, and refusals by name."""

import numpy as np
import pytest
import shapely

from flatcut.errors import GeometryError
from flatcut.geometry.curves import chain, cubic, flatten, line, polyline
from flatcut.geometry.offset_outline import OffsetCorner, OffsetEdge, offset_outline
from flatcut.marking.cutline import cut_line
from flatcut.pattern.values import Allowance, Corner, Edge, Piece


def outline(curves, width):
    edges = [OffsetEdge(curve=c, width=width, name="abcdefghijklmnopqrst"[k]) for k, c in enumerate(curves)]
    return edges, [OffsetCorner(limit=20)] * len(edges)


def sides(*nodes):
    return [line(a, b) for a, b in zip(nodes, nodes[1:] + nodes[:1], strict=True)]


def area(curve):
    return shapely.Polygon(flatten(curve, tolerance=0.001))


def by_shapely(curves, width):
    return area(chain(curves)).buffer(width, join_style="mitre", mitre_limit=20)


LOBE = [cubic((0, 0), (30, -60), (70, -60), (100, 0)), line((100, 0), (160, 120)), line((160, 120), (-60, 120)),
        line((-60, 120), (0, 0))]  # fmt: skip
BAY = [
    line((0, 0), (60, 0)),
    cubic((60, 0), (85, 0), (75, 30), (95, 30)),
    cubic((95, 30), (115, 30), (105, 0), (130, 0)),
    *(
        line(a, b)
        for a, b in (((130, 0), (190, 0)), ((190, 0), (190, 120)), ((190, 120), (0, 120)), ((0, 120), (0, 0)))
    ),
]
JOG = sides((0, 0), (90, 0), (90, 6), (100, 6), (100, 0), (200, 0), (200, 100), (0, 100))
NO_HANDLES = [cubic((0, 0), (0, 0), (60, 40), (100, 0)), cubic((100, 0), (100, 0), (140, 60), (100, 100)),
              cubic((100, 100), (60, 120), (0, 100), (0, 100)), line((0, 100), (0, 0))]  # fmt: skip
SLOT = sides((0, 0), (90, 0), (90, 140), (110, 140), (110, 0), (200, 0), (200, 200), (0, 200))
DUMBBELL = sides((0, 0), (100, 0), (100, 40), (140, 40), (140, 0), (240, 0), (240, 100), (140, 100), (140, 60),
                 (100, 60), (100, 100), (0, 100))  # fmt: skip
HOOK = sides((0, 0), (200, 0), (200, 90), (150, 90), (150, 60), (180, 60), (180, 20), (20, 20), (20, 180), (180, 180),
             (180, 140), (150, 140), (150, 110), (200, 110), (200, 200), (0, 200))  # fmt: skip


@pytest.mark.parametrize(
    ("curves", "width", "gone"),
    [(LOBE, -20, ""), (BAY, 14, ""), (JOG, 15, "bcd"), (JOG, -15, ""), (NO_HANDLES, -18, ""), (NO_HANDLES, 18, "")],
)
def test_what_is_left_is_what_shapely_leaves(curves, width, gone):
    answer = offset_outline(*outline(curves, abs(width)), inward=width < 0)
    ours, theirs = area(answer.curve), by_shapely(curves, width)
    assert ours.is_valid
    assert shapely.hausdorff_distance(ours.boundary, theirs.boundary, densify=0.01) < 0.3  # its mitres, see below
    assert ours.symmetric_difference(theirs).area < 0.05 * theirs.length
    assert [w for w in answer.warnings if "no part in the cut line" in w] == [
        f"edge '{name}' ({size} mm long) has no part in the cut line: the allowances close over it"
        for name, size in zip("bcd", ("6.0", "10.0", "6.0"), strict=True)
        if name in gone
    ]


def test_a_cusp_leaves_one_sharp_node_and_few_pieces():
    answer = offset_outline(*outline(LOBE, 20), inward=True)
    assert answer.sources.count(0) == 2  # the lobe is tighter than 20 mm: two pieces that meet on its axis
    tip = answer.curve.nodes[answer.sources.index(0) + 1]
    assert tip[0] == pytest.approx(50, abs=1e-6)


@pytest.mark.parametrize(
    ("curves", "width", "says"),
    [
        (
            DUMBBELL,
            -15,
            r"falls into 2 parts .*\(4900 mm² and 4900 mm²\), the smaller near (50|190), 50, divided at edge",
        ),
        (DUMBBELL, -60, "nothing is left of the outline inside its allowances"),
        (HOOK, 14, r"the allowance of edge '\w' closes around a hole of (\d+) mm² near 100, 100"),
    ],
)
def test_refusals_name_the_edge_and_the_figures(curves, width, says):
    with pytest.raises(GeometryError, match=says) as caught:
        offset_outline(*outline(curves, abs(width)), inward=width < 0)
    if "hole" in says:
        hole = shapely.Polygon(by_shapely(curves, width).interiors[0]).area
        assert f"{hole:.0f} mm²" in str(caught.value)


def test_a_slot_that_closes_is_closed_and_said_so():
    answer = offset_outline(*outline(SLOT, 15))
    assert area(answer.curve).symmetric_difference(by_shapely(SLOT, 15)).area < 0.1
    assert "edge 'b' (140.0 mm long) has no part in the cut line: the allowances close over it" in answer.warnings


def test_unequal_allowances_step_where_they_do_not_meet():
    curves = sides((0, 0), (60, 0), (120, 4), (120, 80), (0, 80))
    edges, _ = outline(curves, 10)
    edges[1] = OffsetEdge(curve=curves[1], width=25, name="b")
    corners = [OffsetCorner()] * 5
    answer = offset_outline(edges, corners)
    assert "the cut line steps from 10 to 25 mm at the corner of edge 'a' and edge 'b'" in answer.warnings[0]
    step = answer.curve.controls[answer.sources.index(-1)]
    turn = np.arctan2(4, 60)
    assert step[0] == pytest.approx((60, -10))
    assert step[3] == pytest.approx((60 + 25 * np.sin(turn), -25 * np.cos(turn)))


def test_a_corners_own_stretch_has_no_edge_to_be_swept_by():
    """A hem turned beside a curved, tapering allowance: with these numbers a random piece stopped the offset."""
    a, b = (494.9261586902688, 313.45212392542885), (292.557828834945, 488.5495436728479)
    c, d = (128.4150915189149, 293.30991045067145), (323.88621619664553, 89.17013561091903)
    middle = (202.99576038298412, 215.42177748775848)
    curved = cubic(a, (429.35646665475616, 373.9981524876076), (361.9003567029815, 432.3639590700807), b)
    tapering = Allowance(width=19.094797, end_width=18.343136)
    turned = Corner(kind="turned", limit=3.5)
    edges = (
        Edge(uid="1", name="w", use="opening", parts=(curved,), allowance=tapering),
        Edge(uid="2", name="x", use="hem", parts=(line(b, c),), corner=Corner(kind="mitred")),
        Edge(uid="3", name="y", use="fold", parts=(polyline([c, middle, d]),), corner=turned),
        Edge(uid="4", name="z", use="opening", parts=(line(d, a),), allowance=Allowance(width=19.082011)),
    )
    piece = Piece(uid="p", name="p", edges=edges)
    cut = area(cut_line(piece).curve)
    assert cut.is_valid
    assert cut.buffer(0.05).covers(area(chain(curve for edge in edges for curve in edge.parts)))

"""Squared and turned corners against closed forms (elementary trigonometry)."""

import math
import re

import numpy as np
import pytest
import shapely

from flatcut.geometry.curves import chain, cubic, flatten, line, point, polyline, reverse
from flatcut.geometry.offset_outline import OffsetCorner, OffsetEdge, offset_outline

PLAIN = OffsetCorner()


def wedge(gamma, a, b):
    """Edge one arrives along +x at the origin, edge two leaves at the interior angle gamma (interior below)."""
    g = math.radians(gamma)
    far = (-300 * math.cos(g), 300 * math.sin(g))
    return [
        OffsetEdge(curve=line((-300, 0), (0, 0)), width=a, name="one"),
        OffsetEdge(curve=line((0, 0), far), width=b, name="two"),
        OffsetEdge(curve=line(far, (-300, 0)), width=0, name="three"),
    ]


def turned_round(edges, corners):
    """The same outline walked the other way, first and second exchanged."""
    swap = {"squared-first": "squared-second", "squared-second": "squared-first",
            "turned-first": "turned-second", "turned-second": "turned-first"}  # fmt: skip
    n = len(edges)
    back = [OffsetEdge(curve=reverse(e.curve), width=e.width, name=e.name) for e in edges[::-1]]
    kinds = [corners[(n - 2 - k) % n] for k in range(n)]
    return back, [OffsetCorner(kind=swap.get(k.kind, k.kind), limit=k.limit) for k in kinds]


def own_spans(answer, k):
    return [c for c, s in zip(answer.curve.controls, answer.sources, strict=True) if s == -1 - k]


def own_nodes(answer, k):
    return np.concatenate([c[[0, 3]] for c in own_spans(answer, k)])


def has(nodes, place, within=1e-9):
    return np.linalg.norm(nodes - np.array(place), axis=1).min() < within


@pytest.mark.parametrize("gamma", [50, 70, 90, 110, 130])
@pytest.mark.parametrize(("a", "b"), [(1, 1), (10, 15), (15, 6), (10, 0), (0, 10)])
def test_a_squared_end_stands_on_the_stitch_line_run_on(gamma, a, b):
    reach = b / math.sin(math.radians(gamma))  # C2: |SQ| = b / sin γ along edge one's stitch line
    edges, corners = wedge(gamma, a, b), [OffsetCorner(kind="squared-first"), PLAIN, PLAIN]
    answer = offset_outline(edges, corners)
    nodes = answer.curve.nodes
    assert has(nodes, (reach, 0))
    assert has(nodes, (reach, -a))
    back = offset_outline(*turned_round(edges, corners)).curve.nodes
    assert has(back, (reach, 0))
    assert has(back, (reach, -a))


@pytest.mark.parametrize("gamma", [50, 70, 90, 110, 130])
def test_squared_through_the_second_edge(gamma):
    g = math.radians(gamma)
    edges = wedge(gamma, 12, 10)
    nodes = offset_outline(edges, [OffsetCorner(kind="squared-second"), PLAIN, PLAIN]).curve.nodes
    out = np.array([math.cos(g), -math.sin(g)])  # edge two's stitch line run on backwards
    q = 12 / math.sin(g) * out
    assert has(nodes, q)
    assert has(nodes, q + 10 * np.array([math.sin(g), math.cos(g)]))


def test_squared_ends_of_angles_that_add_up_match():
    # C2: 70° and 110°, b = 1: 1.0642 on both panels; mitred they would run 1.4281 and 0.7002
    for kind, reach in (("squared-first", (1.0642, 1.0642)), ("mitred", (1.4281, 0.7002))):
        for gamma, x in zip((70, 110), reach, strict=True):
            nodes = offset_outline(wedge(gamma, 1, 1), [OffsetCorner(kind=kind), PLAIN, PLAIN]).curve.nodes
            assert nodes[np.abs(nodes[:, 1] + 1) < 1e-9, 0].max() == pytest.approx(x, abs=5e-5)


def test_a_very_sharp_squared_end_is_cut_off_and_said_so():
    answer = offset_outline(
        wedge(15, 10, 10), [OffsetCorner(kind="squared-first", name="tip"), PLAIN, OffsetCorner(limit=9)]
    )
    assert answer.curve.nodes[:, 0].max() == pytest.approx(30)
    assert "'tip' (15°) is cut off 3 widths" in answer.warnings[0]


def test_a_squared_end_of_an_edge_without_allowance_is_cut_off_square_to_its_stitch_line():
    """The line of edge one runs on to where it is cut off, and no nearer to the tip of the other cut line."""
    corners = [OffsetCorner(kind="squared-first", limit=1.5), PLAIN, OffsetCorner(limit=9)]
    answer = offset_outline(wedge(38, 0, 13.5), corners)
    assert has(answer.curve.nodes, (1.5 * 13.5, 0))
    assert shapely.Polygon(flatten(answer.curve, tolerance=0.001)).buffer(1e-6).covers(shapely.Point(0, 0))


def test_a_flat_corner_that_cannot_be_squared_is_mitred_and_said_so():
    answer = offset_outline(wedge(165, 10, 10), [OffsetCorner(kind="squared-first", name="tip"), PLAIN, PLAIN])
    assert re.search(
        r"'tip' has an angle of 165°.*edge 'one' does not reach.*within 3 widths: it is mitred", answer.warnings[0]
    )
    # a / sin(γ/2) along the bisector, as any mitre (closed form)
    assert has(answer.curve.nodes, (10 * math.tan(math.radians(7.5)), -10))


def test_a_hollow_corner_is_trimmed_and_said_so():
    nodes = [(0, 0), (50, 0), (50, 40), (100, 40), (100, 100), (0, 100)]
    edges = [OffsetEdge(curve=line(nodes[i], nodes[(i + 1) % 6]), width=5, name="abcdef"[i]) for i in range(6)]
    corners = [PLAIN, OffsetCorner(kind="squared-first"), *[PLAIN] * 4]
    answer = offset_outline(edges, corners)
    assert has(answer.curve.nodes, (55, 35))
    assert "edge 'b' and edge 'c' is hollow" in answer.warnings[0]


def skirt(angle, hem, side, *, hem_curve=None, side_curve=None):
    """A side from the waist to the hem's end at the origin, leaning outward by `angle` (flared > 0); the hem to the
    left along y = 0, the waist above. Interior to the left of the side; clockwise."""
    lean = math.tan(math.radians(angle))
    top = (-400 * lean, -400)
    return [
        OffsetEdge(curve=side_curve or line(top, (0, 0)), width=side, name="side"),
        OffsetEdge(curve=hem_curve or line((0, 0), (-700, 0)), width=hem, name="hem"),
        OffsetEdge(curve=line((-700, 0), (-700, -400)), width=0, name="fold"),
        OffsetEdge(curve=line((-700, -400), top), width=10, name="waist"),
    ]


@pytest.mark.parametrize(
    ("angle", "hem", "inside"), [(8, 4, 0.5622), (10, 5, 0.8816), (5, 3, 0.2625), (-2.8624, 4, -0.2)]
)
@pytest.mark.parametrize("side", [0, 1, 10])
def test_the_turned_end_of_a_hem_runs_back_as_the_side_runs_above_it(angle, hem, inside, side):
    # C3: flare 8°, hem 4: the end lies 0.5622 inside the vertical through the fold; a taper goes outside
    edges = skirt(angle, hem, side)
    corners = [OffsetCorner(kind="turned-second"), PLAIN, PLAIN, PLAIN]
    answer = offset_outline(edges, corners)
    fold = side / math.cos(math.radians(angle))
    assert has(answer.curve.nodes, (fold, 0))
    assert has(answer.curve.nodes, (fold - inside, hem), within=6e-5 * max(1, hem))
    back = offset_outline(*turned_round(edges, corners)).curve.nodes
    assert has(back, (fold, 0))
    assert has(back, (fold - inside, hem), within=6e-5 * max(1, hem))


@pytest.mark.parametrize("side", [0, 10])
@pytest.mark.parametrize("bow", [-25, 25])
@pytest.mark.parametrize("spans", [1, 8])
def test_the_hem_folded_up_lies_on_the_side_also_where_that_is_curved(side, bow, spans):
    curve = cubic((-60, -400), (-40 + bow, -250), (-20 + bow, -120), (0, 0))
    if spans > 1:  # a side of many spans: the mirror image runs over several
        u = np.linspace(0, 1, spans * 6 + 1)
        curve = polyline(point(curve, u))
    edges = skirt(0, 60, side, side_curve=curve)
    edges[3] = OffsetEdge(curve=line((-700, -400), (-60, -400)), width=10, name="waist")
    answer = offset_outline(edges, [OffsetCorner(kind="turned-second"), PLAIN, PLAIN, PLAIN], tolerance=0.02)
    below = np.concatenate([flatten(cubic(*c), tolerance=0.005) for c in own_spans(answer, 0)])
    below = below[below[:, 1] >= 0]
    assert below[:, 1].max() == pytest.approx(60, abs=0.02)
    folded = below * [1, -1]
    cut = shapely.LinearRing(flatten(answer.curve, tolerance=0.005))
    assert shapely.distance(shapely.points(folded), cut).max() < 0.1  # C3: ±0.1 mm


def test_a_curved_hem_is_mirrored_about_its_tangent_at_the_seam_end():
    hem = cubic((0, 0), (-200, 30), (-500, 40), (-700, 40))
    edges = skirt(12, 40, 10, hem_curve=hem)
    edges[2] = OffsetEdge(curve=line((-700, 40), (-700, -400)), width=0)
    answer = offset_outline(edges, [OffsetCorner(kind="turned-second"), PLAIN, PLAIN, PLAIN])
    tau = np.array([-200, 30]) / math.hypot(200, 30)
    nodes = own_nodes(answer, 0)
    image = 2 * (nodes @ tau)[:, None] * tau - nodes
    cut = shapely.LinearRing(flatten(answer.curve, tolerance=0.005))
    deepest = np.argmax(nodes @ np.array([tau[1], -tau[0]]) * -1)
    assert shapely.distance(shapely.points(image[deepest]), cut) < 0.01


def test_a_hem_deeper_than_its_side_is_mitred_and_said_so():
    answer = offset_outline(skirt(8, 500, 10), [OffsetCorner(kind="turned-second", name="end"), PLAIN, PLAIN, PLAIN])
    assert re.search(
        r"'hem' \(500 mm\), turned up, reaches past the end of edge 'side': it is mitred", answer.warnings[0]
    )


def test_every_kind_on_a_curved_piece_stays_simple_and_closed():
    neck = cubic((0, 70), (30, 68), (60, 40), (70, 0))
    armhole = chain(
        [cubic((190, 45), (170, 90), (165, 130), (175, 165)), cubic((175, 165), (182, 192), (205, 215), (240, 215))]
    )
    curves = [neck, line((70, 0), (190, 45)), armhole, cubic((240, 215), (232, 260), (225, 330), (228, 400)),
              cubic((228, 400), (150, 412), (80, 410), (0, 405)), line((0, 405), (0, 70))]  # fmt: skip
    edges = [OffsetEdge(curve=c, width=w) for c, w in zip(curves, (6, 10, 10, 15, 40, 0), strict=True)]
    kinds = ["squared-second", "squared-first", "squared-second", "turned-second", "mitred", "bevelled"]
    answer = offset_outline(edges, [OffsetCorner(kind=k) for k in kinds])
    assert shapely.Polygon(flatten(answer.curve, tolerance=0.005)).is_valid
    assert (answer.curve.start == answer.curve.end).all()
    back = offset_outline(*turned_round(edges, [OffsetCorner(kind=k) for k in kinds]))
    area = [shapely.Polygon(flatten(a.curve, tolerance=0.005)).area for a in (answer, back)]
    assert area[0] == pytest.approx(area[1], rel=1e-5)

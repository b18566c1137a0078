"""Cut lines against other libraries: mitred outlines against pyclipper, smooth ones against shapely (GEOS).

At long mitres GEOS's tips are off by millimetres, so it is a reference for smooth stretches only; pyclipper takes the
direction of the last chord at a corner, hence many chords. Tapering widths against lines put together by hand.
"""

import numpy as np
import pyclipper
import pytest
import shapely

from flatcut.geometry.curves import chain, cubic, flatten, line, point
from flatcut.geometry.offset_outline import OffsetCorner, OffsetEdge, offset_outline

UNITS = 100_000  # pyclipper counts in whole numbers

BODICE = [
    cubic((0, 70), (30, 70), (62, 45), (70, 0)),
    line((70, 0), (190, 45)),
    chain([cubic((190, 45), (172, 90), (165, 130), (175, 165)), cubic((175, 165), (183, 193), (205, 215), (240, 215))]),
    cubic((240, 215), (232, 260), (225, 330), (228, 400)),
    cubic((228, 400), (150, 410), (80, 412), (0, 412)),
    line((0, 412), (0, 70)),
]
SLEEVE = [
    chain([cubic((0, 130), (60, 120), (90, 0), (165, 0)), cubic((165, 0), (240, 0), (270, 110), (330, 130))]),
    line((330, 130), (290, 560)),
    cubic((290, 560), (200, 550), (120, 570), (40, 560)),
    line((40, 560), (0, 130)),
]
POLYGON = [line(a, b) for a, b in (((0, 0), (90, -20)), ((90, -20), (160, 60)), ((160, 60), (70, 50)),
                                   ((70, 50), (20, 140)), ((20, 140), (0, 0)))]  # fmt: skip


def ours(curves, width, tolerance=0.01):
    edges = [OffsetEdge(curve=c, width=abs(width)) for c in curves]
    answer = offset_outline(edges, [OffsetCorner(limit=50)] * len(edges), inward=width < 0, tolerance=tolerance)
    return shapely.Polygon(flatten(answer.curve, tolerance=0.0005))


def by_pyclipper(curves, width, chords=4000):
    parts = [point(c, np.linspace(0, len(c), len(c) * (1 if c.straight.all() else chords) + 1))[:-1] for c in curves]
    offset = pyclipper.PyclipperOffset(50)
    offset.AddPath(np.round(np.concatenate(parts) * UNITS).astype(np.int64).tolist(), pyclipper.JT_MITER,
                   pyclipper.ET_CLOSEDPOLYGON)  # fmt: skip
    (ring,) = offset.Execute(width * UNITS)
    return shapely.Polygon(np.array(ring) / UNITS)


@pytest.mark.parametrize("curves", [BODICE, SLEEVE, POLYGON], ids=["bodice", "sleeve", "polygon"])
@pytest.mark.parametrize("width", [5, 10, 25, -5, -12])
def test_mitred_outlines_are_those_of_pyclipper(curves, width):
    a, b = ours(curves, width).boundary, by_pyclipper(curves, width).boundary
    # 0.01 ours; at a tip the reference's last chord differs in direction by up to half a chord's turn
    assert shapely.hausdorff_distance(a, b) < 0.01 + 0.02


@pytest.mark.parametrize("width", [5, 20, 60, -5, -20])
def test_a_smooth_outline_is_that_of_shapely(width):
    egg = chain(
        [
            cubic((0, -100), (70, -100), (90, -40), (90, 20)),
            cubic((90, 20), (90, 90), (40, 120), (0, 120)),
            cubic((0, 120), (-60, 120), (-110, 70), (-110, 0)),
            cubic((-110, 0), (-110, -60), (-70, -100), (0, -100)),
        ]
    )
    # round joins of 0.1° do not show between chords of 0.0002 mm sagitta
    theirs = shapely.Polygon(flatten(egg, tolerance=0.0002)).buffer(width, quad_segs=900)
    a, b = ours([egg], width), theirs
    assert shapely.hausdorff_distance(a.boundary, b.boundary) < 0.01 + 0.005


def test_lines_with_tapering_widths_meet_where_their_cut_lines_do():
    nodes = np.array([(0, 0), (200, 0), (180, 150), (20, 160)], dtype=float)
    widths = [(10, 20), (20, 5), (5, 5), (15, 10)]
    edges = [
        OffsetEdge(curve=line(nodes[k], nodes[(k + 1) % 4]), width=a, end_width=b) for k, (a, b) in enumerate(widths)
    ]
    ring = offset_outline(edges, [OffsetCorner()] * 4).curve
    cut = []
    for k, (a, b) in enumerate(widths):
        p, q = nodes[k], nodes[(k + 1) % 4]
        left = np.array([(q - p)[1], -(q - p)[0]]) / np.linalg.norm(q - p)
        cut.append((p + a * left, q + b * left))
    for k in range(4):
        (p, q), (r, s) = cut[k], cut[(k + 1) % 4]
        t, _ = np.linalg.solve(np.stack([q - p, r - s], axis=1), r - p)
        assert np.linalg.norm(ring.nodes - (p + t * (q - p)), axis=1).min() < 1e-9


def test_a_tapering_hem_on_a_curve_keeps_its_width_at_every_place():
    hem = cubic((300, 0), (200, 25), (100, 25), (0, 0))
    edges = [
        OffsetEdge(curve=hem, width=20, end_width=50),
        OffsetEdge(curve=line((0, 0), (0, -200)), width=0),
        OffsetEdge(curve=line((0, -200), (300, -200)), width=10),
        OffsetEdge(curve=line((300, -200), (300, 0)), width=10),
    ]
    answer = offset_outline(edges, [OffsetCorner()] * 4, tolerance=0.01)
    u = np.linspace(0.02, 0.9, 200)  # where the fold does not trim it
    dense = point(hem, np.linspace(0, 1, 20001))
    along = np.append(0, np.cumsum(np.linalg.norm(np.diff(dense, axis=0), axis=1)))
    share = np.interp(u, np.linspace(0, 1, 20001), along / along[-1])
    step = 1e-6
    way = point(hem, u + step) - point(hem, u - step)
    left = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.linalg.norm(way, axis=1)[:, None]
    exact = shapely.points(point(hem, u) + (20 + 30 * share)[:, None] * left)
    assert shapely.distance(exact, shapely.LinearRing(flatten(answer.curve, tolerance=0.0005))).max() < 0.011

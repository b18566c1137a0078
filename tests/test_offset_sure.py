"""What is sure of a ring at one width all round, against the gate that looks closely and against shapely."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

from flatcut.errors import GeometryError
from flatcut.geometry.curves import Curve, cubic, flatten, line
from flatcut.geometry.offset_made import Gate
from flatcut.geometry.offset_outline import try_outlines
from flatcut.geometry.offset_ring import Spans, gather
from flatcut.geometry.offset_rules import rules_of
from flatcut.geometry.offset_values import OffsetCorner, OffsetEdge
from tests.test_offset_simple import ring as round_about

TOLERANCE, SLACK = 0.02, 0.03


def ring_and_gate(curves, width, *, inward=False, kinds=None, limits=None):
    """The ring of an outline at one width and its gate; None where there is no ring."""
    edges = [OffsetEdge(curve=c, width=width) for c in curves]
    kinds, limits = kinds or ["mitred"] * len(edges), limits or [3.0] * len(edges)
    corners = [OffsetCorner(kind=k, limit=x) for k, x in zip(kinds, limits, strict=True)]
    answer = try_outlines([(edges, corners)], inward=inward, tolerance=TOLERANCE)[0]
    if isinstance(answer, GeometryError):
        return None
    c = gather([curves], [[(width, width)] * len(edges)], None, inward)
    controls = np.array(answer.curve.controls)
    if c.mirrored[0]:
        controls[..., 1] *= -1
    n = len(controls)
    spans = Spans(controls, answer.curve.straight, np.zeros(n, int), np.array(answer.sources))
    return spans, Gate(c, rules_of([(edges, corners)], c), inward, SLACK)


def moved(spans, rng, size):
    """A node or a handle of a ring put elsewhere."""
    controls = spans.controls.copy()
    k, by = int(rng.integers(len(controls))), rng.normal(0, size, 2)
    if rng.random() < 0.5 and not spans.straight[k]:
        controls[k, int(rng.integers(1, 3))] += by
    else:
        controls[k, 0] += by
        controls[k - 1, 3] += by
        for j, handles in ((k, (1, 2)), (k - 1, (1, 2))):
            if spans.straight[j]:
                a, b = controls[j, 0], controls[j, 3]
                controls[j, handles] = a + (b - a) / 3, b - (b - a) / 3
    return spans._replace(controls=controls)


def test_what_is_sure_of_rings_right_and_wrong_passes_the_gate_too():
    rng = np.random.default_rng(5)
    sure = wrong = 0
    for _ in range(60):
        spans = round_about(rng, int(rng.integers(3, 8)), rng.uniform(0, 0.4))
        flat = rng.random() < 0.2
        curves = [Curve(s[None], np.array([flat])) for s in (straight(spans) if flat else spans)]
        found = ring_and_gate(curves, rng.uniform(3, 20), inward=rng.random() < 0.4)
        if found is None:
            continue
        ring, gate = found
        for one in (ring, *(moved(ring, rng, size) for size in (0.01, 0.02, 0.05, 0.1, 0.5, 20.0))):
            if gate._sure(one)[0]:
                sure += 1
                assert gate._looked_at(one, TOLERANCE / 5, False)[0][0]
                assert nearest(one, gate) > gate.c.rows.near[0] - SLACK - 0.01
            else:
                wrong += not gate._looked_at(one, TOLERANCE / 5, False)[0][0]
    assert sure > 40
    assert wrong > 100


def nearest(ring, gate):
    """mm from a ring to its stitch line, by shapely on dense chords."""
    c = gate.c
    both = ((ring.controls, ring.straight), (c.rows.controls, c.rows.straight))
    rings = (shapely.LinearRing(flatten(Curve(spans, flat), tolerance=0.0005)) for spans, flat in both)
    return shapely.distance(*rings)


def straight(spans):
    """Spans made lines."""
    return spans[:, :1] + np.arange(4)[:, None] / 3 * (spans[:, 3:] - spans[:, :1])


NODES = [(0, 0), (200, 0), (200, 300), (0, 300), (0, 0)]
SHAPES = {
    "sides": [line(a, b) for a, b in pairwise(NODES)],
    "hollow": [cubic((0, 0), (60, 45), (140, 45), (200, 0)), *(line(a, b) for a, b in pairwise(NODES[1:]))],
    "round": [cubic((0, 0), (60, -45), (140, -45), (200, 0)), *(line(a, b) for a, b in pairwise(NODES[1:]))],
    "waisted": [
        line((0, 0), (200, 0)),
        cubic((200, 0), (150, 100), (150, 200), (200, 300)),
        line((200, 300), (0, 300)),
        cubic((0, 300), (50, 200), (50, 100), (0, 0)),
    ],
}


@pytest.mark.parametrize("inward", [False, True])
@pytest.mark.parametrize("back", [False, True])
@pytest.mark.parametrize("shape", SHAPES)
def test_a_plain_ring_is_sure_and_none_that_is_a_tenth_of_a_millimetre_wrong_anywhere(shape, inward, back):
    """Whichever way the outline runs. Where a ring is wrong shapely says, by the distance to dense chords."""
    curves = SHAPES[shape]
    if back:
        curves = [Curve(c.controls[::-1, ::-1], c.straight[::-1]) for c in curves[::-1]]
    spans, gate = ring_and_gate(curves, 12.0, inward=inward)
    assert gate._sure(spans).all()
    rng = np.random.default_rng(3)
    for _ in range(60):
        ring = moved(spans, rng, 0.1)
        if gate._sure(ring).all():
            assert nearest(ring, gate) > 12.0 - SLACK - 0.01


def test_a_ring_beside_its_line_or_the_wrong_way_round_is_not_sure():
    spans, gate = ring_and_gate(SHAPES["round"], 12.0)
    beside = spans._replace(controls=spans.controls + np.array([900.0, 0.0]))
    back = Spans(spans.controls[::-1, ::-1], spans.straight[::-1], spans.chain, spans.source[::-1])
    inner, _ = ring_and_gate(SHAPES["round"], 12.0, inward=True)
    inner = inner._replace(controls=inner.controls * np.array([1.0, -1.0]))
    inner_back = Spans(inner.controls[::-1, ::-1], inner.straight[::-1], inner.chain, inner.source[::-1])
    for ring in (beside, back, inner, inner_back):
        assert not gate._sure(ring).any()

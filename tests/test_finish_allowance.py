"""Allowances on a stretch, tapering, stepped; kept when an edge is split, written and read."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.errors import UsageError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import cubic, line, point
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Allowance, Edge, Pattern, Piece, Position, Stretch
from flatcut.pattern.walking import drawn_length, point_at, sewn_length
from flatcut.pattern.widths import bands, width_at


def pattern(side=None) -> Pattern:
    """A skirt front: waist, curved or given side, hem, centre; clockwise on the screen."""
    side = side or cubic((200, 0), (240, 100), (230, 200), (250, 600))
    curves = [line((0, 0), (200, 0)), side, line((250, 600), (0, 600)), line((0, 600), (0, 0))]
    names = ["waist", "side", "hem", "centre"]
    edges = tuple(Edge(uid=n, name=n, parts=(c,)) for n, c in zip(names, curves, strict=True))
    return Pattern(pieces=(Piece(uid="front", name="front", edges=edges),))


def allowance(given, *target, **fields):
    return load("allowance")(target=target, **fields)(given)


def cut_of(made: Pattern):
    cut = cut_line(made.pieces[0])
    assert cut is not None
    return cut


def distance_out(made: Pattern, name: str, drawn: float) -> float:
    """mm from the stitch line out to the cut line, where the normal meets 40,000 chords of it."""
    edge = made.pieces[0].edge(name)
    at, along = point_at(edge, drawn)
    normal = np.array([along[1], -along[0]])
    places = np.linspace(0, len(cut_of(made).curve), 40_001)
    points = point(cut_of(made).curve, places) - at
    across = points @ along
    out = points @ normal
    signs = np.flatnonzero(np.sign(across[:-1]) != np.sign(across[1:]))
    met = [out[k] - across[k] * (out[k + 1] - out[k]) / (across[k + 1] - across[k]) for k in signs]
    return min(value for value in met if value > -1e-6)


def test_a_stretch_has_its_own_width_and_steps_square_to_the_stitch_line():
    """The change of an allowance on one edge is a step square to the stitch line (common practice, no source)."""
    made = allowance(pattern(), "all", width=10)
    made = allowance(made, "front.side@0..20cm", width=20)
    assert distance_out(made, "side", 195.0) == pytest.approx(20, abs=0.05)
    assert distance_out(made, "side", 205.0) == pytest.approx(10, abs=0.05)
    curve = cut_of(made).curve
    at, along = point_at(made.pieces[0].edge("side"), 200.0)
    normal = np.array([along[1], -along[0]])
    for width in (10, 20):
        assert nearest(curve, at + width * normal)[1] < 1e-3
    steps = [c for c in curve.controls if abs(np.linalg.norm(c[3] - c[0]) - 10) < 1e-3]
    assert len(steps) == 1
    way = (steps[0][3] - steps[0][0]) / 10
    assert abs(way @ along) < 1e-6


def test_from_and_to_mean_the_same_as_a_stretch():
    made = allowance(pattern(), "all", width=10)
    one = allowance(made, "front.side@5cm..-10cm", width=15)
    two = allowance(made, "front.side", width=15, from_="5cm", to="-10cm")
    assert differences(one, two, tolerance=1e-9) == []
    # where on an edge is a value: a step writes it in its one form, as it does front.side@50..-100
    assert two.steps[-1].line == "allowance front.side --width=15 --from=50 --to=-100"


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5, 0.8])
def test_a_tapering_allowance_is_linear_along_the_edge(share):
    made = allowance(allowance(pattern(), "all", width=10), "front.side", width=10, end_width=30)
    total = drawn_length(made.pieces[0].edge("side"))
    # the true offset of a taper is not on the normal by the slope of 1 in 30, which is 0.05 % of the width
    assert distance_out(made, "side", share * total) == pytest.approx(10 + 20 * share, abs=0.1)


def test_a_taper_runs_on_over_a_dart():
    """Once the whole of an edge tapered in each of its parts."""
    parts = (line((0, 0), (90, 0)), line((110, 0), (200, 0)))
    edge = Edge(uid="e", name="e", parts=parts, allowance=Allowance(width=10, end_width=28))
    assert width_at(edge, 90) == pytest.approx(19)
    assert width_at(edge, 180) == pytest.approx(28)


def test_a_later_stretch_lies_over_an_earlier_one():
    made = allowance(pattern(), "all", width=10)
    made = allowance(made, "front.hem@0..10cm", width=20)
    made = allowance(made, "front.hem@5cm..15cm", width=30)
    found = [(b.start, b.end, b.width) for b in bands(made.pieces[0].edge("hem"))]
    assert found == [(0, 50, 20), (50, 150, 30), (150, 250, 10)]
    again = allowance(made, "front.hem@0..15cm", width=12)
    assert len(again.pieces[0].edge("hem").allowance.stretches) == 1
    whole = allowance(made, "front.hem", width=12)
    assert whole.pieces[0].edge("hem").allowance == Allowance(width=12)


@pytest.mark.parametrize(
    ("target", "fields", "said"),
    [
        (("front.side@50cm..10cm",), {"width": 10}, "backwards"),
        (("front.side@0..90cm",), {"width": 10}, "beyond edge side"),
        (("front",), {"width": 10, "from_": "5cm"}, "name edges"),
        (("front.side",), {"end_width": 10}, "--width"),
        (("front.side@0..5cm",), {"width": 10, "to": "5cm"}, "a stretch already"),
        (("front.side",), {"width": 10, "to": "5 furlongs"}, "unit"),
    ],
)
def test_bad_input_gets_one_sentence(target, fields, said):
    with pytest.raises(UsageError, match=said):
        allowance(pattern(), *target, **fields)


def test_kept_in_the_document():
    made = allowance(allowance(pattern(), "all", width=10), "front.side@1/4..-5cm", width=20, end_width=12)
    drawing, _, _ = new_drawing()
    data = write(drawing, made)
    assert differences(made, read(data)[1], tolerance=1e-6) == []
    assert b"stretches" in data


@st.composite
def stretches(draw):
    a, b = sorted((draw(st.floats(0, 1)), draw(st.floats(0, 1))))
    at = (Position(mode="fraction", value=a), Position(mode="fraction", value=b))
    widths = draw(st.floats(0, 60)), draw(st.none() | st.floats(0, 60))
    return Stretch(start=at[0], end=at[1], width=widths[0], end_width=widths[1])


@settings(max_examples=60, deadline=None)
@given(st.lists(stretches(), max_size=4), st.floats(0.05, 0.95), st.floats(5, 40), st.none() | st.floats(5, 40))
def test_bands_tile_the_edge_and_stay_when_it_is_split(found, where, width, end_width):
    side = Allowance(width=width, end_width=end_width, stretches=tuple(found))
    made = pattern()
    edge = made.pieces[0].edge("side")
    whole = Edge(uid=edge.uid, name="side", parts=edge.parts, allowance=side)
    tiled = bands(whole)
    total = drawn_length(whole)
    assert tiled[0].start == 0
    assert tiled[-1].end == pytest.approx(total)
    assert all(a.end == pytest.approx(b.start, abs=0.03) for a, b in pairwise(tiled))
    piece = made.pieces[0]
    edges = tuple(whole if e.name == "side" else e for e in piece.edges)
    with_it = Pattern(pieces=(Piece(uid="front", name="front", edges=edges),))
    halves = load("edge")(target=(f"front.side@{where * 100:.6f}%",), split=True)(with_it).pieces[0]
    first, second = halves.edge("side"), halves.edge("side-2")
    cut = sewn_length(first)
    near = [edge for band in tiled for edge in (band.start, band.end)] + [cut]
    for drawn in np.linspace(0, total, 47):
        if min(abs(drawn - place) for place in near) < 0.05:
            continue
        half, at = (first, drawn) if drawn < cut else (second, drawn - cut)
        assert width_at(half, at) == pytest.approx(width_at(whole, drawn), abs=0.02)

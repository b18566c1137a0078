"""Pleats: closed forms to the stated digits, and the folded pleat against the seam line, folded in the test itself."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError, GeometryError
from flatcut.findings import FAULT
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, cubic, line, point, section
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.marking.ticks import ticks
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.values import Allowance, Edge, Grain, Pattern, TakeUp, area
from flatcut.pattern.walking import drawn_length, point_at, sewn_at, sewn_length
from flatcut.recipe import read_recipe, replay
from tests.dart_pieces import the
from tests.fullness_pieces import panel, skirt, spread, told


def pleat(pattern: Pattern, target: str = "skirt.waist", **options: object) -> Pattern:
    return load("pleat")(target=target, **options)(pattern)


# Closed forms ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("depth", "cloth"), [(20, 1440), (40, 2160)])
def test_knife_pleats(depth, cloth):
    """Closed form: finished 72, 18 pleats: depth 2 wants 144, depth 4 wants 216, three times as much."""
    found = pleat(panel(720, 300, 0), count=18, depth=depth)
    waist = the(found).edge("waist")
    assert drawn_length(waist) == pytest.approx(cloth, abs=1e-6)
    assert sewn_length(waist) == pytest.approx(720, abs=1e-6)
    assert told(found, "cloth over finished") == pytest.approx(cloth / 720)
    assert len(waist.takeups) == 18
    assert all(t.kind == "pleat" and t.amount == pytest.approx(2 * depth) for t in waist.takeups)
    assert abs(area(the(found))) == pytest.approx(cloth * 300, abs=1e-3)


@pytest.mark.parametrize("kind", ["box", "inverted"])
def test_six_boxes(kind):
    """Closed form: 6 of face 6, returns 3: 108 for 36 finished."""
    found = pleat(panel(360, 300, 0), kind=kind, count=6, depth=30)
    waist = the(found).edge("waist")
    assert (drawn_length(waist), sewn_length(waist)) == pytest.approx((1080, 360), abs=1e-6)
    assert told(found, "cloth over finished") == pytest.approx(3)
    assert [t.amount for t in waist.takeups] == pytest.approx([120] * 6)


def test_boxes_apart_are_two_folds_each():
    found = pleat(panel(400, 300, 0), kind="box", count=2, depth=20, face=50)
    waist = the(found).edge("waist")
    # returns of 20 on both sides of a face of 50, 200 from face to face
    assert [(round(t.start, 6), round(t.end, 6)) for t in waist.takeups] == [
        (75, 115),
        (165, 205),
        (355, 395),
        (445, 485),
    ]
    names = [item.name for item in the(found).lines if "-" in item.name and item.kind == "fold"]
    assert len(names) == 8


def test_pleats_are_reduced_at_the_waist():
    """6 pleats 3 deep, each taking (hip - waist) / n more at the top."""
    start = panel(260, 600, 0)
    found = pleat(start, count=6, depth=30, less=60, level=200)
    waist, hem = the(found).edge("waist"), the(found).edge("hem")
    # across leaning folds the edge is a little longer than across upright ones
    assert drawn_length(waist) == pytest.approx(260 + 360, abs=1)
    assert sewn_length(waist) == pytest.approx(200, abs=1)
    assert [t.amount for t in hem.takeups] == pytest.approx([60] * 6)
    folds = [item.curve for item in the(found).lines if item.kind in ("fold", "placement")]
    for curve in folds:
        low = curve.nodes[curve.nodes[:, 1] > 200 - 1e-6]
        assert np.ptp(low[:, 0]) < 1e-9, "from the hip down they are parallel"
    assert sum(len(curve) == 2 for curve in folds) == 12


# Folded ---------------------------------------------------------------------------------------------------------------


def side_of(fold: Curve, p: Array) -> float:
    """On which side of a fold a point lies, as a signed distance."""
    return float(cross(unit(fold.end - fold.start), p - fold.start))


def folded(edge: Edge, takeup: TakeUp, outer: Curve, inner: Curve) -> Array:
    """Points of the edge inside a pleat, (n, 2), where they lie once the pleat is folded, by reflections in its folds.

    What lies between the outer fold and the inner one is folded over once, what lies beyond the inner one twice.
    """
    points = [point_at(edge, s)[0] for s in np.linspace(takeup.start, takeup.end, 81)]
    back, over = (Affine.reflection(f.start, f.end) for f in (inner, outer))
    once = [side_of(inner, p) * side_of(inner, outer.end) >= 0 for p in points]
    return np.array([over.apply(p if first else back.apply(p)) for p, first in zip(points, once, strict=True)])


def top(curve: Curve) -> Curve:
    """The straight of a fold that ends at the waist."""
    ends = [line(curve.nodes[1], curve.nodes[0]), line(curve.nodes[-2], curve.nodes[-1])]
    return min(ends, key=lambda c: c.end[1])


@pytest.mark.parametrize("side", ["before", "after"])
@pytest.mark.parametrize("less", [0, 14])
def test_the_folded_pleat_lies_on_the_seam_line(side, less):
    """By reflection, within 0.01 mm: folded over, its end is the edge of the part it is pressed to."""
    found = pleat(skirt(), "skirt.waist@3cm..-3cm", depth=15, less=less, pressed="start" if side == "before" else "end")
    piece = the(found)
    waist = piece.edge("waist")
    (takeup,) = waist.takeups
    lines = {item.name: top(item.curve) for item in piece.lines}
    folds = sorted((lines[n] for n in ("pleat-1-fold", "pleat-1", "pleat-1-meets")), key=lambda c: c.end[0])
    lying = folded(waist, takeup, folds[0 if side == "before" else 2], folds[1])
    # the seam line of the part that it is pressed to
    part = waist.parts[0]
    u = [place_at(part, s) for s in (takeup.start, takeup.end)]
    seam = section(part, 0.0, u[0]) if side == "before" else section(part, u[1], len(part))
    assert float(nearest(seam, lying)[1].max()) <= 0.01
    assert float(np.hypot(*(lying[0] - lying[-1]))) <= 0.01, "both ends of the fold come together"
    assert sewn_length(waist) == pytest.approx(sewn_length(the(skirt()).edge("waist")) - less, abs=0.3)


def test_an_inverted_pleat_lies_on_both_sides_seam_lines():
    found = pleat(skirt(), "skirt.waist@3cm..-3cm", kind="inverted", depth=12)
    piece = the(found)
    waist = piece.edge("waist")
    (takeup,) = waist.takeups
    part = waist.parts[0]
    u = [place_at(part, s) for s in (takeup.start, (takeup.start + takeup.end) / 2, takeup.end)]
    lines = {item.name: top(item.curve) for item in piece.lines}
    outer = sorted((lines["pleat-1-fold"], lines["pleat-1-fold-2"]), key=lambda c: c.end[0])
    inner = sorted((lines["pleat-1-inner"], lines["pleat-1-inner-2"]), key=lambda c: c.end[0])
    for fold, second, seam, ends in (
        (outer[0], inner[0], section(part, 0.0, u[0]), (u[0], u[1])),
        (outer[1], inner[1], section(part, u[2], len(part)), (u[2], u[1])),
    ):
        over, back = (Affine.reflection(c.start, c.end) for c in (fold, second))
        for p in point(part, np.linspace(ends[0], ends[0] + 0.98 * (ends[1] - ends[0]), 60)):
            once = side_of(second, p) * side_of(second, fold.end) >= 0
            lying = over.apply(p if once else back.apply(p))
            assert float(nearest(seam, lying[None])[1][0]) <= 0.01


def test_deep_pleats_side_by_side_lie_on_the_seam_line():
    """Deeper than the cloth between them: what a pleat is folded over is the next one, folded."""
    start = skirt()
    upright = Grain(start=np.array([50.0, 500.0]), end=np.array([50.0, 100.0]))
    start = replace(start, pieces=(replace(the(start), grain=upright),))
    found = pleat(start, "skirt.waist@3cm..-3cm", count=4, depth=40)
    piece, net = the(found), the(start).edge("waist").parts[0]
    waist = piece.edge("waist")
    assert [t.kind for t in waist.takeups] == ["pleat"] * 4
    for k, takeup in enumerate(waist.takeups):
        lines = {item.name: top(item.curve) for item in piece.lines}
        lying = folded(waist, takeup, lines[f"pleat-{k + 1}-fold"], lines[f"pleat-{k + 1}"])
        # back by what the pleats before this one have opened, straight to the right
        back = lying - np.array([80.0 * k, 0.0])
        beyond = back[:, 0] < 0  # a pleat folded over the fold edge itself runs on as the edge does
        assert float(nearest(net, back[~beyond])[1].max()) <= 0.01


def test_notches_stand_at_both_folds():
    start = panel(300, 500, 0)
    edges = tuple(replace(e, allowance=Allowance(width=10.0)) for e in the(start).edges)
    start = replace(start, pieces=(replace(the(start), edges=edges),))
    found = pleat(start, depth=20)
    piece = the(found)
    waist = piece.edge("waist")
    (notch,) = (n for n in piece.notches if n.edge == waist.uid)
    assert sewn_at(waist, notch.at) == pytest.approx(150)
    assert sorted(tick.foot[0] for tick in ticks(piece, notch, None)) == pytest.approx([150, 190])


# Along, across, beside ------------------------------------------------------------------------------------------------


def test_pleats_run_along_the_grain():
    start = skirt()
    grain = Grain(start=np.array([50.0, 500.0]), end=np.array([65.0, 100.0]))
    for piece, way in ((the(start), None), (replace(the(start), grain=grain), np.array([15.0, -400.0]))):
        found = pleat(replace(start, pieces=(piece,)), count=2, depth=10)
        middle = next(item.curve for item in the(found).lines if item.name == "pleat-1")
        along = middle.end - middle.start
        if way is None:
            chord = the(start).edge("waist").end - the(start).edge("waist").start
            assert abs(float(along @ chord)) < 1e-6 * np.hypot(*along) * np.hypot(*chord)
        else:
            assert abs(float(cross(along, way))) < 1e-6 * np.hypot(*along) * np.hypot(*way)


@pytest.mark.parametrize("bow", [-8, 8])
def test_a_bowed_edge_is_pleated_into_the_piece(bow):
    start = panel(300, 500, 0)
    hem = cubic((300, 500), (200, 500 + bow), (100, 500 + bow), (0, 500))
    edges = tuple(replace(e, parts=(hem,)) if e.name == "hem" else e for e in the(start).edges)
    start = replace(start, pieces=(replace(the(start), edges=edges),))
    found = pleat(start, "skirt.hem@2cm..-2cm", count=2, depth=15)
    assert drawn_length(the(found).edge("waist")) == pytest.approx(360, abs=1e-6)


def test_a_fold_edge_is_what_knife_pleats_are_pressed_to():
    found = pleat(skirt(), count=1, depth=15)
    lines = {item.name: item.curve for item in the(found).lines}
    # the fold edge is at the left: folded under on that side, the outer fold is at the left and is brought to the right
    assert lines["pleat-1-fold"].start[0] < lines["pleat-1"].start[0] < lines["pleat-1-meets"].start[0]
    way = lines["pleat-1-way"]
    assert way.nodes[0, 0] < way.nodes[1, 0]


def test_pleats_to_nothing():
    found = pleat(panel(300, 500, 0), count=2, depth=20, other_depth=0, hold="centre")
    assert drawn_length(the(found).edge("hem")) == pytest.approx(300, abs=1e-9)
    assert drawn_length(the(found).edge("waist")) == pytest.approx(380, abs=0.2)
    assert sewn_length(the(found).edge("waist")) == pytest.approx(300, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(
    kind=st.sampled_from(["knife", "box", "inverted"]),
    count=st.integers(1, 4),
    depth=st.floats(4, 18),
    less=st.sampled_from([0.0, 8.0]),
)
def test_whatever_is_pleated_sews_to_what_it_was(kind, count, depth, less):
    start = skirt()
    upright = Grain(start=np.array([50.0, 500.0]), end=np.array([50.0, 100.0]))
    start = replace(start, pieces=(replace(the(start), grain=upright),))
    if kind == "box" and 2 * depth > (sewn_length(the(start).edge("waist")) - 40) / count:
        return  # such boxes do not fit
    found = pleat(start, "skirt.waist@2cm..-2cm", kind=kind, count=count, depth=depth, less=less)
    for name in ("waist", "hem"):
        before, after = (sewn_length(the(p).edge(name)) for p in (start, found))
        assert after == pytest.approx(before - (less if name == "waist" else 0), abs=0.3)
    assert [e.name for e in the(found).edges] == [e.name for e in the(start).edges]
    assert len({item.uid for item in the(found).lines}) == len(the(found).lines)
    for item in the(found).lines:
        if item.kind in ("fold", "placement"):
            parts = [part for e in the(found).edges for part in e.parts]
            for at in (item.curve.start, item.curve.end):
                assert min(float(nearest(part, at[None])[1][0]) for part in parts) < 1e-6, item.name


def test_spread_as_pleats_is_the_same_as_pleat():
    one = pleat(panel(300, 500, 0), count=1, depth=20, pressed="start", hold="centre")
    other = spread(panel(300, 500, 1), amount=40, to="pleat", pressed="side", hold="centre")
    for name in ("waist", "hem"):
        a, b = (the(p).edge(name) for p in (one, other))
        assert [t.kind for t in a.takeups] == [t.kind for t in b.takeups] == ["pleat"]
        np.testing.assert_allclose([(t.start, t.end) for t in a.takeups], [(t.start, t.end) for t in b.takeups])
    assert [f.text for f in run_checks(other) if f.severity == FAULT] == []


# Taken up at one edge, and folded from the width that is there ------------------------------------------------------


def test_pleats_are_folded_at_the_edges_named_and_hang_open_at_the_others():
    """Closed form: two pleats 15 deep put 60 mm in, which the waist takes up and the hem does not."""
    found = pleat(panel(300, 500, 0), count=2, depth=15, taken_up=("skirt.waist",))
    waist, hem = the(found).edge("waist"), the(found).edge("hem")
    assert (drawn_length(waist), sewn_length(waist)) == pytest.approx((360, 300), abs=1e-9)
    assert (drawn_length(hem), sewn_length(hem)) == pytest.approx((360, 360), abs=1e-9)
    assert hem.takeups == ()
    assert [n.edge for n in the(found).notches] == [waist.uid, waist.uid]
    both = pleat(panel(300, 500, 0), count=2, depth=15, taken_up=("skirt.waist", "skirt.hem"))
    assert differences(both, pleat(panel(300, 500, 0), count=2, depth=15), tolerance=1e-9) == []


@pytest.mark.parametrize("kind", ["inverted", "box"])
def test_half_a_pleat_on_the_fold_hangs_open_at_the_hem(kind):
    found = pleat(skirt(), kind=kind, on_fold=True, depth=30, taken_up=("skirt.waist",))
    was, now = the(skirt()), the(found)
    assert sewn_length(now.edge("waist")) == pytest.approx(sewn_length(was.edge("waist")), abs=1e-6)
    # the hem runs on level over the fold (closed form)
    assert sewn_length(now.edge("hem")) == pytest.approx(sewn_length(was.edge("hem")) + 60, abs=0.01)
    assert now.edge("hem").takeups == ()


@pytest.mark.parametrize("side", ["before", "after"])
@pytest.mark.parametrize("kind", ["knife", "box", "inverted"])
def test_width_that_is_there_is_folded_onto_the_seam_line(kind, side):
    """By reflection in its folds as drawn, as nearly as its sides meet; sewn so much shorter, without more cloth."""
    start = skirt()
    pressed = {"pressed": "start" if side == "before" else "end"} if kind == "knife" else {}
    depth = 8.0
    found = pleat(start, "skirt.waist@4cm..-4cm", kind=kind, depth=depth, from_width=True, stitched=35, **pressed)
    waist = the(found).edge("waist")
    before = sewn_length(the(start).edge("waist"))
    assert sewn_length(waist) == pytest.approx(before - {"knife": 2, "box": 4, "inverted": 4}[kind] * depth, abs=0.3)
    assert [name for name in ("side", "lower", "hem", "centre") if the(found).edge(name) != the(start).edge(name)] == []
    assert len(waist.takeups) == (2 if kind == "box" else 1)
    lines = {item.name: top(item.curve) for item in the(found).lines if item.kind in ("fold", "placement")}
    assert [length(curve) for curve in lines.values()] == pytest.approx([35] * len(lines))
    part = waist.parts[0]
    for takeup in waist.takeups:
        ends = [point_at(waist, at)[0][0] for at in (takeup.start, takeup.end)]
        here = sorted(
            (c for c in lines.values() if ends[0] - 1 < c.end[0] < ends[1] + 1), key=lambda c: float(c.end[0])
        )
        u = [place_at(part, at) for at in (takeup.start, takeup.end)]
        sides = [section(part, 0.0, u[0]), section(part, u[1], len(part))]
        if kind == "inverted":
            half = (takeup.start + takeup.end) / 2
            lying = [
                folded(waist, replace(takeup, end=half - 1e-6), here[0], here[1]),
                folded(waist, replace(takeup, start=half + 1e-6), here[4], here[3]),
            ]
        else:
            outer = [f.end[0] for f in here if f is not here[1]]
            after = bool(side == "after") if kind == "knife" else takeup is waist.takeups[0]
            lying = [folded(waist, takeup, here[2 if after else 0], here[1])]
            sides = [sides[1 if after else 0]]
            assert len(outer) == 2
        for seam, points in zip(sides, lying, strict=True):
            assert float(nearest(seam, points)[1].max()) <= told(found, "off its seam line") + 0.01
    # the edge is aslant to the grain by less than a twentieth here, so its sides miss each other by less than that
    assert told(found, "off its seam line") < {"knife": 2, "box": 2, "inverted": 4}[kind] * depth / 20


@pytest.mark.parametrize("end", ["start", "end"])
def test_width_pressed_toward_an_edge_is_folded_as_toward_the_end_where_that_edge_lies(end):
    edges = the(skirt()).edges
    k = [edge.name for edge in edges].index("waist")
    beside = edges[k - 1] if end == "start" else edges[(k + 1) % len(edges)]
    one, other = (
        pleat(skirt(), "skirt.waist@4cm..-4cm", kind="knife", depth=8, from_width=True, pressed=pressed)
        for pressed in (f"skirt.{beside.name}", end)
    )
    assert differences(one, other, tolerance=1e-9) == []
    assert [item.name for item in the(one).lines] == [item.name for item in the(other).lines]


@settings(deadline=None, max_examples=12)
@given(
    kind=st.sampled_from(("knife", "box", "inverted")),
    count=st.integers(1, 3),
    depth=st.floats(2, 9),
    edge=st.sampled_from(("waist", "hem")),
)
def test_whatever_width_is_folded_only_shortens_what_is_sewn(kind, count, depth, edge):
    start = skirt()
    found = pleat(
        start,
        f"skirt.{edge}",
        kind=kind,
        count=count,
        depth=depth,
        face=2 * depth if kind == "box" else None,
        from_width=True,
    )
    now, was = the(found).edge(edge), the(start).edge(edge)
    layers = 2 if kind == "knife" else 4
    assert sewn_length(was) - sewn_length(now) == pytest.approx(layers * depth * count, rel=0.02)
    # the shaped ends put in and take off cloth by the slope of the edge only
    assert abs(area(the(found))) == pytest.approx(abs(area(the(start))), rel=1e-3)
    assert [f.text for f in run_checks(found) if f.severity == FAULT] == []


@pytest.mark.parametrize(
    ("target", "options", "said"),
    [
        ("skirt.waist", {"taken_up": ("skirt.hem",)}, "the pleats stand on skirt.waist and are folded there"),
        ("skirt.waist", {"taken_up": ("skirt.waist", "skirt.side")}, "skirt.side, which no pleat reaches"),
        ("skirt.waist", {"taken_up": ("skirt.waist", "skirt.side"), "on_fold": True, "kind": "inverted"}, "not meet"),
        ("skirt.waist", {"stitched": 30}, "add --from-width"),
        ("skirt.waist", {"from_width": True, "less": 10}, "opens nothing; leave --less out"),
        ("skirt.waist", {"from_width": True, "on_fold": True, "kind": "box"}, "opens nothing; leave --on-fold out"),
        ("skirt.waist", {"from_width": True, "count": 5}, "5 pleats take 200 mm of skirt.waist"),
        ("skirt.waist@0..2cm", {"from_width": True, "depth": 4, "kind": "box", "face": 60}, "a pleat takes 76 mm"),
        ("skirt.waist", {"from_width": True, "depth": 5, "name": "1st"}, "cannot be a pleats' name"),
        ("skirt.waist", {"from_width": True, "depth": 5, "pressed": "skirt.hem"}, "lies on both sides of the pleat"),
        ("skirt.waist", {"from_width": True, "depth": 5, "pressed": "start", "kind": "inverted"}, "pressed both ways"),
        ("skirt.waist@0..5mm", {"from_width": True, "depth": 2, "kind": "box", "face": -1}, "must lie between"),
    ],
)
def test_what_cannot_be_folded_or_taken_up_is_said(target, options, said):
    with pytest.raises(FlatcutError, match=said) as caught:
        pleat(skirt(), target, **options)
    assert "\n" not in str(caught.value)


def test_width_is_not_folded_over_a_dart_or_another_pleat():
    pattern = replay(read_recipe("block skirt --size=bust-90"), Pattern())
    with pytest.raises(GeometryError, match="would be folded over the dart"):
        load("pleat")(target="skirt-front.waist@5cm..80mm", from_width=True, depth=8)(pattern)
    once = pleat(skirt(), "skirt.waist@4cm..-4cm", depth=8, from_width=True)
    with pytest.raises(FlatcutError, match="is taken up already"):
        pleat(once, "skirt.waist@4cm..-4cm", depth=8, from_width=True, name="second")


@pytest.mark.parametrize(
    ("target", "options", "said"),
    [
        ("skirt.waist", {"kind": "box", "count": 4, "face": 60}, "do not fit side by side"),
        ("skirt.waist", {"face": 20}, "--face is the width of a box"),
        ("skirt.waist", {"kind": "inverted", "pressed": "side"}, "pressed both ways"),
        ("skirt.waist@5cm", {}, "place"),
        ("skirt.l1", {}, "'skirt.l1' is a line"),
        ("skirt.waist", {"pressed": "waist"}, "lies on both sides"),
        ("skirt.waist", {"less": 500}, "more than the"),
        ("skirt.waist", {"less": 10, "level": 600}, "--level is 600 mm, and the pleats are"),
        ("skirt.waist", {"name": "1st"}, "cannot be a pleats' name"),
        ("skirt.waist@2cm..-2cm", {"count": 0}, "must lie between 1 and 200"),
    ],
)
def test_what_cannot_be_pleated_is_said_in_one_sentence(target, options, said):
    start = skirt(line((90, 19), (90, 573)))
    with pytest.raises(FlatcutError, match=said) as caught:
        pleat(start, target, **options)
    assert "\n" not in str(caught.value)


def test_pleats_over_each_other_are_told():
    found = pleat(panel(100, 400, 0), count=5, depth=30)
    assert "lie over each other" in found.steps[-1].warnings[0]
    assert length(the(found).edge("waist").parts[0]) == pytest.approx(400)


def test_pleats_that_touch_a_dart_are_refused_with_the_place():
    """The block's dart opens 3 cm wide in the middle of its waist: folded over it, a pleat's end has no shape."""
    pattern = replay(read_recipe("block skirt --size=bust-90"), Pattern())
    piece = pattern.piece("skirt-front")
    (dart,) = piece.darts
    for options in ({"kind": "box"}, {"kind": "inverted", "count": 3}, {"kind": "knife", "count": 9}):
        with pytest.raises(GeometryError, match="would be folded over the dart") as caught:
            load("pleat")(target="skirt-front.waist", **options)(pattern)
        x, y = (float(word) for word in re.findall(r"[xy] (-?\d+\.?\d*)", str(caught.value)))
        nodes = np.concatenate([leg.nodes for leg in dart.legs])
        assert (nodes.min(axis=0) - 1 <= (x, y)).all()
        assert (nodes.max(axis=0) + 1 >= (x, y)).all()
    # beside it, and pressed away from it, a knife pleat stands
    away = load("pleat")(target="skirt-front.waist@10mm..60mm", depth=15, pressed="skirt-front.side")(pattern)
    assert len([t for t in away.piece("skirt-front").edge("waist").takeups if t.kind == "pleat"]) == 1


def test_a_box_deeper_than_half_its_face_reaches_over_its_neighbour_and_lies_on_the_seam_line():
    """Two folds of 40 under a face of 40: either reaches under the other, where the seam line runs on; it is told."""
    start = skirt()
    upright = Grain(start=np.array([50.0, 500.0]), end=np.array([50.0, 100.0]))
    start = replace(start, pieces=(replace(the(start), grain=upright),))
    found = pleat(start, "skirt.waist@1cm..-1cm", kind="box", count=1, depth=40, face=40)
    assert "lie over each other" in found.steps[-1].warnings[0]
    piece, net = the(found), the(start).edge("waist").parts[0]
    waist = piece.edge("waist")
    lines = {item.name: top(item.curve) for item in piece.lines if item.kind in ("fold", "placement")}
    for k, takeup in enumerate(waist.takeups):
        ends = [point_at(waist, at)[0][0] for at in (takeup.start, takeup.end)]
        here = sorted(
            (c for c in lines.values() if ends[0] - 1 < c.end[0] < ends[1] + 1), key=lambda c: float(c.end[0])
        )
        # the first is pressed under the face, which lies 80 to the right of where it was; the second under it too
        lying = folded(waist, takeup, here[2 if k == 0 else 0], here[1]) - np.array([80.0, 0.0])
        assert float(nearest(net, lying[lying[:, 0] > 0])[1].max()) <= 0.01


@settings(max_examples=4, deadline=None)
@example(count=6, depth=30.0, end=20.0)
@given(count=st.integers(2, 7), depth=st.floats(8, 32), end=st.floats(15, 45))
def test_pleats_of_any_width_over_a_dart_that_went_leave_no_crumb_of_the_edge(count, depth, end):
    """The dart goes, the waist is made fair as it is said there, and no part of it is lost in the cut line."""
    lines = "block skirt --size=bust-106 --front-darts=1\nmeasure skirt-front.waist --as=net"
    pattern = replay(read_recipe(lines), Pattern())
    net = sewn_length(pattern.piece("skirt-front").edge("waist"))
    removed = load("dart")(target="skirt-front.waist-dart", remove=True)(pattern)
    advice = next(said for said in removed.steps[-1].warnings if "kink" in said).partition("with: ")[2]
    pattern = replay(read_recipe(advice), removed)
    try:
        found = load("pleat")(
            target=f"skirt-front.waist@{end:.1f}..-{end:.1f}",
            count=count,
            depth=depth,
            less="length(skirt-front.waist) - net",
            level=150,
            pressed="skirt-front.side",
        )(pattern)
    except FlatcutError:
        return
    found = load("allowance")(target="all", width=10)(found)
    assert [f.text for f in run_checks(found) if "no part in the cut line" in f.text] == []
    assert sewn_length(found.piece("skirt-front").edge("waist")) == pytest.approx(net, abs=0.3)

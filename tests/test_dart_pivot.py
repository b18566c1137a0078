"""Pivoting keeps what it must (closed form) and refuses what it cannot do."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from flatcut.darts.darting import angle, intake
from flatcut.errors import FlatcutError, GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import chain, cubic, flatten, line
from flatcut.geometry.nearest import nearest
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.values import (
    Allowance,
    Button,
    Caption,
    Grain,
    Hole,
    Line,
    NamedPoint,
    Notch,
    Pattern,
    Position,
    TakeUp,
    area,
    outline,
)
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.dart_pieces import controls, corner, dart, fan, front, rigid_rest, shape, square, the

PLACES = (
    "front.side@35%",
    "front.side@1/2",
    "front.shoulder@1/2",
    "front.armhole@62%",
    "front.neck@40%",
    "front.neck/shoulder",
    "front.armhole/side",
    "front.shoulder/armhole",
)


def pivot(pattern: Pattern, to: str, *, of: str = "waist-dart", **options: object) -> Pattern:
    return load("pivot")(target=(f"front.{of}",), to=to, **options)(pattern)


def ring_area(pattern: Pattern) -> float:
    """Area by shapely of the outline in chords of 1e-5 mm."""
    return float(shapely.Polygon(flatten(chain(outline(the(pattern)), within=1e-6), tolerance=1e-5)).area)


def marked() -> Pattern:
    """The front with lines, points, notches, a grain line and a gathered stretch."""
    pattern = front()
    piece = the(pattern)
    lines = (
        Line(uid="l1", name="bust-line", curve=line((60, 262), (286, 258)), kind="balance"),
        Line(uid="l2", name="pocket", curve=cubic((90, 200), (110, 210), (130, 190), (150, 200))),
        Line(
            uid="l3",
            name="loop",
            curve=chain([line((250, 300), (270, 300)), line((270, 300), (260, 320)), line((260, 320), (250, 300))]),
        ),
    )
    points = (
        *piece.points,
        NamedPoint(uid="n1", name="here", at=np.array([90.0, 400.0])),
        NamedPoint(uid="n2", name="there", at=np.array([260.0, 400.0])),
    )
    notches = (
        Notch(uid="k1", edge="e-side", at=Position(mode="start", value=50.0)),
        Notch(uid="k2", edge="e-side", at=Position(mode="end", value=40.0)),
        Notch(uid="k3", edge="e-waist", at=Position(mode="fraction", value=0.8)),
    )
    grain = Grain(start=np.array([100.0, 160.0]), end=np.array([100.0, 420.0]))
    holes = (Hole(uid="h1", at=np.array([255.0, 380.0])), Hole(uid="h2", dart="d", of="point", by=10.0))
    buttons = (
        Button(
            uid="b1", kind="buttonhole", at=np.array([80.0, 300.0]), size=15.0, slit=np.array([[72.0, 300], [88, 300]])
        ),
    )
    piece = replace(piece, holes=holes, buttons=buttons, caption=Caption(text="", at=np.array([230.0, 330.0])))
    edges = tuple(
        replace(e, takeups=(TakeUp(uid="t1", kind="ease", start=10.0, end=60.0, amount=4.0),))
        if e.name == "armhole"
        else e
        for e in piece.edges
    )
    return replace(
        pattern, pieces=(replace(piece, lines=lines, points=points, notches=notches, grain=grain, edges=edges),)
    )


@settings(max_examples=25, deadline=None)
@given(
    steps=st.lists(
        st.tuples(st.integers(0, 9), st.sampled_from(PLACES), st.sampled_from([1.0, 0.7, 0.5, 0.25])),
        min_size=1,
        max_size=6,
    )
)
def test_any_sequence_about_one_point_keeps_angle_area_and_lengths(steps: list[tuple[int, str, float]]) -> None:
    pattern = front(centre="seam")
    lengths = {e.name: drawn_length(e) for e in the(pattern).edges}
    total, cloth = angle(dart(pattern, "waist-dart")), ring_area(pattern)
    done = 0
    for which, place, share in steps:
        darts = the(pattern).darts
        chosen = darts[which % len(darts)]
        try:
            pattern = pivot(pattern, place, of=chosen.name, share=share)
        except FlatcutError:
            continue  # the place holds a dart already, or another dart stands in the way
        done += 1
        assert sum(angle(d) for d in the(pattern).darts) == pytest.approx(total, abs=1e-9)
        assert {e.name: drawn_length(e) for e in the(pattern).edges} == pytest.approx(lengths, abs=1e-6)
    assert done
    assert abs(area(the(pattern))) == pytest.approx(cloth, rel=1e-6)
    assert ring_area(pattern) == pytest.approx(cloth, rel=1e-6)
    for d in the(pattern).darts:
        np.testing.assert_allclose(d.points[0], (186, 260), atol=1e-6)
        legs = [float(np.hypot(*(foot - d.points[0]))) for foot in d.feet]
        assert legs[0] == pytest.approx(legs[1], abs=1e-6)


def where(pattern: Pattern, name: str) -> str:
    """The place that a dart has on its edge: that is where it goes back to."""
    piece, one = the(pattern), dart(pattern, name)
    host = piece.edge_of(one.host)
    before = sum(drawn_length(replace(host, parts=(part,))) for part in host.parts[: one.after + 1])
    return f"front.{host.name}@{before:.7f}mm"


@settings(max_examples=20, deadline=None)
@given(place=st.sampled_from(PLACES), data=st.data())
def test_there_and_back_is_the_same_net(place: str, data: st.DataObject) -> None:
    pattern = front(centre=data.draw(st.sampled_from(["centre", "seam"])))
    hold = data.draw(st.sampled_from(["", "neck", "side", "shoulder"]))
    assume(f"front.{hold}@" not in place)  # the edge to be held is the one that is cut
    home = where(pattern, "waist-dart")
    there = pivot(pattern, place, hold=hold)
    back = pivot(there, home)
    assert shape(the(back)) == shape(the(pattern))
    assert rigid_rest(controls(the(back)), controls(the(pattern))) <= 1e-6
    assert [d.uid for d in the(back).darts] == [d.uid for d in the(pattern).darts]


def test_there_and_back_in_parts_and_into_a_dart() -> None:
    pattern = front()
    home = where(pattern, "waist-dart")
    there = pivot(pattern, "front.side@30%", share=0.4, name="bust-dart")
    there = pivot(there, "front.bust-dart")
    assert [d.name for d in the(there).darts] == ["bust-dart"]
    there = load("dart")(target=("front.bust-dart",), name="waist-dart")(there)
    back = pivot(there, home)
    assert shape(the(back)) == shape(the(pattern))
    assert rigid_rest(controls(the(back)), controls(the(pattern))) <= 1e-6


def test_there_and_back_with_marks() -> None:
    pattern = marked()
    home = where(pattern, "waist-dart")
    there = pivot(pattern, "front.side@20%")
    assert [item.name for item in the(there).lines].count("bust-line") == 1
    back = pivot(there, home)
    before, after = the(pattern), the(back)
    assert shape(after) == shape(before)
    for name in ("here", "there", "bust-point"):
        one, two = (next(p for p in piece.points if p.name == name) for piece in (before, after))
        np.testing.assert_allclose(one.at, two.at, atol=1e-6)
    for one, two in zip(before.lines, after.lines, strict=True):
        np.testing.assert_allclose(one.curve.controls, two.curve.controls, atol=1e-6)
    for hole, again in zip(before.holes, after.holes, strict=True):
        assert hole.dart == again.dart
        assert hole.at is None or np.allclose(hole.at, again.at, atol=1e-6)
    np.testing.assert_allclose([b.at for b in before.buttons], [b.at for b in after.buttons], atol=1e-6)
    np.testing.assert_allclose(before.caption.at, after.caption.at, atol=1e-6)
    assert after.notches == before.notches
    assert [e.takeups for e in after.edges] == [e.takeups for e in before.edges]


@settings(max_examples=15, deadline=None)
@given(
    place=st.sampled_from(PLACES),
    turn=st.floats(-math.pi, math.pi),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
    mirror=st.booleans(),
)
def test_rigid_motions_and_mirrors_commute(place: str, turn: float, shift: tuple[float, float], mirror: bool) -> None:
    motion = Affine.translation(*shift) @ Affine.rotation(turn) @ Affine.scaling(-1 if mirror else 1, 1)
    pattern = marked()
    first = the(pivot(pattern, place))
    laid = replace(pattern, pieces=(moved(the(pattern), motion),))
    second = the(pivot(laid, place))
    image = moved(first, motion)
    np.testing.assert_allclose(controls(second), controls(image), atol=1e-6)
    for one, two in zip(image.lines, second.lines, strict=True):
        np.testing.assert_allclose(one.curve.controls, two.curve.controls, atol=1e-6)
    for p, q in zip(image.points, second.points, strict=True):
        np.testing.assert_allclose(p.at, q.at, atol=1e-6)


def test_marks_go_with_the_part_they_lie_on() -> None:
    pattern = marked()
    done = pivot(pattern, "front.shoulder@1/2", hold="centre")
    piece, old = the(done), the(pattern)
    turn = Affine.rotation(math.radians(angle(dart(pattern, "waist-dart"))), (186.0, 260.0))
    here, there = (next(p.at for p in piece.points if p.name == n) for n in ("here", "there"))
    np.testing.assert_allclose(here, (90, 400), atol=1e-9)
    # the side is what is turned: closing the waist dart carries it toward the centre, clockwise on the screen (y down)
    np.testing.assert_allclose(there, turn.apply((260, 400)), atol=1e-9)
    hole, image = the(pattern).holes[0].at, piece.holes[0].at
    np.testing.assert_allclose(image, turn.apply(hole), atol=1e-9)
    np.testing.assert_array_equal(piece.buttons[0].at, (80, 300))
    # a hole that marks a dart's point goes where the dart goes, and is gone with it
    assert [h.uid for h in piece.holes] == ["h1", "h2"]
    two = pivot(pattern, "front.side@20%", share=0.5, name="other")
    assert [h.uid for h in the(pivot(two, "front.other")).holes] == ["h1"]
    # notches keep their place along the edge, and so their place on the cloth
    assert piece.notches == old.notches
    assert {e.name: sewn_length(e) for e in piece.edges} == pytest.approx({e.name: sewn_length(e) for e in old.edges})
    # the grain line stays with the part that is held
    assert piece.grain is not None
    np.testing.assert_allclose([piece.grain.start, piece.grain.end], [(100, 160), (100, 420)])


def test_a_line_that_the_slash_crosses_is_broken_there() -> None:
    piece = the(front())
    across = Line(uid="x", name="yoke", curve=cubic((85, 180), (130, 170), (180, 185), (228, 170)))
    pattern = Pattern(pieces=(replace(piece, lines=(across,)),))
    done = the(pivot(pattern, "front.shoulder@1/2"))
    assert [item.name for item in done.lines] == ["yoke", "yoke"]
    legs = dart(Pattern(pieces=(done,)), "waist-dart").legs
    ends = [at for item in done.lines for at in (item.curve.start, item.curve.end)]
    on_legs = [min(float(nearest(leg, at)[1]) for leg in legs) for at in ends]
    assert sorted(on_legs)[:2] == pytest.approx([0.0, 0.0], abs=1e-5)
    # and is one again once the dart is carried away
    back = the(pivot(Pattern(pieces=(done,)), "front.waist@1/2"))
    assert [item.name for item in back.lines] == ["yoke"]
    assert len(back.lines[0].curve) == 1


def test_what_stays_still() -> None:
    def nodes(pattern: Pattern, name: str) -> Array:
        return the(pattern).edge(name).parts[-1].nodes

    pattern = front(centre="centre")
    for hold, still in (("", "centre"), ("side", "side"), ("centre", "centre")):
        done = pivot(pattern, "front.shoulder@1/2", hold=hold)
        np.testing.assert_array_equal(nodes(done, still), nodes(pattern, still))
        assert any(f"front.{still}" in f.label or "held" in f.label for f in done.steps[-1].figures)
    # without a centre edge the larger part stays: a slash near the centre leaves the side as the larger
    done = pivot(front(centre="seam"), "front.neck@10%")
    np.testing.assert_array_equal(nodes(done, "side"), nodes(pattern, "side"))
    # a fold goes before a centre edge
    piece = the(pattern)
    folded = replace(piece, edges=tuple(replace(e, use="fold") if e.name == "side" else e for e in piece.edges))
    done = pivot(Pattern(pieces=(folded,)), "front.shoulder@1/2")
    np.testing.assert_array_equal(nodes(done, "side"), nodes(pattern, "side"))
    with pytest.raises(UsageError, match="both sides of the cut"):
        pivot(pattern, "front.shoulder@1/2", hold="shoulder")


@pytest.mark.parametrize("use", ["centre", "fold"])
def test_a_fold_or_centre_edge_is_not_bent(use: str) -> None:
    pattern = front(centre=use)
    with pytest.raises(UsageError, match="would be bent"):
        pivot(pattern, "front.centre@70%")
    done = pivot(pattern, "front.centre@70%", straighten=True)
    edge = the(done).edge("centre")
    along = edge.end - edge.start
    nodes = np.concatenate([part.nodes for part in edge.parts]) - edge.start
    assert np.abs(nodes @ np.array([-along[1], along[0]])).max() / np.hypot(*along) < 1e-9
    born = dart(done, "waist-dart")
    assert angle(born) == pytest.approx(angle(dart(pattern, "waist-dart")), abs=1e-9)
    assert np.hypot(*(born.feet[0] - born.points[0])) == pytest.approx(np.hypot(*(born.feet[1] - born.points[0])))
    labels = [f.label for f in done.steps[-1].figures]
    assert "front.centre drawn straight, largest move" in labels
    # a grain line along the edge stays along it
    grained = replace(the(pattern), grain=Grain(start=np.array([100.0, 160.0]), end=np.array([100.0, 420.0])))
    laid = the(pivot(Pattern(pieces=(grained,)), "front.centre@70%", straighten=True))
    assert laid.grain is not None
    way, along = laid.grain.end - laid.grain.start, laid.edge("centre").end - laid.edge("centre").start
    assert abs(way @ along) == pytest.approx(float(np.hypot(*way) * np.hypot(*along)))
    # no line sticks out over the edge where it was drawn in
    crossed = replace(
        the(pattern),
        lines=tuple(Line(uid=f"l{y}", name=f"l{y}", curve=line((60, y), (230, y))) for y in (190, 258, 340)),
    )
    cut = the(pivot(Pattern(pieces=(crossed,)), "front.centre@70%", straighten=True))
    ring = shapely.Polygon(flatten(chain(outline(cut), within=1e-6), tolerance=1e-4)).buffer(1e-3)
    assert {"l190", "l340"} <= {item.name for item in cut.lines}
    assert all(ring.contains(shapely.LineString(flatten(item.curve, tolerance=1e-3))) for item in cut.lines)
    # as a seam it may bend
    pivot(front(centre="seam"), "front.centre@70%")


def test_a_dart_grows_only_about_its_own_point() -> None:
    pattern = pivot(front(), "front.side@30%", share=0.4, name="bust-dart")
    pattern = load("back-off")(target=("front.bust-dart",), by=25.0)(pattern)
    with pytest.raises(UsageError, match=r"back-off front\.bust-dart --to"):
        pivot(pattern, "front.bust-dart")
    pattern = load("back-off")(target=("front.bust-dart",), to="front.bust-point")(pattern)
    assert [d.name for d in the(pivot(pattern, "front.bust-dart")).darts] == ["bust-dart"]


def test_what_cannot_be_reached_or_closed() -> None:
    pattern = fan(100.0, 15.0, [150.0, 40.0, 40.0, 150.0, 150.0, 150.0])
    dented = replace(the(pattern), edges=the(pattern).edges)
    with pytest.raises(GeometryError, match="crosses"):
        # s1 runs from 150 to 40 from the apex; behind its dent nothing of a deeper edge is reached
        pivot(Pattern(pieces=(_with_flap(dented),)), "front.flap@1/2", of="dart")
    two = pivot(front(), "front.side@30%", share=0.4, name="bust-dart")
    with pytest.raises(UsageError, match="name it as the target"):
        pivot(two, "front.side@30%")
    with pytest.raises(UsageError, match="give less"):
        pivot(front(), "front.side@1/2", angle=40.0)
    with pytest.raises(UsageError, match="the mouth of"):
        pivot(front(), "front.side@1/2", amount=100.0)
    with pytest.raises(UsageError, match="same thing"):
        pivot(front(), "front.side@1/2", amount=10.0, share=0.5)
    with pytest.raises(UsageError, match="already there"):
        pivot(front(), "front.waist-dart")


def _with_flap(piece: object) -> object:
    """The fan with a deep notch cut into its right side, behind which an edge `flap` lies."""
    from flatcut.pattern.values import Edge, Piece

    assert isinstance(piece, Piece)
    corners = [(130, -75), (40, -10), (140, 20), (150, -60), (170, -60), (170, 80), (0, 150), (-120, 0)]
    names = ["a", "b", "c", "d", "flap", "f", "g"]
    one = piece.darts[0]
    top = piece.edges[0]
    edges = [replace(top, parts=(line(corners[-1], one.feet[0]), line(one.feet[1], corners[0])))]
    edges += [
        Edge(uid=n, name=n, parts=(line(p, q),)) for n, p, q in zip(names, corners[:-1], corners[1:], strict=True)
    ]
    return replace(piece, edges=tuple(edges))


def test_legs_that_differ_are_told_with_the_way_out() -> None:
    piece = the(front())
    one = piece.darts[0]
    foot = one.feet[1] + 1.5 * (one.feet[1] - one.points[0]) / np.hypot(*(one.feet[1] - one.points[0]))
    legs = one.legs[0], line(one.points[0], foot)
    waist = piece.edge("waist")
    part = waist.parts[1]
    bent = np.array(part.controls)
    bent[0, 0] = foot
    edges = tuple(
        replace(e, parts=(waist.parts[0], type(part)(bent, part.straight))) if e.name == "waist" else e
        for e in piece.edges
    )
    pattern = Pattern(pieces=(replace(piece, edges=edges, darts=(replace(one, legs=legs),)),))
    with pytest.raises(UsageError, match="--equal"):
        pivot(pattern, "front.side@1/2")
    even = load("dart")(target=("front.waist-dart",), equal=True)(pattern)
    one = dart(even, "waist-dart")
    assert np.hypot(*(one.feet[0] - one.points[0])) == pytest.approx(np.hypot(*(one.feet[1] - one.points[0])), abs=1e-9)
    assert any(f.label.endswith("feet moved by") and f.value == pytest.approx(0.75) for f in even.steps[-1].figures)
    pivot(even, "front.side@1/2")


def test_edges_allowances_and_seams_stay_named() -> None:
    pattern = load("allowance")(target=("front",), width=12.0)(front())
    done = pivot(pattern, "front.side@1/2", share=0.5)
    assert [(e.uid, e.name) for e in the(done).edges] == [(e.uid, e.name) for e in the(pattern).edges]
    assert [e.allowance for e in the(done).edges] == [e.allowance for e in the(pattern).edges]
    assert the(done).edge("side").allowance == Allowance(width=12.0)
    assert len(the(done).edge("side").parts) == 2
    assert {d.name for d in the(done).darts} == {"waist-dart", "waist-dart-2"}


def test_the_kink_of_an_untrued_edge_is_reported() -> None:
    # plane geometry: a dart closed on one straight edge leaves the interior angle 180° + θ
    done = pivot(square(), "front.right@1/2", of="dart")
    kink = next(f.value for f in done.steps[-1].figures if f.label == "front.top off a smooth line where dart was")
    assert kink == pytest.approx(angle(dart(square(), "dart")), abs=1e-6)
    born = next(f.value for f in done.steps[-1].figures if f.label == "front.dart folded, edge off a smooth line")
    assert born == pytest.approx(0.0, abs=1e-6)


def test_the_recorded_line_replays_on_another_size() -> None:
    line_ = pivot(front(), "front.side@35%", amount=20.0, name="bust-dart", hold="centre").steps[-1].line
    assert line_ == "pivot front.waist-dart --to=front.side@35% --amount=20 --name=bust-dart --hold=centre"
    from flatcut.arguments import parse_line

    operation = parse_line(line_)
    assert operation is not None
    larger = replace(front(), pieces=(_scaled(1.1),))
    done = operation(larger)
    assert intake(dart(done, "bust-dart")) > 0


def _scaled(by: float) -> object:
    return moved(the(front()), Affine.scaling(by))


def test_a_dart_in_the_corner_moves_out_and_in() -> None:
    pattern = fan(100.0, 15.0, [150.0, 130.0, 150.0, 140.0])
    there = pivot(pattern, corner(2), of="dart")
    one = dart(there, "dart")
    assert (one.host, one.after) == ("s1", 0)
    assert all(len(e.parts) == 1 for e in the(there).edges)
    more = pivot(there, corner(1), of="dart")
    back = pivot(more, "front.top@1/2", of="dart")
    assert angle(dart(back, "dart")) == pytest.approx(15.0, abs=1e-9)
    # the corner is named, and the dart in it is what grows
    parts = pivot(there, corner(1), of="dart", share=0.5, name="second")
    grown = pivot(parts, corner(2), of="second")
    assert [d.name for d in the(grown).darts] == ["dart"]
    assert angle(dart(grown, "dart")) == pytest.approx(15.0, abs=1e-9)

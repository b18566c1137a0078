"""Making, changing, dividing, backing off and releasing darts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.arguments import parse_line
from flatcut.darts.darting import angle, double_angles, intake
from flatcut.errors import FlatcutError, GeometryError, InputError, UsageError
from flatcut.geometry.curves import Curve, chain, flatten, line, point, polyline, tangent
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.operations.operation import load
from flatcut.pattern.spots import nearest_drawn, on_edge, spot
from flatcut.pattern.values import (
    Allowance,
    Corner,
    DrawnPath,
    Edge,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    area,
    outline,
)
from flatcut.pattern.walking import drawn_length, sewn_at, sewn_length
from flatcut.pattern.widths import width_at
from tests.dart_pieces import controls, dart, front, rigid_rest, shape, square, the


def make(pattern: Pattern, *target: str, **options: object) -> Pattern:
    return load("dart")(target=target, **options)(pattern)


def plain_front() -> Pattern:
    """The front without its waist dart: the waist runs on over the mouth."""
    return load("release")(target=("front.waist-dart",), to="pleat", stitched=0.0)(front())


def without_takeups(pattern: Pattern) -> Pattern:
    piece = the(pattern)
    return replace(pattern, pieces=(replace(piece, edges=tuple(replace(e, takeups=()) for e in piece.edges)),))


def polygon(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=1e-3))


# --- drafting anew


@settings(max_examples=25, deadline=None)
@given(
    edge=st.sampled_from(["side", "shoulder", "waist", "neck"]),
    share=st.floats(0.3, 0.7),
    wide=st.floats(5.0, 25.0),
)
def test_a_drafted_dart_has_the_intake_and_equal_legs(edge: str, share: float, wide: float) -> None:
    pattern = without_takeups(plain_front())
    at = f"front.{edge}@{share * 100:.4f}%"
    there = spot(pattern, at).point
    done = make(pattern, at, intake=wide, point="front.bust-point", name="new")
    piece, one = the(done), dart(done, "new")
    assert intake(one) == pytest.approx(wide, abs=1e-9)
    legs = [float(np.hypot(*(foot - one.points[0]))) for foot in one.feet]
    assert legs[0] == pytest.approx(legs[1], abs=1e-9)
    np.testing.assert_allclose(one.points[0], (186, 260), atol=1e-12)
    np.testing.assert_allclose(one.feet.mean(axis=0), there, atol=1e-9)
    assert polygon(piece).is_valid
    # what was cut out is the wedge, w h / 2, and slivers where the edge is drawn on to the feet
    tall = float(np.hypot(*(there - (186, 260))))
    stray = next(f.value for f in done.steps[-1].figures if "redrawn at the feet" in f.label)
    slivers = (stray + 0.05) * drawn_length(the(pattern).edge(edge))
    assert abs(area(the(pattern))) - abs(area(piece)) == pytest.approx(wide * tall / 2, abs=slivers)
    # the feet stand where the edge was, within what is reported
    for foot in one.feet:
        assert min(float(nearest(part, foot)[1]) for part in the(pattern).edge(edge).parts) <= stray + 1e-6


def test_a_dart_drawn_inside_takes_its_mouth_off_the_sewn_edge_and_can_be_cut_in() -> None:
    pattern = without_takeups(plain_front())
    whole = drawn_length(the(pattern).edge("side"))
    # square to the way from the point, where both legs come out alike
    at = nearest_drawn(the(pattern).edge("side"), np.array([186.0, 260.0]))
    done = make(pattern, f"front.side@{at}mm", intake=20.0, point="front.bust-point", form="lines", name="bust")
    piece, one = the(done), dart(done, "bust")
    assert one.form == "lines"
    np.testing.assert_array_equal(controls(piece), controls(the(pattern)))
    assert sewn_length(piece.edge("side")) == pytest.approx(whole - 20.0, abs=1e-6)
    cut = make(done, "front.bust", form="cut")
    assert sewn_length(the(cut).edge("side")) == pytest.approx(whole - 20.0, abs=1e-6)
    assert len(the(cut).edge("side").parts) == 2
    assert the(cut).edge("side").takeups == ()
    np.testing.assert_allclose(dart(cut, "bust").feet, one.feet, atol=1e-9)
    # and back: the edge runs along the cap, its sewn length is kept
    again = make(cut, "front.bust", form="lines")
    assert sewn_length(the(again).edge("side")) == pytest.approx(whole - 20.0, abs=1e-6)
    assert len(the(again).edge("side").parts) == 1
    twice = make(again, "front.bust", form="cut")
    assert shape(the(twice)) == shape(the(cut))
    np.testing.assert_allclose(controls(the(twice)), controls(the(cut)), atol=1e-6)


def test_a_dart_drawn_inside_an_edge_that_lies_aslant_has_equal_legs() -> None:
    pattern = without_takeups(plain_front())
    done = make(pattern, "front.side@60%", intake=20.0, point="front.bust-point", form="lines", name="bust")
    one, edge = dart(done, "bust"), the(done).edge("side")
    assert one.form == "lines"
    assert len(edge.parts) == 1
    assert length(one.legs[0]) == pytest.approx(length(one.legs[1]), abs=1e-6)
    assert intake(one) == pytest.approx(20.0, abs=1e-6)
    (takeup,) = edge.takeups
    assert takeup.end - takeup.start == pytest.approx(takeup.amount)


def test_a_dart_in_a_corner() -> None:
    pattern = without_takeups(plain_front())
    done = make(pattern, "front.shoulder/armhole", intake=12.0, point="front.bust-point", name="tip")
    one, piece = dart(done, "tip"), the(done)
    assert intake(one) == pytest.approx(12.0, abs=1e-6)
    legs = [float(np.hypot(*(foot - one.points[0]))) for foot in one.feet]
    assert legs[0] == pytest.approx(legs[1], abs=1e-6)
    # the shoulder falls toward the point's level, so the armhole is drawn on by what is told
    old = the(pattern)
    assert float(nearest(old.edge("shoulder").parts[0], one.feet[0])[1]) < 1e-6
    told = next(f.value for f in done.steps[-1].figures if f.label == "front.shoulder/armhole drawn on by")
    assert float(nearest(old.edge("armhole").parts[0], one.feet[1])[1]) == pytest.approx(told, abs=1e-6)
    assert 0 < told < 5
    square_on = make(pattern, "front.armhole/side", intake=12.0, point="front.bust-point", name="under")
    assert intake(dart(square_on, "under")) == pytest.approx(12.0, abs=1e-6)
    assert [len(e.parts) for e in piece.edges] == [1] * 6
    # it shortens neither edge when it is carried away: the corner closes
    gone = load("pivot")(target=("front.tip",), to="front.waist@1/2")(done)
    assert angle(dart(gone, "tip")) == pytest.approx(angle(one), abs=1e-9)
    with pytest.raises(FlatcutError):
        make(pattern, "front.centre/neck", intake=300.0, point="front.bust-point")


def test_notches_stay_on_the_cloth_when_a_dart_is_cut_into_their_edge() -> None:
    pattern = without_takeups(plain_front())
    piece = the(pattern)
    marks = tuple(
        Notch(uid=f"n{k}", edge="e-side", at=at)
        for k, at in enumerate(
            [Position(mode="start", value=20.0), Position(mode="end", value=30.0), Position(mode="fraction", value=0.9)]
        )
    )
    pattern = Pattern(pieces=(replace(piece, notches=marks),))
    done = the(make(pattern, "front.side@1/2", intake=15.0, point="front.bust-point"))
    for old, new in zip(marks, done.notches, strict=True):
        assert new.at.mode == old.at.mode
        before = on_edge(piece, piece.edge("side"), sewn_at(piece.edge("side"), old.at)).point
        after = on_edge(done, done.edge("side"), sewn_at(done.edge("side"), new.at)).point
        # the edge is redrawn a little toward the feet, the notch goes with it
        np.testing.assert_allclose(after, before, atol=1.0)


# --- from what is drawn


def drawn(pattern: Pattern, *paths: tuple[str, Curve, bool]) -> Pattern:
    things = tuple(DrawnPath(id=i, curves=(curve,), closed=(closed,)) for i, curve, closed in paths)
    return replace(pattern, drawn=things)


def test_two_drawn_lines_become_a_dart_and_the_step_names_places_only() -> None:
    base = without_takeups(plain_front())
    foot_1, foot_2 = spot(base, "front.side@10%").point, spot(base, "front.side@20%").point
    pattern = drawn(base, ("a", line(foot_1, (187, 261)), False), ("b", line((186.8, 260.4), foot_2), False))
    done = load("dart")(drawn=("id:a", "id:b"), name="bust")(pattern)
    one = dart(done, "bust")
    assert one.form == "lines"
    np.testing.assert_allclose(one.feet, [foot_1, foot_2], atol=0.01)
    np.testing.assert_allclose(one.points[0], (186, 260), atol=1e-9)  # the named point is within 2 mm
    assert done.drawn == ()
    said = done.steps[-1].line
    assert "id:" not in said
    assert "--point=front.bust-point" in said
    again = parse_line(said)
    assert again is not None
    np.testing.assert_allclose(dart(again(base), "bust").feet, one.feet, atol=1e-6)
    cut = load("dart")(drawn=("id:a", "id:b"), name="bust", form="cut")(pattern)
    np.testing.assert_allclose(dart(cut, "bust").feet, one.feet, atol=1e-6)
    assert len(the(cut).edge("side").parts) == 2


def test_a_drawn_diamond_becomes_a_double_pointed_dart() -> None:
    base = without_takeups(plain_front())
    diamond = polyline([(120, 240), (130, 340), (120, 420), (110, 340), (120, 240)])
    done = load("dart")(drawn=("id:d",))(drawn(base, ("d", diamond, True)))
    one = the(done).darts[0]
    assert one.double
    np.testing.assert_allclose(one.points, [(120, 240), (120, 420)], atol=1e-4)
    np.testing.assert_allclose(sorted(one.feet[:, 0]), [110, 130], atol=1e-4)
    again = parse_line(done.steps[-1].line)
    assert again is not None
    np.testing.assert_allclose(the(again(base)).darts[0].points, one.points, atol=1e-4)


def test_drawn_lines_that_make_no_dart() -> None:
    base = without_takeups(plain_front())
    with pytest.raises(InputError, match="make no dart"):
        load("dart")(drawn=("id:a",))(drawn(base, ("a", line((100, 200), (150, 300)), False)))
    with pytest.raises(UsageError, match="no drawn path"):
        load("dart")(drawn=("id:zz",))(base)


def v_in_outline(*, seam: bool = False) -> Pattern:
    """A square whose V was left as two edges, its legs 3 mm apart in length."""
    p = [np.array(xy, dtype=float) for xy in [(0, 0), (180, 0), (200, 200), (220, -3), (400, 0), (400, 400), (0, 400)]]
    names = ["top", "one", "two", "rest", "right", "bottom", "left"]
    edges = tuple(Edge(uid=n, name=n, parts=(line(p[k], p[(k + 1) % 7]),)) for k, n in enumerate(names))
    notches = (Notch(uid="n", edge="rest", at=Position(mode="start", value=60.0)),)
    piece = Piece(uid="p", name="front", edges=edges, notches=notches)
    run = (RunPart(piece="p", of="rest"),)
    seams = (Seam(uid="s", a=run, b=(RunPart(piece="p", of="left"),)),) if seam else ()
    return Pattern(pieces=(piece,), seams=seams)


def test_a_v_that_stands_in_the_outline_is_taken_as_a_dart() -> None:
    pattern = v_in_outline()
    done = make(pattern, "front.one/two", name="waist-dart")
    piece = the(done)
    assert [e.name for e in piece.edges] == ["top", "right", "bottom", "left"]
    assert [len(part) for part in piece.edge("top").parts] == [1, 1]
    np.testing.assert_allclose(controls(piece), controls(the(pattern)))
    assert piece.notches[0].edge == "top"
    at = on_edge(piece, piece.edge("top"), sewn_at(piece.edge("top"), piece.notches[0].at)).point
    old = the(pattern).edge("rest")
    np.testing.assert_allclose(at, point(old.parts[0], 60 / length(old.parts[0])), atol=1e-9)
    assert any("differ" in warning and "--equal" in warning for warning in done.steps[-1].warnings)
    even = make(done, "front.waist-dart", equal=True)
    assert not even.steps[-1].warnings
    # an edge that a seam names stays an edge: the dart stands in the corner then
    kept = the(make(v_in_outline(seam=True), "front.one/two"))
    assert [e.name for e in kept.edges] == ["top", "rest", "right", "bottom", "left"]
    with pytest.raises(UsageError, match="must point into"):
        make(square(), "front.right/bottom")


def test_widths_beside_a_v_stay_when_it_becomes_a_dart() -> None:
    """40 mm beside the V became 10 mm, without a word."""
    pattern = v_in_outline()
    piece = the(pattern)
    widths = {"top": Allowance(width=10.0), "rest": Allowance(width=40.0, end_width=20.0)}
    edges = [replace(e, allowance=widths.get(e.name)) for e in piece.edges]
    edges[0] = replace(edges[0], corner=Corner(kind="squared", through="top"))
    edges[3] = replace(edges[3], corner=Corner(kind="turned", through="rest"))
    done = make(replace(pattern, pieces=(replace(piece, edges=tuple(edges)),)), "front.one/two")
    top = the(done).edge("top")
    # 180 mm of the first edge, then those of the other
    assert [round(width_at(top, at), 6) for at in (0.0, 179.0, 181.0)] == [10.0, 10.0, pytest.approx(40, abs=0.2)]
    assert width_at(top, drawn_length(top)) == 20.0
    assert top.corner == Corner(kind="turned", through="top")
    assert "the corner front.top/one is gone, which was to be squared" in done.steps[-1].warnings


def test_marks_beside_a_dart_in_a_corner_stay_on_the_cloth() -> None:
    """A dart cut into a corner takes half its width off the edge after it: what is counted from there is no farther."""
    pattern = square()
    piece = the(pattern)
    notches = (
        Notch(uid="before", edge="r", at=Position(mode="end", value=150.0)),
        Notch(uid="after", edge="b", at=Position(mode="start", value=150.0)),
    )
    start = replace(pattern, pieces=(replace(piece, notches=notches),))

    def places(found: Pattern) -> list[np.ndarray]:
        one = the(found)
        hosts = [(one.edge_of(n.edge), n.at) for n in one.notches]
        return [on_edge(one, edge, sewn_at(edge, at)).point for edge, at in hosts]

    corner = "front.right/bottom"
    done = make(start, corner, intake="3cm", point=f"at({corner},front.left/top,0.4,0)")
    np.testing.assert_allclose(places(done), places(start), atol=1e-9)


# --- changing


def test_name_and_pressing() -> None:
    done = make(front(), "front.waist-dart", name="french", pressed="side")
    one = dart(done, "french")
    assert one.pressed == "e-side"
    assert one.uid == "d"
    assert dart(make(done, "front.french", pressed="open"), "french").pressed == "open"
    assert dart(make(done, "front.french", pressed="usual"), "french").pressed == ""
    for options, said in (
        ({}, "nothing to change"),
        ({"name": "side"}, "already"),
        ({"name": "1x"}, "cannot be"),
        ({"pressed": "waist"}, "itself"),
        ({"pressed": "nowhere"}, "no edge"),
        ({"intake": 3.0}, "draft a new dart"),
    ):
        with pytest.raises(UsageError, match=said):
            make(front(), "front.waist-dart", **options)


@pytest.mark.parametrize(
    ("target", "options", "said"),
    [
        (("front.side@1/2",), {"intake": 20.0}, "--point"),
        (("front.side@1/2",), {"point": "front.bust-point"}, "--intake"),
        (("front.bust-point",), {"intake": 20.0, "point": "front.bust-point"}, "no edge"),
        (("front.side@1/2",), {"intake": 480.0, "point": "front.bust-point"}, "is no dart"),
        (("front.side@1%",), {"intake": 30.0, "point": "front.bust-point"}, "too short"),
        (("front.side@1/2",), {"intake": 20.0, "point": "front.nowhere"}, "nowhere"),
        ((), {}, "wants a dart"),
    ],
)
def test_a_draft_that_cannot_be(target: tuple[str, ...], options: dict[str, object], said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        make(without_takeups(plain_front()), *target, **options)


# --- dividing


def test_divide_places_names_and_sums() -> None:
    pattern = front()
    done = load("divide")(
        target=("front.waist-dart",),
        to=("front.side@30%", "front.shoulder@1/2"),
        shares=(50, 30, 20),
        names=("bust", "top"),
    )(pattern)
    whole = angle(dart(pattern, "waist-dart"))
    for name, share in (("waist-dart", 0.5), ("bust", 0.3), ("top", 0.2)):
        assert angle(dart(done, name)) == pytest.approx(share * whole, abs=1e-9)
    assert {e.name: drawn_length(e) for e in the(done).edges} == pytest.approx(
        {e.name: drawn_length(e) for e in the(pattern).edges}
    )
    gone = load("divide")(target=("front.waist-dart",), to=("front.side@30%", "front.shoulder@1/2"), shares=(1, 1))(
        pattern
    )
    assert {the_host(gone, d.name) for d in the(gone).darts} == {"side", "shoulder"}
    for options, said in (
        ({}, "--to"),
        ({"to": ("front.side@1/2",), "shares": (1, 2, 3)}, "gives 3 parts"),
        ({"to": ("front.side@1/2",), "shares": (1, 0)}, "above 0"),
        ({"to": ("front.side@1/2",), "shares": (1, "x")}, "takes a number"),
        ({"to": ("front.centre@1/2",)}, "would be bent"),
    ):
        with pytest.raises(UsageError, match=said):
            load("divide")(target=("front.waist-dart",), **options)(pattern)


def the_host(pattern: Pattern, name: str) -> str:
    return the(pattern).edge_of(dart(pattern, name).host).name


# --- backing off


@settings(max_examples=20, deadline=None)
@given(by=st.floats(-60, 120))
def test_back_off_keeps_feet_intake_and_equal_legs(by: float) -> None:
    pattern = front()
    old, done = dart(pattern, "waist-dart"), load("back-off")(target=("front.waist-dart",), by=by)(pattern)
    new = dart(done, "waist-dart")
    np.testing.assert_allclose(new.feet, old.feet, atol=1e-12)
    legs = [float(np.hypot(*(foot - new.points[0]))) for foot in new.feet]
    assert legs[0] == pytest.approx(legs[1], abs=1e-6)
    tall = float(np.hypot(*(old.points[0] - old.feet.mean(axis=0)))) - by
    assert angle(new) == pytest.approx(math.degrees(2 * math.atan(intake(old) / 2 / tall)), abs=1e-9)
    back = load("back-off")(target=("front.waist-dart",), by=-by)(done)
    assert rigid_rest(controls(the(back)), controls(the(pattern))) < 1e-9


def test_back_off_to_a_place() -> None:
    pattern = load("back-off")(target=("front.waist-dart",), by=30.0)(front())
    done = load("back-off")(target=("front.waist-dart",), to="front.bust-point")(pattern)
    np.testing.assert_allclose(dart(done, "waist-dart").points[0], (186, 260), atol=1e-12)
    # a place a little beside the axis: the point goes there exactly, the feet move along their legs
    beside = load("point")(at="at(front.neck/shoulder,front.bust-point,0.99,0.005)", name="near")(pattern)
    done = load("back-off")(target=("front.waist-dart",), to="front.near")(beside)
    one, near = dart(done, "waist-dart"), next(p.at for p in the(done).points if p.name == "near")
    np.testing.assert_allclose(one.points[0], near, atol=1e-12)
    legs = [float(np.hypot(*(foot - near))) for foot in one.feet]
    assert legs[0] == pytest.approx(legs[1], abs=1e-9)
    assert any("feet moved" in f.label and f.value < 2 for f in done.steps[-1].figures)
    # one far beside it is done too, on every size, and how far the feet went is told
    far = load("back-off")(target=("front.waist-dart",), to="at(front.neck/shoulder,front.bust-point,0.5,0.2)")(pattern)
    assert any("beside the axis of front.waist-dart" in said for said in far.steps[-1].warnings)
    legs = [length(leg) for leg in dart(far, "waist-dart").legs]
    assert legs[0] == pytest.approx(legs[1], abs=1e-9)
    with pytest.raises(UsageError, match="by less"):
        load("back-off")(target=("front.waist-dart",), by=400.0)(pattern)
    with pytest.raises(GeometryError, match="leave the piece"):
        load("back-off")(target=("front.waist-dart",), by=-400.0)(pattern)
    with pytest.raises(UsageError, match="one of them"):
        load("back-off")(target=("front.waist-dart",))(pattern)


def test_back_off_of_a_double_pointed_dart() -> None:
    base = without_takeups(plain_front())
    diamond = polyline([(120, 240), (130, 340), (120, 420), (110, 340), (120, 240)])
    pattern = load("dart")(drawn=("id:d",), name="eye")(drawn(base, ("d", diamond, True)))
    done = load("back-off")(target=("front.eye.upper",), by=20.0)(pattern)
    one = dart(done, "eye")
    np.testing.assert_allclose(one.points, [(120, 260), (120, 420)], atol=1e-4)
    # 2 atan of half the width over the height
    wanted = [math.degrees(2 * math.atan(10 / tall)) for tall in (80.0, 80.0)]
    assert double_angles(one) == pytest.approx(wanted, abs=1e-3)
    with pytest.raises(UsageError, match=r"\.upper or"):
        load("back-off")(target=("front.eye",), by=20.0)(pattern)
    with pytest.raises(UsageError, match="two points"):
        load("pivot")(target=("front.eye",), to="front.side@1/2")(pattern)


# --- releasing


@pytest.mark.parametrize("kind", ["ease", "gathers", "tuck", "pleat"])
def test_release_takes_the_intake_up_and_the_edge_runs_on_fair(kind: str) -> None:
    pattern = load("divide")(target=("front.waist-dart",), to=("front.side@30%",), shares=(1, 5))(front())
    one = dart(pattern, "waist-dart")
    host = the(pattern).edge("waist")
    done = load("release")(target=("front.waist-dart",), to=kind)(pattern)
    piece, edge = the(done), the(done).edge("waist")
    assert [d.name for d in piece.darts] == ["waist-dart-2"]
    (takeup,) = edge.takeups
    full = kind in ("ease", "gathers")
    # the edge that is drawn over is longer or shorter than chord and intake: it takes up what keeps its sewn length
    assert (takeup.kind, takeup.amount) == (kind, pytest.approx(intake(one), abs=0.5))
    assert drawn_length(edge) - takeup.amount == pytest.approx(drawn_length(host), abs=1e-6)
    assert len(edge.parts) == 1
    # one fair curve: no kink at the feet that the edges did not have, and the sewn length stays within a tenth
    for foot in one.feet:
        u, away = nearest(edge.parts[0], foot)
        assert away < (2.1 if full else 1e-6)
        turn = tangent(edge.parts[0], u) @ tangent(edge.parts[0], u, before=True)
        assert turn == pytest.approx(1.0, abs=1e-6)
    assert sewn_length(edge) == pytest.approx(drawn_length(host), abs=0.1)
    if kind in ("tuck", "pleat"):
        assert takeup.end - takeup.start == pytest.approx(takeup.amount, abs=0.1)
        lines = [item for item in piece.lines if item.name.startswith("waist-dart-")]
        assert len(lines) == 2
        for item, leg in zip(lines, one.legs, strict=True):
            assert float(nearest(leg, item.curve.nodes)[1].max()) < 1e-9
        wanted = length(one.legs[0]) / 2 if kind == "tuck" else 40.0
        assert [length(item.curve) for item in lines] == pytest.approx([wanted] * 2)
    else:
        assert takeup.end - takeup.start > 1.4 * takeup.amount
        assert piece.lines == ()


def test_release_on_a_straight_edge_leaves_one_straight_line() -> None:
    # the edge of a square with a dart in it: foot to foot is the line itself, the intake is 4 cm (closed form)
    done = load("release")(target=("front.dart",), to="gathers", either_side=60.0)(square())
    edge = the(done).edge("top")
    assert [len(part) for part in edge.parts] == [1]
    assert drawn_length(edge) == pytest.approx(400.0)
    assert sewn_length(edge) == pytest.approx(360.0)
    takeup = edge.takeups[0]
    assert (takeup.start, takeup.end, takeup.amount) == pytest.approx((120.0, 280.0, 40.0))
    ratio = next(f.value for f in done.steps[-1].figures if "over finished" in f.label)
    assert ratio == pytest.approx(160 / 120)


def test_a_waist_dart_pivoted_to_the_hem_and_released_flares_it() -> None:
    # closed form, drawn on a square: closing a dart of 4 at 20 from its foot opens an edge 20 below the point
    # by 4 cm as well (20.099 of leg against 20), and the edge that was 40 long is 43.98 and hangs open
    moved = load("pivot")(target=("front.dart",), to="front.bottom@1/2", name="slit")(square())
    opened = intake(dart(moved, "slit"))
    assert opened == pytest.approx(2 * 200 * math.sin(math.atan(20 / 200)), abs=1e-6)
    done = load("release")(target=("front.slit",), to="flare")(moved)
    piece, hem = the(done), the(done).edge("bottom")
    assert (piece.darts, hem.takeups, piece.edge("top").takeups) == ((), (), ())
    # one even line, which is shorter than the legs of the trapezium: of a circle's sector of that angle, square to both
    # sides, whose radius is the same at both, the arc is (400 + opened / 2 ...) long; here within 1 mm
    angle = 2 * math.atan(20 / 200)
    ends = float(np.hypot(*(hem.end - hem.start)))
    assert drawn_length(hem) == pytest.approx(ends / (2 * math.sin(angle / 2)) * angle, abs=0.5)
    assert sewn_length(hem) == pytest.approx(drawn_length(hem))
    assert sewn_length(piece.edge("top")) == pytest.approx(360.0, abs=0.2)


def test_release_that_cannot_be() -> None:
    for options, said in (
        ({"to": "gathers", "either_side": 0.5}, "cannot be drawn up"),
        ({"to": "gathers", "either_side": 500.0}, "beside the mouth"),
        ({"to": "tuck", "stitched": 900.0}, "give less"),
        ({"to": "ease", "stitched": 30.0}, "take --either-side"),
        ({"to": "pleat", "either_side": 30.0}, "takes --stitched"),
        ({"to": "flare", "stitched": 30.0}, "hangs open"),
    ):
        with pytest.raises(UsageError, match=said):
            load("release")(target=("front.dart",), **options)(square())
    corner = load("pivot")(target=("front.dart",), to="front.right/bottom")(square())
    with pytest.raises(UsageError, match="stands in a corner"):
        load("release")(target=("front.dart",))(corner)


def test_every_step_replays_from_its_line() -> None:
    pattern = front()
    for words in (
        "divide front.waist-dart --to=front.side@30%,front.shoulder@1/2 --shares=2,1,1 --names=bust,top",
        "back-off front.top --by=20",
        "release front.top --to=tuck --stitched=50",
        "dart front.bust --pressed=open",
        "pivot front.bust --to=front.waist-dart",
    ):
        operation = parse_line(words)
        assert operation is not None
        pattern = operation(pattern)
    again = front()
    for step in pattern.steps:
        operation = parse_line(step.line)
        assert operation is not None
        again = operation(again)
    assert shape(the(again)) == shape(the(pattern))
    np.testing.assert_array_equal(controls(the(again)), controls(the(pattern)))

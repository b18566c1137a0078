"""Dart caps for every way of pressing (by reflection): the folded dart ends on the seam line.

The check does not use the program's own construction: it folds the paper. A fold is a mirror image across its line.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, LineString, Polygon

from flatcut.blocks.body import SIZES
from flatcut.checks.check import run_checks
from flatcut.darts.darting import closing_angle
from flatcut.errors import GeometryError, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, cubic, flatten, line, point, transform
from flatcut.geometry.nearest import nearest
from flatcut.marking.caps import AFTER, BEFORE, OPEN, cap
from flatcut.marking.cutline import cut_line
from flatcut.marking.derived import derive
from flatcut.marking.pressed import beside, capped, pressed_side
from flatcut.marking.rims import uncapped
from flatcut.operations.operation import load
from flatcut.pattern.values import Dart, Edge, Grain, Pattern, Piece
from flatcut.recipe import read_recipe, replay
from tests.dart_pieces import corner, dart, fan, front, the

METHODS = ["neck-and-across", "bust-only"]
NEAR = 0.01
"""mm (common practice, no source)."""


def sampled(curve: Curve) -> Array:
    return point(curve, np.linspace(0.0, len(curve), 40 * len(curve) + 1))


def away(curve: Curve, points: Array) -> float:
    return float(nearest(curve, points)[1].max())


def longer(curve: Curve, *, at_end: bool) -> Curve:
    """The edge run straight on at its far end, for a mouth that is wider than the edge is long."""
    far, before = (curve.end, curve.controls[-1, 2]) if at_end else (curve.start, curve.controls[0, 1])
    beyond = far + 500 * unit(far - before)
    return chain([curve, line(far, beyond)] if at_end else [line(beyond, far), curve])


def folded(one: Dart, first: Curve, second: Curve, side: str) -> list[tuple[Array, str]]:
    """Points of both halves once the dart is folded as pressed, each with the edge it then must lie on."""
    apex, (foot_1, foot_2) = one.points[0], one.feet
    leg_1, leg_2 = Affine.reflection(apex, foot_1), Affine.reflection(apex, foot_2)
    half = apex + unit(unit(foot_1 - apex) + unit(foot_2 - apex))
    axis = Affine.reflection(apex, half)
    if side == OPEN:
        return [(leg_1.apply(sampled(first)), BEFORE), (leg_2.apply(sampled(second)), AFTER)]
    if side == BEFORE:
        # leg 2 is laid on leg 1: the far half turns over the axis onto the near one, then both over leg 1
        return [(leg_1.apply(sampled(first)), BEFORE), (leg_1.apply(axis.apply(sampled(second))), BEFORE)]
    return [(leg_2.apply(sampled(second)), AFTER), (leg_2.apply(axis.apply(sampled(first))), AFTER)]


offsets = st.tuples(*[st.floats(-12, 12) for _ in range(4)])


@settings(max_examples=40, deadline=None)
@given(
    wide=st.floats(5, 60),
    tall=st.floats(80, 250),
    bends=offsets,
    slopes=st.tuples(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3)),
    side=st.sampled_from([BEFORE, AFTER, OPEN]),
)
def test_the_folded_cap_lies_on_the_seam_edge(
    wide: float, tall: float, bends: tuple[float, ...], slopes: tuple[float, float], side: str
) -> None:
    foot_1, foot_2, apex = np.array([-wide / 2, 0.0]), np.array([wide / 2, 0.0]), np.array([0.0, tall])
    one = Dart(uid="d", name="d", host="e", legs=(line(foot_1, apex), line(apex, foot_2)))
    (x1, y1), (x2, y2) = (-wide / 2 - 120.0, 120 * slopes[0]), (wide / 2 + 120.0, 120 * slopes[1])
    before = cubic((x1, y1), (x1 + 40, y1 + bends[0]), (-wide / 2 - 40, bends[1]), foot_1)
    after = cubic(foot_2, (wide / 2 + 40, bends[2]), (x2 - 40, y2 + bends[3]), (x2, y2))
    first, second = cap(one, before, after, toward=side)
    np.testing.assert_allclose(first.start, foot_1, atol=1e-9)
    np.testing.assert_allclose(second.end, foot_2, atol=1e-9)
    edges = {BEFORE: longer(before, at_end=False), AFTER: longer(after, at_end=True)}
    for points, edge in folded(one, first, second, side):
        assert away(edges[edge], points) <= NEAR
    # both halves end on the dart's axis
    assert abs(first.end[0]) <= NEAR
    assert abs(second.start[0]) <= NEAR


@pytest.mark.parametrize("side", [BEFORE, AFTER])
def test_mirror_across_one_leg_is_the_edge_turned_about_the_point(side: str) -> None:
    pattern = front()
    one = dart(pattern, "waist-dart")
    _, before, _, after = beside(the(pattern), one)
    first, second = cap(one, before, after, toward=side)
    apex = one.points[0]
    about = (float(apex[0]), float(apex[1]))
    turned = Affine.rotation(-closing_angle(one) if side == BEFORE else closing_angle(one), about)
    edge, far = (before, second) if side == BEFORE else (after, first)
    assert away(transform(edge, turned), sampled(far)) <= NEAR


@pytest.mark.parametrize("pressed", ["centre", "side", "open"])
def test_the_cut_line_folds_onto_itself(pressed: str) -> None:
    pattern = load("dart")(target=("front.waist-dart",), pressed=pressed)(front())
    pattern = load("allowance")(target=("front",), width=12.0)(pattern)
    piece, one = the(pattern), dart(pattern, "waist-dart")
    side = pressed_side(piece, one)
    cut = cut_line(piece)
    assert cut is not None
    apex, half = one.points[0], abs(closing_angle(one)) / 2
    around = sampled(cut.curve)
    rays = unit(around - apex)
    axis = unit(one.feet.mean(axis=0) - apex)
    inside = around[rays @ axis > math.cos(half) + 1e-6]
    assert len(inside) > 10
    leg = {BEFORE: Affine.reflection(apex, one.feet[0]), AFTER: Affine.reflection(apex, one.feet[1])}
    for at in inside:
        to = side
        image = at
        own = BEFORE if np.hypot(*(at - one.feet[0])) < np.hypot(*(at - one.feet[1])) else AFTER
        if side == OPEN:
            if abs(float(cross(axis, at - apex))) < 0.05:
                continue  # the step on the axis belongs to neither edge
            to = own
        elif own != side:
            image = Affine.reflection(apex, apex + axis).apply(at)
        # the cut line is an offset within 0.02 mm of the true one, on both sides
        assert away(cut.curve, leg[to].apply(image)[None]) <= 0.05


@pytest.mark.parametrize("pressed", ["right", "left", "open"])
def test_a_dart_in_a_hem_is_sewn_in_its_turn_as_the_mirror_image(pressed: str) -> None:
    """By arithmetic: 3 cm wide over 12, the dart is 2 cm wide 4 cm above a level hem, and so it is 4 cm below it: what
    is turned up is as long as what it lies on. The ticks of its feet lead there; beside it the hem is level."""
    low, mouth = 300.0, (85.0, 115.0)
    apex = np.array([100.0, low - 120])
    right, left = np.array([mouth[1], low]), np.array([mouth[0], low])
    hem = (line((200, low), right), line(left, (0, low)))
    edges = (
        Edge(uid="top", name="top", parts=(line((0, 0), (200, 0)),)),
        Edge(uid="right", name="right", parts=(line((200, 0), (200, low)),)),
        Edge(uid="hem", name="hem", parts=hem, use="hem"),
        Edge(uid="left", name="left", parts=(line((0, low), (0, 0)),)),
    )
    one = Dart(uid="d", name="dart", legs=(line(right, apex), line(apex, left)), host="hem", after=0)
    pattern = Pattern(pieces=(Piece(uid="p", name="front", edges=edges, darts=(one,)),))
    pattern = load("dart")(target=("front.dart",), pressed=pressed)(pattern)
    pattern = load("allowance")(target=("front.hem",), width=40.0)(pattern)
    pattern = load("allowance")(target=("front.left", "front.right", "front.top"), width=0.0)(pattern)
    pattern = load("notch")(target=("front.hem@85",))(pattern)
    found = derive(the(pattern))
    assert found.cut is not None
    for foot, inward in ((right, -1.0), (left, 1.0)):
        at = foot + np.array([inward * 40 * 15 / 120, 40.0])
        assert away(found.cut.curve, at[None]) <= NEAR
        (tick,) = [t for t in found.ticks if np.hypot(*(t.foot - foot)) < 0.01]
        assert np.hypot(*(tick.tip - at)) <= NEAR
    # level beside the dart; between its legs, folded over a mirrored leg, it lies on the level cut edge
    beside = sampled(found.cut.curve)
    aside = np.abs(beside[:, 0] - 100)
    flat = beside[(beside[:, 1] > low + 1) & (aside > 10.01) & (aside < 99.9)]
    assert np.abs(flat[:, 1] - (low + 40)).max() <= NEAR
    between = beside[(beside[:, 1] > low + 1) & (aside < 9.99)]
    assert len(between) > 3
    for point_between in between:
        foot, inward = (right, -1.0) if point_between[0] > 100 else (left, 1.0)
        image = Affine.reflection(foot, foot + np.array([inward * 15, 120])).apply(point_between)
        assert abs(image[1] - (low + 40)) <= 0.03


def test_pressed_open_over_uneven_edges_the_cut_line_steps_on_the_axis() -> None:
    pattern = load("pivot")(target=("front.waist-dart",), to="front.side@35%")(front())
    pattern = load("dart")(target=("front.waist-dart",), pressed="open")(pattern)
    pattern = load("allowance")(target=("front",), width=10.0)(pattern)
    piece, one = the(pattern), dart(pattern, "waist-dart")
    assert pressed_side(piece, one) == OPEN  # since that is stated
    found = derive(piece)
    assert found.cut is not None
    assert len(found.caps) == 1
    apex = one.points[0]
    axis = unit(unit(one.feet[0] - apex) + unit(one.feet[1] - apex))
    steps = [
        span
        for span, uid in zip(found.cut.curve.controls, found.cut.edges, strict=True)
        if uid == "" and np.abs(cross(axis, span[[0, 3]] - apex)).max() < 0.05
    ]
    assert len(steps) == 1
    assert np.hypot(*(steps[0][3] - steps[0][0])) > 1.0
    np.testing.assert_allclose(found.cut.curve.start, found.cut.curve.end, atol=0)


def test_a_dart_in_a_corner_has_each_sides_own_width() -> None:
    pattern = fan(100.0, 12.0, [120.0, 130.0, 150.0, 140.0, 120.0])
    pattern = load("pivot")(target=("front.dart",), to=corner(3))(pattern)
    pattern = load("allowance")(target=("front",), width=10.0)(pattern)
    pattern = load("allowance")(target=("front.s3",), width=25.0)(pattern)
    # how far the cut line lies from the cap at parts of it, by another library; the dart's axis is at a half
    for pressed, widths in (
        # pressed toward an edge the whole cap is cut with it; a step at the far foot is nearer than the width itself
        ("s2", {0.02: 10.0, 0.2: 10.0, 0.3: 10.0, 0.7: 10.0, 0.8: 10.0, 0.98: 10.0}),
        ("s3", {0.4: 25.0, 0.9: 25.0, 0.98: 25.0}),
        # pressed open each half has the width of its own side
        ("open", {0.02: 10.0, 0.1: 10.0, 0.3: 10.0}),
    ):
        done = load("dart")(target=("front.dart",), pressed=pressed)(pattern)
        found = derive(the(done))
        assert found.cut is not None
        ring = LinearRing(flatten(found.cut.curve, tolerance=0.005))
        cap = LineString(flatten(found.caps[0], tolerance=0.01))
        for share, width in widths.items():
            away = ring.distance(cap.interpolate(share, normalized=True))
            assert away == pytest.approx(width, abs=0.1), (pressed, share)
        if pressed == "open":
            assert ring.distance(cap.interpolate(0.98, normalized=True)) > 14


def test_usual_pressing() -> None:
    # waist and shoulder darts toward the centre; level ones, and those of side and armhole, down, however wide (common
    # practice, no source)
    pattern = load("dart")(target=("front.waist-dart",), name="dart")(front())
    narrow = load("divide")(
        target=("front.dart",),
        to=("front.side@1/3", "front.shoulder@1/2", "front.armhole@60%"),
        names=("bust", "shoulder-dart", "arm"),
    )(pattern)
    piece = the(narrow)
    assert pressed_side(piece, dart(narrow, "dart")) == AFTER  # the centre follows the waist
    assert pressed_side(piece, dart(narrow, "shoulder-dart")) == BEFORE  # the neck, and behind it the centre
    assert pressed_side(piece, dart(narrow, "bust")) == AFTER  # the side runs down
    assert pressed_side(piece, dart(narrow, "arm")) == AFTER  # the armhole runs down from the shoulder to the side
    assert pressed_side(the(pattern), dart(pattern, "dart")) == AFTER
    # laid on its side, with a grain line, it is the same
    turned = _laid(narrow)
    for name in ("dart", "shoulder-dart", "bust", "arm"):
        assert pressed_side(the(turned), dart(turned, name)) == pressed_side(piece, dart(narrow, name))


def _laid(pattern: Pattern) -> Pattern:
    from flatcut.pattern.moving import moved

    piece = replace(the(pattern), grain=Grain(start=np.array([100.0, 150.0]), end=np.array([100.0, 400.0])))
    edges = tuple(replace(e, use="hem") if e.name == "waist" else e for e in piece.edges)
    return replace(pattern, pieces=(moved(replace(piece, edges=edges), Affine.rotation(math.pi / 2)),))


def test_pressing_toward_its_own_edge_means_nothing() -> None:
    with pytest.raises(UsageError, match="opens on waist itself"):
        load("dart")(target=("front.waist-dart",), pressed="waist")(front())


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("method", METHODS)
def test_part_of_the_bust_dart_of_a_block_goes_into_the_armhole(method: str, size: str) -> None:
    block = f"block bodice --size={size} --method={method}"
    lines = [block, "allowance all", "divide front.bust-dart --to=front.armhole@60%"]
    piece = replay(read_recipe("\n".join(lines)), Pattern()).piece("front")
    line = cut_line(piece)
    assert line is not None
    assert Polygon(sampled(line.curve)).is_valid
    # the cut line comes no nearer to the edge than its allowance, at the darts either
    for part in piece.edge("armhole").parts:
        assert nearest(line.curve, sampled(part))[1].min() > 10 - 0.05


def test_a_dart_that_folded_has_no_end_costs_nothing_and_is_named() -> None:
    """It gets a straight end for now: the step is done, the cut line is there, and the check says what is open."""
    lines = ["block bodice --size=bust-90", "allowance all", "divide front.bust-dart --to=front.armhole@88%"]
    # folded up it would have no end; as is usual it is folded down
    lines.append("dart front.bust-dart-2 --pressed=front.shoulder")
    pattern = replay(read_recipe("\n".join(lines)), Pattern())
    piece = pattern.piece("front")
    (said,) = uncapped(piece)
    assert said.startswith("front.bust-dart-2 has a straight end for now: ")
    cut = cut_line(piece)
    assert cut is not None
    assert Polygon(sampled(cut.curve)).is_valid
    assert said in cut.warnings
    assert said in derive(piece).warnings
    assert [f.severity for f in run_checks(pattern) if f.text == said] == ["warning"]
    # folded the other way it has one
    other = load("dart")(target=("front.bust-dart-2",), pressed="front.side")(pattern)
    assert uncapped(other.piece("front")) == []


def peak(one: Dart, first: Curve) -> float:
    """mm from the dart's point to where its cap meets the axis."""
    return float(np.hypot(*(first.end - one.points[0])))


@pytest.mark.parametrize(("degrees", "distance"), [(80.0, 11.8320), (85.0, 11.9630), (95.0, 12.2297), (100.0, 12.3697)])
def test_the_peak_of_a_folded_dart_over_a_slanting_edge(degrees: float, distance: float) -> None:
    """d = L sin(b) / sin(b + t/2) from the law of sines in the triangle of point, foot and peak: L 12 cm, t 14.3615."""
    half = math.radians(14.3615 / 2)
    foot_1, foot_2 = np.array([-120 * math.sin(half), 0.0]), np.array([120 * math.sin(half), 0.0])
    apex = np.array([0.0, 120 * math.cos(half)])
    one = Dart(uid="d", name="d", host="e", legs=(line(foot_1, apex), line(apex, foot_2)))
    leg = math.atan2(*(apex - foot_1)[::-1])
    away = leg + math.radians(degrees)  # the edge leaves the foot at that angle to the leg, away from the mouth
    far = foot_1 + 90 * np.array([math.cos(away), math.sin(away)])
    first, second = cap(one, line(far, foot_1), line(foot_2, (200.0, 0.0)), toward=BEFORE)
    assert peak(one, first) == pytest.approx(10 * distance, abs=0.005)
    assert peak(one, Curve(second.controls[::-1, ::-1], second.straight[::-1])) == pytest.approx(
        10 * distance, abs=0.005
    )


def between_legs(one: Dart, points: Array) -> float:
    """The farthest of points that lie within the dart's angle, mm from its point."""
    apex = one.points[0]
    axis, half = unit(one.feet.mean(axis=0) - apex), abs(closing_angle(one)) / 2
    rays = unit(points - apex)
    inside = points[rays @ axis >= math.cos(half) - 1e-9]
    return float(np.hypot(*(inside - apex).T).max())


@settings(max_examples=25, deadline=None)
@given(
    to=st.sampled_from(["front.side", "front.shoulder", "front.armhole", "front.neck"]),
    at=st.floats(0.15, 0.85),
    share=st.floats(0.3, 1.0),
    by=st.floats(0, 30),
    turn=st.floats(0, 360),
)
def test_no_cap_sticks_out_farther_than_the_folded_dart_does(
    to: str, at: float, share: float, by: float, turn: float
) -> None:
    from flatcut.pattern.moving import moved

    grain = Grain(start=np.array([100.0, 150.0]), end=np.array([100.0, 400.0]))
    edges = tuple(replace(e, use="hem") if e.name == "waist" else e for e in the(front()).edges)
    start = replace(the(front()), grain=grain, edges=edges)
    start = Pattern(pieces=(moved(start, Affine.rotation(math.radians(turn), (100.0, 100.0))),))
    try:
        pattern = load("pivot")(target=("front.waist-dart",), to=f"{to}@{100 * at:.3f}%", share=share, name="new")(
            start
        )
        pattern = load("back-off")(target=("front.new",), by=by)(pattern)
    except (UsageError, GeometryError):
        reject()  # the way to the target leaves the piece
    piece = the(pattern)
    for one in piece.darts:
        side = pressed_side(piece, one)
        assert side in (BEFORE, AFTER)  # open only where that is stated
        try:
            first, second = capped(piece, one)
        except GeometryError:
            assert uncapped(piece)
            continue
        _, before, _, after = beside(piece, one)
        edges = {BEFORE: longer(before, at_end=False), AFTER: longer(after, at_end=True)}
        for points, edge in folded(one, first, second, side):
            # folded as it is pressed every part of the cap lies on the seam edge: nothing shows beyond it
            assert away(edges[edge], points) <= NEAR
        # and it reaches no farther than the seam edge does on the side that it is folded over
        leg = {BEFORE: one.feet[0], AFTER: one.feet[1]}[side]
        image = Affine.reflection(one.points[0], leg).apply(sampled(edges[side]))
        reach = max(between_legs(one, np.concatenate([image, one.feet])), float(np.hypot(*(leg - one.points[0]))))
        assert between_legs(one, np.concatenate([sampled(first), sampled(second)])) <= reach + 1.0


def beyond_mouth(one: Dart, halves: tuple[Curve, Curve]) -> float:
    """mm of the cap beyond the straight line from foot to foot, away from the dart's point."""
    chord = one.feet[1] - one.feet[0]
    out = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    out = out if float(out @ (one.feet[0] - one.points[0])) > 0 else -out
    return max(0.0, *(float(((sampled(half) - one.feet[0]) @ out).max()) for half in halves))


@lru_cache(maxsize=4)
def drafted(options: str) -> Pattern:
    return replay(read_recipe(f"block bodice {options}"), Pattern())


@settings(max_examples=30, deadline=None)
@given(
    block=st.sampled_from([f"--size={size} --method={m}" for size in ("bust-82", "bust-112") for m in METHODS]),
    to=st.sampled_from(["armhole", "side", "shoulder", "neck", "waist", "centre"]),
    at=st.floats(0.04, 0.96),
    share=st.sampled_from([0.5, 1.0]),
    by=st.floats(0, 30),
)
def test_no_dart_of_a_block_gets_a_horn(block: str, to: str, at: float, share: float, by: float) -> None:
    """As is usual a dart is folded so that its end stands out by no more than its mouth is wide, or half as far as the
    other way would have it."""
    start = replay(read_recipe(f"block bodice {block}"), Pattern())
    try:
        pattern = load("pivot")(target=("front.bust-dart",), to=f"front.{to}@{100 * at:.3f}%", share=share, name="new")(
            start
        )
        pattern = load("back-off")(target=("front.new",), by=by)(pattern)
    except (UsageError, GeometryError):
        reject()
    piece = pattern.piece("front")
    one = next(d for d in piece.darts if d.name == "new")
    assert one.pressed == ""
    side = pressed_side(piece, one)
    found = {}
    for toward in (BEFORE, AFTER):
        try:
            found[toward] = beyond_mouth(one, capped(piece, one, toward=toward))
        except GeometryError:
            found[toward] = math.inf
    mouth = float(np.hypot(*(one.feet[1] - one.feet[0])))
    other = found[AFTER if side == BEFORE else BEFORE]
    assert found[side] <= mouth + 0.1 or other >= mouth / 2 - 0.1
    if to == "armhole" and 0.3 < at < 0.9:
        # where darts end in an armhole they are folded down, and hardly stand out
        assert found[side] < 20


@pytest.mark.parametrize("size", ["bust-82", "bust-98", "bust-112"])
@pytest.mark.parametrize("pressed", ["", "front.neck", "front.shoulder"])
def test_a_dart_in_a_corner_is_cut_along_both_edges(size: str, pressed: str) -> None:
    """Folded, neck and shoulder make one corner: along the leg nothing goes beyond the cut line of the other edge."""
    lines = [f"block bodice --size={size}", "allowance front back --width=1cm"]
    lines += [f"dart front.bust-dart --pressed={pressed}"] if pressed else []
    piece = replay(read_recipe("\n".join(lines)), Pattern()).piece("front")
    one = next(d for d in piece.darts if d.name == "bust-dart")
    cut = cut_line(piece)
    assert cut is not None
    side = pressed_side(piece, one)
    _, before, _, after = beside(piece, one)
    foot, far, way = (
        (one.feet[1], one.feet[0], before.controls[-1, 2] - before.end)
        if side == AFTER
        else (one.feet[0], one.feet[1], after.controls[0, 1] - after.start)
    )
    out = unit(foot - one.points[0])
    sine = abs(float(cross(unit(way), unit(far - one.points[0]))))
    around = sampled(cut.curve)
    near = around[np.hypot(*(around - foot).T) < 40.0]
    # 1 cm of the other edge, over the angle in which the leg runs into it
    assert float(((near - foot) @ out).max()) <= 10 / sine + 0.5
    # and nowhere nearer to the seam line than the allowance, but for the corner that is cut off
    seam = sampled(after)
    assert nearest(cut.curve, seam[: len(seam) // 4])[1].min() > 10 - 0.05


def test_a_stated_direction_goes_along_where_it_means_something() -> None:
    pattern = load("dart")(target=("front.waist-dart",), pressed="side")(front())
    there = load("pivot")(target=("front.waist-dart",), to="front.waist@20%")(pattern)
    assert dart(there, "waist-dart").pressed == "e-side"
    assert any("folded toward side, as stated" in f.label for f in there.steps[-1].figures)
    away_from_it = load("pivot")(target=("front.waist-dart",), to="front.neck@50%")(pattern)
    assert dart(away_from_it, "waist-dart").pressed == ""
    (said,) = [w for w in away_from_it.steps[-1].warnings if "was to be pressed toward side" in w]
    assert "folded toward centre, as is usual" in said
    opened = load("dart")(target=("front.waist-dart",), pressed="open")(front())
    assert (
        dart(load("pivot")(target=("front.waist-dart",), to="front.side@50%")(opened), "waist-dart").pressed == "open"
    )


@pytest.mark.parametrize(
    ("to", "before", "most"),
    [("front.neck@1/2", 120.0, 5.0), ("front.armhole@1/2", 92.0, 5.0), ("front.side@7cm", 37.0, 25.0)],
)
def test_a_pivoted_bust_dart_has_no_horn(to: str, before: float, most: float) -> None:
    """The wide dart of a block, once pressed open in the flat, stood out by `before` mm beyond its mouth."""
    pattern = replay(read_recipe(f"block bodice --size=bust-90\npivot front.bust-dart --to={to}"), Pattern())
    figure = next(f for f in pattern.steps[-1].figures if "cap beyond its mouth" in f.label)
    assert figure.value < most < before
    # what stands out after a fold as usual is said, with the fold that leaves less
    assert any("folded the other way by" in w for w in pattern.steps[-1].warnings) == (figure.value > 20)


def test_the_cap_of_uneven_legs_keeps_its_shape() -> None:
    """Legs of 100 and 101.5 mm: the far half is drawn longer as a whole, no end of it is pulled aside."""
    apex = np.array([140.0, 280.0])
    one = Dart(uid="d", name="d", host="e", legs=(line((160.0, 380.0), apex), line(apex, (130.0, 380.0))))
    before, after = line((300.0, 380.0), (160.0, 380.0)), line((130.0, 380.0), (0.0, 380.0))
    for side in (BEFORE, AFTER):
        first, second = cap(one, before, after, toward=side)
        np.testing.assert_allclose(first.start, (160.0, 380.0), atol=1e-9)
        np.testing.assert_allclose(second.end, (130.0, 380.0), atol=1e-9)
        for half in (first, second):
            chord = half.end - half.start
            off = np.abs(cross(unit(chord), sampled(half) - half.start))
            assert off.max() < 1e-6  # straight edges give straight halves

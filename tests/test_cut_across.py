"""`cut` across darts: each part keeps its share; closed forms for what is kept, what is closed and what is gone."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import event, given, settings
from hypothesis import strategies as st

from flatcut.darts.darting import angle
from flatcut.errors import FlatcutError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import flatten, line, polyline
from flatcut.geometry.length import length
from flatcut.operations.operation import load
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Dart, Edge, Hole, Line, NamedPoint, Notch, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.test_cut import made, shape

WIDE, HIGH = 400.0, 500.0
E = np.array


def panel(apex: Array, mouth: float, half: float, *, lens: bool = False) -> Pattern:
    """400 × 500 mm, with a dart from the top edge (its mouth about x = `mouth`, twice `half` wide) to `apex`, or with a
    lens of that width about `apex`, 120 up and 90 down; a mate above the top edge, and marks on every corner of it."""
    c = [E([0.0, 0.0]), E([WIDE, 0.0]), E([WIDE, HIGH]), E([0.0, HIGH])]
    # legs are equal: the feet lie on a circle about the point, the second level with the first on the axis
    way = E([mouth, 0.0]) - apex
    tall = float(np.hypot(*way))
    axis, across = way / tall, E([-way[1], way[0]]) / tall
    feet = [apex + tall * axis - half * across, apex + tall * axis + half * across]
    feet.sort(key=lambda foot: float(foot[0]))
    if lens:
        upper, lower = apex - E([0.0, 120.0]), apex + E([0.0, 90.0])
        legs = polyline([upper, apex - E([half, 0]), lower]), polyline([lower, apex + E([half, 0]), upper])
        dart = Dart(uid="d", name="dart", legs=legs, form="lines")
        top: tuple = (line(c[0], c[1]),)
    else:
        dart = Dart(uid="d", name="dart", legs=(line(feet[0], apex), line(apex, feet[1])), host="top", after=0)
        top = (line(c[0], feet[0]), line(feet[1], c[1]))
    edges = (
        Edge(uid="top", name="top", parts=top),
        Edge(uid="right", name="right", parts=(line(c[1], c[2]),)),
        Edge(uid="bottom", name="bottom", parts=(line(c[2], c[3]),)),
        Edge(uid="left", name="left", parts=(line(c[3], c[0]),), use="centre"),
    )
    front = Piece(
        uid="p",
        name="front",
        edges=edges,
        darts=(dart,),
        points=(
            NamedPoint(uid="a", name="near-left", at=E([20.0, 20.0])),
            NamedPoint(uid="b", name="near-right", at=E([WIDE - 20, 20.0])),
        ),
        notches=(Notch(uid="n", edge="right", at=Position(mode="start", value=12.0)),),
        holes=(Hole(uid="h", dart="d", of="lower" if lens else "point", by=10.0),),
    )
    size = sum(map(length, top))
    ring = [(0.0, -900.0), (size, -900.0), (size, -800.0), (0.0, -800.0)]
    mate = tuple(Edge(uid=f"m{k}", name=f"m{k}", parts=(line(ring[k], ring[(k + 1) % 4]),)) for k in range(4))
    seam = Seam(uid="s", a=(RunPart(piece="p", of="top"),), b=(RunPart(piece="q", of="m2"),), reversed=True)
    return Pattern(pieces=(front, Piece(uid="q", name="yoke", edges=mate)), seams=(seam,))


def with_line(pattern: Pattern, *nodes: tuple[float, float], name: str = "x") -> Pattern:
    front = pattern.piece("front")
    mark = Line(uid=f"line-{name}", name=name, curve=polyline([E(node, dtype=float) for node in nodes]))
    return pattern.with_piece(_with(front, mark))


def _with(piece: Piece, mark: Line) -> Piece:
    return replace(piece, lines=(*piece.lines, mark))


def cut(pattern: Pattern, *target: str, **options: object) -> Pattern:
    return load("cut")(target=target, **options)(pattern)  # type: ignore[call-arg]


def test_the_part_at_the_mouth_is_closed_and_the_part_at_the_point_keeps_the_dart() -> None:
    """A level line 100 below the top across a dart 40 wide and 200 deep."""
    start = with_line(panel(E([200.0, 200.0]), 200.0, 20.0), (0, 100), (400, 100))
    after = cut(start, "front.x", "front.dart", names=("above.top", "below.bottom"))
    above, below = after.piece("above"), after.piece("below")
    # closed form: strips of 400 by 100 and by 400, less the trapezoid and the triangle of the dart
    assert shape(above).area == pytest.approx(400 * 100 - (40 + 20) / 2 * 100, abs=1e-3)
    assert shape(below).area == pytest.approx(400 * 400 - 20 * 100 / 2, abs=1e-3)
    assert [d.name for d in above.darts] == []
    dart = next(d for d in below.darts if d.name == "dart")
    assert below.edge_of(dart.host).name == "x"
    assert angle(dart) == pytest.approx(2 * math.degrees(math.atan(20 / 200)), abs=1e-9)
    assert np.allclose(dart.points[0], (200, 200))
    # both new edges are the line without what lay in the dart
    for piece in (above, below):
        assert sewn_length(piece.edge("x")) == pytest.approx(400 - 20, abs=1e-6)
    assert [h.dart for h in below.holes] == ["d"]
    # the part above was turned together about the point: the left half, with the centre, stays
    at = {p.name: p.at for p in above.points}
    assert np.allclose(at["near-left"], (20, 20))
    turn = Affine.rotation(-2 * math.atan(20 / 200), (200.0, 200.0))
    assert np.allclose(at["near-right"], turn.apply(E([380.0, 20.0])), atol=1e-9)
    assert np.allclose(at["dart-mouth"], (180, 0))
    assert len(above.edge("top").parts) == 1
    assert above.notches[0].at.value == 12.0


def test_a_line_aslant_over_a_dart_moves_where_the_dart_is_not_pressed_to() -> None:
    """From 90 to 130 down: the legs are met at other distances from the point, and the side it is pressed to stays."""
    start = with_line(panel(E([200.0, 200.0]), 200.0, 20.0), (0, 90), (400, 130))
    after = cut(start, "front.x", "front.dart")
    legs = [line((180, 0), (200, 200)), line((200, 200), (220, 0))]
    aslant = shapely.LineString([(0, 90), (400, 130)])
    met = [E(aslant.intersection(shapely.LineString(leg.nodes)).coords[0]) for leg in legs]
    away = [float(np.hypot(*(p - E([200, 200])))) for p in met]
    told = next(f.value for f in after.steps[-1].figures if "moved" in f.label)
    assert told == pytest.approx(abs(away[0] - away[1]), abs=1e-6)
    below = next(p for p in after.pieces if any(d.name == "dart" for d in p.darts))
    dart = below.darts[0]
    # pressed toward the centre, the left: that side of the line stays as it was drawn
    reach = [float(np.hypot(*(foot - dart.points[0]))) for foot in dart.feet]
    assert reach == pytest.approx([away[0]] * 2, abs=1e-6)
    assert any(np.allclose(foot, met[0], atol=1e-6) for foot in dart.feet)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_no_cloth_is_lost_and_no_angle_whatever_the_line(data: st.DataObject) -> None:
    """Any dart from the top, any two places of the sides: areas, lengths of seams, angles, marks."""
    draw = data.draw
    apex = E([draw(st.floats(120, 280)), draw(st.floats(150, 350))])
    mouth, half = draw(st.floats(120, 280)), draw(st.floats(3, 25))
    start = panel(apex, mouth, half)
    ends = draw(st.floats(40, 300)), draw(st.floats(40, 300))
    start = with_line(start, (0, ends[0]), (WIDE, ends[1]))
    front = start.piece("front")
    try:
        after = cut(start, "front.x", "front.dart", names=("above.top", "below.bottom"))
    except FlatcutError as error:
        event(f"refused: {len(str(error).splitlines())} sentence")
        return
    if any("does not come to" in said for said in after.steps[-1].warnings):
        event("not met")
        return
    above, below = after.piece("above"), after.piece("below")
    dart = front.darts[0]
    event("across")
    if ends[0] + (ends[1] - ends[0]) * apex[0] / WIDE == pytest.approx(apex[1], abs=0.1):
        assert below.darts == ()  # right over the point: nothing is left of it below
        return
    kept = below.darts[0]
    assert angle(kept) == pytest.approx(angle(dart), abs=0.001)
    moved = next(f.value for f in after.steps[-1].figures if "moved" in f.label)
    # a side that gave way took cloth from one part and gave it to the other: the sum is exact
    assert shape(above).area + shape(below).area == pytest.approx(shape(front).area, abs=0.01)
    assert shape(above).is_valid
    assert shape(below).is_valid
    assert sewn_length(above.edge("x")) == pytest.approx(sewn_length(below.edge("x")), abs=1e-6)
    for was, now in zip(start.seams, after.seams, strict=False):
        for a, b in ((was.a, now.a), (was.b, now.b)):
            assert run_sewn(after, b) == pytest.approx(run_sewn(start, a), abs=1e-6)
    # corners of the sheet are square still, on both parts, but for the one in which the dart's closing shows
    assert sum(drawn_length(p.edge("right")) for p in (above, below)) == pytest.approx(HIGH, abs=1e-6)
    assert sum(drawn_length(p.edge("left")) for p in (above, below)) == pytest.approx(HIGH, abs=1e-6)
    # the centre is straight and lies where it lay
    assert np.allclose([above.edge("left").start[0], above.edge("left").end[0]], 0.0, atol=1e-9)
    # both halves above are congruent with what they were: marks keep their distances to the corners of their half
    at = {p.name: p.at for p in above.points}
    assert np.hypot(*(at["near-left"] - above.edge("top").start)) == pytest.approx(20 * math.sqrt(2), abs=1e-6)
    assert np.hypot(*(at["near-right"] - above.edge("top").end)) == pytest.approx(20 * math.sqrt(2), abs=1e-6)
    # folded, the line is one: the feet of what is left of the dart lie equally far from its point
    reach = [float(np.hypot(*(foot - kept.points[0]))) for foot in kept.feet]
    assert reach[0] == pytest.approx(reach[1], abs=1e-6)
    assert moved >= 0


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_of_a_dart_with_two_points_each_part_has_a_half(data: st.DataObject) -> None:
    draw = data.draw
    apex, half = E([draw(st.floats(150, 250)), draw(st.floats(200, 300))]), draw(st.floats(4, 30))
    start = panel(apex, 0.0, half, lens=True)
    ends = [float(apex[1]) + draw(st.floats(-70, 50)) for _ in range(2)]
    start = with_line(start, (0, ends[0]), (WIDE, ends[1]))
    lower = draw(st.booleans())
    closed = ("front.dart.lower",) if lower else ()
    front = start.piece("front")
    after = cut(start, "front.x", "front.dart", names=("above.top", "below.bottom"), closed=closed)
    above, below = after.piece("above"), after.piece("below")
    lens = shapely.Polygon(np.concatenate([flatten(leg, tolerance=1e-4) for leg in front.darts[0].legs]))
    assert shape(above).area + shape(below).area == pytest.approx(WIDE * HIGH - lens.area, abs=0.01)
    # both halves answer to the names that the points had
    assert np.allclose(spot(after, "above.dart.upper").point, spot(start, "front.dart.upper").point)
    assert np.allclose(spot(after, "below.dart.lower").point, spot(start, "front.dart.lower").point)
    with pytest.raises(FlatcutError, match="no place of this dart"):
        spot(after, "above.dart.lower")
    # counted from the stated point the cut comes equally far along both legs; the legs of each half are equal then
    ruled = (below if lower else above).darts[0]
    legs = [length(leg) for leg in ruled.legs]
    assert legs[0] == pytest.approx(legs[1], abs=1e-6)
    other = (above if lower else below).darts[0]
    assert sum(map(length, (*ruled.legs, *other.legs))) == pytest.approx(
        sum(map(length, front.darts[0].legs)), abs=1e-6
    )
    assert sewn_length(above.edge("x")) == pytest.approx(sewn_length(below.edge("x")), abs=1e-6)
    # the drill hole of the lower point goes with the half that has it
    assert [h.of for h in below.holes] == ["point"]
    assert np.allclose(below.holes[0].place(below), front.holes[0].place(front), atol=12)


def test_two_lines_across_one_dart_make_three_parts() -> None:
    start = with_line(panel(E([200.0, 300.0]), 200.0, 30.0), (0, 80), (400, 80), name="x")
    start = with_line(start, (0, 160), (400, 160), name="y")
    after = cut(start, "front.x", "front.y", "front.dart", names=("a.top", "b", "c.bottom"))
    assert [d.name for d in after.piece("c").darts] == ["dart"]
    assert [len(after.piece(name).darts) for name in "ab"] == [0, 0]
    total = sum(shape(after.piece(name)).area for name in "abc")
    assert total == pytest.approx(shape(start.piece("front")).area, abs=1e-3)
    # the middle part is closed too, and its two new edges are as long as their mates
    for name, one, other in (("x", "a", "b"), ("y", "b", "c")):
        assert sewn_length(after.piece(one).edge(name)) == pytest.approx(
            sewn_length(after.piece(other).edge(name)), abs=1e-6
        )


@pytest.mark.parametrize(
    ("line_of", "target", "said"),
    [
        (((0, 100), (400, 100)), ("front.x",), "meets dart front.dart, which is not named"),
        (((0, 100), (200, 100)), ("front.x", "front.dart"), "comes to one leg of dart front.dart and neither to its"),
        (((0, 0.0), (100, 250), (400, 0.0)), ("front.x",), "no area|leaves the piece|lie over|not named"),
    ],
)
def test_what_is_refused(line_of: tuple, target: tuple[str, ...], said: str) -> None:
    start = with_line(panel(E([200.0, 200.0]), 200.0, 20.0), *line_of)
    with pytest.raises(FlatcutError, match=said) as caught:
        cut(start, *target)
    assert "\n" not in str(caught.value)


def test_a_named_dart_that_the_line_does_not_come_to_is_said() -> None:
    """As in a small size, where a yoke line runs above the dart's point."""
    start = with_line(panel(E([200.0, 200.0]), 200.0, 20.0), (0, 300), (400, 300))
    after = cut(start, "front.x", "front.dart")
    assert "the cut does not come to dart front.dart; it stays as it is" in after.steps[-1].warnings


def test_right_over_its_point_a_dart_is_closed_above_and_gone_below() -> None:
    """A yoke line on the dart's point: both parts have named points for it, and the edges stay equal."""
    start = with_line(panel(E([200.0, 200.0]), 200.0, 20.0), (0, 200), (200, 200), (400, 200))
    after = cut(start, "front.x", "front.dart", names=("above.top", "below.bottom"))
    above, below = after.piece("above"), after.piece("below")
    assert above.darts == below.darts == ()
    assert shape(above).area == pytest.approx(400 * 200 - 40 * 200 / 2, abs=1e-3)
    assert shape(below).area == pytest.approx(400 * 300, abs=1e-3)
    assert sewn_length(above.edge("x")) == pytest.approx(400, abs=1e-6)
    assert len(above.edge("x").parts) == len(below.edge("x").parts) == 1
    assert {"dart-point", "dart-mouth"} <= {p.name for p in above.points}
    assert "dart-point" in {p.name for p in below.points}


def test_legs_that_do_not_fold_on_each_other_are_refused() -> None:
    start = panel(E([200.0, 200.0]), 200.0, 20.0)
    front = start.piece("front")
    dart = front.darts[0]
    bent = replace(dart, legs=(polyline([dart.feet[0], (196, 100), (200, 200)]), dart.legs[1]))
    start = with_line(start.with_piece(replace(front, darts=(bent,))), (0, 120), (400, 120))
    with pytest.raises(FlatcutError, match=r"the legs of front\.dart lie [\d.]+ mm apart when it is folded"):
        cut(start, "front.x", "front.dart")
    # told so it is closed all the same, foot on foot, and the straight side of the edge stays
    after = cut(start, "front.x", "front.dart", within=10.0, names=("above.top", "below.bottom"))
    top = after.piece("above").edge("top")
    assert len(top.parts) == 1
    assert np.allclose(top.start, (0, 0))
    assert after.piece("above").darts == ()


def test_the_line_may_be_in_parts_that_end_on_the_legs() -> None:
    start = panel(E([200.0, 200.0]), 200.0, 20.0)
    start = with_line(start, (0, 100), (190, 100), name="x")
    start = with_line(start, (210, 100), (400, 100), name="x-2")
    after = cut(start, "front.x", "front.dart", names=("above.top", "below.bottom"))
    assert shape(after.piece("above")).area == pytest.approx(37000, abs=1e-3)
    assert [item.name for p in after.pieces for item in p.lines] == []


def test_a_yoke_in_every_size_has_the_rest_of_the_dart_below_it() -> None:
    """Blocks of ten sizes: names are the same wherever the line comes to the dart, and areas are exact."""
    for size in ("bust-86", "bust-90", "bust-94"):
        start = made(
            f"block torso --size={size}\nline --start=back.centre/neck@6cm --square=back.centre --until=back.armhole"
            " --closed=back.shoulder-dart --name=yoke\n"
        )
        after = made("cut back.yoke back.shoulder-dart --names=yoke.neck,back.side", start)
        assert [d.name for d in after.piece("back").darts] == ["shoulder-dart", "waist-dart"]
        assert shape(after.piece("yoke")).area + shape(after.piece("back")).area == pytest.approx(
            shape(start.piece("back")).area, abs=0.5
        )

"""`notch`: places, mates, shapes, darts; what stays under motion and after ease."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from flatcut.errors import UsageError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, cubic, derivative, line
from flatcut.geometry.length import length, place_at
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.marking.ticks import notch_shape, ticks
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.spots import on_edge
from flatcut.pattern.values import Dart, Edge, Pattern, Piece, TakeUp
from flatcut.pattern.walking import sewn_at, sewn_length


def arc(radius: float, degrees: float, start: tuple[float, float]) -> Curve:
    """An arc from `start`, bulging to the right, as one cubic (error below 1e-4 of the radius up to 40°)."""
    a = math.radians(degrees)
    k = 4 / 3 * math.tan(a / 4) * radius
    p0 = np.array(start)
    centre = p0 - [radius, 0]
    p3 = centre + radius * np.array([math.cos(a), math.sin(a)])
    return cubic(p0, p0 + np.array([0, k]), p3 + k * np.array([math.sin(a), -math.cos(a)]), p3)


def panel(name: str, side: Curve, *, left: bool = False) -> Piece:
    """top, side, bottom, back, clockwise; the side on the right, or on the left of a panel that lies beyond it."""
    if left:
        far = side.start[0] + 300
        curves = [
            line(side.start, (far, side.start[1])),
            line((far, side.start[1]), (far, side.end[1])),
            line((far, side.end[1]), side.end),
            Curve(side.controls[::-1, ::-1], side.straight[::-1]),
        ]
        names = ["top", "back", "bottom", "side"]
    else:
        far = min(side.start[0], side.end[0]) - 300
        curves = [
            line((far, side.start[1]), side.start),
            side,
            line(side.end, (far, side.end[1])),
            line((far, side.end[1]), (far, side.start[1])),
        ]
        names = ["top", "side", "bottom", "back"]
    edges = tuple(Edge(uid=f"{name}-{n}", name=n, parts=(c,)) for n, c in zip(names, curves, strict=True))
    return Piece(uid=name, name=name, edges=edges)


def pair(ease: float = 0.0) -> Pattern:
    """A hollow and a round side sewn to each other, the second `ease` mm longer."""
    front = panel("front", cubic((300, 0), (320, 100), (290, 200), (310, 400)))
    total = length(front.edge("side").parts[0])
    back = panel("back", line((700, 0), (700, total + ease)), left=True)
    made = Pattern(pieces=(front, back))
    made = load("seam")(target=("front.side", "back.side"), ease=ease)(made)
    return load("allowance")(target=("all",), width=10)(made)


def notch(made: Pattern, *target: str, **fields) -> Pattern:
    return load("notch")(target=target, **fields)(made)


def where(made: Pattern, piece: str, edge: str) -> list[float]:
    """Sewn mm from the upper end of a side."""
    found = made.piece(piece)
    side = found.edge(edge)
    at = [sewn_at(side, n.at) for n in found.notches if n.edge == side.uid]
    return sorted(sewn_length(side) - a if piece == "back" else a for a in at)


def test_a_mate_lies_at_the_same_sewn_distance():
    """The walk test: an arc of radius 300 over 40° against a straight 209.440 (closed form)."""
    round_side = arc(300, 40, (300, 0))
    straight = panel("back", line((700, 0), (700, 209.440)), left=True)
    made = Pattern(pieces=(panel("front", round_side), straight))
    made = load("seam")(target=("front.side", "back.side"))(made)
    made = notch(made, "front.side@12cm", mates=True)
    assert where(made, "front", "side") == pytest.approx([120.0])
    assert where(made, "back", "side") == pytest.approx([120.0], abs=0.1)
    spot = on_edge(made.pieces[0], made.pieces[0].edge("side"), 120.0)
    angle = 120.0 / 300
    assert spot.point == pytest.approx([300 * math.cos(angle), 300 * math.sin(angle)], abs=0.02)


@pytest.mark.parametrize("place", ["front.side@12cm", "front.side@-5cm", "front.side@1/4", "front.side/top@3cm"])
def test_mates_agree_from_the_nearer_end(place):
    """Notch mates equal within 1 mm (common practice, no source); here with scipy's own arc length."""
    made = notch(pair(ease=6), place, mates=True)
    side = made.piece("front").edge("side").parts[0]
    [here], [there] = where(made, "front", "side"), where(made, "back", "side")
    u = place_at(side, here)
    measured, _ = quad(lambda t: float(np.hypot(*derivative(side, t))), 0, u)
    total, _ = quad(lambda t: float(np.hypot(*derivative(side, t))), 0, 1)
    long = sewn_length(made.piece("back").edge("side"))
    same = measured - there if measured < total / 2 else (total - measured) - (long - there)
    assert abs(same) < 1e-4


def test_ease_on_a_stretch_is_between_the_notches():
    """Notches outside a recorded ease stretch are equal; inside they share the ease linearly."""
    made = pair(ease=8)
    back = made.piece("back")
    side = back.edge("side")
    eased = replace(side, takeups=(TakeUp(uid="t", kind="ease", start=100, end=200, amount=8.0),))
    edges = tuple(eased if e.uid == side.uid else e for e in back.edges)
    made = replace(made, pieces=(made.pieces[0], replace(back, edges=edges)))
    total = sewn_length(made.piece("front").edge("side"))
    for at in (50, 150, 250, 350):
        made = notch(made, f"front.side@{at}mm", mates=True)
    # the eased back is walked from its end: it lies 100 to 200 mm from its start, which is the lower end
    assert where(made, "back", "side") == pytest.approx([50, 150, 250, 350], abs=1e-3)
    feet = [ticks(made.piece("back"), n, None)[0].foot[1] for n in made.piece("back").notches]
    below = sorted(total + 8 - y for y in feet)  # mm drawn from the lower end
    lower = sorted(total - at for at in (50, 150, 250, 350))
    shares = [0 if s <= 100 else min((s - 100) / 92, 1) * 8 for s in lower]
    assert below == pytest.approx([s + share for s, share in zip(lower, shares, strict=True)], abs=1e-3)


def darted(form: str = "cut") -> Pattern:
    """A front with a waist dart in its bottom edge, 30 wide, its point 120 up, one leg curved out of square."""
    legs = (line((160, 400), (140, 280)), line((140, 280), (130, 400)))
    piece = panel("front", line((300, 0), (300, 400)))
    bottom = piece.edge("bottom")
    if form == "cut":
        parts: tuple[Curve, ...] = (line((300, 400), (160, 400)), line((130, 400), (0, 400)))
        edge = replace(bottom, parts=parts)
        dart = Dart(uid="d", name="waist-dart", legs=legs, host=bottom.uid)
    else:
        gone = TakeUp(uid="d", kind="dart", start=140, end=170, amount=30)
        edge = replace(bottom, takeups=(gone,))
        dart = Dart(uid="d", name="waist-dart", legs=legs, host=bottom.uid, form="lines")
    edges = tuple(edge if e.uid == bottom.uid else e for e in piece.edges)
    made = Pattern(pieces=(replace(piece, edges=edges, darts=(dart,)),))
    return load("allowance")(target=("all",), width=15)(made)


@pytest.mark.parametrize("form", ["cut", "lines"])
def test_a_dart_gets_a_notch_at_each_foot_along_its_legs(form):
    made = notch(darted(form), "front.waist-dart")
    piece = made.pieces[0]
    assert len(piece.notches) == 1
    found = ticks(piece, piece.notches[0], cut_line(piece).curve)
    assert sorted(t.foot[0] for t in found) == pytest.approx([130, 160], abs=1e-6)
    for tick in found:
        assert tick.straight
        way = (tick.tip - tick.foot) / np.linalg.norm(tick.tip - tick.foot)
        leg = tick.foot - np.array([140, 280])
        assert way @ leg / np.linalg.norm(leg) == pytest.approx(1, abs=1e-9)


def test_the_ticks_of_a_folded_dart_lie_on_each_other():
    made = notch(darted(), "front.waist-dart")
    piece = made.pieces[0]
    one, two = ticks(piece, piece.notches[0], cut_line(piece).curve)
    apex = np.array([140, 280])
    a, b = (np.arctan2(*(t.foot - apex)[::-1]) for t in (one, two))
    fold = Affine.rotation(float(a - b), (140.0, 280.0))
    from_apex = [t.tip - apex for t in (one, two)]
    turned = fold.apply(two.tip) - apex
    assert abs(from_apex[0] @ np.array([-turned[1], turned[0]])) / np.linalg.norm(turned) < 1e-9


@pytest.mark.parametrize("kind", ["slit", "v", "castle", "u", "t"])
@pytest.mark.parametrize("into", ["in", "out"])
def test_shapes_are_drawn_to_scale_at_the_cut_line(kind, into):
    made = notch(pair(), "front.side@1/2", kind=kind, depth=4, into=into)
    piece = made.piece("front")
    cut = cut_line(piece).curve
    [tick] = ticks(piece, piece.notches[0], cut)
    assert np.linalg.norm(tick.tip - tick.foot) == pytest.approx(10, abs=0.05)
    assert nearest(cut, tick.tip)[1] < 1e-4
    out = (tick.tip - tick.foot) / np.linalg.norm(tick.tip - tick.foot)
    nodes = np.concatenate([c.nodes for c in tick.curves])
    reach = (nodes - tick.foot) @ out
    if into == "out":
        assert reach.max() == pytest.approx(14, abs=0.05)
    else:
        assert reach.max() == pytest.approx(10, abs=0.05)
        deep = np.concatenate([c.nodes for c in tick.shape]) if tick.shape else tick.foot[None]
        if kind != "slit":
            assert ((deep - tick.foot) @ out).min() == pytest.approx(6, abs=0.05)
    assert reach.min() == pytest.approx(0, abs=1e-9)
    shape = notch_shape(kind, np.zeros(2), np.array([0.0, 1.0]), 4.0)
    if kind in ("v", "castle", "u"):
        assert shape[0].start == pytest.approx([-2, 0])
        assert shape[0].end == pytest.approx([2, 0])


def test_a_double_notch_is_a_row_about_its_place():
    made = notch(pair(), "front.side@1/2", count="double", apart=10)
    piece = made.piece("front")
    found = ticks(piece, piece.notches[0], None)
    total = sewn_length(piece.edge("side"))
    want = [on_edge(piece, piece.edge("side"), total / 2 + d).point for d in (-5, 5)]
    assert np.allclose([t.foot for t in found], want, atol=1e-6)
    near_end = notch(pair(), "front.side@1mm", count="triple", apart=10).piece("front")
    feet = [t.foot for t in ticks(near_end, near_end.notches[0], None)]
    assert feet[0] == pytest.approx(near_end.edge("side").start)


def test_depth_is_at_most_half_the_allowance_unless_said():
    made = load("allowance")(target=("front.side",), width=4)(pair())
    assert notch(made, "front.side@1/2").piece("front").notches[0].depth == 2
    told = notch(made, "front.side@1/2", depth=3)
    assert told.piece("front").notches[0].depth == 3
    assert "half its allowance" in told.steps[-1].warnings[0]


def test_every_so_many_millimetres_and_away_again():
    made = notch(pair(), "back.top", every=70)
    assert [n.at.value for n in made.piece("back").notches] == [70, 140, 210, 280]
    gone = notch(made, "back.top@14cm", remove=True)
    assert [n.at.value for n in gone.piece("back").notches] == [70, 210, 280]
    assert notch(made, "back.top", remove=True).piece("back").notches == ()


def test_a_notch_set_again_is_replaced_and_mates_go_together():
    made = notch(pair(), "front.side@12cm", mates=True)
    again = notch(made, "front.side@12cm", kind="v", mates=True)
    assert [len(p.notches) for p in again.pieces] == [1, 1]
    assert {n.kind for p in again.pieces for n in p.notches} == {"v"}
    assert [len(p.notches) for p in notch(again, "front.side@12cm", mates=True, remove=True).pieces] == [0, 0]


def test_a_notch_beside_an_edge_without_allowance_reaches_its_own_cut_line():
    """At the end of an edge its way out runs along the next edge's cut line."""
    made = load("allowance")(target=("front.back",), width=0)(pair())
    piece = notch(made, "front.top@0").piece("front")
    [tick] = ticks(piece, piece.notches[0], cut_line(piece).curve)
    assert tick.straight
    assert tick.tip - tick.foot == pytest.approx([0, -10], abs=1e-6)


def test_kept_in_the_document():
    made = notch(pair(), "front.side@12cm", count="double", kind="castle", into="out", depth=4, mates=True)
    drawing, _, _ = new_drawing()
    assert differences(made, read(write(drawing, made))[1], tolerance=1e-6) == []


@pytest.mark.parametrize(
    ("target", "fields", "said"),
    [
        ("front.side", {}, "whole edge"),
        ("front.side@1/2", {"every": 50}, "name an edge"),
        ("front.side@9m", {}, "beyond edge side"),
        ("front.side@1/2", {"remove": True}, "it has none"),
        ("front.sied@1/2", {}, "did you mean 'side'"),
        ("at(front.side/top,front.side/bottom,0.5,0.1)", {}, "on an edge"),
        ("front.side@1/2", {"depth": 40}, "between 0.5 and 12"),
    ],
)
def test_bad_input_gets_one_sentence(target, fields, said):
    with pytest.raises(UsageError, match=said):
        notch(pair(), target, **fields)


def test_a_seam_that_was_not_stated_is_said():
    assert "sewn to nothing" in notch(pair(), "front.top@1/2", mates=True).steps[-1].warnings[0]


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0.02, 0.98),
    st.floats(-math.pi, math.pi),
    st.floats(-500, 500),
    st.booleans(),
    st.integers(1, 3),
)
def test_notches_stay_on_their_sewn_place_under_motion(share, turn, shift, mirrored, count):
    made = notch(pair(), f"front.side@{share * 100:.6f}%", count=["single", "double", "triple"][count - 1], mates=True)
    motion = Affine.translation(shift, -shift) @ Affine.rotation(turn)
    if mirrored:
        motion = motion @ Affine.scaling(-1, 1)
    for piece in made.pieces:
        image = moved(piece, motion)
        before, after = ([t for n in p.notches for t in ticks(p, n, cut_line(p).curve)] for p in (piece, image))
        assert len(before) == len(after) == count
        for one, two in zip(before, after, strict=True):
            assert motion.apply(one.foot) == pytest.approx(two.foot, abs=1e-6)
            assert motion.apply(one.tip) == pytest.approx(two.tip, abs=2e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(1, 399), st.floats(-5, 20))
def test_mates_are_mates_of_each_other(at, ease):
    made = pair(ease=ease)
    made = notch(made, f"front.side@{at:.4f}mm", mates=True)
    back = made.piece("back")
    place = sewn_at(back.edge("side"), back.notches[0].at)
    again = notch(made, f"back.side@{place:.6f}mm", mates=True)
    if abs(at - sewn_length(made.piece("front").edge("side")) / 2) > abs(ease) + 1:
        assert [len(p.notches) for p in again.pieces] == [1, 1]


def test_a_seam_whose_notches_meet_the_other_way_round_says_so() -> None:
    # both panels drawn with the side on the right, so that one is the mirror image of how it lies at the seam
    front, back = (panel(name, line((300, 0), (300, 400))) for name in ("front", "back"))
    for more in ((), ("front.side@330",)):
        both = load("notch")(target=("front.side@120", "back.side@120", *more))(Pattern(pieces=(front, back)))
        asked = load("seam")(target=("front.side", "back.side"))(both)
        (said,) = asked.steps[-1].warnings
        assert "walked from its start" in said
        assert said.endswith("--reversed=false")
        told = load("seam")(target=("front.side", "back.side"), reversed="false")(both)
        assert told.steps[-1].warnings == ()
    # one that meets this way, or one in the middle, tells nothing of the kind; the ends of the edges do
    for places in (("front.side@120", "back.side@280"), ("front.side@200", "back.side@200"), ("front.side@120",)):
        both = load("notch")(target=places)(Pattern(pieces=(front, back)))
        (said,) = load("seam")(target=("front.side", "back.side"))(both).steps[-1].warnings
        assert said.startswith("front.side and back.side are sewn so that front.top runs on into back.bottom")

"""`cut` into more than two parts, over several pieces in one press, and off parts that are not used."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from flatcut.darts.dart_forms import as_cut
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import flatten, line
from flatcut.operations.operation import load
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Line, Pattern
from flatcut.pattern.walking import sewn_length
from tests.test_cut import made, shape, told
from tests.test_reshape_chains import furnished, place

PANELS = """block torso --front-darts=1 --back-darts=1 --size={}
pivot front.bust-dart --to=front.armhole/side@6cm --hold=front.centre
back-off front.waist-dart.upper --to=front.bust-point
line --start=front.waist-dart.lower --parallel=grain --until=front.hip --name=panel
cut front.bust-dart front.waist-dart front.panel --edge=panel --names=front-centre.centre,front-side.side
arrange --against=front-centre.panel,front-side.panel
line --start=front-centre.centre/waist-line@6cm:neck --square=front-centre.centre --until=panel --name=style
line --start=mate(front-centre.panel/style) --end=front-side.side/waist-line@4cm:armhole --name=style
"""
FOUR = "upper-centre.neck,low-centre.hip,upper-side.armhole,low-side.hip"


def cut(pattern: Pattern, *target: str, **options: object) -> Pattern:
    return load("cut")(target=target, **options)(pattern)  # type: ignore[call-arg]


@pytest.mark.parametrize("size", ["bust-86", "bust-90", "bust-94"])
def test_a_line_over_two_panels_makes_four_parts_and_divides_their_seam(size: str) -> None:
    before = made(PANELS.format(size))
    after = made(f"cut front-centre.style front-side.style --names={FOUR}", before)
    assert [p.name for p in after.pieces] == ["back", *(name.partition(".")[0] for name in FOUR.split(","))]
    total = sum(shape(p).area for p in before.pieces)
    assert sum(shape(p).area for p in after.pieces) == pytest.approx(total, abs=0.5)
    assert set(told(after)) == {
        ("upper-centre.shoulder", "back.shoulder"),
        ("low-side.side+upper-side.side", "back.side"),
        # the panel seam was cut on both sides by one line, and is two seams now
        ("upper-centre.panel", "upper-side.panel"),
        ("low-centre.panel", "low-side.panel"),
        ("upper-centre.style", "low-centre.style"),
        ("upper-side.style", "low-side.style"),
    }
    for seam in after.seams:
        if any(edge.name == "panel" and edge.uid == seam.a[0].of for p in after.pieces for edge in p.edges):
            assert run_sewn(after, seam.a) == pytest.approx(run_sewn(after, seam.b), abs=0.01)
    # what is pieced together is kept apart: only the part with the fold is cut on it
    assert {p.name: p.cut_as for p in after.pieces} == {
        "back": "fold", "upper-centre": "fold", "low-centre": "fold", "upper-side": "pair", "low-side": "pair",
    }  # fmt: skip


def straight(pattern: Pattern, name: str, start: str, end: str) -> Pattern:
    """A line from place to place on the paper as it lies, over darts as they stand open."""
    piece = pattern.pieces[0]
    curve = line(*(spot(pattern, where).point for where in (start, end)))
    return pattern.with_piece(replace(piece, lines=(*piece.lines, Line(uid=f"l-{name}", name=name, curve=curve))))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(furnished(), st.data())
def test_any_two_lines_in_one_press_lose_no_cloth_and_no_seam(pattern: Pattern, data: st.DataObject) -> None:
    """They may cross, share an end, or lie apart: three parts or four, or a sentence."""
    piece = pattern.pieces[0]
    sides = data.draw(st.permutations(piece.edges))
    ends = [f"front.{sides[k % len(sides)].name}@{data.draw(st.floats(3, 97)):.3f}%" for k in range(4)]
    darts = [f"front.{dart.name}" for dart in piece.darts]
    try:
        start = straight(straight(pattern, "one", *ends[:2]), "other", *ends[2:])
        after = cut(start, "front.one", "front.other", *darts)
    except FlatcutError as error:
        event(f"refused: {str(error)[:60]}")
        return
    closed = any("closed on the side" in figure.label for figure in after.steps[-1].figures)
    event("with a dart closed" if closed else "no dart closed")
    parts = [p for p in after.pieces if p.uid not in {q.uid for q in pattern.pieces[1:]}]
    event(f"{len(parts)} parts")
    assert [p.name for p in parts] == [f"front-{k + 1}" for k in range(len(parts))]
    assert len(parts) in (3, 4)
    # darts drawn inside that were cut through, or along, take their cloth out of the outline
    drawn = {dart.uid for p in parts for dart in p.darts if dart.form == "lines"}
    gone = [dart for dart in piece.darts if dart.form == "lines" and dart.uid not in drawn]
    opened = start
    for dart in gone:
        opened, _, _ = as_cut(opened, opened.pieces[0], dart)
    lenses = [
        shapely.Polygon(np.concatenate([flatten(leg, tolerance=1e-3) for leg in dart.legs]))
        for dart in gone
        if dart.double
    ]
    if shape(piece).is_valid:
        left = shape(opened.pieces[0]).area - sum(lens.area for lens in lenses)
        assert sum(shape(p).area for p in parts) == pytest.approx(left, abs=1.0)
    for seam in start.seams:
        now = next(s for s in after.seams if s.uid == seam.uid)
        for was, runs in ((seam.a, now.a), (seam.b, now.b)):
            assert run_sewn(after, runs) == pytest.approx(run_sewn(start, was), abs=0.01)
    was = {n.uid: place(piece.edge_of(n.edge), n.at) for n in piece.notches}
    now_at = {n.uid: place(part.edge_of(n.edge), n.at) for part in parts for n in part.notches}
    assert set(now_at) == set(was)
    assert closed or all(np.hypot(*(now_at[uid] - at)) < 0.01 for uid, at in was.items())
    assert len(set(after.uids())) == len(list(after.uids()))
    # each new edge is sewn to one as long
    names = {edge.uid: edge.name for p in parts for edge in p.edges}
    for seam in after.seams:
        if {names.get(part.of, "").partition("-")[0] for part in (*seam.a, *seam.b)} <= {"one", "other"}:
            assert run_sewn(after, seam.a) == pytest.approx(run_sewn(after, seam.b), abs=0.01)


APART = (
    "block bodice --size=bust-90\nline --start=back.centre/neck@10cm --end=back.armhole/side@5cm --name=x\n"
    "line --start=back.centre/neck@14cm --end=back.side/armhole@2cm --name=y\n"
)


def test_parts_are_told_apart_by_their_edges_in_any_order() -> None:
    after = made("cut back.x back.y --names=low.waist,top.neck,middle", made(APART))
    assert [p.name for p in after.pieces] == ["low", "top", "middle", "front"]
    assert {e.name for e in after.piece("middle").edges} >= {"x", "y"}
    assert "neck" in after.piece("top").names()
    assert "waist" in after.piece("low").names()


def test_several_parts_are_dropped_and_what_is_left_is_finished_there() -> None:
    after = made("cut back.x back.y --names=low.waist,top.neck,middle --drop=top,low", made(APART))
    assert [p.name for p in after.pieces] == ["middle", "front"]
    assert {e.name: e.use for e in after.piece("middle").edges if e.name in "xy"} == {"x": "finished", "y": "finished"}
    whole = made(APART + "cut back.x back.y --names=low.waist,top.neck,middle\ndrop top low")
    assert sewn_length(after.piece("middle").edge("x")) == sewn_length(whole.piece("middle").edge("x"))


@pytest.mark.parametrize(
    ("step", "said"),
    [
        ("cut back.x back.y --names=low.waist,top.neck", "the cut makes 3 pieces, and 2 names are given; give 3"),
        ("cut back.x back.y --names=low.centre,top.neck,middle", "several parts have a piece of back.centre"),
        ("cut back.x back.y --names=low.neck,top.neck,middle", "back.neck and back.neck lie on one part"),
        ("cut back.x back.y --names=low.waist,low.neck,middle", "two parts would be called low"),
        ("cut back.x back.y --drop=off", "the parts are back-1, back-2 and back-3, and no 'off'"),
        ("cut back.x --closed=back.waist-dart.upper", "no half of a dart with two points"),
    ],
)
def test_what_is_refused(step: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said) as caught:
        made(step, made(APART))
    assert "\n" not in str(caught.value)

"""`cut` and then `join` is the identity: outline, names, seams, notches, darts and widths are as they were.

Judged on the drawing before the line was drawn, by shapely's areas and distances, lengths of runs and places.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from flatcut.errors import FlatcutError
from flatcut.geometry.curves import flatten
from flatcut.operations.operation import load
from flatcut.pattern.runs import run_curves, run_sewn, walk
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Pattern, Piece, RunPart, area
from flatcut.pattern.walking import HAIR, drawn_length, point_at, sewn_at, sewn_length
from flatcut.pattern.widths import bands, width_at
from tests.test_cut_across import panel, with_line
from tests.test_cut_random import shape
from tests.test_cut_several import straight
from tests.test_reshape_chains import furnished, place

NEAR = 0.01
"""mm: the outline that comes back is that which was."""


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(furnished(), st.data())
def test_any_piece_cut_along_any_line_and_joined_again_is_as_it_was(pattern: Pattern, data: st.DataObject) -> None:
    piece = replace(pattern.pieces[0], cut_as=data.draw(st.sampled_from(("single", "pair"))))
    pattern = pattern.with_piece(piece)
    one = data.draw(st.sampled_from(piece.edges))
    # both ends on one edge too, which is in three parts then
    other = one if data.draw(st.integers(0, 3)) == 0 else data.draw(st.sampled_from(piece.edges))
    ends = [f"front.{edge.name}@{data.draw(st.floats(3, 97)):.3f}%" for edge in (one, other)]
    bend = data.draw(st.floats(-0.15, 0.15))
    shaped = f"0.3,{bend:.3f} 0.7,{bend:.3f} 1,0"
    try:
        start = load("line")(start=ends[0], end=ends[1], name="course", shape=shaped)(pattern)  # type: ignore[call-arg]
        parted = load("cut")(target="front.course")(start)  # type: ignore[call-arg]
    except FlatcutError as error:
        event(f"refused: {len(str(error).splitlines())} sentence")
        return
    event("one edge" if one is other else "two edges")
    which = data.draw(st.permutations(("front-1.course", "front-2.course")))
    done = load("join")(target=which, name="front", notches=False)(parted)  # type: ignore[call-arg]
    same(pattern, done, parted)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(furnished(), st.data())
def test_any_piece_cut_along_two_lines_in_one_press_and_joined_again_is_as_it_was(
    pattern: Pattern, data: st.DataObject
) -> None:
    piece = replace(pattern.pieces[0], cut_as=data.draw(st.sampled_from(("single", "pair"))))
    pattern = pattern.with_piece(piece)
    sides = data.draw(st.permutations(piece.edges))
    ends = [f"front.{sides[k % len(sides)].name}@{data.draw(st.floats(3, 97)):.3f}%" for k in range(4)]
    try:
        start = straight(straight(pattern, "one", *ends[:2]), "other", *ends[2:])
        parted = load("cut")(target=("front.one", "front.other"))(start)  # type: ignore[call-arg]
    except FlatcutError as error:
        event(f"refused: {len(str(error).splitlines())} sentence")
        return
    parts = [part for part in parted.pieces if part.name.startswith("front-")]
    event(f"{len(parts)} parts")
    if len(parts) != 3:
        return  # where lines cross, each is the edge of two pairs of parts
    done = parted
    for name, called in zip(data.draw(st.permutations(("one", "other"))), ("two", "front"), strict=True):
        having = [f"{p.name}.{name}" for p in done.pieces if p.name != "mate" and name in {e.name for e in p.edges}]
        which = data.draw(st.permutations(having))
        done = load("join")(target=tuple(which), name=called, notches=False)(done)  # type: ignore[call-arg]
    same(pattern, done, parted)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_any_line_across_a_dart_of_two_points_gives_its_halves_which_grow_together_again(data: st.DataObject) -> None:
    apex = np.array([data.draw(st.floats(120, 280)), data.draw(st.floats(200, 300))])
    pattern = panel(apex, apex[0], data.draw(st.floats(5, 30)), lens=True)
    front = pattern.pieces[0]
    # a hole short of either point
    holes = tuple(replace(front.holes[0], uid=f"h-{of}", of=of) for of in ("upper", "lower"))
    pattern = pattern.with_piece(replace(front, holes=holes))
    height, slope = apex[1] + data.draw(st.floats(-60, 40)), data.draw(st.floats(-0.3, 0.3))
    nodes = [(x, height + slope * (x - apex[0])) for x in (0.0, 400.0)]
    try:
        parted = load("cut")(target=("front.x", "front.dart"))(with_line(pattern, *nodes))  # type: ignore[call-arg]
    except FlatcutError as error:
        event(f"refused: {str(error)[:40]}")
        return
    which = data.draw(st.permutations(("front-1.x", "front-2.x")))
    done = load("join")(target=which, name="front", notches=False)(parted)  # type: ignore[call-arg]
    same(pattern, done, parted)
    was, now = pattern.pieces[0], done.piece("front")
    for hole in was.holes:
        twin = next(h for h in now.holes if h.uid == hole.uid)
        assert np.hypot(*(twin.place(now) - hole.place(was))) < NEAR


def same(pattern: Pattern, done: Pattern, parted: Pattern) -> None:
    """The first piece of both, and all seams, are alike."""
    was, now = pattern.pieces[0], done.piece(pattern.pieces[0].name)
    assert [p.name for p in done.pieces] == [p.name for p in pattern.pieces]
    assert (now.cut_as, now.quantity) == (was.cut_as, was.quantity)
    # names, of all that has one
    assert {e.name for e in now.edges} == {e.name for e in was.edges}
    assert {x.name for x in now.lines} == {x.name for x in was.lines}
    assert {p.name for p in now.points} == {p.name for p in was.points}
    # the outline, edge by edge
    for edge in was.edges:
        twin = now.edge(edge.name)
        assert (twin.use, len(twin.parts)) == (edge.use, len(edge.parts))
        for a, b in zip(edge.parts, twin.parts, strict=True):
            apart = [shapely.LineString(flatten(c, tolerance=0.0005)) for c in (a, b)]
            assert shapely.hausdorff_distance(*apart, densify=0.05) < NEAR
        _as_wide(was, now, edge.name)
        assert (twin.corner.kind, twin.corner.limit) == (edge.corner.kind, edge.corner.limit) or any(
            "the corner" in said for step in (*parted.steps, *done.steps) for said in step.warnings
        )
    assert abs(area(now)) == pytest.approx(abs(area(was)), abs=1e-3)
    if shape(was).is_valid:
        assert shape(was).symmetric_difference(shape(now)).area < 1.0
    # darts
    assert [d.name for d in now.darts] == [d.name for d in was.darts] or len(now.darts) == len(was.darts)
    for dart in was.darts:
        twin_dart = next(d for d in now.darts if d.name == dart.name)
        for a, b in zip(dart.legs, twin_dart.legs, strict=True):
            # a leg that was cut across has a node there
            assert max(np.hypot(*(a.start - b.start)), np.hypot(*(a.end - b.end))) < NEAR
            apart = [shapely.LineString(flatten(c, tolerance=0.0005)) for c in (a, b)]
            assert shapely.hausdorff_distance(*apart, densify=0.05) < NEAR
        hosts = [next((e.name for e in p.edges if e.uid == d.host), "") for p, d in ((was, dart), (now, twin_dart))]
        assert hosts[0] == hosts[1]
    for line in was.lines:
        shapes = [shapely.LineString(flatten(x.curve, tolerance=1e-3)) for x in (line, _named(now.lines, line.name))]
        assert shapely.hausdorff_distance(*shapes, densify=0.05) < NEAR, line.name
    # notches by where they stand, widths, and what is drilled and buttoned
    notches = [{n.uid: place(p.edge_of(n.edge), n.at) for n in p.notches} for p in (was, now)]
    assert set(notches[0]) == set(notches[1])
    assert all(np.hypot(*(notches[1][uid] - at)) < NEAR for uid, at in notches[0].items())
    assert {h.uid for h in now.holes} == {h.uid for h in was.holes}
    assert {b.uid for b in now.buttons} == {b.uid for b in was.buttons}
    # seams: as many, each as long, and along the same cloth
    assert {s.uid for s in done.seams} == {s.uid for s in pattern.seams}
    for seam in pattern.seams:
        twin_seam = next(s for s in done.seams if s.uid == seam.uid)
        for a, b in ((seam.a, twin_seam.a), (seam.b, twin_seam.b)):
            assert run_sewn(done, b) == pytest.approx(run_sewn(pattern, a), abs=NEAR + _drawn_on(pattern, a))
            runs = [
                [np.vstack([flatten(c, tolerance=1e-3) for c in run_curves(s)]) for s in walk(p, r) if run_curves(s)]
                for p, r in ((pattern, a), (done, b))
            ]
            if all(runs):
                assert np.allclose(runs[0][0][0], runs[1][0][0], atol=NEAR)
                assert np.allclose(runs[0][-1][-1], runs[1][-1][-1], atol=NEAR)
            assert len(a) == len(b)


def _drawn_on(pattern: Pattern, run: tuple[RunPart, ...]) -> float:
    """mm by which a run may grow: ends that stand within a hair of an edge's end are drawn on to it."""
    edges = {edge.uid: edge for piece in pattern.pieces for edge in piece.edges}
    short = [
        min(at, sewn_length(edges[part.of]) - at)
        for part in run
        if part.of in edges
        for at in (sewn_at(edges[part.of], end) for end in (part.start, part.end) if end is not None)
    ]
    return sum(gap for gap in short if gap <= HAIR)


def _named(things: tuple, name: str) -> object:
    return next(thing for thing in things if thing.name == name)


def _as_wide(was: Piece, now: Piece, name: str) -> None:
    old, new = was.edge(name), now.edge(name)
    steps = [end for band in bands(old) for end in (band.start, band.end)]
    for share in (0.03, 0.21, 0.4, 0.5, 0.64, 0.83, 0.97):
        at = share * drawn_length(old)
        if min(abs(at - step) for step in steps) > 0.1:
            assert width_at(new, nearest_drawn(new, point_at(old, at)[0])) == pytest.approx(
                width_at(old, at), abs=0.05
            ), name
    assert sewn_length(new) == pytest.approx(sewn_length(old), abs=NEAR)

"""Any piece cut along any line: no cloth is lost, and what stood on it stands where it stood.

Judged by shapely's areas, by lengths of runs before and after, and by places on the drawing that did not move.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, flatten
from flatcut.operations.operation import load
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.spots import nearest_drawn
from flatcut.pattern.values import Edge, Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length, point_at
from flatcut.pattern.widths import width_at
from tests.test_reshape_chains import furnished, place


def shape(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.001))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(furnished(), st.data())
def test_any_piece_cut_along_any_line_or_says_why_not(pattern: Pattern, data: st.DataObject) -> None:
    piece = pattern.pieces[0]
    ends = [
        f"front.{data.draw(st.sampled_from(piece.edges)).name}@{data.draw(st.floats(3, 97)):.3f}%" for _ in range(2)
    ]
    bend = data.draw(st.floats(-0.15, 0.15))
    shaped = f"0.3,{bend:.3f} 0.7,{bend:.3f} 1,0"
    try:
        start = load("line")(start=ends[0], end=ends[1], name="course", shape=shaped)(pattern)  # type: ignore[call-arg]
        after = load("cut")(target="front.course")(start)  # type: ignore[call-arg]
    except FlatcutError as error:
        event(f"refused: {len(str(error).splitlines())} sentence")
        return
    event("cut")
    parts = after.pieces[:2]
    _all_the_cloth(piece, parts)
    for seam in start.seams:
        now = next(s for s in after.seams if s.uid == seam.uid)
        for was, runs in ((seam.a, now.a), (seam.b, now.b)):
            assert run_sewn(after, runs) == pytest.approx(run_sewn(start, was), abs=0.01)
    was = {n.uid: place(piece.edge_of(n.edge), n.at) for n in piece.notches}
    now = {n.uid: place(part.edge_of(n.edge), n.at) for part in parts for n in part.notches}
    assert set(now) == set(was)
    assert all(np.hypot(*(now[uid] - at)) < 0.01 for uid, at in was.items())
    assert len(set(after.uids())) == len(list(after.uids()))
    for part in parts:
        _refers_to_itself(part)
        assert (part.grain is None) == (piece.grain is None)
        for edge in part.edges:
            if edge.name != "course":
                _as_wide(piece, edge)


def _all_the_cloth(piece: Piece, parts: tuple[Piece, ...]) -> None:
    whole, (one, other) = shape(piece), map(shape, parts)
    if whole.is_valid:
        assert one.area + other.area == pytest.approx(whole.area, abs=1.0)
        assert one.intersection(other).area < 1.0
        assert one.union(other).symmetric_difference(whole).area < 1.0


def _refers_to_itself(part: Piece) -> None:
    own = {edge.uid for edge in part.edges} | {item.uid for item in part.lines}
    assert {dart.host for dart in part.darts} <= own | {""}
    assert {dart.pressed for dart in part.darts} <= own | {"", "open"}
    assert {notch.edge for notch in part.notches} <= own
    assert {button.on for button in part.buttons} <= own | {""}
    names = [thing.name for thing in part.things()]
    assert len(set(names)) == len(names)


def _as_wide(piece: Piece, edge: Edge) -> None:
    """A place of an edge is as wide as it was; within 0.1 mm of a step it may have either width."""
    name = edge.name if edge.name in piece.names() else edge.name.rpartition("-")[0]
    old = piece.edge(name)
    for share in (0.21, 0.5, 0.83):
        at = share * drawn_length(edge)
        back = nearest_drawn(old, point_at(edge, at)[0])
        low, middle, high = (width_at(old, back + by) for by in (-0.1, 0.0, 0.1))
        if abs(low - high) < 0.5 and not old.takeups:
            assert width_at(edge, at) == pytest.approx(middle, abs=0.05), name

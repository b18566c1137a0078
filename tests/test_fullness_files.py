"""Fullness on drawings: read back, replayed on other sizes, on any piece, and what a released dart leaves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flatcut.errors import FlatcutError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import chain, flatten, line
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Edge, Line, Pattern, RunPart, Seam, area, outline
from flatcut.pattern.walking import drawn_length, point_at, sewn_at, sewn_length
from flatcut.recipe import read_recipe, replay
from tests import by_hand as hand
from tests.dart_pieces import front, the
from tests.strategies import Uids, pieces

DOCS = Path(__file__).parents[1] / "samples" / "docs" / "fullness"
EMPTY = b'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900"/>'

RECIPE = """
block skirt --size={size}
line --start=skirt-front.hem@1/4 --end=skirt-front.waist@80% --name=s1 --open
line --start=skirt-front.hem@3/4 --end=skirt-front.waist@1/4 --name=s2 --open
allowance skirt-front skirt-back --width=10
spread skirt-front.s1 skirt-front.s2 --amount=6cm --at=hem --within=3
pleat skirt-back.hem@85%..95% --kind=inverted --depth=25 --other-depth=0
"""


@pytest.mark.parametrize("size", ["bust-82", "bust-90", "bust-106"])
def test_a_recipe_opens_every_size_alike(size):
    pattern = replay(read_recipe(RECIPE.format(size=size)), Pattern())
    plain = replay(read_recipe(f"block skirt --size={size}"), Pattern())
    was, now = (p.piece("skirt-front") for p in (plain, pattern))
    assert drawn_length(now.edge("hem")) == pytest.approx(drawn_length(was.edge("hem")) + 120, abs=0.5)
    assert drawn_length(now.edge("waist")) == pytest.approx(drawn_length(was.edge("waist")), abs=0.02)
    assert [d.name for d in now.darts] == [d.name for d in was.darts]
    was, now = (p.piece("skirt-back") for p in (plain, pattern))
    assert drawn_length(now.edge("hem")) == pytest.approx(drawn_length(was.edge("hem")) + 100, abs=1)
    assert sewn_length(now.edge("hem")) == pytest.approx(drawn_length(was.edge("hem")), abs=1e-6)


def test_what_is_drawn_is_read_back():
    drawing, _, _ = read(EMPTY)
    pattern = replay(read_recipe(RECIPE.format(size="bust-90")), read(EMPTY)[1])
    _, again, findings = read(write(drawing, pattern))
    assert list(findings) == []
    assert differences(again, pattern, tolerance=1e-8) == []
    assert [t.kind for e in again.piece("skirt-back").edges for t in e.takeups] == ["pleat"]
    assert replay(read_recipe("\n".join(s.line for s in again.steps)), Pattern()).steps == pattern.steps


@pytest.mark.parametrize("kept", [False, True])
def test_a_selected_line_becomes_the_line_that_is_opened(kept):
    """One press: the drawn object is the line afterwards, where that is kept, and nothing of it is left beside it."""
    drawing, pattern, _ = read((DOCS / "flare-drawn.svg").read_bytes())
    pattern = load("piece")(target=("id:skirt",), names=("skirt",))(pattern)
    found = load("spread")(amount=50, at="skirt.e3", keep_lines=kept)(
        pattern, Selection(drawn=("cut-1", "cut-2", "cut-3"))
    )
    assert [step.line.split()[0] for step in found.steps] == ["piece", "line", "line", "line", "spread"]
    _, again, _ = read(write(drawing, found))
    assert differences(again, found, tolerance=1e-8) == []
    assert not [thing for thing in again.drawn if thing.id.startswith("cut")]
    again = load("redraw")()(again)
    assert len(again.pieces[0].lines) == (3 if kept else 0)


def nested(edge: Edge) -> int:
    """How many take-ups lie whole inside another one, as a pleat may in an eased stretch; none runs over two others."""
    around, inside = [(0.0, drawn_length(edge))], 0
    for takeup in sorted(edge.takeups, key=lambda t: (t.start, -t.end)):
        assert takeup.amount <= takeup.end - takeup.start + 1e-6
        while len(around) > 1 and takeup.start >= around[-1][1] - 1e-6:
            around.pop()
        assert around[-1][0] - 1e-6 <= takeup.start <= takeup.end <= around[-1][1] + 1e-6
        inside += len(around) > 1
        around.append((takeup.start, takeup.end))
    return inside


def test_a_pleat_in_an_eased_stretch_lies_whole_in_it():
    recipe = """
        line --start=front.side@5cm --end=front.shoulder@50% --name=cut --open
        spread front.cut --amount=6 --to=pleat
    """
    done = replay(read_recipe(recipe), read(hand.two_pieces())[1])
    assert [nested(edge) for edge in done.piece("front").edges if edge.name in ("side", "shoulder")] == [0, 1]


def straight_over(pattern: Pattern, ends: tuple[int, int], at: tuple[float, float]) -> Pattern | None:
    """The pattern with a line named cut over its first piece, between places on two of its edges.

    ends: the first edge, and how many after the next one the second is.
    """
    piece = pattern.pieces[0]
    count = len(piece.edges)
    edges = [piece.edges[ends[0] % count], piece.edges[(ends[0] + 1 + ends[1] % (count - 1)) % count]]
    if "cut" in piece.names():
        return None
    p, q = (point_at(e, s * drawn_length(e))[0] for e, s in zip(edges, at, strict=True))
    cut = Line(uid="cut-line", name="cut", curve=line(p, q))
    # fold and centre edges must not be bent, which is tested beside the refusals
    bendable = tuple(replace(e, use="seam") if e.use in ("fold", "centre") else e for e in piece.edges)
    piece = replace(piece, edges=bendable, lines=(*piece.lines, cut))
    return replace(pattern, pieces=(piece, *pattern.pieces[1:]))


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    pattern=pieces(Uids(), "front").map(lambda piece: Pattern(pieces=(piece,))),
    ends=st.tuples(st.integers(0, 5), st.integers(0, 5)),
    at=st.tuples(st.floats(0.15, 0.85), st.floats(0.15, 0.85)),
    opened=st.one_of(
        st.tuples(
            st.sampled_from([(20.0, 20.0), (0.0, 25.0), (25.0, 0.0), (5.0, 20.0)]),
            st.sampled_from(["flare", "gathers", "pleat"]),
        ),
        st.tuples(st.sampled_from([(-12.0, -12.0), (0.0, -15.0)]), st.just("flare")),
    ),
    within=st.sampled_from([0.0, 1.0]),
)
def test_any_piece_with_all_its_marks(pattern, ends, at, opened, within):
    amounts, result = opened
    start = straight_over(pattern, ends, at)
    if start is None:
        return
    piece = start.pieces[0]
    target = f"{piece.name}.cut"
    options = {"amount": amounts[0], "at": "start", "other": amounts[1], "to": result, "within": within}
    try:
        found = load("spread")(target=target, **options)(start)
    except FlatcutError:
        return  # it says what is in the way: tested beside the refusals
    after = found.pieces[0]
    assert after.names() >= piece.names() - {item.name for item in piece.lines}
    # through what a corner that is not stated is squared follows from the seams: it is told anew after each step
    assert [(e.uid, e.name, e.use, e.corner.kind and e.corner) for e in after.edges] == [
        (e.uid, e.name, e.use, e.corner.kind and e.corner) for e in piece.edges
    ]
    assert {d.uid for d in after.darts} == {d.uid for d in piece.darts}
    assert {n.uid for n in after.notches} >= {n.uid for n in piece.notches}
    assert [p.uid for p in after.points] == [p.uid for p in piece.points]
    for notch in after.notches:
        edge = after.edge_of(notch.edge)
        assert 0 <= sewn_at(edge, notch.at) <= sewn_length(edge)
    for edge in after.edges:
        nested(edge)
    ring = shapely.Polygon(flatten(chain(outline(after), within=1e-6), tolerance=1e-3))
    # the feet of a dart that is cut in touch at its point only
    assert abs(area(after)) == pytest.approx(ring.area, rel=1e-4)
    assert (area(after) > 0) == (area(piece) > 0)
    if result == "flare" and within == 0 and min(amounts) >= 0:
        cut = next(item for item in piece.lines if item.uid == "cut-line").curve
        size = float(np.hypot(*(cut.end - cut.start)))
        turn = 2 * np.arcsin((amounts[1] - amounts[0]) / 2 / size)
        wedge = sum(amounts) / 2 * size * np.cos(turn / 2)
        assert abs(area(after)) - abs(area(piece)) == pytest.approx(wedge, rel=1e-6)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(amount=st.floats(5, 40), result=st.sampled_from(["flare", "gathers", "pleat"]))
def test_any_result_is_read_back(amount, result):
    drawing, start, _ = read(hand.two_pieces())
    start = load("line")(start="front.neck@1/2", end="front.waist@1/2", name="cut", open=True)(start)
    try:
        found = load("spread")(target="front.cut", amount=amount, to=result)(start)
    except FlatcutError:
        return
    _, again, findings = read(write(drawing, found))
    assert list(findings) == []
    assert differences(again, found, tolerance=1e-8) == []


def test_a_released_dart_leaves_notches_on_both_sides_of_its_seam():
    """Gathers are marked where they start and stop, and so is what they are sewn to (common practice, no source)."""
    pattern = front()
    piece = the(pattern)
    band = replace(
        piece,
        uid="band",
        name="band",
        edges=tuple(replace(e, uid=f"b-{e.uid}") for e in piece.edges),
        darts=tuple(replace(d, uid=f"b-{d.uid}", host=f"b-{d.host}") for d in piece.darts),
        points=(),
    )
    seam = Seam(uid="s", a=(RunPart(piece="p", of="e-waist"),), b=(RunPart(piece="band", of="b-e-waist"),))
    pattern = replace(pattern, pieces=(piece, band), seams=(seam,))
    found = load("release")(target="front.waist-dart", to="gathers", either_side=20)(pattern)
    (takeup,) = the(found).edge("waist").takeups
    here, there = found.pieces
    places = [sorted(sewn_at(p.edge("waist"), n.at) for n in p.notches) for p in (here, there)]
    assert places[0] == pytest.approx([takeup.start, takeup.end - takeup.amount], abs=1e-6)
    assert places[1] == pytest.approx(places[0], abs=0.5)
    for kind in ("ease", "tuck", "pleat"):
        assert the(load("release")(target="front.waist-dart", to=kind)(pattern)).notches == ()

"""What stands on an edge goes with it when the outline is changed: hosts, corners, widths, buttons, runs, take-ups."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flatcut.geometry.curves import line
from flatcut.operations.operation import load
from flatcut.pattern.values import (
    Allowance,
    Button,
    Corner,
    Edge,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    Stretch,
    TakeUp,
)
from flatcut.pattern.walking import sewn_length
from flatcut.reshape.change import Change, applied
from flatcut.reshape.ways import Way

RING = [(0, 0), (200, 0), (200, 300), (0, 300)]
"""A rectangle, clockwise on the screen: top, right, low, left."""


def from_start(value: float) -> Position:
    return Position(mode="start", value=value)


def rectangle(**changed: dict[str, object]) -> Piece:
    names = ("top", "right", "low", "left")
    edges = [
        Edge(uid=name, name=name, parts=(line(RING[k], RING[(k + 1) % 4]),), **changed.get(name, {}))
        for k, name in enumerate(names)
    ]
    return Piece(uid="p", name="p", edges=tuple(edges))


def perform(pattern: Pattern, command: str, *target: str, **options: object) -> Pattern:
    return load(command)(target=target, **options)(pattern)


def test_split_takes_a_drawn_dart_a_corner_and_a_button_along():
    piece = replace(
        rectangle(
            left={"corner": Corner(kind="squared", through="top")}, top={"corner": Corner(kind="turned", through="top")}
        ),
        buttons=(Button(uid="b", kind="button", at=np.array([150.0, 12]), size=12.0, on="top"),),
    )
    made = perform(
        Pattern(pieces=(piece,)),
        "dart",
        feet=("p.top@70%", "p.top@80%"),
        point="at(p.top/right,p.right/low,0.4,0.4)",
        form="lines",
        name="d",
    )
    found = perform(made, "edge", "p.top@50%", split=True).pieces[0]
    first, second = found.edge("top"), found.edge("top-2")
    assert found.darts[0].host == second.uid
    assert first.takeups == ()
    # 180 mm are sewn, so it is split after 90; the mouth was from 140 to 160
    assert [(t.start, t.end) for t in second.takeups] == [(pytest.approx(50.0), pytest.approx(70.0))]
    assert second.corner == Corner(kind="turned", through=second.uid)
    assert found.edge("left").corner == Corner(kind="squared", through=first.uid)
    assert found.buttons[0].on == second.uid


@pytest.mark.parametrize(
    ("start", "end", "parts"),
    [
        (10.0, 50.0, [("top", 10.0, 50.0)]),
        (140.0, 180.0, [("top-2", 60.0, 100.0)]),
        (50.0, 180.0, [("top", 50.0, None), ("top-2", None, 100.0)]),
    ],
)
def test_a_seam_on_a_stretch_of_an_edge_that_is_split_lies_on_what_it_lay_on(start, end, parts):
    piece = rectangle()
    run = RunPart(piece="p", of="top", start=from_start(start), end=from_start(end))
    seam = Seam(uid="s", a=(run,), b=(RunPart(piece="p", of="low"),))
    found = perform(Pattern(pieces=(piece,), seams=(seam,)), "edge", "p.top@80mm", split=True)
    told = []
    for part in found.seams[0].a:
        edge = found.pieces[0].edge_of(part.of)
        ends = (None if at is None else at.along(sewn_length(edge)) for at in (part.start, part.end))
        told.append((edge.name, *ends))
    assert told == [(name, a and pytest.approx(a), b and pytest.approx(b)) for name, a, b in parts]


def reversed_top() -> tuple[Pattern, Change]:
    """The rectangle with its top edge drawn the other way, as a piece that is turned over has it."""
    widths = Allowance(
        width=10.0, stretches=(Stretch(start=from_start(20), end=from_start(60), width=15.0, end_width=25.0),)
    )
    ease = TakeUp(uid="t", kind="ease", start=100.0, end=140.0, amount=10.0)
    piece = rectangle(top={"allowance": widths, "takeups": (ease,)})
    piece = replace(
        piece,
        notches=(
            Notch(uid="n", edge="top", at=from_start(30)),
            Notch(uid="m", edge="top", at=Position(mode="end", value=5)),
        ),
    )
    other = replace(piece, uid="q", name="q", notches=())
    other = replace(other, edges=tuple(replace(e, uid=f"q-{e.uid}", takeups=(), allowance=None) for e in piece.edges))
    run = RunPart(piece="p", of="top", start=from_start(20), end=from_start(120))
    seam = Seam(uid="s", a=(run,), b=(RunPart(piece="q", of="q-top"),))
    back = [replace(e, parts=(line(e.end, e.start),)) for e in piece.edges[::-1]]
    ways = {
        e.uid: (Way(0.0, size, e.uid, size, 0.0),) for e, size in zip(piece.edges, (200, 300, 200, 300), strict=True)
    }
    pattern = Pattern(pieces=(piece, other), seams=(seam,))
    return pattern, Change(pieces=(replace(piece, edges=tuple(back)),), ways=ways)


def test_an_edge_that_runs_the_other_way():
    pattern, change = reversed_top()
    after, dropped = applied(pattern, change)
    top = after.pieces[0].edge("top")
    assert dropped == ()
    assert [(t.start, t.end, t.amount) for t in top.takeups] == [(60.0, 100.0, 10.0)]
    assert [n.at for n in after.pieces[0].notches] == [Position(mode="end", value=30.0), from_start(5.0)]
    assert top.allowance is not None
    (stretch,) = top.allowance.stretches
    # 190 mm are sewn
    assert (stretch.start.along(190), stretch.end.along(190)) == (130.0, 170.0)
    assert (stretch.width, stretch.end_width) == (25.0, 15.0)
    (seam,) = after.seams
    (part,) = seam.a
    assert (part.start.along(190), part.end.along(190), part.backwards) == (70.0, 170.0, True)
    # and back again it is what it was
    again, dropped = applied(after, replace(change, pieces=pattern.pieces[:1]))
    assert dropped == ()
    assert again.pieces[0].notches == pattern.pieces[0].notches
    assert again.seams[0].a[0].start.along(190) == 20.0


def test_what_cannot_be_carried_is_told():
    piece = rectangle(top={"corner": Corner(kind="bevelled")})
    piece = replace(piece, notches=(Notch(uid="n", edge="right", at=from_start(40)),))
    runs = ((RunPart(piece="p", of="right"), RunPart(piece="p", of="low")), (RunPart(piece="p", of="left"),))
    seam = Seam(uid="s", a=runs[0], b=runs[1])
    corner = line(RING[1], RING[3])
    cut = replace(piece, edges=(piece.edges[0], Edge(uid="cut", name="cut", parts=(corner,)), piece.edges[3]))
    after, dropped = applied(Pattern(pieces=(piece,), seams=(seam,)), Change(pieces=(cut,)))
    assert after.seams == ()
    assert after.pieces[0].notches == ()
    assert sorted(dropped) == [
        "1 notch of p.right went with that edge",
        "a seam of p.right and p.low with other edges is gone",
        "the corner p.top/right is gone, which was to be bevelled",
    ]


def test_one_piece_becomes_two():
    """What `Change` says when a piece is cut apart: its marks go to the part that has their edge."""
    piece = replace(
        rectangle(right={"allowance": Allowance(width=10.0, end_width=40.0)}),
        notches=tuple(Notch(uid=f"n{at}", edge="right", at=from_start(at)) for at in (50.0, 250.0)),
    )
    ease = TakeUp(uid="t", kind="ease", start=50.0, end=150.0, amount=20.0)
    piece = replace(piece, edges=tuple(replace(e, takeups=(ease,)) if e.uid == "right" else e for e in piece.edges))
    top, right, low, left = piece.edges
    upper = replace(
        piece,
        edges=(
            top,
            replace(right, parts=(line(RING[1], (200, 100)),)),
            Edge(uid="u", name="cut", parts=(line((200, 100), (0, 100)),)),
            replace(left, parts=(line((0, 100), RING[0]),)),
        ),
    )
    lower = Piece(
        uid="q",
        name="q",
        edges=(
            Edge(uid="right-2", name="right", parts=(line((200, 100), RING[2]),)),
            low,
            Edge(uid="left-2", name="left", parts=(line(RING[3], (0, 100)),)),
            Edge(uid="l", name="cut", parts=(line((0, 100), (200, 100)),)),
        ),
    )
    ways = {
        "right": (Way(0, 100, "right", 0, 100), Way(100, 300, "right-2", 0, 200)),
        "left": (Way(0, 200, "left-2", 0, 200), Way(200, 300, "left", 0, 100)),
        "low": (Way(0, 200, "low", 0, 200),),
    }
    seam = Seam(uid="s", a=(RunPart(piece="p", of="right"),), b=(RunPart(piece="p", of="left"),))
    after, dropped = applied(Pattern(pieces=(piece,), seams=(seam,)), Change(pieces=(upper, lower), ways=ways))
    p, q = after.pieces
    assert dropped == ()
    assert [n.uid for n in p.notches] == ["n50.0"]
    # 10 of the 20 mm are eased in above the cut, so 90 of the 280 mm are
    assert [(n.uid, n.at.along(190)) for n in q.notches] == [("n250.0", pytest.approx(160.0))]
    assert [(t.start, t.end, t.amount) for t in p.edge("right").takeups] == [(50, 100, 10)]
    assert [(t.start, t.end, t.amount) for t in q.edge("right").takeups] == [(0, 50, 10)]
    assert p.edge("right").allowance == Allowance(width=10.0, end_width=20.0)
    assert q.edge("right").allowance == Allowance(width=20.0, end_width=40.0)
    assert [(part.piece, part.of) for part in after.seams[0].a] == [("p", "right"), ("q", "right-2")]
    assert [(part.piece, part.of) for part in after.seams[0].b] == [("q", "left-2"), ("p", "left")]

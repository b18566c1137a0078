"""Wedges of looseness closed into a dart: angles, areas, lengths and marks, by closed forms and by another library."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.arguments import parse_line
from flatcut.darts.darting import angle, intake
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import Curve, chain, flatten, line, point
from flatcut.geometry.fairness import fairness
from flatcut.operations.operation import load
from flatcut.pattern.spots import spot
from flatcut.pattern.values import (
    Dart,
    Edge,
    NamedPoint,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    outline,
)
from flatcut.pattern.walking import drawn_length, point_at, sewn_length, to_drawn
from flatcut.recipe import read_recipe, replay
from tests.strategies import Uids, pieces

POINT = np.array([0.0, 0.0])


def square(half: float = 180.0, mouth: float = 43.2) -> Pattern:
    """A square of 2 x 180 about the bust point, with a dart to it from the middle of the lower side, 43.2 wide."""
    nodes = [(-half, -half), (half, -half), (half, half), (-half, half)]
    names = ("top", "side", "waist", "centre")
    edges = [Edge(uid=name, name=name, parts=(line(nodes[k], nodes[(k + 1) % 4]),)) for k, name in enumerate(names)]
    tall = math.sqrt(180.0**2 - (mouth / 2) ** 2)
    feet = np.array([mouth / 2, tall]), np.array([-mouth / 2, tall])
    edges[2] = Edge(uid="waist", name="waist", parts=(line(nodes[2], feet[0]), line(feet[1], nodes[3])))
    dart = Dart(uid="d", name="dart", legs=(line(feet[0], POINT), line(POINT, feet[1])), host="waist", after=0)
    notches = tuple(
        Notch(uid=f"n{k}", edge="top", at=Position(mode="start", value=value)) for k, value in enumerate((20.0, 300.0))
    )
    points = (NamedPoint(uid="p", name="bust-point", at=POINT), NamedPoint(uid="q", name="in", at=np.array([2.0, -90])))
    piece = Piece(uid="front", name="front", edges=tuple(edges), darts=(dart,), notches=notches, points=points)
    return Pattern(
        pieces=(piece,),
        seams=(Seam(uid="s", a=(RunPart(piece="front", of="top"),), b=(RunPart(piece="front", of="side"),)),),
    )


def contour(pattern: Pattern, text: str) -> Pattern:
    step = parse_line(f"contour {text}")
    assert step is not None
    return step(pattern)


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.001))


def test_the_dart_grows_by_the_angle_of_the_gape_and_not_by_its_width() -> None:
    """A dart 43.2 wide at 180 with a gape of 6 at 90 becomes 55.089 wide (closed form: 2 L sin of half the sum)."""
    before = square()
    after = contour(before, "front.top@1/2 --amount=6 --radius=90 --into=front.dart --reach=0")
    dart = after.pieces[0].darts[0]
    assert intake(dart) == pytest.approx(55.089, abs=5e-4)
    assert angle(dart) == pytest.approx(angle(before.pieces[0].darts[0]) + 3.8204, abs=1e-4)


def test_what_goes_is_the_wedge_and_no_more() -> None:
    """The wedge is a triangle of the height 180 whose sides open by a known angle; the edge loses its base."""
    before = square()
    after = contour(before, "front.top@1/2 --amount=12 --at=edge --into=front.dart --reach=0")
    phi = 2 * math.asin(6 / 180)
    base = 2 * 180 * math.tan(phi / 2)
    assert ring(before.pieces[0]).area - ring(after.pieces[0]).area == pytest.approx(base * 180 / 2, abs=0.01)
    edges = {edge.name: drawn_length(edge) for edge in after.pieces[0].edges}
    assert edges["top"] == pytest.approx(360 - base, abs=1e-6)
    for name, size in (("side", 360.0), ("centre", 360.0), ("waist", drawn_length(before.pieces[0].edge("waist")))):
        assert edges[name] == pytest.approx(size, abs=1e-9)


def test_marks_go_with_their_cloth_and_those_in_the_wedge_to_the_closed_line() -> None:
    after = contour(square(), "front.top@1/2 --amount=12 --at=edge --into=front.dart --reach=0").pieces[0]
    phi = 2 * math.asin(6 / 180)
    places = [notch.at.along(drawn_length(after.edge("top"))) for notch in after.notches]
    assert places == pytest.approx([20.0, 300.0 - 2 * 180 * math.tan(phi / 2)], abs=1e-6)
    (inside,) = [spot.at for spot in after.points if spot.name == "in"]
    parts = chain(after.edge("top").parts, within=1e-6)
    closed = parts.nodes[1]
    # it lies on the line from the point to where the edge was closed
    assert abs(closed[0] * inside[1] - closed[1] * inside[0]) / np.hypot(*closed) == pytest.approx(0.0, abs=1e-6)
    assert np.hypot(*inside) == pytest.approx(math.hypot(2, 90), abs=1e-9)


def test_several_in_one_press_are_several_presses() -> None:
    """In any order, and with one amount for all or one for each."""
    both = contour(square(), "front.top@1/4 front.side@1/2 --amount=5,8 --into=front.dart --reach=0")
    once = contour(square(), "front.side@1/2 --amount=8 --into=front.dart --reach=0")
    twice = contour(once, "front.top@1/4 --amount=5 --into=front.dart --reach=0")
    for a, b in zip(both.pieces[0].edges, twice.pieces[0].edges, strict=True):
        assert drawn_length(a) == pytest.approx(drawn_length(b), abs=1e-6)
    assert angle(both.pieces[0].darts[0]) == pytest.approx(angle(twice.pieces[0].darts[0]), abs=1e-9)


@pytest.mark.parametrize("where", ["front.top@30%", "front.top@70%", "front.side@20%"])
def test_the_edge_is_fair_beside_the_wedge_and_as_it_was_beyond(where: str) -> None:
    after = contour(square(), f"{where} --amount=6 --into=front.dart").pieces[0]
    edge = after.edge(where.split(".")[1].split("@")[0])
    assert fairness(edge.parts[0]).kink < 1e-6
    # where the edge lies aslant to the wedge the two halves lie side by side, and the line goes from one to the other
    assert fairness(edge.parts[0]).inflections <= 1
    told = {f.label: f.value for f in contour(square(), f"{where} --amount=6 --into=front.dart").steps[-1].figures}
    assert told[f"{where} edge made fair, largest move"] < 8.0


@pytest.mark.parametrize("where", ["front.neck@1/2", "front.armhole@30%", "front.armhole@60%"])
def test_measured_along_the_edge_it_is_shorter_by_that_much_once_it_is_fair(where: str) -> None:
    """By the chords of a fine polyline, on edges that lie aslant to the point; measured straight across it is not."""
    before = replay(read_recipe("block bodice --size=bust-90"), Pattern())
    name = where.partition("@")[0].removeprefix("front.")

    def long(pattern: Pattern) -> float:
        points = np.concatenate([flatten(p, tolerance=0.0005) for p in pattern.piece("front").edge(name).parts])
        return float(np.hypot(*np.diff(points, axis=0).T).sum())

    after = contour(before, f"{where} --amount=8 --at=along --into=front.bust-dart --hold=front.centre")
    assert long(before) - long(after) == pytest.approx(8, abs=0.02)
    across = contour(before, f"{where} --amount=8 --at=edge --into=front.bust-dart --hold=front.centre")
    assert abs(long(before) - long(across) - 8) > 0.1


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_angles_about_the_point_are_kept_on_any_piece(data: st.DataObject) -> None:
    """What the wedge loses of the angles about the point the dart has.

    The lengths of all edges but the one that opens are kept exactly, and so are fold and centre.
    """
    piece = data.draw(pieces(Uids(), "front"))
    pattern = Pattern(pieces=(piece,))
    cut = [d for d in piece.darts if d.form == "cut" and not d.double]
    if not cut:
        return
    dart = cut[0]
    edge = data.draw(st.sampled_from([e for e in piece.edges if e.uid != dart.host]))
    share, amount = data.draw(st.floats(0.2, 0.8)), data.draw(st.floats(1.0, 12.0))
    try:
        after = load("contour")(
            target=f"front.{edge.name}@{share * 100:.4f}%", amount=amount, at="edge", into=f"front.{dart.name}", reach=0
        )(pattern)
    except FlatcutError:
        return
    (now,) = [d for d in after.pieces[0].darts if d.uid == dart.uid]
    drawn = {f.label: f.value for f in after.steps[-1].figures}
    (radians,) = [value for label, value in drawn.items() if " wedge, " in label]
    assert angle(now) - angle(dart) == pytest.approx(radians, abs=0.001)
    assert amount == pytest.approx(
        2 * np.hypot(*(dart.points[0] - point_at(edge, _place(edge, share))[0])) * math.sin(math.radians(radians) / 2)
    )
    for old in piece.edges:
        new = after.pieces[0].edge_of(old.uid)
        if old.uid != edge.uid:
            assert drawn_length(new) == pytest.approx(drawn_length(old), abs=1e-6)
        if old.use in ("fold", "centre"):
            before, behind = (chain(list(e.parts), within=np.inf) for e in (old, new))
            assert np.allclose(_shape(before.nodes), _shape(behind.nodes), atol=1e-6)


def _place(edge: Edge, share: float) -> float:
    return to_drawn(edge, share * sewn_length(edge))


def _shape(nodes: np.ndarray) -> np.ndarray:
    return np.hypot(*(nodes[:, None] - nodes[None]).transpose(2, 0, 1))


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("front.top@1/2 --into=front.dart", "give --amount"),
        ("front.top@1/2 --amount=6,7 --into=front.dart", "gives 2 for 1 places"),
        ("front.top@1/2 --amount=6 --at=hem --into=front.dart", "takes one of circle, edge, along"),
        ("front.top@1/2 --amount=6 --radius=20cm --into=front.dart", "inside the circle"),
        ("front.top@1/2 front.top@180 --amount=6 --into=front.dart", "one place"),
        ("front.top@1/2 --amount=6 --about=front.in --into=front.dart", "back-off front.dart --to=front.in"),
        ("front.in --amount=6 --into=front.dart", "lies on no edge"),
        ("front.top@1% --amount=30 --into=front.dart", "wider than the edge beside it"),
        ("front.waist@1/2 --amount=6 --into=front.dart", ""),
        ("front.top@1/2 --amount=170 --radius=90 --into=front.dart", "one up to 45"),
        ("front.top@1/2 --amount=6 --into=front.dart --hold=front.top", "hold another edge"),
    ],
)
def test_what_cannot_be_closed_is_refused_in_a_sentence(text: str, part: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        contour(square(), text)
    assert part in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("use", ["fold", "centre"])
def test_a_fold_is_not_bent(use: str) -> None:
    step = parse_line(f"edge front.centre --use={use}")
    assert step is not None
    with pytest.raises(FlatcutError, match=r"make it a seam with: edge front\.centre --use=seam"):
        contour(step(square()), "front.centre@1/2 --amount=6 --into=front.dart")


@pytest.mark.parametrize("bust", [78, 94, 118])
def test_gapes_of_the_books_on_blocks(bust: int) -> None:
    """Low neckline 6 at the circle, cut-away armhole 13, between the busts 9.5 at the centre (common practice, no
    source): the dart has all three angles, and the centre line, a seam, is fair again."""
    lines = [
        f"block torso --size=bust-{bust} --front-darts=1",
        "edge front.centre --use=seam",
        "pivot front.bust-dart --to=front.armhole/side@4cm --hold=front.centre",
        "contour front.neck@1/2 front.centre/bust-line --amount=6mm,9.5mm --at=circle,edge --into=front.bust-dart",
    ]
    pattern = Pattern()
    for text in lines:
        step = parse_line(text)
        assert step is not None
        before, pattern = pattern, step(pattern)
    was, now = (next(d for d in p.piece("front").darts if d.name == "bust-dart") for p in (before, pattern))
    away = float(np.hypot(*(spot(before, "front.centre/bust-line").point - was.points[0])))
    wanted = 2 * math.degrees(math.asin(3 / 75) + math.asin(9.5 / 2 / away))
    assert angle(now) - angle(was) == pytest.approx(wanted, abs=0.001)
    for name in ("neck", "centre"):
        edge = pattern.piece("front").edge(name)
        assert fairness(edge.parts[0]).kink < 0.01


def test_a_large_wedge_in_a_slanting_armhole_leaves_no_lump() -> None:
    """23 of 210 mm go from the armhole of a block beside its notch, which must bend more tightly then; nowhere by more
    than three fifths, by the radius of a circle through three places 2 mm apart."""
    pattern = Pattern()
    for text in ("block bodice --size=bust-90", "contour front.armhole@45% --amount=1cm --into=front.bust-dart"):
        step = parse_line(text)
        assert step is not None
        before, pattern = pattern, step(pattern)

    def tightest(where: Pattern) -> float:
        edge = where.piece("front").edge("armhole")
        places = np.array([point_at(edge, s)[0] for s in np.arange(1.0, drawn_length(edge) - 1, 2.0)])
        a, b, c = places[:-2], places[1:-1], places[2:]
        sides = [np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (a, c))]
        (ux, uy), (vx, vy) = (b - a).T, (c - a).T
        return float((2 * np.abs(ux * vy - uy * vx) / np.prod(sides, axis=0)).max())

    assert tightest(pattern) < 1.6 * tightest(before)


@pytest.mark.parametrize("at", ["45%", "30%"])
def test_an_armhole_is_faired_over_more_of_it_where_it_would_bend_too_sharply(at: str) -> None:
    """Radius by the circle through three neighbours of many points (closed form); a quarter sharper at most."""
    before = replay(read_recipe("block bodice --size=bust-90"), Pattern())
    after = replay(read_recipe(f"contour front.armhole@{at} --amount=1cm --into=front.bust-dart"), before)
    assert not any("sharply" in told for told in after.steps[-1].warnings)
    tightest = [_least_radius(p.piece("front").edge("armhole").parts[0]) for p in (before, after)]
    assert tightest[1] > tightest[0] / 1.27


def test_an_edge_that_must_bend_sharply_is_told_with_the_figure_and_what_to_type() -> None:
    text = "block bodice --size=bust-90\ncontour front.armhole@45% --amount=3cm --into=front.bust-dart"
    after = replay(read_recipe(text), Pattern())
    (told,) = [one for one in after.steps[-1].warnings if "sharply" in one]
    assert re.search(r"front\.armhole bends \d\.\d times as sharply at front\.armhole@45% .*true front\.armhole", told)


def _least_radius(curve: Curve) -> float:
    a, b, c = (point(curve, np.linspace(0, len(curve), 900)[k : 898 + k]) for k in (0, 1, 2))
    sides = [np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (c, a))]
    twice = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    return float((sides[0] * sides[1] * sides[2] / np.maximum(2 * twice, 1e-12))[5:-5].min())

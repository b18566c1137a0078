"""`join`: a block cut in two by hand comes together again, under any motion; what cannot be one piece is refused."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from flatcut.blocks.body import SIZES
from flatcut.checks.check import run_checks
from flatcut.cli.main import main
from flatcut.errors import FlatcutError, UsageError
from flatcut.formats.svg.read import read
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, flatten, line, polyline, section
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import renewed
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Allowance,
    Corner,
    Dart,
    Edge,
    Grain,
    NamedPoint,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    Stretch,
    TakeUp,
    area,
    outline,
)
from flatcut.pattern.walking import sewn_length
from flatcut.pattern.widths import width_at
from flatcut.recipe import read_recipe, replay
from tests.strategies import patterns

AWAY = Affine.translation(700, -300) @ Affine.rotation(0.7, (40, 90))


def at_start(value: float) -> Position:
    return Position(mode="start", value=value)


def dress() -> Pattern:
    """The dress block in one size, its side edges sewn, a width of its own on part of the side."""
    made = replay(read_recipe("block dress --size=bust-90\nallowance all --width=12\n"), Pattern())
    return replay(read_recipe("allowance front.side@-20cm..-0mm --width=2cm\n"), made)


def cut_at_the_hip(whole: Pattern) -> Pattern:
    """The front of the dress cut along its hip line, by hand: `front` above with the edge hip, `low` below with top."""
    front = whole.piece("front")
    side, centre, hem = (front.edge(name) for name in ("side", "centre", "hem"))
    (curve,) = side.parts
    below, above = section(curve, 0.0, 1.0), section(curve, 1.0, float(len(curve)))
    corner = np.array([centre.parts[0].start[0], above.start[1]])
    hip = line(corner, above.start)
    wide = Allowance(width=12.0)
    upper = replace(
        front,
        edges=(
            front.edge("shoulder"),
            front.edge("neck"),
            replace(centre, parts=(line(centre.parts[0].start, corner),)),
            Edge(uid="hip0", name="hip", parts=(hip,), allowance=wide),
            replace(
                side,
                parts=(above,),
                allowance=Allowance(
                    width=12.0,
                    stretches=(
                        Stretch(start=Position(mode="end", value=200), end=Position(mode="end", value=0), width=20),
                    ),
                ),
            ),
            front.edge("armhole"),
        ),
    )
    low = Piece(
        uid="low0",
        name="low",
        edges=(
            Edge(uid="low1", name="top", parts=(line(above.start, corner),), allowance=wide),
            replace(centre, uid="low2", parts=(line(corner, centre.parts[0].end),)),
            replace(hem, uid="low3"),
            replace(side, uid="low4", parts=(below,), allowance=wide),
        ),
        points=(NamedPoint(uid="low5", name="knee", at=np.array([corner[0] - 50, corner[1] + 200])),),
        quantity=front.quantity,
        cut_as=front.cut_as,
        grain=Grain(start=corner + np.array((-40, 250)), end=corner + np.array((-40, 30))),
    )
    (seam,) = (seam for seam in whole.seams if side.uid in {part.of for part in (*seam.a, *seam.b)})
    run = (RunPart(piece="low0", of="low4"), RunPart(piece=front.uid, of=side.uid))
    parted = replace(seam, a=run) if seam.a[0].of == side.uid else replace(seam, b=run)
    return replace(
        whole,
        pieces=(whole.piece("back"), upper, low),
        seams=(
            *(parted if s is seam else s for s in whole.seams),
            Seam(
                uid="hips",
                a=(RunPart(piece=front.uid, of="hip0"),),
                b=(RunPart(piece="low0", of="low1"),),
                reversed=True,
            ),
        ),
    )


def with_point(whole: Pattern) -> Pattern:
    """The whole with the point that the lower half brings along."""
    front = whole.piece("front")
    (side,) = front.edge("side").parts
    corner = np.array([front.edge("centre").parts[0].start[0], side.nodes[1][1]])
    points = (*front.points, NamedPoint(uid="low5", name="knee", at=corner + np.array((-50, 200))))
    return with_piece(whole, replace(front, points=points))


def with_piece(pattern: Pattern, piece: Piece) -> Pattern:
    return replace(pattern, pieces=tuple(piece if p.name == piece.name else p for p in pattern.pieces))


def join(pattern: Pattern, *targets: str, notches: bool = False, **options: object) -> Pattern:
    """Without notches at the ends of the seam: then nothing is there that was not before."""
    return load("join")(target=targets, notches=notches, **options)(pattern)  # type: ignore[arg-type]


def figures(pattern: Pattern) -> dict[str, float]:
    return {figure.label: figure.value for figure in pattern.steps[-1].figures}


@pytest.fixture(scope="module")
def whole() -> Pattern:
    return dress()


@pytest.mark.parametrize("matrix", [Affine(), AWAY, Affine.rotation(3.0)])
def test_two_halves_become_the_block_again(whole: Pattern, matrix: Affine) -> None:
    parted = cut_at_the_hip(whole)
    parted = with_piece(parted, moved(parted.piece("low"), matrix))
    done = join(parted, "front.hip", "low.top")
    assert [p.name for p in done.pieces] == ["back", "front"]
    assert done.piece("front").uid == whole.piece("front").uid
    assert differences(with_point(whole), done, tolerance=1e-6) == []
    told = figures(done)
    assert told["largest gap"] < 1e-9
    assert told["largest overlap"] < 1e-9
    assert abs(told["area changed by"]) < 1e-6
    assert told["front.side bends at the joint by"] < 0.1
    assert not done.steps[-1].warnings


def test_the_other_half_may_be_the_one_that_stays(whole: Pattern) -> None:
    parted = cut_at_the_hip(whole)
    parted = with_piece(parted, moved(parted.piece("low"), AWAY))
    done = join(parted, "low.top", "front.hip", name="front")
    assert done.piece("front").uid == "low0"
    # as the first way round, moved as the lower half had been
    other = join(parted, "front.hip", "low.top").piece("front")
    there = {edge.name: edge for edge in moved(other, AWAY).edges}
    for edge in done.piece("front").edges:
        for one, two in zip(edge.parts, there[edge.name].parts, strict=True):
            assert np.abs(one.controls - two.controls).max() < 1e-9
    assert {len(seam.a) + len(seam.b) for seam in done.seams} == {2}


@given(st.floats(-3.1, 3.1), st.floats(-900, 900), st.floats(-900, 900), st.booleans())
def test_joining_goes_with_every_motion_and_mirror(turn: float, x: float, y: float, flipped: bool) -> None:
    """Joining and then moving the whole is moving both and then joining."""
    pattern = two_rectangles()
    matrix = Affine.translation(x, y) @ Affine.rotation(turn)
    if flipped:
        matrix = matrix @ Affine.scaling(-1, 1)
    both = replace(pattern, pieces=tuple(moved(piece, matrix) for piece in pattern.pieces))
    first, then = join(pattern, "a.low", "b.top"), join(both, "a.low", "b.top")
    first = replace(first, pieces=(moved(first.pieces[0], matrix),))
    assert differences(first, then, tolerance=1e-6) == []


def rectangle(name: str, sides: str, *, wide: float = 100.0, high: float = 60.0, y: float = 0.0) -> Piece:
    corners = [(0.0, y), (wide, y), (wide, y + high), (0.0, y + high), (0.0, y)]
    edges = tuple(
        Edge(uid=f"{name}{k}", name=side, parts=(line(corners[k], corners[k + 1]),))
        for k, side in enumerate(sides.split())
    )
    return Piece(uid=name * 4, name=name, edges=edges)


def two_rectangles(*, wide: float = 100.0, sides: str = "top right low left") -> Pattern:
    """`a` with what may hang on a piece, and `b` apart from it and turned."""
    a = rectangle("a", "head right low left")
    darts = (Dart(uid="ad", name="dart", legs=(line((0, 40), (30, 30)), line((30, 30), (0, 20))), host="a3"),)
    left = replace(a.edges[3], parts=(line((0, 60), (0, 40)), line((0, 20), (0, 0))))
    a = replace(
        a,
        edges=(*a.edges[:3], left),
        darts=darts,
        notches=(
            Notch(uid="an1", edge="a1", at=Position(mode="start", value=10)),
            Notch(uid="an2", edge="a1", at=Position(mode="end", value=5)),
            Notch(uid="an3", edge="a2", at=Position(mode="fraction", value=0.5)),
        ),
    )
    b = rectangle("b", sides, wide=wide)
    b = replace(
        b,
        notches=(
            Notch(uid="bn1", edge="b1", at=Position(mode="start", value=20)),
            Notch(uid="bn2", edge="b1", at=Position(mode="end", value=7)),
            Notch(uid="bn3", edge="b1", at=Position(mode="fraction", value=0.25)),
            Notch(uid="bn4", edge="b0", at=Position(mode="start", value=50)),
        ),
        points=(NamedPoint(uid="bp", name="pocket", at=np.array([20.0, 10.0])),),
    )
    return Pattern(pieces=(a, moved(b, AWAY)))


def test_marks_keep_their_places() -> None:
    done = join(two_rectangles(), "a.low", "b.top").pieces[0]
    assert [edge.name for edge in done.edges] == ["head", "right", "low", "left"]
    right, left = done.edge("right"), done.edge("left")
    assert (sewn_length(right), len(right.parts[0])) == (120.0, 1), "straight and straight is one straight span"
    assert [len(part) for part in left.parts] == [1, 1]
    places = {n.uid: n.at.along(sewn_length(done.edge_of(n.edge))) for n in done.notches}
    # those of the joined edges are gone; others lie where they lay, the lower ones 60 mm further along
    assert places == pytest.approx({"an1": 10, "an2": 55, "bn1": 80, "bn2": 113, "bn3": 75})
    assert {n.uid: n.at.mode for n in done.notches}["bn2"] == "end"
    (dart,) = done.darts
    assert (done.edge_of(dart.host).name, dart.after) == ("left", 0)
    assert np.allclose(dart.feet, [(0, 40), (0, 20)])
    assert np.allclose(done.points[0].at, (20, 70))


def test_a_dart_of_the_piece_that_is_laid_on_comes_along() -> None:
    done = join(two_rectangles(), "b.top", "a.low").pieces[0]
    (dart,) = done.darts
    assert (done.edge_of(dart.host).name, dart.after) == ("left", 0)
    ring = Polygon(flatten(chain(outline(done), within=1e-6), tolerance=0.01))
    assert ring.is_valid
    # a dart of 20 mm by 30 mm is cut out
    assert ring.area == pytest.approx(100 * 120 - 300)


def test_edges_of_other_names_stay_two_with_a_corner_between() -> None:
    done = join(two_rectangles(sides="top flank hem slit"), "a.low", "b.top").pieces[0]
    assert [edge.name for edge in done.edges] == ["head", "right", "flank", "hem", "slit", "left"]
    assert area(done) == pytest.approx(100 * 120 - 300)


def two_pairs(*, eased: tuple[float, float] = (0.0, 0.0), suggested: tuple[bool, bool] = (False, False)) -> Pattern:
    """Two pairs of pieces with side seams, above and below; eased: mm that b is longer than a's 60 mm, in each."""
    pieces = []
    for name, more in (("a", (0.0, 0.0)), ("b", eased)):
        for k, half in enumerate(("up", "low")):
            sides = ("head right low left", "top right hem left")[k]
            piece = rectangle("x", sides, high=60 + more[k], y=k * (60 + more[0]))
            edges = tuple(replace(e, uid=f"{name}{half}{e.name}") for e in piece.edges)
            pieces.append(
                moved(
                    replace(piece, uid=name + half, name=name + half, edges=edges),
                    Affine.translation(200 * (name == "b"), 0),
                )
            )
    seams = tuple(
        Seam(
            uid=half,
            a=(RunPart(piece="a" + half, of=f"a{half}right"),),
            b=(RunPart(piece="b" + half, of=f"b{half}left"),),
            reversed=True,
            ease=eased[k],
            suggested=suggested[k],
        )
        for k, half in enumerate(("up", "low"))
    )
    return Pattern(pieces=tuple(pieces), seams=seams)


def test_seams_follow_and_come_together() -> None:
    """One long seam once both sides are joined."""
    one = join(two_pairs(), "aup.low", "alow.top", name="a")
    assert len(one.seams) == 2
    assert [(run_sewn(one, s.a), run_sewn(one, s.b)) for s in one.seams] == [(60, 60), (60, 60)]
    assert [s.a[0].start for s in one.seams] == [None, at_start(60)]
    both = join(one, "bup.low", "blow.top", name="b")
    (seam,) = both.seams
    assert (run_sewn(both, seam.a), run_sewn(both, seam.b), seam.reversed) == (120, 120, True)
    assert (seam.a[0].start, seam.a[0].end, seam.b[0].start, seam.b[0].end) == (None, None, None, None)


@pytest.mark.parametrize("eased", [(4.0, 6.0), (4.0, 0.0), (0.0, 6.0), (-3.0, 5.0)])
def test_the_ease_of_seams_that_come_together_is_the_sum(eased: tuple[float, float]) -> None:
    """Walked, the one long seam has what both had; one that lost it would be found too long."""
    one = join(two_pairs(eased=eased), "aup.low", "alow.top", name="a")
    assert [s.ease for s in one.seams] == list(eased)
    both = join(one, "bup.low", "blow.top", name="b")
    (seam,) = both.seams
    assert (seam.ease, run_sewn(both, seam.b) - run_sewn(both, seam.a)) == (sum(eased), pytest.approx(sum(eased)))
    assert not [f for f in run_checks(both) if f.check == "seam-walk"]
    lost = replace(both, seams=(replace(seam, ease=0.0),))
    assert len([f for f in run_checks(lost) if f.check == "seam-walk"]) == 1


@pytest.mark.parametrize("suggested", [(True, True), (True, False), (False, True), (False, False)])
def test_seams_that_come_together_are_suggested_where_both_were(suggested: tuple[bool, bool]) -> None:
    one = join(two_pairs(suggested=suggested), "aup.low", "alow.top", name="a")
    assert tuple(s.suggested for s in one.seams) == suggested
    (seam,) = join(one, "bup.low", "blow.top", name="b").seams
    assert seam.suggested == all(suggested)


def test_a_seam_of_the_joined_edge_with_another_is_told() -> None:
    pattern = two_rectangles()
    third = rectangle("c", "top right low left", y=900)
    seam = Seam(uid="s", a=(RunPart(piece="cccc", of="c0"),), b=(RunPart(piece="aaaa", of="a2"),))
    done = join(replace(pattern, pieces=(*pattern.pieces, third), seams=(seam,)), "a.low", "b.top")
    assert done.seams == ()
    assert "a seam of a.low with other edges is gone" in done.steps[-1].warnings


@pytest.mark.parametrize(("first", "second"), [(None, 15.0), (8.0, 15.0), (8.0, 8.0), (8.0, None)])
def test_widths_stay_where_they_were(first: float | None, second: float | None) -> None:
    pattern = two_rectangles()
    a, b = pattern.pieces

    def wide(piece: Piece, k: int, width: float | None) -> Piece:
        taper = Stretch(start=at_start(10), end=at_start(30), width=5, end_width=9)
        allowance = None if width is None else Allowance(width=width, stretches=(taper,))
        return replace(
            piece, edges=tuple(replace(e, allowance=allowance) if j == k else e for j, e in enumerate(piece.edges))
        )

    a, b = wide(a, 1, first), wide(b, 1, second)
    right = join(replace(pattern, pieces=(a, b)), "a.low", "b.top").pieces[0].edge("right")
    for drawn in (0.5, 12, 25, 45, 59):
        assert width_at(right, drawn) == pytest.approx(width_at(a.edge("right"), drawn))
        assert width_at(right, drawn + 60) == pytest.approx(width_at(b.edge("right"), drawn))
    assert right.allowance is not None
    assert len(right.allowance.stretches) <= 3


def test_an_edge_that_tapers() -> None:
    pattern = two_rectangles()
    a, b = pattern.pieces
    taper = Allowance(width=10, end_width=20)
    b = replace(b, edges=tuple(replace(e, allowance=taper) if e.name == "left" else e for e in b.edges))
    left = join(replace(pattern, pieces=(a, b)), "a.low", "b.top").pieces[0].edge("left")
    # a's side has no allowance stated, and so has none
    assert [width_at(left, at) for at in (0, 30, 59.9, 70)] == pytest.approx([10, 15, 20, 0], abs=0.02)


def test_a_small_difference_is_taped_to_the_middle() -> None:
    done = join(two_rectangles(wide=101.6), "a.low", "b.top")
    told = figures(done)
    # 0.8 mm at each end; both sides give way by half
    assert told["largest gap"] == pytest.approx(0.8, abs=1e-9)
    right, left = done.pieces[0].edge("right"), done.pieces[0].edge("left")
    assert np.allclose(right.parts[0].nodes, [(100, 0), (100.8, 120)])
    assert np.allclose(left.parts[0].nodes, [(-0.8, 120), (-0.4, 60), (0, 40)])
    # triangles of 0.4 mm by 60 mm below and above, but by 20 mm above on the left, where the dart's foot is
    assert told["area changed by"] == pytest.approx((0.4 * (60 - 60 + 20 - 60) / 2) / 100)
    with pytest.raises(UsageError, match=r"up to 2 mm apart \(gap\).*--within=2mm"):
        join(two_rectangles(wide=104), "a.low", "b.top")
    wide = join(two_rectangles(wide=104), "a.low", "b.top", within=2.0)
    assert figures(wide)["largest gap"] == pytest.approx(2.0)


def test_a_curve_against_a_straight_is_measured() -> None:
    """A hollow of 3 mm beside a straight edge is a gap of 2 mm where both lie best; a round one an overlap."""
    for bend, kind in ((-3.0, "gap"), (3.0, "overlap")):
        b = rectangle("b", "top right low left")
        curved = polyline([(0, 0), (50, -bend), (100, 0)])
        b = replace(b, edges=(replace(b.edges[0], parts=(curved,)), *b.edges[1:]))
        a = two_rectangles().pieces[0]
        with pytest.raises(UsageError, match=rf"\({kind}\)"):
            join(Pattern(pieces=(a, b)), "a.low", "b.top")
        done = join(Pattern(pieces=(a, b)), "a.low", "b.top", within=2.0)
        assert max(figures(done)["largest gap"], figures(done)["largest overlap"]) == pytest.approx(1.5, abs=0.1)


def _a(change: dict[str, object], k: int | None = None) -> Pattern:
    pattern = two_rectangles()
    a, b = pattern.pieces
    if k is None:
        return replace(pattern, pieces=(replace(a, **change), b))  # type: ignore[arg-type]
    edges = tuple(replace(e, **change) if j == k else e for j, e in enumerate(a.edges))  # type: ignore[arg-type]
    return replace(pattern, pieces=(replace(a, edges=edges), b))


@pytest.mark.parametrize(
    ("pattern", "targets", "said"),
    [
        (two_rectangles(), ["a.low"], "join takes two edges"),
        (two_rectangles(), ["a.low", "b.top", "b.low"], "join takes two edges.*3 given"),
        (two_rectangles(), ["a.low", "b.top@0..5cm"], r"apart \(gap\).*--within=25mm"),
        (two_rectangles(), ["a.low", "b.top@5cm"], "'b.top@50' is a place"),
        (two_rectangles(), ["a.low@5cm..5cm", "b.top@5cm..5cm"], "has no length"),
        (two_rectangles(), ["a.low", "a.head"], "both edges lie on a"),
        (two_rectangles(), ["a.low", "b.tpo"], "did you mean 'top'"),
        (_a({"use": "hem"}, 1), ["a.low", "b.top"], "one is hem, the other seam; make them alike with edge"),
        (_a({"cut_as": "pair"}), ["a.low", "b.top"], "a is cut as pair and b single: they are no one piece"),
        (_a({"quantity": 2}), ["a.low", "b.top"], "a is cut 2 and b 1"),
        (
            _a({"takeups": (TakeUp(uid="t", kind="gathers", start=10, end=90, amount=0.1),)}, 2),
            ["a.low", "b.top"],
            "a.low has gathers in it",
        ),
        (two_rectangles(), ["a.left", "b.right"], "dart a.dart opens on a.left; move it to another edge"),
    ],
)
def test_what_is_refused(pattern: Pattern, targets: list[str], said: str) -> None:
    with pytest.raises(FlatcutError, match=said) as caught:
        join(pattern, *targets)
    assert "\n" not in str(caught.value)


def test_pieces_that_would_lie_over_each_other_or_mirrored() -> None:
    a, b = two_rectangles().pieces
    hook = polyline([(100, 0), (110, 0), (110, -50), (10, -50), (10, -90), (140, -90), (140, 30), (100, 30)])
    grabbing = Piece(
        uid="h",
        name="hook",
        edges=(
            Edge(uid="h1", name="top", parts=(line((0, 0), (100, 0)),)),
            Edge(uid="h2", name="arm", parts=(hook,)),
            Edge(uid="h3", name="under", parts=(line((100, 30), (0, 30)),)),
            Edge(uid="h4", name="end", parts=(line((0, 30), (0, 0)),)),
        ),
    )
    with pytest.raises(UsageError, match=r"a and hook would lie over each other by 9 cm²"):
        join(Pattern(pieces=(a, grabbing)), "a.low", "hook.top")
    flipped = moved(b, Affine.scaling(-1, 1))
    with pytest.raises(UsageError, match="b lies mirrored, and a does not; flip one of them over first"):
        join(Pattern(pieces=(a, flipped)), "a.low", "b.top")


def test_folds() -> None:
    def folded(pattern: Pattern, *places: tuple[int, int]) -> Pattern:
        pieces = tuple(
            replace(p, edges=tuple(replace(e, use="fold") if (k, j) in places else e for j, e in enumerate(p.edges)))
            for k, p in enumerate(pattern.pieces)
        )
        return replace(pattern, pieces=pieces)

    done = join(folded(two_rectangles(), (0, 1), (1, 1)), "a.low", "b.top")
    assert [e.name for e in done.pieces[0].edges if e.use == "fold"] == ["right"]
    with pytest.raises(UsageError, match="would have the folds right and slit"):
        join(folded(two_rectangles(sides="top flank hem slit"), (0, 1), (1, 3)), "a.low", "b.top")
    # 100 mm against 100.6 mm: the fold would have a bend; not so where the ends need no taping
    slanted = two_rectangles()
    b = rectangle("b", "top right low left")
    leaning = tuple(
        replace(e, parts=(line(e.start, e.end + np.array((1.0, 0.0))),)) if e.name == "right" else e for e in b.edges
    )
    leaning = tuple(
        replace(e, parts=(line(e.start + np.array((1.0, 0.0)), e.end),)) if e.name == "low" else e for e in leaning
    )
    with pytest.raises(UsageError, match=r"one fold with a bend of 0.95° in it"):
        join(
            folded(replace(slanted, pieces=(slanted.pieces[0], replace(b, edges=leaning))), (0, 1), (1, 1)),
            "a.low",
            "b.top",
        )


def test_edges_of_one_name_are_one_edge_whatever_the_corner_and_its_angle_is_said() -> None:
    """No name depends on a measure: in another size the same corner may be 1.9° or 2.1°."""
    b = rectangle("b", "top right low left")
    edges = tuple(
        replace(e, parts=(line(e.start, e.end + np.array((6.0, 0.0))),)) if e.name == "right" else e for e in b.edges
    )
    edges = tuple(
        replace(e, parts=(line(e.start + np.array((6.0, 0.0)), e.end),)) if e.name == "low" else e for e in edges
    )
    pattern = Pattern(pieces=(two_rectangles().pieces[0], replace(b, edges=edges)))
    done = join(pattern, "a.low", "b.top")
    assert [edge.name for edge in done.pieces[0].edges] == ["head", "right", "low", "left"]
    # atan(6 / 60) = 5.71°
    assert figures(done)["a.right bends at the joint by"] == pytest.approx(5.7106, abs=1e-3)


def test_edges_of_one_name_that_do_not_meet_get_a_number() -> None:
    done = join(two_rectangles(sides="top flank head slit"), "a.low", "b.top")
    assert [edge.name for edge in done.pieces[0].edges] == ["head", "right", "flank", "head-2", "slit", "left"]
    assert "b.head is head-2 now, as a has a head too" in done.steps[-1].warnings
    done = join(two_rectangles(sides="top left low right"), "a.low", "b.top")
    assert [edge.name for edge in done.pieces[0].edges] == ["head", "right", "left-2", "low", "right-2", "left"]


def test_grain_corners_and_pressing_are_told() -> None:
    a, b = two_rectangles().pieces
    a = replace(
        a,
        grain=Grain(start=np.array([50.0, 10]), end=np.array([50.0, 50])),
        darts=(replace(a.darts[0], pressed="a2"),),
        edges=tuple(
            replace(e, corner=Corner(kind="squared", through="a2")) if e.name == "right" else e for e in a.edges
        ),
    )
    slanted = Grain(start=np.array([50.0, 10]), end=np.array([55.0, 50]))
    b = replace(moved(b, AWAY.inverse()), grain=slanted)
    done = join(Pattern(pieces=(a, b)), "a.low", "b.top")
    piece = done.pieces[0]
    # 40 mm are short for 120 mm: centred again on its own line, two thirds of the piece long
    assert piece.grain is not None
    assert np.allclose([piece.grain.start, piece.grain.end], [(50, 20), (50, 100)], atol=1e-6)
    assert piece.darts[0].pressed == ""  # folded as is usual: open only where that is stated
    assert piece.edge("right").corner == b.edge("right").corner
    # atan(5 / 40) = 7.13°
    assert done.steps[-1].warnings == (
        "the grain of b ran 7.1° off that of a, which is kept",
        "1 notch of a.low went with that edge",
        "1 notch of b.top went with that edge",
        "dart dart was pressed toward a.low, which is gone; it is folded as is usual now",
        "the corner a.right/low is gone, which was to be squared",
    )


def test_a_torso_and_a_straight_skirt_in_a_drawing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Drawn below the torso's hip and joined, in files: it is the front of the dress block."""
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"")))
    out = tmp_path / "dress.svg"
    assert main(["block", "torso", "--size=bust-90", "-o", str(out)]) == 0
    hip = read(out.read_bytes())[1].piece("front").edge("hip")
    wide, high = (
        float(abs(hip.end[0] - hip.start[0])),
        SIZES["bust-90"]["waist-to-knee"] - SIZES["bust-90"]["waist-to-hip"],
    )
    path = f'<path id="skirt" d="M 900,40 h {wide} v {high} h {-wide} z"/><rect id="mine" width="3" height="3"/>'
    out.write_bytes(out.read_bytes().replace(b"</svg>", f"{path}</svg>".encode()))
    for words in (
        ["piece", "id:skirt", "--names=skirt"],
        ["edge", "skirt.e1", "skirt.e2", "skirt.e3", "skirt.e4", "--names=top,centre,hem,side"],
        ["edge", "skirt.centre", "--use=fold"],
        ["edge", "skirt.hem", "--use=hem"],
        ["label", "skirt", "--cut=fold"],
        ["join", "front.hip", "skirt.top"],
    ):
        assert main([*words, "-i", str(out), "--in-place"]) == 0, words
    assert b'id="mine"' in out.read_bytes()
    assert b'id="skirt"' not in out.read_bytes()
    _, pattern, findings = read(out.read_bytes())
    assert findings == []
    assert [p.name for p in pattern.pieces] == ["back", "front"]
    wanted = replay(read_recipe("block dress --size=bust-90"), Pattern()).piece("front")
    made = pattern.piece("front")
    assert [edge.name for edge in made.edges] == [edge.name for edge in wanted.edges]
    for edge in wanted.edges:
        for a, b in zip(edge.parts, made.edge(edge.name).parts, strict=True):
            assert np.abs(a.controls - b.controls).max() < 1e-3, edge.name
    assert pattern.steps[-1].line == "join front.hip skirt.top"


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(patterns(), st.integers(0, 11))
def test_any_piece_joins_its_twin_turned_by_half_or_says_why_not(pattern: Pattern, number: int) -> None:
    """Turned about the middle of an edge a twin lies on the other side of it, as long as that edge is its own image."""
    piece = pattern.pieces[0]
    edge = piece.edges[number % len(piece.edges)]
    twin = renewed(piece, Uids(pattern.uids()), name="twin")

    def renamed(things: tuple) -> tuple:
        return tuple(replace(thing, name=f"t-{thing.name}") for thing in things)

    twin = replace(
        twin,
        edges=renamed(twin.edges),
        darts=renamed(twin.darts),
        lines=renamed(twin.lines),
        points=renamed(twin.points),
        grain=None,
    )
    twin = moved(twin, AWAY)
    start = Pattern(pieces=(piece, twin))
    try:
        done = join(start, f"{piece.name}.{edge.name}", f"twin.t-{edge.name}", within=20.0)
    except FlatcutError as error:
        event(f"refused: {len(str(error).splitlines())} sentence")
        return
    event("joined")
    (whole,) = done.pieces
    assert len(whole.things()) == 2 * len(piece.things()) - 2
    assert len(whole.notches) == 2 * sum(notch.edge != edge.uid for notch in piece.notches)
    assert (len(whole.holes), len(whole.buttons)) == (2 * len(piece.holes), 2 * len(piece.buttons))
    # the outline is whole, and what lay on the first piece lies there still
    ring = Polygon(flatten(chain(outline(whole), within=1e-6), tolerance=0.01))
    assert abs(area(whole)) == pytest.approx(2 * abs(area(piece)), rel=0.2)
    assert ring.area == pytest.approx(abs(area(whole)), rel=1e-3) or not ring.is_valid
    kept = {thing.name: thing for thing in whole.points}
    for point in piece.points:
        assert np.array_equal(kept[point.name].at, point.at)
    uids = [thing.uid for thing in whole.things()]
    assert len(set(uids)) == len(uids)
    assert {notch.edge for notch in whole.notches} <= {e.uid for e in whole.edges}
    assert {dart.host for dart in whole.darts if dart.host} <= {e.uid for e in whole.edges}

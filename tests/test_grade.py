"""Sizes by rules: what must hold in every size, on a bodice graded by 4 cm of bust from size to size."""

from __future__ import annotations

import math
import os
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from flatcut.cli import main
from flatcut.errors import FlatcutError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import flatten, line, polyline
from flatcut.geometry.mean_value import mean_values
from flatcut.grading.rules import numbered_of_text, rules_of_text
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Dart, Edge, Grain, Hole, NamedPoint, Pattern, Piece, TakeUp, outline
from tests.test_operation_pictures import alike
from tests.test_reshape_chains import furnished

TABLE = Path(__file__).parents[1] / "samples" / "grading" / "bodice-rules.toml"
SIZES = ("34", "36", "38", "40", "42", "44", "46", "48")
BASE = "38"
STEP = 10.0
"""mm that the side goes out from size to size: a quarter of 4 cm of bust."""


@cache
def base() -> Pattern:
    pattern = load("block")(target=("bodice",), size="bust-90")(Pattern())
    pattern = load("style")(size=BASE)(pattern)
    pattern = load("allowance")(target=("all",), width=10.0)(pattern)
    return load("notch")(target=("front.side@60%",), mates=True)(pattern)


@cache
def sized(size: str) -> Pattern:
    return load("grade")(rules=str(TABLE), size=size)(base())


def grade(pattern: Pattern, rows: str, size: str = "other") -> Pattern:
    return load("grade")(rules=f"point,right,up|{rows}", size=size)(pattern)


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(np.concatenate([flatten(curve, tolerance=1e-3)[:-1] for curve in outline(piece)]))


def line_of(edge: Edge) -> shapely.MultiLineString:
    return shapely.MultiLineString([flatten(part, tolerance=1e-4) for part in edge.parts])


def apart(one: Pattern, two: Pattern) -> float:
    """mm between the outlines, darts, lines and marks of two patterns, at most; by shapely."""
    found = []
    for a, b in zip(one.pieces, two.pieces, strict=True):
        found.append(shapely.hausdorff_distance(ring(a).exterior, ring(b).exterior))
        found += [float(np.abs(p.at - q.at).max()) for p, q in zip(a.points, b.points, strict=True)]
        found += [float(np.abs(p.points - q.points).max()) for p, q in zip(a.darts, b.darts, strict=True)]
        found += [
            shapely.hausdorff_distance(*(shapely.LineString(flatten(m.curve, tolerance=1e-3)) for m in pair))
            for pair in zip(a.lines, b.lines, strict=True)
        ]
        if a.grain is not None and b.grain is not None:
            found.append(float(np.abs(np.array([a.grain.start - b.grain.start, a.grain.end - b.grain.end])).max()))
        for m, n in zip(a.notches, b.notches, strict=True):
            found.append(float(np.hypot(*(place_of(a, m.edge, m.at) - place_of(b, n.edge, n.at)))))
    return max(found)


def place_of(piece: Piece, edge: str, at) -> np.ndarray:
    own = piece.edge_of(edge)
    whole = line_of(own).length - sum(t.amount for t in own.takeups)
    found = line_of(own).interpolate(at.along(whole)) if not own.takeups else shapely.Point(0, 0)
    return np.array(found.coords[0])


# --- what holds in every size (common practice, no source, unless another is named)


@pytest.mark.parametrize("size", SIZES)
def test_every_point_stands_where_its_rule_says(size: str) -> None:
    steps = SIZES.index(size) - SIZES.index(BASE)
    was, now = base(), sized(size)
    for name, dx, dy in (
        ("back.neck/centre", 0.0, 4.0),
        ("back.neck/shoulder", 2.0, 4.0),
        ("back.shoulder/armhole", 4.5, 3.5),
        ("back.armhole/side", 10.0, 0.0),
        ("back.side/waist", 10.0, -1.0),
        ("front.armhole/side", -10.0, 0.0),
        ("front.bust-point", -3.0, 0.0),
        ("front.waist/centre", 0.0, -1.0),
    ):
        went = spot(now, name).point - spot(was, name).point
        assert went == pytest.approx([steps * dx, -steps * dy], abs=1e-9), name


def test_what_the_figures_of_the_table_come_to() -> None:
    """Girth 4 x 1.0, shoulder 0.252 at 20 degrees, half neckline 0.51, back length 0.5 cm (exact mathematics)."""
    one, two = sized("38"), sized("40")
    wide = [sum(float(np.ptp(ring(p).exterior.coords, axis=0)[0]) for p in pattern.pieces) for pattern in (one, two)]
    assert 2 * (wide[1] - wide[0]) == pytest.approx(4 * STEP, abs=1e-6)
    long = [float(spot(p, "back.waist/centre").point[1] - spot(p, "back.neck/centre").point[1]) for p in (one, two)]
    assert long[1] - long[0] == pytest.approx(5.0, abs=1e-9)
    shoulder = [line_of(p.piece("front").edge("shoulder")).length for p in (one, two)]
    assert shoulder[1] - shoulder[0] == pytest.approx(2.52, abs=0.2)
    neck = [sum(line_of(p.edge("neck")).length for p in pattern.pieces) for pattern in (one, two)]
    assert neck[1] - neck[0] == pytest.approx(5.1, abs=0.6)


@pytest.mark.parametrize("size", SIZES)
def test_seams_darts_grain_and_fold_in_every_size(size: str) -> None:
    was, now = base(), sized(size)
    assert now.style.size == size
    for seam, named in (("side", "side"), ("shoulder", "shoulder")):
        lengths = [
            [line_of(p.piece(name).edge(edge)).length for name, edge in (("front", seam), ("back", named))]
            for p in (was, now)
        ]
        assert lengths[1][0] - lengths[1][1] == pytest.approx(lengths[0][0] - lengths[0][1], abs=0.5)
    for old, new in zip(was.pieces, now.pieces, strict=True):
        for a, b in zip(old.darts, new.darts, strict=True):
            legs = [shapely.LineString(flatten(leg, tolerance=1e-4)).length for leg in b.legs]
            assert legs[0] == pytest.approx(legs[1], abs=0.01)
            # the mouths go as one, so the intake is that of the base size
            mouths = [math.dist(*dart.feet) for dart in (a, b)]
            assert mouths[1] == pytest.approx(mouths[0], abs=1e-6)
        assert old.grain is not None
        assert new.grain is not None
        ways = [g.end - g.start for g in (old.grain, new.grain)]
        assert ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0] == pytest.approx(0.0, abs=1e-6)
        fold = next(edge for edge in new.edges if edge.use == "fold")
        assert np.ptp([part.nodes[:, 0] for part in fold.parts]) < 1e-9
        assert [e.allowance for e in new.edges] == [e.allowance for e in old.edges]
    # 60 % down both sides, as before
    front, back = now.piece("front"), now.piece("back")
    down = []
    for piece, top in ((front, "front.armhole/side"), (back, "back.armhole/side")):
        (notch,) = [n for n in piece.notches if piece.edge_of(n.edge).name == "side"]
        place = shapely.Point(place_of(piece, notch.edge, notch.at))
        along = line_of(piece.edge("side")).project(place)
        start = line_of(piece.edge("side")).project(shapely.Point(spot(now, top).point))
        down.append(abs(along - start))
    assert down[0] == pytest.approx(down[1], abs=1.0)


def test_curves_keep_their_shape_from_size_to_size() -> None:
    """No line changes its direction by more than 2 degrees from a size to the next, against its chord."""
    for one, two in pairwise(SIZES):
        for a, b in zip(sized(one).pieces, sized(two).pieces, strict=True):
            for old, new in zip(a.edges, b.edges, strict=True):
                for p, q in zip(old.parts, new.parts, strict=True):
                    assert largest_turn(p, q) < 2.0, (one, two, old.name)


def largest_turn(one, two) -> float:
    ways = []
    for curve in (one, two):
        shape = shapely.LineString(flatten(curve, tolerance=1e-3))
        points = np.array([shape.interpolate(s, normalized=True).coords[0] for s in np.linspace(0, 1, 31)])
        chord = points[-1] - points[0]
        ways.append(np.unwrap(np.arctan2(*np.diff(points, axis=0).T[::-1])) - math.atan2(*chord[::-1]))
    return float(np.degrees(np.abs((ways[0] - ways[1] + np.pi) % (2 * np.pi) - np.pi).max()))


def test_centres_stay_square() -> None:
    for size in SIZES:
        front = sized(size).piece("front")
        neck, waist = front.edge("neck").parts[-1].controls[-1], front.edge("waist").parts[0].controls[0]
        for a, b in ((neck[3], neck[2]), (waist[0], waist[1])):
            assert abs(math.degrees(math.atan((b - a)[1] / (b - a)[0]))) < 1.0


def test_steps_are_even() -> None:
    """The same step from each size to the next moves every node alike."""
    corners = np.array([[e.end for p in sized(size).pieces for e in p.edges] for size in SIZES])
    steps = np.diff(corners, axis=0)
    # the mouth of the bust dart turns about its middle, by a few hundredths of a millimetre more or less
    assert np.abs(steps - steps.mean(axis=0)).max() < 0.2


# --- nothing, and there and back


def test_the_base_size_is_the_very_pattern() -> None:
    same = sized(BASE)
    assert same.pieces == base().pieces
    assert apart(same, base()) == 0.0


@pytest.mark.parametrize("size", ["34", "42", "48"])
def test_to_a_size_and_back_is_where_it_was(size: str) -> None:
    back = load("grade")(rules=str(TABLE), size=BASE)(sized(size))
    assert back.style.size == BASE
    assert apart(base(), back) < 1e-3


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(furnished(), st.data())
def test_any_piece_with_any_rules_there_and_back(pattern: Pattern, data: st.DataObject) -> None:
    """Random pieces with all that can stand on them, random rules of their corners."""
    piece = pattern.pieces[0]
    shift = st.floats(-4, 4).map(lambda value: round(value, 2))
    rules = [(f"front.{e.name}/{piece.after(e).name}", data.draw(shift), data.draw(shift)) for e in piece.edges]
    if len({name for name, *_ in rules}) < len(rules):
        return
    there, back = ("|".join(f"{n},{s * x},{s * y}" for n, x, y in rules) for s in (1, -1))
    try:
        graded = grade(pattern, there)
    except FlatcutError:
        return
    again = grade(graded, back)
    assert shapely.hausdorff_distance(ring(again.pieces[0]).exterior, ring(piece).exterior) < 0.01
    for old, new in zip(piece.marks(), again.pieces[0].marks(), strict=True):
        at = old.standing()
        if at is not None:
            assert np.abs(new.standing() - at).max() < 0.02, old
    for name, x, y in rules:
        if piece.cut_in(piece.edge(name.split(".")[1].split("/")[0]), 99) is None:
            went = spot(graded, name).point - spot(pattern, name).point
            turn = Affine() if piece.grain is None else piece.grain.upright.inverse()
            assert went == pytest.approx(turn.apply([x, -y]) - turn.apply([0, 0]), abs=0.1)


def test_a_piece_that_lies_turned_is_graded_alike() -> None:
    turn = Affine.rotation(0.5, (10.0, -20.0))
    lying = replace(base(), pieces=tuple(moved(piece, turn) for piece in base().pieces))
    graded = load("grade")(rules=str(TABLE), size="42")(lying)
    upright = replace(graded, pieces=tuple(moved(piece, turn.inverse()) for piece in graded.pieces))
    assert apart(upright, sized("42")) < 1e-6


# --- what goes along


def sheet(**more: Any) -> Pattern:
    """A sheet of 200 x 300 mm, its grain upright, and what else is asked."""
    ring = [(0, 0), (200, 0), (200, 300), (0, 300)]
    names = ("top", "right", "bottom", "left")
    edges = tuple(Edge(uid=n, name=n, parts=(line(ring[k], ring[(k + 1) % 4]),)) for k, n in enumerate(names))
    grain = Grain(start=np.array([100.0, 280.0]), end=np.array([100.0, 20.0]))
    return Pattern(pieces=(Piece(uid="p", name="p", edges=edges, grain=grain, **more),))


WIDER = "p.top/right,20,0|p.right/bottom,20,-30|p.bottom/left,0,-30|p.left/top,0,0"


def test_inside_a_sheet_all_goes_in_proportion() -> None:
    hole = Hole(uid="h", at=np.array([50.0, 150.0]))
    named = NamedPoint(uid="n", name="n", at=np.array([150.0, 30.0]))
    piece = grade(sheet(holes=(hole,), points=(named,)), WIDER).pieces[0]
    # a linear field, which mean value coordinates give back exactly
    assert piece.holes[0].at == pytest.approx([55.0, 165.0], abs=1e-6)
    assert piece.points[0].at == pytest.approx([165.0, 33.0], abs=1e-6)
    assert piece.grain is not None
    assert piece.grain.start == pytest.approx([110.0, 308.0], abs=1e-6)


def test_a_dart_with_two_points_keeps_its_width() -> None:
    wide = [np.array([[100.0, 80], [85, 160], [100, 240]]), np.array([[100.0, 240], [115, 160], [100, 80]])]
    legs = (polyline(wide[0]), polyline(wide[1]))
    dart = Dart(uid="d", name="fish", legs=legs, form="lines")
    rows = WIDER + "|p.fish.upper,10,0|p.fish.lower,10,-30"
    now = grade(sheet(darts=(dart,)), rows).pieces[0].darts[0]
    assert now.points.tolist() == pytest.approx(np.array([[110.0, 80.0], [110.0, 270.0]]), abs=1e-9)
    assert np.ptp(now.feet[:, 0]) == pytest.approx(30.0, abs=1e-9)


def test_fullness_keeps_its_amount_and_goes_with_the_cloth() -> None:
    pattern = sheet()
    piece = pattern.pieces[0]
    gathers = TakeUp(uid="g", kind="gathers", start=40.0, end=160.0, amount=50.0)
    piece = replace(piece, edges=(replace(piece.edges[0], takeups=(gathers,)), *piece.edges[1:]))
    now = grade(replace(pattern, pieces=(piece,)), WIDER).pieces[0].edges[0].takeups[0]
    assert (now.start, now.end, now.amount) == pytest.approx((44.0, 176.0, 50.0), abs=1e-6)


def test_an_alternate_grade_line() -> None:
    """A point whose rule has its own direction: here the bottom edge is upright for it, so right is down."""
    table = 'sizes=["a","b"]\nbase="a"\n[piece.p]\n"left/top"=[0,0]\n'
    table += '"top/right"={rule=[7, 3], up=["top/right", "left/top"]}\n'
    goes = rules_of_text(table).between("a", "b")
    rows = "|".join(f"{g.place},{g.by[0]},{g.by[1]},{g.up[0]},{g.up[1]}" if g.up else f"{g.place},0,0,," for g in goes)
    after = load("grade")(rules=f"point,right,up,from,to|{rows}", size="b")(sheet())
    # up points to the left in the drawing, right points up
    assert spot(after, "p.top/right").point == pytest.approx([200.0 - 3.0, -7.0], abs=1e-9)


def test_what_has_no_rule_is_named() -> None:
    after = grade(base(), "back.armhole/side,10,0|back.neck/centre,0,0")
    said = " ".join(after.steps[-1].warnings)
    assert "back.side/waist" in said
    assert "no rules for front" in said


def test_a_seam_that_fits_no_longer_is_said_with_the_amounts() -> None:
    rows = "back.armhole/side,10,0|back.side/waist,10,-6|back.neck/centre,0,0|back.waist/centre,0,0"
    said = " ".join(grade(base(), rows).steps[-1].warnings)
    assert "back.side is 5." in said
    assert "longer than front.side now, by 0 mm before" in said
    assert "the notch at" in said


def test_rules_of_a_file_with_numbers() -> None:
    """The rule file of ASTM D6673 (its words from memory) beside a table of which point has which rule."""
    rul = "UNITS: ENGLISH\nNUMBER OF SIZES: 2\nSIZE LIST: 10 12\nSAMPLE SIZE: 10\nRULE: DELTA 1\n0,0 0,0\n"
    rul += "RULE: DELTA 7\n0,0 0.5,-0.25\nEND\n"
    points = '[piece.p]\n"top/right" = 7\n"left/top" = 1\n'
    goes = rules_of_text(points, numbered_of_text(rul)).between("10", "12")
    assert [(str(go.place), go.by.tolist()) for go in goes] == [("p.top/right", [12.7, -6.35]), ("p.left/top", [0, 0])]


def test_mean_values_on_a_triangle_are_its_barycentric_coordinates() -> None:
    """Exact mathematics: on a triangle there is only one way."""
    triangle = np.array([[0.0, 0.0], [9.0, 1.0], [2.0, 7.0]])
    inside = np.array([[3.0, 2.0], [2.0, 1.0]])
    weights = mean_values(triangle, inside)
    assert weights @ triangle == pytest.approx(inside, abs=1e-12)
    system = np.vstack([triangle.T, np.ones(3)])
    assert weights[0] == pytest.approx(np.linalg.solve(system, [3.0, 2.0, 1.0]), abs=1e-12)


# --- what is refused


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("p.top/right,-250,0|p.left/top,0,0|p.right/bottom,0,0|p.bottom/left,0,0", "would lie over itself near"),
        ("p.top/right,1,0|p.right/top,2,0", "two rules that differ"),
        ("p.top,1,0", "is a whole edge"),
        ("p.nothing,1,0", "nothing"),
        ("q.top/right,1,0", "q"),
        ("p.top/right,a,0", "is no number"),
        ("p.top/right,1e9,0", "is no number"),
    ],
)
def test_rules_that_cannot_be(rows: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        grade(sheet(), rows)


def test_a_fold_that_would_turn_is_refused() -> None:
    with pytest.raises(FlatcutError, match=r"the fold back.centre would turn by 0\.\d+° against the grain"):
        grade(base(), "back.neck/centre,2,0|back.waist/centre,0,0|back.armhole/side,0,0")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "begins with its sizes"),
        ('sizes = ["a"]', "begins with its sizes"),
        ('sizes = ["a", "a"]\nbase = "a"', "stands twice"),
        ('sizes = ["a", "b"]\nbase = "c"', "base size"),
        ('sizes = ["a", "b"]\nbase = "a"', "moves no point"),
        ('sizes = ["a", "b"]\nbase = "a"\nunits = "ell"', "units is one of"),
        ('sizes = ["a", "b"]\nbase = "a"\n[piece.p]\n"x/y" = 3', "has rule 3, which is not"),
        ('sizes = ["a", "b"]\nbase = "a"\n[piece.p]\n"x/y" = [[1, 0], [0, 0]]', "moves in the base size"),
        ('sizes = ["a", "b"]\nbase = "a"\n[piece.p]\n"x/y" = [[0, 0]]', "no rule for 2 sizes"),
        ('sizes = ["a", "b"]\nbase = "a"\n[piece.p]\nup = ["x"]', "takes two places"),
        ('sizes = ["a", "b"]\nbase = "a"\n[rules]\nx = [1, 2]\n[piece.p]', "is none"),
        ('sizes = ["a", "b"]\nbase = "a"\n[front]\n"x/y" = [1, 2]', r"below \[piece.NAME\]"),
    ],
)
def test_tables_that_are_none(text: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        rules_of_text(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("SIZE LIST: a b\nSAMPLE SIZE: a\nRULE: DELTA 1\n0,0 0,0\n", "does not say its units"),
        ("UNITS: METRIC\nSIZE LIST: a b\nSAMPLE SIZE: c\n", "SAMPLE SIZE of it"),
        ("UNITS: METRIC\nSIZE LIST: a b\nSAMPLE SIZE: a\nRULE: DELTA 1\n0,0\n", "has no pair"),
        ("UNITS: METRIC\nSIZE LIST: a b\nSAMPLE SIZE: a\nRULE: X\n0,0\n", "names no rule by a number"),
        ("UNITS: METRIC\n1,2 3,4\n", "stands before the first rule"),
    ],
)
def test_rule_files_that_are_none(text: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        numbered_of_text(text)


# --- the picture of the docs

NEST = Path(__file__).parents[1] / "samples" / "docs" / "grading" / "bodice-nest.svg"


def test_the_picture_of_all_sizes(tmp_path: Path) -> None:
    """All sizes of the table over each other, on the centre at the waist; FLATCUT_UPDATE=1 draws it anew."""
    files = []
    for size in SIZES:
        files.append(str(tmp_path / f"{size}.svg"))
        Path(files[-1]).write_bytes(write(new_drawing()[0], sized(size)))
    on = "--on=back.waist/centre,front.waist/centre"
    assert main(["nest", *files, on, "--lines=stitch", "-o", str(tmp_path / "nest.svg")]) == 0
    made = (tmp_path / "nest.svg").read_text(encoding="utf-8")
    if os.environ.get("FLATCUT_UPDATE"):
        NEST.write_text(made, encoding="utf-8")
    assert alike(NEST.read_text(encoding="utf-8"), made)


def test_pieces_that_come_to_lie_over_each_other_are_named() -> None:
    """Two sheets of 200 mm side by side with 5 mm between; the first grows by 20 to the right, over the second."""
    one = sheet().pieces[0]
    two = replace(moved(one, Affine.translation(205.0, 0.0)), uid="other", name="other")
    pair = replace(sheet(), pieces=(one, two))
    other = "other.top/right,0,0|other.right/bottom,0,0|other.bottom/left,0,0|other.left/top,0,0"
    assert "p and other lie over each other in this size; `arrange`" in warned(grade(pair, f"{WIDER}|{other}"))
    beside = replace(pair, pieces=(one, moved(two, Affine.translation(100.0, 0.0))))
    assert "over each other" not in warned(grade(beside, f"{WIDER}|{other}"))


def warned(pattern: Pattern) -> str:
    return " ".join(pattern.steps[-1].warnings)

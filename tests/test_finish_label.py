"""`label`: words, place, what it never crosses; the mark of the fold."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lxml import etree

from flatcut.errors import UsageError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, cubic, flatten, line
from flatcut.marking.derived import derive
from flatcut.marking.labels import HEIGHT, LEAST
from flatcut.marking.room import clearance, frame
from flatcut.marking.symbols import symbols
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.values import Edge, Line, NamedPoint, Pattern, Piece, Style, outline


def run(made: Pattern, command: str, *target: str, **fields) -> Pattern:
    return load(command)(target=target, **fields)(made)


def quad(*corners: tuple[float, float], uses: str = "", name: str = "front") -> Pattern:
    """A piece with straight edges e1, e2 ...; uses: one letter for each, f fold, h hem."""
    n = len(corners)
    use = {"f": "fold", "h": "hem"}
    edges = tuple(
        Edge(
            uid=f"e{k + 1}",
            name=f"e{k + 1}",
            parts=(line(corners[k], corners[(k + 1) % n]),),
            use=use.get(uses[k : k + 1], "seam"),
        )
        for k in range(n)
    )
    return Pattern(pieces=(Piece(uid=name, name=name, edges=edges),))


BOX = ((0, 0), (300, 0), (300, 500), (0, 500))


def label_of(made: Pattern):
    found = derive(made.pieces[0], made.style).label
    assert found is not None
    return found


def box(label) -> shapely.Polygon:
    """The text block as a polygon, by its own arithmetic: width and height turned clockwise about the centre."""
    w, h = label.size
    a = math.radians(label.angle)
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2
    return shapely.Polygon(corners @ turn + label.centre)


def drawn_lines(made: Pattern) -> list[shapely.LineString]:
    """All lines that are drawn on and about a piece but the label itself."""
    piece = made.pieces[0]
    found = derive(piece, made.style)
    curves = [*outline(piece), *(x.curve for x in piece.lines), *(leg for d in piece.darts for leg in d.legs)]
    curves += [*found.caps, *(c for t in found.ticks for c in t.curves), *symbols(piece)]
    curves += [c for fold in found.folds for c in fold.bracket]
    curves += [found.cut.curve] if found.cut else []
    if piece.grain is not None:
        curves.append(line(piece.grain.start, piece.grain.end))
    for point in piece.points:
        for arm in (np.array([1.5, 0]), np.array([0, 1.5])):
            curves.append(line(point.at - arm, point.at + arm))
    return [shapely.LineString(flatten(c, tolerance=0.01)) for c in curves]


def crossed(made: Pattern) -> list[float]:
    found = label_of(made)
    return [line.distance(box(found)) for line in drawn_lines(made) if line.intersects(box(found))]


def test_what_it_says():
    """Common practice, no source: style, name, size, quantity and material, allowance, right side up if one-sided."""
    made = run(quad(*BOX), "label", "front", cut="single", material="fusing", side="left", text="lot 7; press first")
    made = run(made, "allowance", "front", width=12.5)
    made = load("style")(name="N 17", size="40")(made)
    assert label_of(made).lines == (
        "front",
        "cut 1 fusing",
        "left, right side up",
        "N 17 size 40",
        "12.5 mm allowance included",
        "lot 7",
        "press first",
    )
    mixed = run(made, "allowance", "front.e3", width=40)
    assert label_of(mixed).lines[4:-2] == ("allowance included", "40 mm: e3", "12.5 mm: other edges")
    # 'other edges' are not those that are bound, which have none
    bound = run(mixed, "allowance", "front.e2", width=0)
    words = label_of(bound).lines[4:-2]
    assert words == ("allowance included", "40 mm: e3", "none: e2", "12.5 mm: other edges")
    bare = run(made, "label", "front", side="none", text="none", material="none")
    assert label_of(bare).lines[:2] == ("front", "cut 1")


def test_pairs_and_folds_are_counted():
    """Common practice, no source: a pair is two, a fold is one."""
    pair = run(quad(*BOX), "label", "front", cut="pair", material="shell")
    assert label_of(pair).lines[1] == "cut 2 (1 pair) shell"
    assert run(pair, "label", "front", quantity=4).pieces[0].quantity == 4
    fold = run(quad(*BOX, uses="sssf"), "label", "front", material="lining")
    assert label_of(fold).lines[1] == "cut 1 on fold lining"
    assert fold.steps[-1].figures[0].value == 2
    with pytest.raises(UsageError, match="no even number"):
        run(pair, "label", "front", quantity=3)
    with pytest.raises(UsageError, match="no pair"):
        run(quad(*BOX, uses="sssf"), "label", "front", cut="pair")


@pytest.mark.parametrize("turn", [0, 30, 90, 135, 180, 250])
@pytest.mark.parametrize("mirrored", [False, True])
def test_parallel_to_the_grain_and_never_mirrored(turn, mirrored):
    made = run(quad(*BOX, uses="sssf"), "grain", "front")
    motion = Affine.rotation(math.radians(turn)) @ (Affine.scaling(-1, 1) if mirrored else Affine())
    piece = moved(made.pieces[0], motion)
    made = Pattern(pieces=(piece,))
    along = piece.grain.end - piece.grain.start
    found = label_of(made)
    a = math.radians(found.angle)
    assert abs(along @ np.array([-math.sin(a), math.cos(a)])) / np.linalg.norm(along) < 1e-9
    assert -90 <= found.angle < 90
    drawing, _, _ = new_drawing()
    root = etree.fromstring(write(drawing, made))
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        numbers = [float(x) for x in text.get("transform").replace("matrix(", "").rstrip(")").replace(",", " ").split()]
        assert numbers[0] * numbers[3] - numbers[1] * numbers[2] > 0


def full() -> Pattern:
    """A piece with all that a label could run into."""
    edges = (
        Edge(uid="t", name="top", parts=(cubic((0, 40), (60, 60), (120, 40), (140, 0)),)),
        Edge(uid="s", name="side", parts=(cubic((140, 0), (260, 60), (200, 300), (250, 500)),)),
        Edge(uid="h", name="hem", parts=(line((250, 500), (0, 500)),), use="hem"),
        Edge(uid="c", name="centre", parts=(line((0, 500), (0, 40)),), use="fold"),
    )
    lines = (Line(uid="l1", name="hip-line", curve=line((0, 210), (230, 230))),)
    made = Pattern(
        pieces=(
            Piece(
                uid="front",
                name="front",
                edges=edges,
                lines=lines,
                points=(NamedPoint(uid="b", name="bust-point", at=np.array([110.0, 320.0])),),
            ),
        )
    )
    made = run(made, "allowance", "front")
    made = run(made, "grain", "front")
    made = run(made, "notch", "front.side@1/2", "front.centre@1/3", kind="castle", depth=6)
    made = run(made, "drill", "front.bust-point")
    made = run(made, "button", "front.hip-line", count=4, first=30, last=30, kind="both")
    return run(made, "label", "front", material="shell")


def test_it_crosses_no_line():
    made = full()
    assert label_of(made).leader is None
    assert crossed(made) == []


@pytest.mark.parametrize(
    "place", ["at(front.centre/top,front.hem/centre,0.7,-0.25)", "front.bust-point", "front.side@1/2"]
)
def test_where_it_is_wanted_or_as_near_as_there_is_room(place):
    # one width for all: a label that lists edges finds no room just there
    made = run(run(full(), "allowance", "front", width=10), "label", "front", at=place)
    assert crossed(made) == []
    wanted = made.pieces[0].caption.at
    found = label_of(made)
    assert found.leader is None
    assert np.linalg.norm(found.centre - wanted) < 120
    if place.startswith("at("):
        assert found.centre == pytest.approx(wanted)


def test_without_room_it_stands_beside_with_a_leader():
    made = run(quad((0, 0), (12, 0), (12, 60), (0, 60), name="tab"), "allowance", "tab", width=10)
    made = run(made, "label", "tab", material="shell", text="with a rather long remark")
    found = label_of(made)
    assert found.leader is not None
    assert "no room" in made.steps[-1].warnings[0]
    assert crossed(made) == []
    start, end = found.leader
    ring = shapely.LinearRing(flatten(derive(made.pieces[0]).cut.curve, tolerance=0.01))
    assert shapely.Point(end).distance(ring) < 0.3
    assert shapely.LineString([start, end]).distance(box(found)) < 4


def test_a_label_wanted_outside_stands_there():
    made = run(full(), "label", "front", at="at(front.centre/top,front.hem/centre,0.5,0.4)")
    found = label_of(made)
    assert found.centre == pytest.approx(made.pieces[0].caption.at)
    assert found.centre[0] < -100
    assert found.leader is not None
    assert crossed(made) == []


def test_the_fold_is_marked_on_the_edge():
    """Common practice, no source: a bracketed line with two arrows onto the edge, and the words."""
    made = run(quad(*BOX, uses="sssf"), "grain", "front")
    [fold] = derive(made.pieces[0]).folds
    ends = fold.bracket[0].nodes
    assert ends[0] == pytest.approx([0, 375])
    assert ends[-1] == pytest.approx([0, 125])
    assert ends[1:3, 0] == pytest.approx([12, 12])
    assert len(fold.bracket) == 3
    assert fold.words == "cut on fold"
    assert fold.centre is not None
    assert fold.angle == -90
    assert derive(quad(*BOX).pieces[0]).folds == ()


def test_kept_in_the_document():
    made = run(full(), "label", "front", text='two "words"; more', side="right", at="front.bust-point")
    drawing, _, _ = new_drawing()
    assert differences(made, read(write(drawing, made))[1], tolerance=1e-6) == []


@pytest.mark.parametrize(
    ("target", "fields", "said"),
    [
        (("front", "back"), {"at": "front.e1@1/2"}, "one piece"),
        (("front",), {"at": "back.e1@1/2"}, "another piece"),
        (("front",), {"cut": "twice"}, "single"),
        (("front",), {"quantity": 0}, "between 1 and 500"),
    ],
)
def test_bad_input_gets_one_sentence(target, fields, said):
    both = Pattern(pieces=(quad(*BOX).pieces[0], quad(*BOX, name="back").pieces[0]))
    with pytest.raises(UsageError, match=said):
        run(both, "label", *target, **fields)


coordinate = st.floats(-200, 200)


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.tuples(coordinate, coordinate), st.tuples(coordinate, coordinate)), min_size=1, max_size=12),
    st.tuples(st.floats(1, 80), st.floats(1, 80)),
)
def test_clearance_is_exact(ends, size):
    """Against shapely: a box just smaller than the clearance meets no line, one just larger does."""
    lines = np.array(ends)
    found = float(clearance(np.zeros((1, 2)), size, lines)[0])
    assume(1e-3 < found < 1e3)
    shapes = shapely.MultiLineString([shapely.LineString(pair) for pair in ends])
    for share, meets in ((0.999, False), (1.001, True)):
        w, h = (share * found * s / 2 for s in size)
        assert shapely.box(-w, -h, w, h).intersects(shapes) == meets


@st.composite
def random_pieces(draw):
    """Star-shaped outlines with curved edges, inner lines, points, a grain line and notches."""
    n = draw(st.integers(3, 7))
    radii = [draw(st.floats(60, 350)) for _ in range(n)]
    nodes = [(r * math.cos(2 * math.pi * k / n), r * math.sin(2 * math.pi * k / n)) for k, r in enumerate(radii)]
    edges = []
    for k in range(n):
        p, q = np.array(nodes[k]), np.array(nodes[(k + 1) % n])
        bow = draw(st.floats(-0.1, 0.25)) * np.array([q[1] - p[1], p[0] - q[0]])
        curve = cubic(p, p + (q - p) / 3 + bow, q - (q - p) / 3 + bow, q)
        edges.append(
            Edge(uid=f"e{k}", name=f"e{k}", parts=(curve,), use="fold" if k == 0 and abs(bow).max() < 1 else "seam")
        )
    lines = []
    for k in range(draw(st.integers(0, 3))):
        a, b = draw(st.integers(0, n - 1)), draw(st.integers(0, n - 1))
        if a != b:
            lines.append(
                Line(uid=f"l{k}", name=f"l{k}", curve=line(np.array(nodes[a]) * 0.9, np.array(nodes[b]) * 0.9))
            )
    points = [NamedPoint(uid="p", name="p", at=np.array([draw(st.floats(-40, 40)), draw(st.floats(-40, 40))]))]
    piece = Piece(uid="front", name="front", edges=tuple(edges), lines=tuple(lines), points=tuple(points))
    ring = shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.05))
    assume(ring.is_valid)
    made = Pattern(pieces=(piece,), style=Style(name="N 17", size="40"))
    made = run(made, "grain", "front", kind=draw(st.sampled_from(["straight", "cross", "bias"])))
    return run(made, "notch", "front.e1@1/2", kind=draw(st.sampled_from(["v", "t", "u"])))


@settings(max_examples=80, deadline=None)
@given(random_pieces())
def test_no_label_crosses_a_line_on_any_piece(made):
    found = label_of(made)
    assert crossed(made) == []
    assert (found.leader is not None) or LEAST <= found.height <= HEIGHT
    turn = frame(found.angle)
    assert np.allclose(turn @ turn.T, np.eye(2))


def test_all_leaves_linings_and_fusings_of_their_own_material() -> None:
    start = run(quad(*BOX, uses="sss"), "label", "front", material="shell")
    start = run(run(start, "copy", "front", inset="1mm", names="front-fusing", material="fusing"), "lining", "front")
    every = run(start, "label", "all", material="wool")
    assert {p.name: p.material for p in every.pieces} == {
        "front": "wool",
        "front-fusing": "fusing",
        "front-lining": "lining",
    }
    assert any("front-fusing stays of fusing" in said for said in every.steps[-1].warnings)
    alone = run(every, "label", "front-fusing", material="canvas")
    assert alone.piece("front-fusing").material == "canvas"

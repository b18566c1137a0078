"""`piece` as a whole: units, known distances, cut lines, faults, and what the document holds afterwards."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from flatcut.errors import FlatcutError, InputError, UsageError
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, bounds, chain, cubic, polyline, transform
from flatcut.geometry.length import length
from flatcut.operations.piece import MakePieces
from flatcut.pattern.measuring import distance
from flatcut.pattern.values import Allowance, DrawnPath, DrawnText, Figure, Pattern, Piece, Position, area, outline
from flatcut.pattern.walking import point_at, sewn_at, sewn_length, to_drawn
from flatcut.recipe import read_recipe, replay

SAMPLES = Path(__file__).parent.parent / "samples" / "digitised"
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="600mm" height="600mm" viewBox="0 0 600 600">'
NOTCHED = "M50,50 H147 l3,5 l3,-5 H250 V350 H153.2 l-0.001,-4 l-0.001,4 H100 v5 h-4 v-5 H50 Z"
"""200 by 300 mm: a V inward at 100 mm of e1, a slit and a castle (outward) on e3."""


def square(side: float = 200.0, at: float = 0.0) -> Curve:
    return polyline(np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]) * side + at)


def drawn(*curves: Curve, unit: float = 1.0) -> Pattern:
    paths = tuple(DrawnPath(id=f"p{k + 1}", curves=(c,), closed=(True,)) for k, c in enumerate(curves))
    return Pattern(drawn=paths, user_unit=unit)


def figure(pattern: Pattern, ending: str) -> float:
    return next(f.value for f in pattern.steps[-1].figures if f.label.endswith(ending))


def through_svg(body: str, **options: object) -> tuple[bytes, Pattern, list[str]]:
    """Read, make pieces, write, read again."""
    drawing, pattern, _ = read(f"{HEAD}{body}</svg>".encode())
    data = write(drawing, MakePieces(**options)(pattern))  # type: ignore[arg-type]
    _, again, found = read(data)
    return data, again, found


def test_notches_are_on_their_edges_and_in_the_file() -> None:
    data, pattern, found = through_svg(f'<path id="a" d="{NOTCHED}"/>')
    assert found == []
    (piece,) = pattern.pieces
    e1, _, e3, _ = piece.edges
    marks = [(notch.edge, notch.kind, notch.into, round(notch.depth, 6)) for notch in piece.notches]
    assert marks == [(e1.uid, "v", "in", 5), (e3.uid, "slit", "in", 4), (e3.uid, "castle", "out", 5)]
    assert [notch.at.mode for notch in piece.notches] == ["start", "start", "end"]
    values = [notch.at.value for notch in piece.notches]
    assert values == pytest.approx([100, 96.801, 48], abs=2e-3)
    # the outline is the rectangle again
    assert sum(edge.segments for edge in piece.edges) == 4
    labels = {f.label: f.value for f in pattern.steps[-1].figures}
    assert labels["piece-1 v notches in"] == labels["piece-1 slit notches in"] == 1
    assert labels["piece-1 castle notches out"] == 1
    assert b'id="a"' in data


def test_the_notch_of_one_piece_lies_where_it_was_drawn() -> None:
    _, pattern, _ = through_svg(f'<path id="a" transform="rotate(30)" d="{NOTCHED}"/>')
    (piece,) = pattern.pieces
    for notch, wanted in zip(piece.notches, [(150, 50), (153.199, 350), (98, 350)], strict=True):
        edge = piece.edge_of(notch.edge)
        at, _ = point_at(edge, to_drawn(edge, sewn_at(edge, notch.at)))
        c, s = np.cos(np.radians(30)), np.sin(np.radians(30))
        assert np.abs(at - np.array([[c, -s], [s, c]]) @ wanted).max() < 0.01


def test_no_notches_when_their_depth_is_0() -> None:
    pattern = MakePieces(notch_depth=0.0)(
        drawn(polyline([(0, 0), (47, 0), (50, 5), (53, 0), (99, 0), (99, 99), (0, 0)]))
    )
    assert not pattern.pieces[0].notches
    assert len(pattern.pieces[0].edges) == 6


def test_a_notch_at_both_feet_of_a_drawn_dart_is_one() -> None:
    v = "l2,4 l2,-4"
    body = f'<path id="a" d="M50,50 H128 {v} H168 {v} H250 V350 H50 Z"/><path id="d" d="M130,50 L150,160 L170,50"/>'
    _, pattern, _ = through_svg(body)
    (piece,) = pattern.pieces
    (notch,) = piece.notches
    assert notch.at == Position(mode="start", value=pytest.approx(80, abs=1e-6))
    assert piece.edges[0].takeups[0].amount == pytest.approx(40)


@pytest.mark.parametrize(
    ("unit", "mm"),
    # CSS Values and Units 3, section 6.2: 1 in = 25.4 mm = 96 px = 72 pt
    [("in", 25.4), ("cm", 10.0), ("mm", 1.0), ("px", 25.4 / 96), ("pt", 25.4 / 72)],
)
def test_the_numbers_of_the_file_in_another_unit(unit: str, mm: float) -> None:
    # 8 by 12 of a unit, in a file that counts its numbers as px
    svg = b'<svg xmlns="http://www.w3.org/2000/svg"><rect id="r" x="1" y="2" width="80" height="120"/></svg>'
    _, pattern, _ = read(svg)
    done = MakePieces(drawing_unit=unit)(pattern)
    assert bounds(outline_of(done.pieces[0])) == pytest.approx((mm, 2 * mm, 81 * mm, 122 * mm))
    assert figure(done, "scale") == pytest.approx(mm / (25.4 / 96)) if unit != "px" else True
    said = [w for w in done.steps[-1].warnings if "check the unit" in w]
    assert bool(said) == (not 20 <= 120 * mm <= 3000)
    assert replayed(done, pattern) == done.pieces[0].edges[0].uid


def outline_of(piece: Piece) -> Curve:
    return chain(outline(piece), within=1e-6)


def replayed(done: Pattern, start: Pattern) -> str:
    """The recorded line, run again, makes the same piece."""
    again = replay(read_recipe(done.steps[-1].line), start)
    assert again.steps == done.steps
    return again.pieces[0].edges[0].uid


def test_the_document_is_written_in_its_own_numbers() -> None:
    svg = b'<svg xmlns="http://www.w3.org/2000/svg"><path id="r" d="M1,1 H9 V13 H1 Z"/></svg>'
    drawing, pattern, _ = read(svg)
    done = MakePieces(drawing_unit="in")(pattern)
    _, again, found = read(write(drawing, done))
    assert found == []
    assert bounds(outline_of(again.pieces[0])) == pytest.approx((25.4, 25.4, 9 * 25.4, 13 * 25.4))


def test_a_known_distance_sets_the_scale() -> None:
    start = drawn(square(37.0))
    done = MakePieces(known="piece-1.e4/e1..piece-1.e1/e2", is_="20in")(start)  # type: ignore[arg-type]
    assert distance(done, "piece-1.e4/e1", "piece-1.e1/e2") == pytest.approx(508.0)
    assert done.steps[-1].line == "piece --known=piece-1.e4/e1..piece-1.e1/e2 --is=20in"
    assert figure(done, "scale") == pytest.approx(508 / 37)
    replayed(done, start)
    short = MakePieces(known="e4/e1..e2/e3", is_=100.0, names=("back",))(start)
    assert distance(short, "back.e4/e1", "back.e2/e3") == pytest.approx(100.0)


def test_a_known_distance_where_notches_come_with_the_size() -> None:
    # in inches on a page of px the V's are 0.08 mm deep, too small for notches; at true size they are 5 mm deep
    big = polyline([(0, 0), (97, 0), (100, 5), (103, 0), (200, 0), (200, 150), (0, 150), (0, 0)])
    small = transform(big, Affine.scaling(1 / 60))
    done = MakePieces(known="e4/e1..e1/e2", is_=200.0)(drawn(small))
    assert len(done.pieces[0].notches) == 1
    assert length(outline_of(done.pieces[0])) == pytest.approx(700)
    with pytest.raises(UsageError, match="'e9'"):
        MakePieces(known="e9/e1..e1/e2", is_=200.0)(drawn(small))


def test_options_that_go_together() -> None:
    for options in ({"outline": "cut"}, {"width": 10.0}, {"known": "e1/e2..e2/e3"}, {"is_": 10.0}):
        with pytest.raises(UsageError, match="go together"):
            MakePieces(**options)(drawn(square()))  # type: ignore[arg-type]
    with pytest.raises(UsageError, match="two places"):
        MakePieces(known="e1/e2", is_=10.0)(drawn(square()))
    with pytest.raises(UsageError, match="no distance"):
        MakePieces(known="e1/e2..e1/e2", is_=10.0)(drawn(square()))


def test_a_cut_line_gets_its_stitch_line_inside() -> None:
    done = MakePieces(outline="cut", width=12.0)(drawn(square(200.0)))
    (piece,) = done.pieces
    assert bounds(outline_of(piece)) == pytest.approx((12, 12, 188, 188))
    assert [edge.allowance for edge in piece.edges] == [Allowance(width=12.0)] * 4
    assert (piece.origin, piece.cut_drawn) == ("", "p1")
    assert figure(done, "strays from the drawn one") < 1e-6
    replayed(done, drawn(square(200.0)))


def test_the_stitch_line_inside_a_round_cut_line() -> None:
    # an ellipse drawn as four quarter arcs (handles 0.5523 r); a circle of 100 has a stitch line of radius 90: 2π·90
    r, c = 100.0, 0.5522847498 * 100
    quarter = np.array([(r, 0), (r, c), (c, r), (0, r)])
    turn = np.array([[0, 1], [-1, 0]])
    circle = chain([cubic(*(quarter @ np.linalg.matrix_power(turn, k))) for k in range(4)], within=1e-6)
    (piece,) = MakePieces(outline="cut", width=10.0)(drawn(circle)).pieces
    assert length(outline_of(piece)) == pytest.approx(2 * np.pi * 90, abs=0.1)
    assert area(piece) == pytest.approx(np.pi * 90**2, rel=1e-3)


def test_the_drawn_cut_line_stays_hidden_and_is_read_as_nothing() -> None:
    body = f'<path id="a" style="fill:none;stroke:red" d="{NOTCHED}"/><circle id="c" cx="500" cy="500" r="30"/>'
    data, pattern, found = through_svg(body, outline="cut", width=10.0, target=("id:a",))
    assert found == []
    root = etree.fromstring(data)
    hidden = root.xpath("//*[@id='a']")[0]
    assert hidden.get("d") == NOTCHED
    assert hidden.get("style") == "fill:none;stroke:red;display:none"
    assert [thing.id for thing in pattern.drawn] == ["c"]
    (piece,) = pattern.pieces
    assert bounds(outline_of(piece)) == pytest.approx((60, 60, 240, 340), abs=1e-3)
    # notches stand where the normals of their places in the cut line meet the stitch line
    values = [notch.at.value for notch in piece.notches]
    assert values == pytest.approx([90, 86.801, 38], abs=2e-3)


def test_a_stitch_line_that_does_not_exist() -> None:
    with pytest.raises(InputError, match="'p1'"):
        MakePieces(outline="cut", width=30.0)(drawn(polyline([(0, 0), (200, 0), (200, 40), (0, 40), (0, 0)])))


@pytest.mark.parametrize(
    ("curve", "words"),
    [
        (polyline([(0, 0), (100, 100), (100, 0), (0, 120), (0, 0)]), "crosses itself near x 54.5, y 54.5 mm"),
        (polyline([(0, 0), (100, 0), (0, 0)]), "encloses nothing"),
        (polyline([(0, 0), (60, 60), (100, 100), (0, 0)]), "encloses nothing"),
        # a bow, whose halves cancel each other
        (polyline([(0, 0), (100, 100), (100, 0), (0, 100), (0, 0)]), "crosses itself near x 50.0, y 50.0 mm"),
        (polyline([(0, 0), (0.001, 0), (0, 0.001), (0, 0)]), "no length"),
        (polyline([(0, 0), (100, 0), (100, 100), (0, 3)]), "open by 3.00 mm"),
    ],
)
def test_bad_outlines_are_one_sentence(curve: Curve, words: str) -> None:
    with pytest.raises(InputError, match="'p1'") as caught:
        MakePieces()(drawn(curve))
    assert words in str(caught.value)
    # among good ones it is told and left
    done = MakePieces()(drawn(curve, square(100, 500)))
    assert len(done.pieces) == 1
    assert [thing.id for thing in done.drawn] == ["p1"]
    assert any(words in warning for warning in done.steps[-1].warnings)
    # unless it is asked for
    with pytest.raises(InputError, match="'p1'"):
        MakePieces(target=("id:p1",))(drawn(curve, square(100, 500)))


def test_numbers_that_are_none() -> None:
    with pytest.raises(FlatcutError, match="not a number"):
        polyline([(0, 0), (np.nan, 0), (3, 3), (0, 0)])


def test_an_outline_left_open_is_told() -> None:
    _, pattern, _ = read(f'{HEAD}<path id="a" d="M0,0 H90 V90 H0 V2"/><rect width="50" height="50"/></svg>'.encode())
    done = MakePieces()(pattern)
    assert any("'a' is open by 2.00 mm" in warning for warning in done.steps[-1].warnings)
    with pytest.raises(InputError, match=r"mm from the top is not closed: its ends are 2\.00 mm apart; close it"):
        MakePieces(target=("id:a",))(pattern)


def test_an_outline_without_a_side_or_in_parts_is_told_where_it_lies_in_no_piece() -> None:
    """Somebody has not closed a pocket, or drawn its sides one by one: without a word it would be left out."""
    side = '<path id="{}" d="M{} L{}"/>'
    ring = ["500,0", "600,0", "600,90", "500,90", "500,0"]
    alone = "".join(side.format(f"s{k}", *ends) for k, ends in enumerate(pairwise(ring)))
    pocket, piece = '<path id="pocket" d="M0,500 H90 V600 H0"/>', '<rect width="200" height="200"/>'
    inside = '<path id="in" d="M20,20 H90 V90 H20"/>'
    curve = '<path id="half" d="M 0,300 A 80,80 0 0 1 160,300"/><path id="corner" d="M 300,300 H 400 V 400"/>'
    _, pattern, _ = read(f"{HEAD}{piece}{pocket}{alone}{inside}{curve}</svg>".encode())
    done = MakePieces()(pattern)
    assert [piece.name for piece in done.pieces] == ["piece-1"]
    said = [text for text in done.steps[-1].warnings if "no piece" in text]
    assert said == [
        "'s0', 's1', 's2' and 1 more are an outline together and no piece; join them to one path",
        "'pocket' is open by 100.00 mm and no piece; close it",
    ]


def test_a_closed_path_is_named_by_its_id_alone() -> None:
    _, pattern, _ = read(f'{HEAD}<path id="strap" d="M0,0 H90 V90 H0 Z"/><rect width="50" height="50"/></svg>'.encode())
    done = MakePieces(target=("strap",), names=("strap",))(pattern)
    assert [piece.origin for piece in done.pieces] == ["strap"]
    assert done.steps[-1].line == "piece drawn:1 --names=strap"
    with pytest.raises(FlatcutError, match="there is no closed path 'srap'; did you mean 'strap'"):
        MakePieces(target=("srap",))(pattern)


def test_a_large_outline_with_a_larger_gap_is_told() -> None:
    # 6 mm of 1194: drawn lines inside are never so nearly closed
    _, pattern, _ = read(f'{HEAD}<path id="a" d="M0,0 H300 V300 H0 V6"/><rect width="50" height="50"/></svg>'.encode())
    done = MakePieces()(pattern)
    assert any("'a' is open by 6.00 mm" in warning for warning in done.steps[-1].warnings)


@pytest.mark.parametrize("end", ["L0,0", "L0.01,0.02", "h-90 v-90"])
def test_an_outline_that_ends_where_it_starts_is_closed_whether_the_file_says_so_or_not(end: str) -> None:
    drawn_open = f'{HEAD}<path id="a" d="M0,0 H90 V90 {end}"/><path id="b" d="M200,0 L290,90 L200,0"/></svg>'
    drawing, pattern, _ = read(drawn_open.encode())
    done = MakePieces()(pattern)
    assert [piece.origin for piece in done.pieces] == ["a"]
    # and the drawing with its piece is read again
    _, again, findings = read(write(drawing, done))
    assert findings == []
    assert [piece.name for piece in again.pieces] == [piece.name for piece in done.pieces]


def test_nothing_to_make_a_piece_of() -> None:
    with pytest.raises(InputError, match="no closed path"):
        MakePieces()(Pattern())


def test_sizes_are_reported() -> None:
    done = MakePieces()(drawn(square(100), square(300, 400)))
    assert Figure("largest piece, piece-2, longer side", 300.0) in done.steps[-1].figures
    assert Figure("smallest piece, piece-1, longer side", 100.0) in done.steps[-1].figures


def test_what_lies_inside_is_kept_in_the_file_and_read_again() -> None:
    body = (
        '<g id="front"><path id="o" fill-rule="evenodd" d="M0,0 H400 V400 H0 Z M300,50 h40 v40 h-40z"/>'
        '<path id="one" d="M180,0 L200,200"/>tail<path id="two" d="M220,0 L200,200"/>'
        '<path id="fish" d="M100,60 L115,210 L100,330 L85,210 Z"/>'
        '<rect id="patch" x="250" y="250" width="80" height="90"/>'
        '<path id="arrow" d="M20,50 V350"/></g>'
    )
    data, pattern, found = through_svg(body)
    assert found == []
    (piece,) = pattern.pieces
    assert [(dart.name, dart.form, dart.double) for dart in piece.darts] == [
        ("dart-1", "lines", False),
        ("dart-2", "lines", True),
    ]
    assert piece.darts[0].feet.round(6).tolist() == [[180, 0], [220, 0]]
    assert piece.darts[1].points.round(6).tolist() == [[100, 60], [100, 330]]
    assert [(inner.name, inner.kind) for inner in piece.lines] == [
        ("cut-out-1", "cut-out"),
        ("placement-1", "placement"),
    ]
    assert piece.edges[0].takeups[0].amount == pytest.approx(40)
    root = etree.fromstring(data)
    assert len(root.xpath("//*[@id='one']")) == len(root.xpath("//*[@id='patch']")) == 1
    assert not root.xpath("//*[@id='two']")
    assert "tail" in root.xpath("string(//*[@id='front'])")
    assert [thing.id for thing in pattern.drawn] == ["arrow"]
    # a second time nothing is left to make a piece of
    with pytest.raises(InputError, match="no closed path"):
        MakePieces()(pattern)


def test_target_order_is_the_order_of_names() -> None:
    done = MakePieces(target=("id:p2", "id:p1"), names=("b", "a"))(drawn(square(100), square(300, 400)))
    assert [(piece.name, piece.origin) for piece in done.pieces] == [("b", "p2"), ("a", "p1")]
    assert done.steps[-1].line == "piece drawn:2 drawn:1 --names=b,a"


def test_the_same_input_gives_the_same_bytes() -> None:
    body = f'<path id="a" d="{NOTCHED}"/><path id="d" d="M230,50 L240,160 L249,50"/>'
    assert through_svg(body)[0] == through_svg(body)[0]


def test_the_bodice_drawn_by_hand() -> None:
    drawing, pattern, _ = read((SAMPLES / "bodice-drawn.svg").read_bytes())
    done = MakePieces()(pattern)
    data = write(drawing, done)
    _, again, found = read(data)
    assert found == []
    for made in (done, again):
        front, back = made.pieces
        assert (front.name, back.name) == ("front", "back")
        assert [(dart.form, dart.double) for dart in front.darts] == [("cut", False), ("lines", False)]
        assert [(dart.form, dart.double) for dart in back.darts] == [("lines", False), ("lines", True)]
        assert sorted(notch.kind for notch in front.notches) == ["slit", "v"]
        # a double notch, 0.05 of the armhole apart; single is front, double is back (common practice, no source)
        assert sorted((notch.kind, notch.count) for notch in back.notches) == [("castle", 1), ("v", 2)]
        double = next(notch for notch in back.notches if notch.count == 2)
        edge = back.edge_of(double.edge)
        assert double.apart == pytest.approx(0.05 * sewn_length(edge), abs=0.02)
        assert double.at.along(sewn_length(edge)) == pytest.approx(0.545 * sewn_length(edge), abs=0.02)
        assert [line.kind for line in front.lines] == ["placement"]
        assert [len(piece.edges) for piece in (front, back)] == [6, 6]
    assert [thing.text for thing in again.drawn if isinstance(thing, DrawnText)] == ["back"]


EXAMPLES = Path("/usr/share/inkscape/examples")
DRAWINGS = ["tiger.svgz", "car.svgz", "animated-clock.svg", "art-nouveau-P3.svg", "glass.svg", "stars.svgz"]


@pytest.mark.parametrize("name", DRAWINGS)
def test_any_drawing_becomes_pieces_that_are_read_again(name: str) -> None:
    """The editor's own example drawings, which nobody made for this; skipped where the editor is not installed."""
    if not (EXAMPLES / name).exists():
        pytest.skip(f"{name} is not here: the editor is not installed")
    drawing, pattern, _ = read((EXAMPLES / name).read_bytes())
    done = MakePieces()(pattern)
    assert done.pieces
    _, again, findings = read(write(drawing, done))
    assert {piece.name for piece in again.pieces} == {piece.name for piece in done.pieces}
    assert not [said for said in findings if "a clone of" not in said.text]

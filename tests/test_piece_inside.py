"""What lies inside an outline: darts drawn as lines, double-pointed darts, cut-outs, placement lines, names.

Closed forms from plane geometry.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flatcut.errors import FlatcutError
from flatcut.geometry.curves import Curve, chain, cubic, line, polyline
from flatcut.geometry.length import length
from flatcut.operations.piece import MakePieces
from flatcut.outlines.drawn_darts import double_pointed
from flatcut.outlines.naming import as_name
from flatcut.pattern.places import parse_place
from flatcut.pattern.spots import spots
from flatcut.pattern.values import DrawnPath, DrawnText, Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length

SQUARE = polyline([(0, 0), (400, 0), (400, 400), (0, 400), (0, 0)])


def path(name: str, *curves: Curve, group: str = "", label: str = "", closed: bool | None = None) -> DrawnPath:
    shut = [bool((c.start == c.end).all()) if closed is None else closed for c in curves]
    return DrawnPath(id=name, curves=curves, closed=tuple(shut), group=group, label=label)


def text(name: str, words: str, at: tuple[float, float], group: str = "") -> DrawnText:
    return DrawnText(id=name, text=words, at=np.array(at, dtype=float), group=group)


def made(*things: DrawnPath | DrawnText, **options: object) -> Pattern:
    return MakePieces(**options)(Pattern(drawn=things))  # type: ignore[arg-type]


def one(*things: DrawnPath | DrawnText, **options: object) -> Piece:
    (piece,) = made(path("o", SQUARE), *things, **options).pieces
    return piece


def test_an_open_v_is_a_dart_on_its_edge() -> None:
    # closed form, 2 asin(w / 2L), in mm: feet (180, 0) and (220, 0), point (200, 200), 11.4212°
    piece = one(path("v", polyline([(180, 0), (200, 200), (220, 0)])))
    (dart,) = piece.darts
    host = piece.edges[0]
    assert (dart.form, dart.host, dart.origin) == ("lines", host.uid, "v")
    assert dart.points.tolist() == [[200, 200]]
    assert dart.feet.tolist() == [[180, 0], [220, 0]]
    (takeup,) = host.takeups
    assert takeup.kind == "dart"
    assert (takeup.start, takeup.end, takeup.amount) == pytest.approx((180, 220, 40))
    assert drawn_length(host) - sewn_length(host) == pytest.approx(40)
    u, v = dart.feet - dart.points[0]
    assert np.degrees(np.arccos(u @ v / (u @ u))) == pytest.approx(11.4212, abs=5e-5)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("short", [-8.0, -1.5, 0.0, 1.5])
def test_two_lines_that_meet_are_a_dart_also_a_little_short_or_long(turned: bool, short: float) -> None:
    legs = []
    for foot in (-20.0, 20.0):
        tip, start = np.array([200.0, 200.0]), np.array([200 + foot, 0.0])
        start = start + short * (tip - start) / np.hypot(*(tip - start))
        legs.append([tuple(start), (200 + foot / 60, 200)])
    lines = [line(*(leg[::-1] if turned else leg)) for leg in legs]
    piece = one(path("a", lines[0]), path("b", lines[1]))
    (dart,) = piece.darts
    assert set(dart.origin.split()) == {"a", "b"}
    assert np.abs(dart.feet - [(180, 0), (220, 0)]).max() < 0.02
    assert np.abs(dart.points - (200, 200)).max() < 1e-9
    assert dart.legs[0].end.tolist() == dart.legs[1].start.tolist()


def test_both_lines_of_a_dart_in_one_path_element() -> None:
    piece = one(path("both", line((180, 0), (200, 200)), line((200, 200), (220, 0))))
    assert [dart.origin for dart in piece.darts] == ["both"]


def test_a_fold_line_between_the_legs_is_left() -> None:
    pattern = made(
        path("o", SQUARE),
        path("a", line((180, 0), (200, 200))),
        path("fold", line((200, 0), (200, 200))),
        path("b", line((220, 0), (200, 200))),
    )
    assert [set(dart.origin.split()) for dart in pattern.pieces[0].darts] == [{"a", "b"}]
    assert [thing.id for thing in pattern.drawn] == ["fold"]


def test_a_triangle_with_its_base_on_the_edge_is_a_dart() -> None:
    for base in (0.0, 0.5, -1.0):
        piece = one(path("t", polyline([(180, base), (220, base), (200, 200), (180, base)])))
        (dart,) = piece.darts
        assert dart.host == piece.edges[0].uid
        # the feet are where the legs meet the edge: 20 (200 - base)⁻¹ · 200 from the middle
        half = 20 * 200 / (200 - base)
        assert np.abs(dart.feet - [(200 - half, 0), (200 + half, 0)]).max() < 1e-6


def test_curved_legs_keep_their_curve() -> None:
    left = cubic((180, 0), (183, 70), (190, 140), (200, 200))
    right = cubic((200, 200), (210, 140), (217, 70), (220, 0))
    (dart,) = one(path("v", chain([left, right]))).darts
    assert length(dart.legs[0]) == pytest.approx(length(left))


def test_two_darts_and_one_on_another_edge() -> None:
    piece = one(
        path("b", polyline([(250, 0), (265, 150), (280, 0)])),
        path("a", polyline([(100, 0), (110, 150), (120, 0)])),
        path("c", polyline([(400, 100), (300, 110), (400, 120)])),
    )
    assert [(dart.name, dart.origin) for dart in piece.darts] == [("dart-1", "a"), ("dart-2", "b"), ("dart-3", "c")]
    assert [len(edge.takeups) for edge in piece.edges] == [2, 1, 0, 0]


@pytest.mark.parametrize(
    ("shape", "why"),
    [
        (polyline([(180, 0), (212, 200), (220, 0)]), "differ by 2.4 mm"),
        (polyline([(130, 0), (200, 200), (270, 0)]), "39° wide"),
        (polyline([(380, 0), (380, 100), (400, 80)]), "different edges"),
        (polyline([(100, 0), (200, 100), (300, 0)]), ""),
    ],
)
def test_what_is_nearly_a_dart_is_told_and_left(shape: Curve, why: str) -> None:
    pattern = made(path("o", SQUARE), path("v", shape))
    assert not pattern.pieces[0].darts
    assert [thing.id for thing in pattern.drawn] == ["v"]
    said = [warning for warning in pattern.steps[-1].warnings if "'v'" in warning]
    assert bool(said) == bool(why)
    assert not said or why in said[0]


def test_lines_from_edge_to_edge_are_no_darts() -> None:
    pattern = made(path("o", SQUARE), path("a", line((190, 0), (200, 400))), path("b", line((210, 0), (200, 400))))
    assert not pattern.pieces[0].darts


def test_overlapping_darts_are_told() -> None:
    pattern = made(
        path("o", SQUARE),
        path("a", polyline([(180, 0), (200, 200), (220, 0)])),
        path("b", polyline([(210, 0), (230, 150), (250, 0)])),
    )
    assert [dart.origin for dart in pattern.pieces[0].darts] == ["a"]
    assert any("'b' overlaps" in warning for warning in pattern.steps[-1].warnings)


FISH = polyline([(200, 60), (215, 210), (200, 330), (185, 210), (200, 60)])


def test_a_double_pointed_dart() -> None:
    # closed form: 3 cm at the waist, 15 up, 12 down: 11.4212° and 14.2500°, legs 15.0748 and 12.0934
    piece = one(path("fish", FISH))
    (dart,) = piece.darts
    assert (dart.double, dart.host, dart.form, dart.origin) == (True, "", "lines", "fish")
    assert dart.points.tolist() == [[200, 60], [200, 330]]
    assert sorted(dart.feet.tolist()) == [[185, 210], [215, 210]]
    assert [round(length(leg), 3) for leg in dart.legs] == [round(150.748 + 120.934, 3)] * 2
    found = spots(Pattern(pieces=(piece,)), parse_place(f"{piece.name}.dart-1.lower"))
    assert found[0].point.tolist() == [200, 330]
    assert not piece.edges[0].takeups


def test_which_closed_paths_are_double_pointed_darts() -> None:
    curved = chain(
        [
            cubic((0, 0), (12, 60), (18, 110), (15, 150)),
            cubic((15, 150), (14, 190), (10, 230), (0, 270)),
            cubic((0, 270), (-10, 230), (-14, 190), (-15, 150)),
            cubic((-15, 150), (-18, 110), (-12, 60), (0, 0)),
        ]
    )
    assert double_pointed(curved) is not None
    six = polyline([(0, 0), (15, 140), (15, 160), (0, 270), (-15, 160), (-15, 140), (0, 0)])
    assert double_pointed(six) is not None
    level = double_pointed(polyline([(0, 0), (150, 12), (270, 0), (150, -12), (0, 0)]))
    assert level is not None
    assert level[0].start.tolist() == [0, 0]
    for other in (
        [(0, 0), (100, 0), (100, 140), (0, 140)],  # a pocket
        [(0, 0), (70, 100), (0, 200), (-70, 100)],  # a wide diamond
        [(0, 0), (40, 0), (50, 140), (20, 160), (-10, 140)],  # a pointed pocket
        [(0, 0), (5, 40), (20, 270), (-40, 200)],  # sides of unequal length
    ):
        assert double_pointed(polyline([*other, other[0]])) is None


def test_closed_paths_inside_are_no_pieces_and_it_says_what_they_are() -> None:
    pocket = polyline([(50, 200), (150, 200), (150, 320), (50, 320), (50, 200)])
    window = polyline([(250, 200), (300, 200), (300, 260), (250, 260), (250, 200)])
    pattern = made(path("o", SQUARE, window), path("p", pocket, label="patch"), path("fish", FISH))
    (piece,) = pattern.pieces
    assert [(inner.name, inner.kind, inner.origin) for inner in piece.lines] == [
        ("cut-out-1", "cut-out", ""),
        ("patch", "placement", "p"),
    ]
    said = "\n".join(pattern.steps[-1].warnings)
    assert "'o' in piece-1 is taken for a cut-out" in said
    assert "'p' in piece-1 is taken for a placement line" in said
    assert "'fish' in piece-1 is taken for a double-pointed dart" in said
    assert not pattern.drawn


def test_groups_decide_what_belongs_together() -> None:
    small = polyline([(50, 200), (150, 200), (150, 320), (50, 320), (50, 200)])
    pattern = made(path("o", SQUARE, group="front"), path("p", small, group="other"))
    assert len(pattern.pieces) == 2
    assert "'p' lies inside 'o' but is of another group" in pattern.steps[-1].warnings[0]
    assert len(made(path("o", SQUARE, group="front"), path("p", small, group="front")).pieces) == 1


def test_another_size_inside_is_a_piece() -> None:
    smaller = Curve(SQUARE.controls * 0.95 + 10, SQUARE.straight)
    pattern = made(path("o", SQUARE), path("s", smaller))
    assert len(pattern.pieces) == 2
    assert "nearly as large" in pattern.steps[-1].warnings[0]


def test_a_target_alone_is_a_piece_wherever_it_lies() -> None:
    small = polyline([(50, 200), (150, 200), (150, 320), (50, 320), (50, 200)])
    pattern = made(path("o", SQUARE), path("p", small), target=("id:p",))
    assert [piece.origin for piece in pattern.pieces] == ["p"]
    assert pattern.steps[-1].line == "piece drawn:2"


def test_rings_beside_each_other_in_one_path_are_told() -> None:
    other = Curve(SQUARE.controls * 0.5 + 900, SQUARE.straight)
    pattern = made(path("o", SQUARE, other))
    assert "'o' has 1 more ring" in pattern.steps[-1].warnings[0]


def test_a_clone_of_several_shapes_is_no_piece() -> None:
    both = [path("clone", SQUARE), path("clone", polyline([(500, 0), (600, 0), (600, 100), (500, 0)]))]
    done = made(path("o", SQUARE), *both)
    assert [piece.origin for piece in done.pieces] == ["o"]
    assert any("'clone' is a clone of several shapes" in said for said in done.steps[-1].warnings)
    with pytest.raises(FlatcutError, match="unlink it, and select one"):
        made(*both, target=("id:clone",))


def test_names_come_from_labels_and_texts() -> None:
    far = Curve(SQUARE.controls + np.array([1000.0, 0]), SQUARE.straight)
    farther = Curve(SQUARE.controls + np.array([2000.0, 0]), SQUARE.straight)
    pattern = made(
        path("a", SQUARE, label="back"),
        path("b", far, label="3 pieces"),
        path("c", farther),
        text("t0", "ignored", (100, 100)),
        text("t1", "Side/front\ncut 2", (1100, 100)),
        text("t2", "Side/front", (2100, 100)),
    )
    assert [piece.name for piece in pattern.pieces] == ["back", "Side-front", "Side-front-2"]
    drawn = (path("a", SQUARE, label="back"), path("b", far), path("c", farther))
    named = made(*drawn, names=("x", "y"))
    assert [piece.name for piece in named.pieces] == ["x", "y", "piece-1"]
    # a text outside names nothing, and of several none is chosen
    several = made(path("c", SQUARE), text("t", "front", (100, 100)), text("u", "size 12", (100, 200)))
    assert several.pieces[0].name == "piece-1"
    assert "several texts" in several.steps[-1].warnings[0]
    assert made(path("c", SQUARE), text("t", "front", (500, 100))).pieces[0].name == "piece-1"


@given(st.text(max_size=60))
def test_a_name_of_a_text_is_valid_or_none(words: str) -> None:
    from flatcut.pattern.values import checked_name

    name = as_name(words)
    assert name == "" or checked_name(name) == name


def test_clashing_names_are_refused() -> None:
    first = made(path("a", SQUARE), names=("front",))
    with pytest.raises(FlatcutError, match="a piece 'front' already"):
        MakePieces(names=("front",))(Pattern(pieces=first.pieces, drawn=(path("b", SQUARE),)))
    far = Curve(SQUARE.controls + 1000.0, SQUARE.straight)
    with pytest.raises(FlatcutError, match="a piece 'front' already"):
        made(path("a", SQUARE), path("b", far), names=("front", "front"))


@settings(max_examples=30, deadline=None)
@given(st.floats(20, 340), st.floats(10, 40), st.floats(80, 300), st.floats(-180, 180), st.booleans())
def test_a_drawn_dart_wherever_it_stands(at: float, wide: float, deep: float, angle: float, back: bool) -> None:
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turn = np.array([[c, s], [-s, c]])
    v = polyline([(at, 0), (at + wide / 2, deep), (at + wide, 0)])
    nodes = v.nodes[::-1] if back else v.nodes
    pattern = made(path("o", polyline(SQUARE.nodes @ turn)), path("v", polyline(nodes @ turn)))
    (dart,) = pattern.pieces[0].darts
    host = pattern.pieces[0].edge_of(dart.host)
    (takeup,) = host.takeups
    assert (takeup.start, takeup.end) == (pytest.approx(at), pytest.approx(at + wide))

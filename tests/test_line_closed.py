"""`line --closed`: drawn over darts and seams with these closed, parted when they lie open.

Judged by folding back here: a rotation about the dart's point, or the pieces laid together, in closed form.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from flatcut.errors import FlatcutError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, cubic, line, point, tangent
from flatcut.operations.operation import load
from flatcut.pattern.moving import moved
from flatcut.pattern.selection import Selection
from flatcut.pattern.values import Dart, DrawnPath, Edge, Grain, Pattern, Piece
from flatcut.recipe import read_recipe, replay
from tests.test_line_parts import panel

APEX = np.array([100.0, 50.0])
TURN = 2 * math.atan2(20, 150)
"""The angle of the dart of the panel, radians."""


def bare() -> Pattern:
    pattern = panel()
    grain = Grain(start=np.array([30.0, 20.0]), end=np.array([30.0, 180.0]))
    return pattern.with_piece(replace(pattern.pieces[0], lines=(), grain=grain))


def turned(at: Array, by: float, about: Array = APEX) -> Array:
    spin = np.array([[math.cos(by), -math.sin(by)], [math.sin(by), math.cos(by)]])
    return np.asarray((at - about) @ spin.T + about)


def parts(pattern: Pattern, piece: str = "p", name: str = "x") -> list[Curve]:
    return [item.curve for item in pattern.piece(piece).lines if item.name == name]


def drawn(pattern: Pattern, **words: object) -> Pattern:
    return load("line")(name="x", **words)(pattern)  # type: ignore[call-arg]


def test_a_straight_line_is_straight_with_the_dart_closed() -> None:
    made = drawn(bare(), start="p.left@1/4", end="p.right@60%", closed="p.dart")
    first, second = parts(made)
    # both ends on the legs, as far from the point
    reach = [float(np.hypot(*(at - APEX))) for at in (first.end, second.start)]
    assert reach[0] == pytest.approx(reach[1], abs=1e-6)
    # left of the dart is folded onto by turning its right side clockwise on the screen, y down
    on = turned(second.nodes, TURN)
    assert on[0] == pytest.approx(first.end, abs=1e-6)
    ways = [(first.end - first.start), (on[-1] - on[0])]
    assert ways[0] @ ways[1] == pytest.approx(np.hypot(*ways[0]) * np.hypot(*ways[1]), rel=1e-9)
    assert second.end == pytest.approx([200, 120])
    figures = {f.label: f.value for f in made.steps[-1].figures}
    assert figures["two sides miss each other at p.dart, closed, by"] == pytest.approx(0, abs=1e-6)


def test_a_curve_is_smooth_with_the_dart_closed_and_leaves_and_arrives_square() -> None:
    made = drawn(bare(), start="p.left@1/4", end="p.right@60%", leave="square", arrive="square", closed="p.dart")
    first, second = parts(made)
    assert tangent(first, 0.0) == pytest.approx([1, 0])
    assert tangent(second, float(len(second)), before=True) == pytest.approx([1, 0])
    into = tangent(first, float(len(first)), before=True)
    out = turned(APEX + tangent(second, 0.0), TURN) - APEX
    assert float(into @ out) == pytest.approx(1.0, abs=1e-9)


def test_a_line_that_runs_on_goes_on_over_the_dart() -> None:
    made = drawn(bare(), start="p.left@1/2", square="p.left", until="p.right", closed="p.dart")
    first, second = parts(made)
    assert first.start == pytest.approx([0, 100])
    assert first.end[1] == pytest.approx(100)
    way = turned(second.end, TURN) - turned(second.start, TURN)
    assert way[1] == pytest.approx(0, abs=1e-9)
    whole = drawn(bare(), start="at(p.left/top,p.right/foot,0.2,0.2)", square="grain", closed="p.dart")
    assert len(parts(whole)) == 2


def test_a_parallel_to_an_edge_is_parallel_with_its_dart_closed() -> None:
    first, second = parts(drawn(bare(), parallel="p.foot", distance=20, closed="p.dart"))
    # the foot runs from right to left; both parts are 20 above it, and meet when the dart is closed
    assert first.start[1] == pytest.approx(180)
    assert second.end[1] == pytest.approx(180)
    ends = turned(first.end, TURN), second.start
    assert ends[0] == pytest.approx(ends[1], abs=0.01)
    piece = double().pieces[0]
    both = bare().with_piece(
        replace(bare().pieces[0], darts=(*panel().pieces[0].darts, replace(piece.darts[0], uid="e", name="other")))
    )
    with pytest.raises(FlatcutError, match=r"p\.dart opens on foot"):
        drawn(both, parallel="p.foot", distance=20, closed="p.other")


def test_darts_that_are_not_met_are_said_and_those_not_named_refused() -> None:
    above = drawn(bare(), start="p.left@90%", end="p.right@10%", closed="p.dart")
    assert above.steps[-1].warnings == ("the line does not come to p.dart, so nothing is closed there",)
    with pytest.raises(FlatcutError, match=r"goes over dart p.dart near x .*--closed=p.dart.*--open"):
        drawn(bare(), start="p.left@1/4", end="p.right@60%")
    assert len(parts(drawn(bare(), start="p.left@1/4", end="p.right@60%", open=True))) == 1
    with pytest.raises(FlatcutError, match="is closed as a whole"):
        drawn(bare(), start="p.left@1/4", end="p.right@60%", closed="p.dart.foot-1")
    with pytest.raises(FlatcutError, match="is sewn to no other piece"):
        drawn(bare(), start="p.left@1/4", end="p.right@60%", closed="p.top")


def double() -> Pattern:
    """A panel with a double-pointed dart, 30 wide, its points 60 above and 90 below its widest place."""
    pattern = bare()
    upper, lower, left, right = np.array([100.0, 40]), np.array([100.0, 190]), np.array([85.0, 100]), [115.0, 100]
    legs = (
        Curve(np.concatenate([line(upper, left).controls, line(left, lower).controls]), np.array([True, True])),
        Curve(np.concatenate([line(lower, right).controls, line(right, upper).controls]), np.array([True, True])),
    )
    corners = [np.array(at, dtype=float) for at in ((0, 0), (200, 0), (200, 220), (0, 220))]
    edges = tuple(
        Edge(uid=n[0], name=n, parts=(line(corners[k], corners[(k + 1) % 4]),))
        for k, n in enumerate(("top", "right", "foot", "left"))
    )
    return pattern.with_piece(replace(pattern.pieces[0], edges=edges, darts=(Dart(uid="d", name="dart", legs=legs),)))


@pytest.mark.parametrize(("half", "apex", "wide"), [("upper", (100, 40), 60.0), ("lower", (100, 190), 90.0)])
def test_a_dart_with_two_points_is_closed_about_the_stated_one(half: str, apex: tuple, wide: float) -> None:
    height = {"upper": 70, "lower": 150}[half]
    start = f"p.left@{220 - height}"
    made = drawn(double(), start=start, square="p.left", until="p.right", closed=f"p.dart.{half}")
    first, second = parts(made)
    by = 2 * math.atan2(15, wide) * (1 if half == "upper" else -1)
    on = turned(second.nodes, by, np.array(apex, dtype=float))
    assert on[0] == pytest.approx(first.end, abs=1e-6)
    assert on[:, 1] == pytest.approx(height, abs=1e-6)


def two() -> Pattern:
    """Two squares of 100 that lie together along their seam."""

    def square(uid: str, x: float) -> Piece:
        corners = [np.array(at, dtype=float) for at in ((x, 0), (x + 100, 0), (x + 100, 100), (x, 100))]
        edges = tuple(
            Edge(uid=uid + n[0], name=n, parts=(line(corners[k], corners[(k + 1) % 4]),))
            for k, n in enumerate(("top", "right", "foot", "left"))
        )
        return Piece(uid=uid, name=uid, edges=edges)

    return replay(read_recipe("seam a.right b.left"), Pattern(pieces=(square("a", 0), square("b", 100))))


def test_a_line_over_pieces_that_lie_together_is_one_on_each() -> None:
    made = drawn(two(), start="a.left@1/2", end="b.right@20", arrive="square")
    (first,), (second,) = parts(made, "a"), parts(made, "b")
    assert first.end == pytest.approx(second.start, abs=1e-9)
    assert tangent(first, float(len(first)), before=True) == pytest.approx(tangent(second, 0.0), abs=1e-6)
    assert second.end == pytest.approx([200, 20])
    on = drawn(two(), start="a.left@30", square="a.left", until="b.right")
    assert parts(on, "b")[0].end == pytest.approx([200, 70])


def test_pieces_that_lie_apart_are_laid_along_the_named_seam() -> None:
    pattern = two()
    matrix = Affine.rotation(0.7, (10, 20)) @ Affine.translation(300, 40)
    apart = pattern.with_piece(moved(pattern.piece("b"), matrix))
    with pytest.raises(FlatcutError, match=r"do not lie together.*arrange --against.*--closed"):
        drawn(apart, start="a.left@1/2", end="b.right@20")
    words = {"start": "a.left@1/2", "end": "b.right@20", "leave": "square"}
    made, there = drawn(apart, closed="a.right", **words), drawn(pattern, **words)
    np.testing.assert_allclose(parts(made, "a")[0].controls, parts(there, "a")[0].controls, atol=1e-6)
    expected = matrix.apply(parts(there, "b")[0].controls.reshape(-1, 2))
    np.testing.assert_allclose(parts(made, "b")[0].controls.reshape(-1, 2), expected, atol=1e-6)


def stroke(pattern: Pattern, curve: Curve) -> Pattern:
    path = DrawnPath(id="s", curves=(curve,), closed=(False,))
    return load("line")(name="x")(replace(pattern, drawn=(path,)), Selection(drawn=("s",)))  # type: ignore[call-arg]


def test_a_stroke_over_an_open_dart_is_recorded_with_it_closed_and_replays() -> None:
    curve = cubic((0, 100), (60, 110), (140, 90), (200, 130))
    made = stroke(bare(), curve)
    first, second = parts(made)
    assert "--closed=p.dart" in made.steps[-1].line
    reach = [float(np.hypot(*(at - APEX))) for at in (first.end, second.start)]
    assert reach[0] == pytest.approx(reach[1], abs=1e-6)
    figures = {f.label: f.value for f in made.steps[-1].figures}
    assert figures["p.x differs from the drawn line, its sides moved, by"] < 0.05
    assert 0 < figures["sides moved to meet at p.dart, by"] < 20
    again = replay(read_recipe(made.steps[-1].line), bare())
    for one, other in zip(parts(made), parts(again), strict=True):
        np.testing.assert_allclose(one.controls, other.controls, atol=0.01)
    # smooth with the dart closed
    into = tangent(first, float(len(first)), before=True)
    out = turned(APEX + tangent(second, 0.0), TURN) - APEX
    assert float(into @ out) == pytest.approx(1.0, abs=1e-4)


def test_a_stroke_over_pieces_that_lie_together_is_a_line_on_each() -> None:
    made = stroke(two(), cubic((0, 50), (60, 40), (140, 70), (200, 60)))
    assert parts(made, "a")[0].end == pytest.approx(parts(made, "b")[0].start, abs=0.01)
    again = replay(read_recipe(made.steps[-1].line), two())
    np.testing.assert_allclose(point(parts(made, "b")[0], 0.5), point(parts(again, "b")[0], 0.5), atol=0.05)

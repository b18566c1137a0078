"""What is written and marked on blocks: centres, balance lines, walk notches and the balance marks of the panel line.

That a block has them all is common practice, no source; 5 cm above and below the bust point likewise. Distances and
crossings of words and lines are judged by shapely, which had no part in placing them.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from flatcut.drawing.ink import Words
from flatcut.drawing.pieces import pattern_inks
from flatcut.drawing.roles import FOLD_WORDS, LINE_WORDS
from flatcut.errors import UsageError
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.read import read
from flatcut.formats.svg.write import write
from flatcut.geometry.curves import flatten
from flatcut.pattern.comparing import differences
from flatcut.pattern.marks.balance import Balance
from flatcut.pattern.values import Pattern, Piece
from flatcut.recipe import read_recipe, replay

BLOCKS = {
    "block bodice": {"back": {"bust line", "CB, cut on fold"}, "front": {"bust line", "CF, cut on fold"}},
    "block torso --method=bust-only": {
        # a shaped centre back, and so a seam
        "back": {"bust line", "waist line", "hip line", "CB"},
        "front": {"bust line", "waist line", "hip line", "CF, cut on fold"},
    },
    "block dress --length=60cm": {
        "back": {"bust line", "waist line", "hip line", "CB, cut on fold"},
        "front": {"bust line", "waist line", "hip line", "CF, cut on fold"},
    },
    "block skirt": {
        "skirt-back": {"hip line", "CB, cut on fold"},
        "skirt-front": {"hip line", "CF, cut on fold"},
    },
    "block trousers": {
        "trouser-back": {"hip line", "crotch line", "knee line", "crease", "CB"},
        "trouser-front": {"hip line", "crotch line", "knee line", "crease", "CF"},
    },
}


def made(*lines: str) -> Pattern:
    if lines[0].startswith("block"):
        lines = (f"{lines[0]} --size=bust-90", *lines[1:])
    return replay(read_recipe("\n".join(lines)), Pattern())


@pytest.mark.parametrize("block", BLOCKS)
def test_centres_and_balance_lines_are_named_clear_of_every_line(block: str) -> None:
    pattern = made(block)
    for piece, ink in zip(pattern.pieces, pattern_inks(pattern), strict=True):
        words = [item for item in ink.words if item.role in (LINE_WORDS, FOLD_WORDS)]
        assert {item.lines[0] for item in words} == BLOCKS[block][piece.name], piece.name
        drawn = shapely.union_all(
            [shapely.LineString(flatten(curve, tolerance=0.01)) for stroke in ink.strokes for curve in stroke.curves]
        )
        boxes = [shapely.Polygon(item.outline.nodes) for item in ink.words]
        assert not any(box.intersects(drawn) for box in boxes), piece.name
        assert not any(a.intersects(b) for k, a in enumerate(boxes) for b in boxes[:k]), piece.name
        (outline,) = ink.rings
        assert all(shapely.Polygon(outline).contains(box) for box in boxes), piece.name
        for item in words:
            _beside_its_own(piece, item)


def _beside_its_own(piece: Piece, words: Words) -> None:
    """Words stand along what they name, within two letters of it."""
    things = {edge.uid: edge.parts for edge in piece.edges} | {line.uid: (line.curve,) for line in piece.lines}
    near = min(
        shapely.LineString(flatten(c, tolerance=0.01)).distance(shapely.Point(words.at)) for c in things[words.of]
    )
    assert near < (4 if words.role is FOLD_WORDS else 1) * 2 * words.height + 12 * (words.role is FOLD_WORDS)


@pytest.mark.parametrize(
    "block", ["block bodice", "block bodice --method=bust-only", "block torso", "block bodice --front-darts=2"]
)
def test_the_panel_line_has_its_balance_marks_5_cm_from_the_bust_point(block: str) -> None:
    front = made(block).piece("front")
    (bust,) = front.points
    marks = [mark for mark in front.others if isinstance(mark, Balance)]
    assert len(marks) == 2
    for mark, name in zip(marks, ("bust-dart", "waist-dart"), strict=True):
        dart = next(dart for dart in front.darts if dart.uid == mark.dart)
        assert dart.name.startswith(name)
        places = mark.places(front)
        assert places is not None
        assert np.linalg.norm(places - bust.at, axis=1) == pytest.approx([50.0, 50.0], abs=1e-6)
        for leg, at in zip(dart.legs, places, strict=True):
            assert shapely.LineString(flatten(leg, tolerance=0.001)).distance(shapely.Point(at)) < 1e-3
        # above it on the bust dart, below it on the waist dart
        assert ((places[:, 1] < bust.at[1]) == (name == "bust-dart")).all()


PANELS = (
    "block bodice",
    "line --start=front.bust-point --end=front.waist-dart.point --name=panel",
    "cut front.bust-dart front.panel front.waist-dart --names=front-side.side,front-centre.centre",
)


def test_a_cut_along_the_panel_line_makes_them_notches_of_both_edges() -> None:
    pattern = made(*PANELS)
    side, centre = pattern.piece("front-side"), pattern.piece("front-centre")
    assert not side.others
    assert not centre.others
    on = [[n for n in p.notches if n.edge == p.edge("panel").uid] for p in (side, centre)]
    assert [len(found) for found in on] == [2, 2]
    bust = centre.points[0].at
    for piece, found in zip((side, centre), on, strict=True):
        assert [np.linalg.norm(n.place(piece) - bust) for n in found] == pytest.approx([50.0, 50.0], abs=1e-6)
    # laid on each other: as far from one end on the one edge as from the other on its mate
    whole = [shapely.LineString(flatten(p.edge("panel").parts[0], tolerance=0.001)).length for p in (side, centre)]
    assert sorted(n.at.value for n in on[0]) == pytest.approx(sorted(whole[1] - n.at.value for n in on[1]), abs=0.01)


def test_they_go_with_a_dart_that_is_pivoted_and_are_gone_with_one_that_is_closed() -> None:
    front = made("block bodice", "pivot front.bust-dart --to=front.side@1/2").piece("front")
    (bust,) = front.points
    places = front.others[0].places(front)  # type: ignore[attr-defined]  # a balance mark
    assert np.linalg.norm(places - bust.at, axis=1) == pytest.approx([50.0, 50.0], abs=1e-6)
    pattern = made("block bodice", "release front.waist-dart --to=gathers")
    assert len(pattern.piece("front").others) == 1
    assert "the balance mark of front.waist-dart is gone with it" in pattern.steps[-1].warnings


def test_a_drawing_keeps_them() -> None:
    pattern = made("block bodice")
    drawing, _, _ = new_drawing()
    _, again, _ = read(write(drawing, pattern))
    assert differences(again, pattern, tolerance=1e-3) == []
    assert [edge.words for edge in again.piece("front").edges] == ["", "", "CF", "", "", ""]


def test_words_of_an_edge_are_stated_and_taken_away() -> None:
    pattern = made("block skirt", 'edge skirt-back.waist --words="to band"')
    ink = pattern_inks(pattern)[0]
    assert "to band" in [line for item in ink.words for line in item.lines]
    gone = replay(read_recipe("edge skirt-back.waist --words=none"), pattern)
    assert gone.piece("skirt-back").edge("waist").words == ""
    with pytest.raises(UsageError, match="nothing to change; give --names, --use, "):
        made("block skirt", "edge skirt-back.waist")

"""flatcut's own drawing changed by hand: ticks, symbols and labels moved or deleted, a cut line edited.

Each edit is read, something else is done to the piece, and the drawing is read once more: what was done by hand stands.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest
from lxml import etree
from shapely import LineString, Point

from flatcut.cli.main import main
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, flatten, reverse, same, transform
from flatcut.marking.derived import derive
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.spots import on_edge
from flatcut.pattern.walking import point_at, sewn_at, sewn_length, to_drawn
from tests import by_hand as hand


@lru_cache
def start() -> bytes:
    """Front and back; the front has notches, buttons and buttonholes, a drill hole, and one bound to its dart."""
    data = hand.two_pieces()
    data = hand.perform(data, "button", "front.centre@5cm..-15cm", kind="both", count=3.0, inset=15.0)
    return hand.perform(data, "drill", "front.dart-1", "front.bust-point")


def edited(edit) -> bytes:
    root = hand.root_of(start())
    edit(root)
    return hand.bytes_of(root)


def pattern_of(data: bytes):
    return read(data)[1]


def notes(data: bytes) -> list[str]:
    return [step.line for step in pattern_of(data).steps if step.line.startswith("# by hand")]


def later(data: bytes) -> bytes:
    """Something else is done to the front, so that all of it is drawn anew."""
    after = hand.perform(data, "allowance", "front", width=12.0)
    assert notes(after) == notes(data), "a second reading found an edit that is none"
    return after


def marks(data: bytes, role: str) -> list[etree._Element]:
    return hand.derived(hand.root_of(data), role)


def test_the_start_is_read_without_a_word():
    _, pattern, findings = read(start())
    assert findings == []
    assert notes(start()) == []
    front = pattern.piece("front")
    assert (len(front.notches), len(front.buttons), len(front.holes)) == (3, 6, 2)
    assert len({thing.uid for thing in (*front.buttons, *front.holes)}) == 8
    assert differences(pattern, pattern_of(later(start())), tolerance=1e-6) != []  # the wider allowance, and no more


# Ticks ----------------------------------------------------------------------------------------------------------------


def edge_line(piece, name: str) -> LineString:
    return LineString(np.concatenate([flatten(part, tolerance=1e-3) for part in piece.edge(name).parts]))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("baked", [False, True])
def test_a_moved_tick_takes_the_nearest_place_on_the_edge(baked, turned):
    by = np.array([3.0, 25.0])
    before = pattern_of(start()).piece("front")
    edge = before.edge("side")
    notch = next(n for n in before.notches if n.edge == edge.uid)
    stood = on_edge(before, edge, sewn_at(edge, notch.at)).point

    def edit(root):
        tick = next(e for e in hand.derived(root, "notch") if e.get(own("of")) == notch.uid)
        if baked:
            hand.redrawn(
                tick, [transform(s.curve, Affine.translation(*by)) for s in parse(tick.get("d"))], closed=False
            )
        else:
            hand.put_transform(tick, Affine.translation(*by))
        if turned:
            hand.put_transform(hand.group(root, "front"), Affine.rotation(0.4))

    data = edited(edit)
    after = pattern_of(data).piece("front")
    found = next(n for n in after.notches if n.uid == notch.uid)
    line = edge_line(before, "side")
    wanted = line.length - line.project(Point(stood + by))  # shapely's own nearest place
    assert (found.edge, found.at.mode) == (edge.uid, "end")
    assert found.at.value == pytest.approx(wanted, abs=0.01)
    assert notes(data) == ["# by hand: front.a notch on side moved"]
    again = next(n for n in pattern_of(later(data)).piece("front").notches if n.uid == notch.uid)
    assert (again.edge, again.at.mode) == (found.edge, "end")
    assert again.at.value == pytest.approx(found.at.value, abs=1e-6)


def test_a_tick_that_was_put_on_another_edge_is_its_notch():
    before = pattern_of(start()).piece("front")
    notch = next(n for n in before.notches if n.edge == before.edge("side").uid)
    side, waist = before.edge("side"), before.edge("waist")
    by = on_edge(before, waist, 30.0).point - on_edge(before, side, sewn_at(side, notch.at)).point

    def edit(root):
        tick = next(e for e in hand.derived(root, "notch") if e.get(own("of")) == notch.uid)
        hand.put_transform(tick, Affine.translation(*by))

    after = pattern_of(edited(edit)).piece("front")
    found = next(n for n in after.notches if n.uid == notch.uid)
    assert found.edge == waist.uid
    assert sewn_length(waist) - found.at.value == pytest.approx(30.0, abs=0.01)


def test_ticks_left_behind_by_an_edited_outline_are_not_moved():
    data = edited(lambda root: hand.move_node(hand.outline(root, "front"), 4, (6.0, 8.0)))
    before, after = pattern_of(start()).piece("front"), pattern_of(data).piece("front")
    # the corner took its edges along, and each notch stays on its cloth: none was put where its old tick lies
    for old, new in zip(before.notches, after.notches, strict=True):
        pairs = ((before.edge_of(old.edge), old), (after.edge_of(new.edge), new))
        places = [point_at(e, to_drawn(e, sewn_at(e, n.at)))[0] for e, n in pairs]
        assert np.hypot(*(places[1] - places[0])) < 8.0
        if old.edge not in (before.edge("side").uid, before.edge("waist").uid):
            assert old.at == new.at
    assert not notes(data)


def test_a_deleted_tick_takes_its_notch_with_it():
    before = pattern_of(start()).piece("front")
    notch = next(n for n in before.notches if n.edge == before.edge("shoulder").uid)

    def edit(root):
        for tick in hand.derived(root, "notch"):
            if tick.get(own("of")) == notch.uid:
                hand.delete(tick)

    data = edited(edit)
    assert notes(data) == ["# by hand: front.a notch on shoulder deleted"]
    after = later(data)
    assert [n.uid for n in pattern_of(after).piece("front").notches] == [
        n.uid for n in before.notches if n.uid != notch.uid
    ]
    assert notch.uid not in [e.get(own("of")) for e in marks(after, "notch")]


def test_one_mark_of_a_double_notch_deleted_leaves_a_single_one():
    before = pattern_of(start()).piece("front")
    double = next(n for n in before.notches if n.count == 2)

    def edit(root):
        hand.delete(next(e for e in hand.derived(root, "notch") if e.get(own("of")) == double.uid))

    after = later(edited(edit))
    assert notes(after) == ["# by hand: front.a mark of a notch on armhole deleted"]
    assert [n.count for n in pattern_of(after).piece("front").notches if n.uid == double.uid] == [1]
    assert [e.get(own("of")) for e in marks(after, "notch")].count(double.uid) == 1


# Symbols and label ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["button", "buttonhole"])
def test_a_moved_button_takes_its_data_along_and_no_other(kind):
    before = pattern_of(start()).piece("front")
    one = next(b for b in before.buttons if b.kind == kind)

    def edit(root):
        symbol = next(e for e in hand.derived(root, "button") if e.get(own("of")) == one.uid)
        hand.put_transform(symbol, Affine.translation(4, -9))

    data = edited(edit)
    assert notes(data) == [f"# by hand: front.a {kind} moved"]
    for found in (data, later(data)):
        for was, now in zip(before.buttons, pattern_of(found).piece("front").buttons, strict=True):
            shift = (4, -9) if was.uid == one.uid else (0, 0)
            assert np.allclose(now.at - was.at, shift, atol=1e-4)
            if was.slit is not None:
                assert np.allclose(now.slit - was.slit, shift, atol=1e-4)


@pytest.mark.parametrize("bound", [False, True])
def test_a_moved_drill_hole_stands_where_it_was_put(bound):
    before = pattern_of(start()).piece("front")
    hole = next(h for h in before.holes if bool(h.dart) == bound)

    def edit(root):
        symbol = next(e for e in hand.derived(root, "hole") if e.get(own("of")) == hole.uid)
        hand.put_transform(symbol, Affine.translation(7, 2))

    data = edited(edit)
    now = next(h for h in pattern_of(later(data)).piece("front").holes if h.uid == hole.uid)
    drawn = [s.curve.nodes for e in marks(start(), "hole") if e.get(own("of")) == hole.uid for s in parse(e.get("d"))]
    middle = (np.concatenate(drawn).min(axis=0) + np.concatenate(drawn).max(axis=0)) / 2
    assert np.allclose(now.at - middle, (3 + 7, -2 + 2), atol=1e-3)  # the layer is moved by 3, -2
    assert now.dart == ""


@pytest.mark.parametrize(("role", "field", "told"), [
    ("button", "buttons", "a button"),
    ("hole", "holes", "a drill hole"),
    ("point", "points", "bust-point"),
])  # fmt: skip
def test_a_deleted_symbol_takes_its_data_with_it(role, field, told):
    uid = marks(start(), role)[0].get(own("of"))
    data = edited(lambda root: hand.delete(hand.derived(root, role)[0]))
    assert notes(data) == [f"# by hand: front.{told} deleted"]
    for found in (data, later(data)):
        assert uid not in [thing.uid for thing in getattr(pattern_of(found).piece("front"), field)]
    count = len(getattr(pattern_of(start()).piece("front"), field))
    assert len(getattr(pattern_of(later(data)).piece("front"), field)) == count - 1


def test_a_deleted_label_stays_away_until_something_is_said_with_it():
    data = edited(lambda root: hand.delete(hand.derived(root, "label")[0]))
    after = hand.perform(later(data), "style", name="spring", size="38")
    assert marks(after, "label") == []
    assert len(hand.derived(hand.root_of(after), "label", "back")) == 1
    assert len(marks(hand.perform(after, "label", "front", material="shell"), "label")) == 1
    assert len(marks(hand.perform(after, "redraw", "front"), "label")) == 0
    assert len(marks(hand.perform(after, "redraw", "front", force=True), "label")) == 1


def test_check_misses_a_deleted_label(tmp_path, capsys):
    file = tmp_path / "edited.svg"
    file.write_bytes(edited(lambda root: hand.delete(hand.derived(root, "label")[0])))
    main(["check", str(file)])
    said = capsys.readouterr().out
    assert "front has no label, it was deleted by hand" in said
    assert "back has no label" not in said


def test_the_whole_drawing_deleted_is_drawn_again_with_all_its_marks():
    def edit(root):
        uid = hand.group(root, "front").get(own("piece"))
        hand.delete(next(g for g in root.iter(tag("g")) if g.get(own("derived")) == uid))

    after = later(edited(edit))
    assert differences(pattern_of(later(start())), pattern_of(after), tolerance=1e-6) == []
    assert len(marks(after, "label")) == 1


# The cut line ---------------------------------------------------------------------------------------------------------


def cut_of(data: bytes):
    """The front's cut line as it is drawn, in document mm."""
    drawing, _, _ = read(data)
    (element,) = hand.derived(drawing.document.root, "cut")
    return transform(hand.curve_of(element), drawing.document.matrix_of(element))


def bumped(root):
    hand.move_node(hand.derived(root, "cut")[0], 3, (9.0, 4.0))


def test_an_edited_cut_line_stands_until_it_is_forced():
    data = edited(bumped)
    drawn = cut_of(data)
    assert notes(data) == ["# by hand: front.cut line drawn anew"]
    after = hand.perform(later(data), "redraw", "front")
    assert same(cut_of(after), drawn, tolerance=1e-3)
    front = pattern_of(after).piece("front")
    assert same(derive(front).cut.curve, drawn, tolerance=1e-3)
    assert any("drawn by hand" in warning for warning in derive(front).warnings)
    forced = hand.perform(after, "redraw", "front", force=True)
    assert same(cut_of(forced), cut_of(later(start())), tolerance=1e-3)
    assert pattern_of(forced).piece("front").cut_by_hand is None
    assert pattern_of(data).piece("back").cut_by_hand is None


@pytest.mark.parametrize("how", ["group", "baked", "arranged"])
def test_a_cut_line_drawn_by_hand_goes_with_its_piece(how):
    turn = Affine.translation(30, 12) @ Affine.rotation(0.3)

    def edit(root):
        if how == "group":
            hand.put_transform(hand.group(root, "front"), turn)
        elif how == "baked":
            hand.bake(hand.outline(root, "front"), turn)

    root = hand.root_of(later(edited(bumped)))
    drawn = cut_of(hand.bytes_of(root))
    ring = chain([p for e in pattern_of(hand.bytes_of(root)).piece("front").edges for p in e.parts[:1]][:1])
    edit(root)
    data = hand.bytes_of(root)
    if how == "arranged":
        data = hand.perform(data, "arrange")
    now = pattern_of(data).piece("front")
    motion = carried(ring, now.edges[0].parts[0])
    assert same(now.cut_by_hand, transform(drawn, motion), tolerance=2e-3)
    assert same(cut_of(later(data)), transform(drawn, motion), tolerance=2e-3)


def carried(one, other) -> Affine:
    """The rigid motion of a curve onto another, from its first and last nodes."""
    (a, b), (c, d) = (one.start, one.end), (other.start, other.end)
    turn = np.arctan2(*(d - c)[::-1]) - np.arctan2(*(b - a)[::-1])
    rotation = Affine.rotation(float(turn))
    return Affine.translation(*(c - rotation.apply(a))) @ rotation


@pytest.mark.parametrize("edit", [
    lambda cut: hand.put_transform(cut, Affine.translation(7, 7)),
    lambda cut: hand.bake(cut, Affine.rotation(0.1)),
    hand.reverse_path,
    lambda cut: hand.start_at(cut, 3),
    hand.delete,
], ids=["moved", "turned", "reversed", "started elsewhere", "deleted"])  # fmt: skip
def test_a_cut_line_that_keeps_its_shape_is_not_drawn_by_hand(edit):
    data = edited(lambda root: edit(hand.derived(root, "cut")[0]))
    assert pattern_of(data).piece("front").cut_by_hand is None
    assert same(cut_of(later(data)), cut_of(later(start())), tolerance=1e-6)


def test_a_mirrored_piece_mirrors_its_drawn_cut_line():
    front = pattern_of(edited(bumped)).piece("front")
    mirror = Affine.scaling(-1, 1)
    other = moved(front, mirror)
    assert same(other.cut_by_hand, transform(front.cut_by_hand, mirror), tolerance=1e-9)
    assert not same(other.cut_by_hand, reverse(front.cut_by_hand), tolerance=1.0)


def test_check_tells_of_a_cut_line_drawn_by_hand(tmp_path, capsys):
    file = tmp_path / "edited.svg"
    file.write_bytes(later(edited(bumped)))
    main(["check", str(file)])
    assert capsys.readouterr().out.count("the cut line of front stands as it was drawn by hand") == 1


def test_damaged_lists_are_no_reason_to_lose_a_piece():
    for text in ("[1,2]", "{'a':'b'}", "{'a':-3}"):

        def edit(root, text=text):
            next(g for g in root.iter(tag("g")) if g.get(own("marks"))).set(own("marks"), text)

        data = edited(edit)
        assert differences(pattern_of(start()), pattern_of(data), tolerance=1e-6) == []

"""Edits by hand between two operations: names are kept or it is said that they are not, and the work goes on.

The edits are done to the XML with the editor's rules (`by_hand`). After each the drawing is read, given an allowance,
written and read once more: one derived drawing for each piece, the allowance about the edited line, nothing left over.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from lxml import etree

from flatcut.cli.main import main
from flatcut.formats.svg.drawing import Drawing
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.pathdata import parse
from flatcut.formats.svg.read import read as read_drawing
from flatcut.formats.svg.transforms import parse_transform
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, line, polyline, transform
from flatcut.geometry.nearest import nearest
from flatcut.marking.cutline import cut_line
from flatcut.operations.operation import load
from flatcut.pattern.comparing import differences
from flatcut.pattern.moving import moved
from flatcut.pattern.spots import spot
from flatcut.pattern.values import Pattern, area
from flatcut.pattern.walking import drawn_length
from flatcut.recipe import read_recipe, replay, write_recipe
from tests import by_hand as hand

NAMES = {"neck", "shoulder", "armhole", "side", "waist", "centre"}


def read(data: bytes) -> tuple[Drawing, Pattern, list[str]]:
    """A drawing, its pattern, and what reading it found, in words."""
    drawing, pattern, findings = read_drawing(data)
    return drawing, pattern, [found.text for found in findings]


@lru_cache
def start() -> bytes:
    return hand.two_pieces()


def edited(edit: Callable[[etree._Element], object]) -> bytes:
    root = hand.root_of(start())
    edit(root)
    return hand.bytes_of(root)


def by_hand_lines(pattern: Pattern) -> list[str]:
    return [step.line for step in pattern.steps if step.line.startswith("# by hand")]


def goes_on(data: bytes) -> tuple[Drawing, Pattern]:
    """Give every piece an allowance of 12 mm, write, read again; what is drawn afterwards is whole and not double."""
    drawing, pattern, _ = read(data)
    after = write(drawing, load("allowance")(target=("all",), width=12.0)(pattern))  # type: ignore[call-arg]
    again, found, _ = read(after)
    assert len(by_hand_lines(found)) == len(by_hand_lines(pattern)), "a second reading found an edit that is none"
    uids = {piece.uid for piece in found.pieces}
    root = again.document.root
    groups = [g for g in root.iter(tag("g")) if g.get(own("derived")) in uids]
    assert sorted(g.get(own("derived"), "") for g in groups) == sorted(uids)
    marks = [e for e in root.iter() if e.get(own("drawn")) is not None and e.get(own("piece-of")) not in again.unread]
    assert all(e.getparent() in groups for e in marks), "derived drawing is left over"
    for piece in found.pieces:
        for edge in piece.edges:
            assert edge.allowance is not None
            assert edge.allowance.width == (0.0 if edge.use == "centre" else 12.0)
        allowance_follows(found, piece.name)
    return again, found


def allowance_follows(pattern: Pattern, name: str) -> None:
    """The middle of each straight edge's stitch line lies its allowance inside the cut line."""
    piece = pattern.piece(name)
    cut = cut_line(piece)
    assert cut is not None
    for edge in piece.edges:
        if edge.name in ("shoulder", "side", "centre") and edge.segments == 1 and edge.parts[0].straight.all():
            assert edge.allowance is not None
            middle = (edge.start + edge.end) / 2
            away = float(nearest(cut.curve, middle)[1])
            assert away == pytest.approx(edge.allowance.width, abs=0.02), f"{name}.{edge.name}"


def front(root: etree._Element) -> etree._Element:
    return hand.outline(root, "front")


def original() -> Pattern:
    return read(start())[1]


def test_the_drawing_to_start_from_is_read_without_a_word() -> None:
    _, pattern, findings = read(start())
    assert not findings
    assert not by_hand_lines(pattern)
    assert {edge.name for edge in pattern.piece("front").edges} == NAMES
    assert len(pattern.seams) == 2
    goes_on(start())


# Nodes ----------------------------------------------------------------------------------------------------------------

# the front's outline: 0 neck start, 1 neck/shoulder, 2 shoulder/armhole, 3 armhole/side, 4 side/waist, 5 foot, 6 point
# of the dart, 7 foot, 8 waist/centre


def test_a_moved_corner_keeps_every_name_and_the_allowance_follows() -> None:
    data = edited(lambda root: hand.move_node(front(root), 4, (6.0, 8.0)))
    _, pattern, findings = read(data)
    assert not findings
    assert np.allclose(spot(pattern, "front.side/waist").point, [244.0, 426.0], atol=1e-4)
    assert {edge.name for edge in pattern.piece("front").edges} == NAMES
    assert not by_hand_lines(pattern)
    assert len(pattern.seams) == 2
    goes_on(data)


MOVED = {
    "a corner between straight edges": [(4, (6.0, 8.0))],
    "a corner of a curved edge": [(1, (3.0, -4.0))],
    "a corner at the start": [(0, (-2.0, 5.0))],
    "two corners": [(2, (4.0, 2.0)), (3, (5.0, -3.0))],
    "a node inside a curve": [(3, (-5.0, 6.0))],
    "a node inside a curve and the corners beside it": [(3, (-5.0, 6.0)), (2, (1.0, 2.0)), (4, (3.0, -2.0))],
}
"""Nodes of the front, and by what they are moved; for those inside a curve a node is put on the armhole before."""


@pytest.mark.parametrize("what", MOVED)
def test_a_node_that_was_moved_is_a_move_which_replays(what: str) -> None:
    """The drawn outline within 0.01 mm, everything on it where a replay puts it; and on a larger size too."""
    base = start()
    if "inside" in what:
        root = hand.root_of(base)
        hand.add_node(front(root), 2, 0.5)
        base = hand.perform(hand.bytes_of(root), "label", "front")
    root = hand.root_of(base)
    for node, by in MOVED[what]:
        hand.move_node(front(root), node, by)
    data = hand.bytes_of(root)
    _, before, _ = read(base)
    drawing, pattern, findings = read(data)
    assert not findings
    assert not by_hand_lines(pattern)
    steps = pattern.steps[len(before.steps) :]
    assert [step.line.split()[0] for step in steps] == ["move"] * len(MOVED[what])
    # as drawn
    element = drawing.held[pattern.piece("front").uid].outline
    drawn = transform(hand.curve_of(element), drawing.document.matrix_of(element))
    assert max(float(nearest(drawn, p.nodes)[1].max()) for e in pattern.piece("front").edges for p in e.parts) < 0.01
    # the same by its steps alone
    recipe = read_recipe(write_recipe(steps))
    again = replay(recipe, before)
    assert [step.line for step in again.steps] == [step.line for step in pattern.steps]
    assert not differences(again, pattern, tolerance=0.01)
    # half as large again the same nodes move by the same amounts
    large = replace(before, pieces=tuple(moved(p, Affine.scaling(1.5)) for p in before.pieces))
    wide = replay(recipe, large)
    shifts = [now.end - was.end for was, now in zip(large.piece("front").edges, wide.piece("front").edges, strict=True)]
    wanted = [
        now.end - was.end for was, now in zip(before.piece("front").edges, pattern.piece("front").edges, strict=True)
    ]
    assert np.allclose(shifts, wanted, atol=0.02)
    goes_on(data)


def test_what_is_no_move_of_nodes_is_told_as_done_by_hand() -> None:
    """A handle bent beside a moved node; a straight line that became a curve."""

    def bent(root: etree._Element) -> None:
        hand.move_node(front(root), 2, (4.0, 2.0))
        hand.move_handle(front(root), 2, (-3.0, 4.0))

    _, pattern, _ = read(edited(bent))
    assert len(by_hand_lines(pattern)) == 1
    assert pattern.steps[-1].line.startswith("# by hand: front.")


def test_a_moved_dart_point_moves_the_dart() -> None:
    data = edited(lambda root: hand.move_node(front(root), 6, (0.0, -20.0)))
    _, pattern, findings = read(data)
    assert not findings
    assert by_hand_lines(pattern) == ["# by hand: front.dart-1, largest 20.0 mm"]
    dart = next(d for d in pattern.piece("front").darts if d.form == "cut")
    assert np.allclose(dart.points[0], [145.5, 268.0], atol=1e-4)
    goes_on(data)


def test_a_moved_handle_is_an_edit_of_its_edge_alone() -> None:
    data = edited(lambda root: hand.move_handle(front(root), 2, (-3.0, 4.0)))
    _, pattern, findings = read(data)
    assert not findings
    assert by_hand_lines(pattern) == ["# by hand: front.armhole, largest 5.0 mm"]
    goes_on(data)


@pytest.mark.parametrize("span", range(9))
def test_a_node_added_on_any_span_changes_no_name(span: int) -> None:
    data = edited(lambda root: hand.add_node(front(root), span, 0.37))
    _, pattern, findings = read(data)
    assert not findings
    lengths = {e.name: drawn_length(e) for e in pattern.piece("front").edges}
    for edge in original().piece("front").edges:
        assert lengths[edge.name] == pytest.approx(drawn_length(edge), abs=1e-3)
    goes_on(data)


def test_an_added_node_can_go_again() -> None:
    def edit(root: etree._Element) -> None:
        hand.add_node(front(root), 3, 0.5)

    data = hand.perform(edited(edit), "allowance", "all", width=8.0)
    root = hand.root_of(data)
    hand.delete_node(hand.outline(root, "front"), 4)
    _, pattern, findings = read(hand.bytes_of(root))
    assert not findings
    assert pattern.piece("front").edge("side").segments == 1
    goes_on(hand.bytes_of(root))


@pytest.mark.parametrize("corner", [1, 2, 3, 4, 8])
def test_a_deleted_corner_is_reported_and_the_piece_left_as_it_is(corner: int) -> None:
    data = edited(lambda root: hand.delete_node(front(root), corner))
    drawing, pattern, findings = read(data)
    assert [piece.name for piece in pattern.pieces] == ["back"]
    assert list(drawing.unread.values()) == ["front"]
    assert len(findings) == 1
    assert findings[0].startswith("front is left as it is: ")
    assert "undo the change or make the piece anew" in findings[0]
    before = etree.tostring(hand.group(hand.root_of(data), "front"), method="c14n", exclusive=True)
    again, _ = goes_on(data)
    after = etree.tostring(hand.group(again.document.root, "front"), method="c14n", exclusive=True)
    assert after == before
    # undone, the piece is there again, with its seams
    mended = hand.root_of(write(drawing, load("allowance")(target=("all",))(pattern)))  # type: ignore[call-arg]
    fresh = hand.root_of(start())
    hand.outline(mended, "front").set("d", front(fresh).get("d", ""))
    _, found, said = read(hand.bytes_of(mended))
    assert not said
    assert {piece.name for piece in found.pieces} == {"front", "back"}
    assert len(found.seams) == 2


def test_a_corner_moved_with_a_node_added_beside_it_is_found_by_being_the_only_corner() -> None:
    def edit(root: etree._Element) -> None:
        hand.add_node(front(root), 1, 0.5)
        hand.move_node(front(root), 3, (5.0, -4.0))

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert np.allclose(spot(pattern, "front.shoulder/armhole").point, [198.0, 54.0], atol=1e-4)
    goes_on(data)


def test_a_reversed_path_keeps_names_and_direction() -> None:
    data = edited(lambda root: hand.reverse_path(front(root)))
    _, pattern, findings = read(data)
    assert not findings
    assert not by_hand_lines(pattern)
    assert not differences(pattern, original(), tolerance=1e-3)
    goes_on(data)


@pytest.mark.parametrize("k", [1, 4, 6, 8])
def test_another_start_node_keeps_names(k: int) -> None:
    data = edited(lambda root: hand.start_at(front(root), k))
    _, pattern, findings = read(data)
    assert not findings
    assert not differences(pattern, original(), tolerance=1e-3)
    goes_on(data)


def test_reversed_with_another_start_and_a_moved_node_keeps_names() -> None:
    def edit(root: etree._Element) -> None:
        hand.reverse_path(front(root))
        hand.start_at(front(root), 3)
        hand.move_node(front(root), 0, (0.0, 7.0))

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert {edge.name for edge in pattern.piece("front").edges} == NAMES
    assert len(by_hand_lines(pattern)) == 1
    goes_on(data)


# Moves ----------------------------------------------------------------------------------------------------------------

MOTIONS = {
    "moved": Affine.translation(31.7, -12.25),
    "turned": Affine.rotation(math.radians(33), (100, 200)),
    "upside down": Affine.rotation(math.pi, (130, 240)),
    "mirrored": Affine.translation(260, 0) @ Affine.scaling(-1, 1),
    "mirrored and turned": Affine.rotation(1.0, (90, 90)) @ Affine.scaling(1, -1),
}
LAYER = Affine.translation(3, -2)


def carried(matrix: Affine) -> Affine:
    """A motion in the layer's space as one of document mm."""
    return LAYER @ matrix @ LAYER.inverse()


@pytest.mark.parametrize("motion", MOTIONS)
@pytest.mark.parametrize("how", ["on the group", "on the path", "baked into the path"])
def test_a_moved_piece_keeps_its_names(motion: str, how: str) -> None:
    matrix = MOTIONS[motion]

    def edit(root: etree._Element) -> None:
        if how == "on the group":
            hand.put_transform(hand.group(root, "front"), matrix)
        elif how == "on the path":
            hand.put_transform(front(root), matrix)
        else:
            hand.bake(front(root), matrix)

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    moved = carried(matrix)
    for edge in original().piece("front").edges:
        now = pattern.piece("front").edge(edge.name)
        assert np.allclose(now.start, moved.apply(edge.start), atol=1e-3)
        assert np.allclose(now.end, moved.apply(edge.end), atol=1e-3)
    assert np.allclose(spot(pattern, "front.bust-point").point, moved.apply([140.0, 230.0]), atol=1e-3)
    assert (area(pattern.piece("front")) > 0) == (matrix.determinant > 0)
    lines = by_hand_lines(pattern)
    if how == "on the group":
        assert not lines
    else:  # what is drawn inside stayed behind
        assert lines == ["# by hand: front.balance, front.waist-fish, front.grain drawn anew"]
    goes_on(data)


def test_a_group_moved_twice_with_an_operation_between() -> None:
    data = edited(lambda root: hand.put_transform(hand.group(root, "front"), MOTIONS["turned"]))
    data = hand.perform(data, "allowance", "all", width=9.0)
    root = hand.root_of(data)
    hand.put_transform(hand.group(root, "front"), MOTIONS["mirrored"])
    _, pattern, findings = read(hand.bytes_of(root))
    assert not findings
    assert not by_hand_lines(pattern)
    goes_on(hand.bytes_of(root))


def test_a_moved_group_with_a_moved_node_inside() -> None:
    def edit(root: etree._Element) -> None:
        hand.put_transform(hand.group(root, "front"), MOTIONS["turned"])
        hand.move_node(front(root), 4, (0.0, 9.0))

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert [step.line.split(" --")[0] for step in pattern.steps][-1] == "move front.side@100%"
    goes_on(data)


@pytest.mark.parametrize("how", ["on the group", "on the path", "baked into the path"])
def test_a_scaled_piece_is_told_and_its_ease_grows_with_it(how: str) -> None:
    matrix = Affine.scaling(1.1)

    def edit(root: etree._Element) -> None:
        if how == "on the group":
            hand.put_transform(hand.group(root, "front"), matrix)
        elif how == "on the path":
            hand.put_transform(front(root), matrix)
        else:
            hand.bake(front(root), matrix)

    data = edited(edit)
    _, pattern, findings = read(data)
    assert findings == ["front was scaled by hand, 1.1000 times"]
    assert "# by hand: front, scaled, 1.1000 times" in by_hand_lines(pattern)
    side, before = pattern.piece("front").edge("side"), original().piece("front").edge("side")
    assert drawn_length(side) == pytest.approx(1.1 * drawn_length(before), abs=1e-3)
    assert side.takeups[0].end == pytest.approx(88.0, abs=1e-3)
    assert side.takeups[0].amount == pytest.approx(4.4, abs=1e-4)
    again, _ = goes_on(data)
    group = hand.group(again.document.root, "front")
    # the scale is baked in: lines are as thick as before
    assert again.document.matrix_of(group).is_rigid(tolerance=1e-9)


def test_a_skewed_piece_is_told_and_goes_on() -> None:
    data = edited(lambda root: hand.put_transform(hand.group(root, "front"), Affine(1.0, 0.0, 0.3, 1.0, 0.0, 0.0)))
    _, _pattern, findings = read(data)
    # tan of the lean is 0.3; the singular values of [[1, 0.3], [0, 1]] are sqrt(1 + 0.15²) ± 0.15
    said = "front was skewed by hand, 16.7°: its lengths are now 0.8612 to 1.1612 times what they were"
    assert findings == [said]
    goes_on(data)


# Copies and groups ----------------------------------------------------------------------------------------------------


def test_a_duplicate_is_a_piece_of_its_own_without_seams() -> None:
    def edit(root: etree._Element) -> None:
        hand.put_transform(hand.duplicate(hand.group(root, "front")), Affine.translation(0, 500))

    data = edited(edit)
    _, pattern, findings = read(data)
    assert findings == ["front-2 is a copy of front: it has names of its own and no seams"]
    assert [found.where for found in read_drawing(data)[2]] == [("front-2",)]
    assert pattern.steps[-1].about == ("front-2",)
    assert by_hand_lines(pattern) == ["# by hand: front-2 is a copy of front"]
    assert [piece.name for piece in pattern.pieces] == ["front", "front-2", "back"]
    assert len(pattern.seams) == 2
    assert all(part.piece != pattern.piece("front-2").uid for seam in pattern.seams for part in (*seam.a, *seam.b))
    assert len(set(pattern.uids())) == len(list(pattern.uids()))
    _, found = goes_on(data)
    assert [piece.name for piece in found.pieces] == ["front", "front-2", "back"]
    two = found.piece("front-2")
    assert {edge.name for edge in two.edges} == NAMES
    assert [line.name for line in two.lines] == ["balance"]
    assert np.allclose(two.edge("neck").start - found.piece("front").edge("neck").start, [0, 500], atol=1e-3)


def test_an_outline_duplicated_inside_its_group_becomes_a_second_piece() -> None:
    def edit(root: etree._Element) -> None:
        hand.bake(hand.duplicate(front(root)), Affine.translation(0, 500))

    data = edited(edit)
    _, pattern, _ = read(data)
    assert [piece.name for piece in pattern.pieces] == ["front", "front-2", "back"]
    again, found = goes_on(data)
    assert [line.name for line in found.piece("front").lines] == ["balance"]
    assert not found.piece("front-2").lines
    groups = [g for g in again.document.root.iter(tag("g")) if g.get(own("piece")) is not None]
    assert len(groups) == 3
    assert np.allclose(
        found.piece("front-2").edge("neck").start - found.piece("front").edge("neck").start, [0, 500], atol=1e-3
    )


def test_a_pasted_piece_brings_its_names_but_no_seams() -> None:
    other = hand.new_document()
    home = other[0]
    hand.paste(hand.group(hand.root_of(start()), "front"), home)
    data = hand.bytes_of(other)
    _, pattern, findings = read(data)
    assert not findings
    assert [piece.name for piece in pattern.pieces] == ["front"]
    assert not pattern.seams
    assert "# by hand: front was brought in from another drawing" in by_hand_lines(pattern)
    again, found = goes_on(data)
    assert {edge.name for edge in found.piece("front").edges} == NAMES
    assert again.document.root.get("viewBox") == "0 0 2000 2000"


def test_a_piece_pasted_beside_one_of_its_name_gets_another_name() -> None:
    other = hand.root_of(start())
    for element in list(other.iter()):
        for name in ("piece", "outline", "of", "piece-of", "derived"):
            if element.get(own(name)) is not None:
                element.set(own(name), f"f{element.get(own(name))}")
    home = hand.root_of(start())
    hand.paste(hand.group(other, "front"), next(home.iter(tag("g"))))
    data = hand.bytes_of(home)
    _, pattern, findings = read(data)
    assert findings == ["a second piece called front is now front-2"]
    assert [piece.name for piece in pattern.pieces] == ["front", "back", "front-2"]
    goes_on(data)


@pytest.mark.parametrize("moved", [False, True])
def test_an_ungrouped_piece_is_grouped_again(moved: bool) -> None:
    def edit(root: etree._Element) -> None:
        if moved:
            hand.put_transform(hand.group(root, "front"), MOTIONS["turned"])
        hand.ungroup(hand.group(root, "front"))

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert not by_hand_lines(pattern)
    assert {piece.name for piece in pattern.pieces} == {"front", "back"}
    assert len(pattern.seams) == 2
    assert [line.name for line in pattern.piece("front").lines] == ["balance"]
    assert pattern.piece("front").grain is not None
    again, found = goes_on(data)
    group = hand.group(again.document.root, "front")
    kinds = [k for e in group for k in ("outline", "line", "dart", "grain", "derived") if e.get(own(k)) is not None]
    assert sorted(kinds) == ["dart", "derived", "grain", "line", "outline"]
    if not moved:
        assert np.allclose(found.piece("front").edge("neck").start, original().piece("front").edge("neck").start)


def test_ungrouped_twice_the_derived_drawing_lies_loose_and_is_taken_away() -> None:
    def edit(root: etree._Element) -> None:
        hand.ungroup(hand.group(root, "front"))
        uid = front_uid()
        hand.ungroup(next(g for g in root.iter(tag("g")) if g.get(own("derived")) == uid))

    goes_on(edited(edit))


def front_uid() -> str:
    return original().piece("front").uid


def test_original_and_duplicate_both_ungrouped_are_told_apart() -> None:
    def edit(root: etree._Element) -> None:
        twin = hand.duplicate(hand.group(root, "front"))
        hand.put_transform(twin, Affine.translation(0, 500))
        hand.ungroup(twin)
        hand.ungroup(hand.group(root, "front"))

    data = edited(edit)
    _, pattern, _ = read(data)
    assert {piece.name for piece in pattern.pieces} == {"front", "front-2", "back"}
    _, found = goes_on(data)
    for name, below in (("front", 0.0), ("front-2", 500.0)):
        piece = found.piece(name)
        assert [round(float(line.curve.start[1])) for line in piece.lines] == [round(150 + below)]
        assert piece.grain is not None
        assert piece.grain.start[1] == pytest.approx(140 + below, abs=1e-3)


def test_only_the_duplicate_ungrouped() -> None:
    def edit(root: etree._Element) -> None:
        twin = hand.duplicate(hand.group(root, "front"))
        hand.put_transform(twin, Affine.translation(0, 500))
        hand.ungroup(twin)

    _, found = goes_on(edited(edit))
    assert {piece.name for piece in found.pieces} == {"front", "front-2", "back"}
    assert sorted(len(piece.lines) for piece in found.pieces) == [0, 1, 1]


def test_a_piece_grouped_with_others_in_groups_with_transforms() -> None:
    def edit(root: etree._Element) -> None:
        group = hand.group(root, "front")
        parent = group.getparent()
        assert parent is not None
        outer = etree.SubElement(parent, tag("g"), transform="scale(0.5) rotate(10)")
        inner = etree.SubElement(outer, tag("g"), transform="rotate(-10) scale(2)")
        inner.append(group)

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert not differences(pattern_in_order(pattern), original(), tolerance=1e-3)
    goes_on(data)


def pattern_in_order(pattern: Pattern) -> Pattern:
    return replace(pattern, pieces=tuple(sorted(pattern.pieces, key=lambda piece: piece.name, reverse=True)))


def test_outline_and_line_in_a_subgroup_of_the_pieces_group_stay_where_they_are() -> None:
    def edit(root: etree._Element) -> None:
        group = hand.group(root, "front")
        inside = etree.SubElement(group, tag("g"), transform="translate(10,0)")
        for element in [e for e in group if e.get(own("line")) is not None or e.get(own("outline")) is not None]:
            hand.bake(element, Affine.translation(-10, 0), closed=element.get(own("outline")) is not None)
            inside.append(element)

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert not by_hand_lines(pattern)
    _, found = goes_on(data)
    assert np.allclose(found.piece("front").lines[0].curve.start, [25, 150], atol=1e-3)
    assert np.allclose(found.piece("front").edge("neck").start, original().piece("front").edge("neck").start, atol=1e-3)


def test_an_outline_dragged_to_another_layer_leaves_no_husk() -> None:
    def edit(root: etree._Element) -> None:
        layer = next(g for g in root.iter(tag("g")) if g.get("id") == "layer1")
        outline = front(root)
        layer.append(outline)

    data = edited(edit)
    _, _pattern, findings = read(data)
    assert not findings
    again, _ = goes_on(data)
    assert len([g for g in again.document.root.iter(tag("g")) if g.get(own("piece")) == front_uid()]) == 1


def test_a_clone_is_a_picture_and_not_a_second_piece() -> None:
    def edit(root: etree._Element) -> None:
        group = hand.group(root, "front")
        clone = etree.SubElement(root, tag("use"), href=f"#{group.get('id')}", transform="translate(700,0)")
        clone.set("id", "clone")

    data = edited(edit)
    _, pattern, findings = read(data)
    assert findings == ["a clone of front is a picture of it and no piece; unlink it to make it one"]
    assert [piece.name for piece in pattern.pieces] == ["front", "back"]
    again, _ = goes_on(data)
    assert again.document.by_id("clone") is not None


# Paths that lose their marks ------------------------------------------------------------------------------------------


def test_break_apart_takes_the_marks_and_the_copy_in_the_document_serves() -> None:
    data = edited(lambda root: hand.strip(front(root)))
    _, pattern, findings = read(data)
    assert not findings
    assert not differences(pattern, original(), tolerance=1e-3)
    goes_on(data)


def test_a_union_that_changes_one_edge_keeps_names() -> None:
    data = edited(lambda root: hand.unite_with_bump(front(root), 3))
    _, pattern, findings = read(data)
    assert not findings
    assert pattern.piece("front").edge("side").segments == 4
    assert len(by_hand_lines(pattern)) == 1
    assert by_hand_lines(pattern)[0].startswith("# by hand: front.side, largest ")
    goes_on(data)


def test_a_cut_off_corner_is_reported() -> None:
    """A difference that cuts a corner off: two corners stand where one was."""

    def edit(root: etree._Element) -> None:
        curve = hand.curve_of(front(root))
        corner = curve.controls[4, 0]
        before, after = corner - [0, 15], corner - [15, 0]
        parts = [
            polyline([curve.controls[k, 0] for k in (0,)] + [curve.controls[0, 3]]),
            line(curve.controls[1, 0], curve.controls[1, 3]),
        ]
        rest = [transform(c, Affine()) for c in parts]
        ring = chain(
            [
                *rest,
                polyline([curve.controls[2, 0], curve.controls[3, 0], before, after, curve.controls[5, 0]]),
                polyline([curve.controls[k, 0] for k in range(5, 9)] + [curve.controls[0, 0]]),
            ]
        )
        hand.strip(front(root))
        hand.redrawn(hand.group(root, "front")[0], ring)

    data = edited(edit)
    _, _pattern, findings = read(data)
    assert len(findings) == 1
    assert findings[0].startswith("front is left as it is: ")
    goes_on(data)


def test_combined_outlines_are_no_piece_any_more_and_both_are_told() -> None:
    """Combine: one path with both outlines, one id, no marks; the other path is gone."""

    def edit(root: etree._Element) -> None:
        one, other = front(root), hand.outline(root, "back")
        curves = [hand.curve_of(one), hand.curve_of(other)]
        hand.delete(other)
        hand.strip(one)
        hand.redrawn(one, curves)

    data = edited(edit)
    drawing, pattern, findings = read(data)
    assert not pattern.pieces
    assert any(text.startswith("front is left as it is: its outline is no longer one closed path") for text in findings)
    assert "back is no longer in the drawing" in findings
    assert "# by hand: back was deleted" in by_hand_lines(pattern)
    with pytest.raises(Exception, match="piece"):
        load("allowance")(target=("front",))(pattern)  # type: ignore[call-arg]
    assert list(drawing.unread.values()) == ["front"]


def test_combined_and_broken_apart_again_one_piece_is_found_and_the_other_told() -> None:
    """Both outlines lie in the front's group, without marks: the one that fits is the front."""

    def edit(root: etree._Element) -> None:
        one, other = front(root), hand.outline(root, "back")
        hand.strip(one)
        hand.strip(other)
        one.addprevious(other)

    data = edited(edit)
    _, pattern, findings = read(data)
    assert [piece.name for piece in pattern.pieces] == ["front"]
    assert "back is no longer in the drawing" in findings
    again, found = goes_on(data)
    assert [piece.name for piece in found.pieces] == ["front"]
    # the back's outline is there, a path like any other
    assert "p2" in [thing.id for thing in found.drawn]
    assert again.document.by_id("p2") is not None


def test_a_closed_path_drawn_into_the_group_is_not_taken_for_the_outline() -> None:
    def edit(root: etree._Element) -> None:
        group = hand.group(root, "front")
        group.insert(0, etree.Element(tag("path"), id="pocket", d="M 100,300 h 60 v 60 h -60 z"))
        hand.strip(front(root))

    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert not differences(pattern, original(), tolerance=1e-3)
    assert "pocket" in [thing.id for thing in pattern.drawn]
    goes_on(data)


def test_a_hidden_outline_does_not_hand_its_name_to_another_path_of_the_group() -> None:
    def edit(root: etree._Element) -> None:
        hand.hide(front(root))
        etree.SubElement(hand.group(root, "front"), tag("path"), id="pocket", d="M 100,300 h 60 v 60 h -60 z")

    data = edited(edit)
    _, pattern, findings = read(data)
    assert [piece.name for piece in pattern.pieces] == ["back"]
    assert findings == ["front is hidden and stays as it is; show it to work on it"]
    goes_on(data)


# Deleted and hidden ---------------------------------------------------------------------------------------------------


def test_a_deleted_piece_is_told_its_seams_are_open_and_a_replay_differs() -> None:
    data = edited(lambda root: hand.delete(hand.group(root, "front")))
    _, pattern, findings = read(data)
    assert findings == [
        "front is no longer in the drawing",
        "a seam has lost one of its edges and is open",
        "a seam has lost one of its edges and is open",
    ]
    assert by_hand_lines(pattern) == ["# by hand: front was deleted"]
    _, found = goes_on(data)
    assert read(hand.perform(data, "allowance", "all"))[2] == []
    assert not found.seams


def test_of_a_deleted_outline_nothing_of_flatcuts_is_left_but_all_of_the_persons() -> None:
    root = hand.root_of(start())
    group = hand.group(root, "front")
    etree.SubElement(group, tag("path"), id="scribble", d="M 100,300 l 60,5")
    hand.delete(front(root))
    data = hand.bytes_of(root)
    _, _pattern, findings = read(data)
    assert "front is no longer in the drawing" in findings
    again, _ = goes_on(data)
    assert again.document.by_id("scribble") is not None
    assert not [e for e in again.document.root.iter() if e.get(own("piece")) == front_uid()]
    assert not [e for e in again.document.root.iter() if e.get(own("derived")) == front_uid()]


@pytest.mark.parametrize("what", ["group", "outline", "layer"])
def test_a_hidden_piece_stays_with_its_seams(what: str) -> None:
    def edit(root: etree._Element) -> None:
        element = {"group": hand.group(root, "front"), "outline": front(root)}.get(what)
        if element is None:
            element = etree.SubElement(root, tag("g"), id="closet")
            element.append(hand.group(root, "front"))
        hand.hide(element)

    data = edited(edit)
    _, pattern, findings = read(data)
    assert findings == ["front is hidden and stays as it is; show it to work on it"]
    assert [piece.name for piece in pattern.pieces] == ["back"]
    assert not by_hand_lines(pattern)
    after = hand.perform(data, "allowance", "all", width=12.0)
    root = hand.root_of(after)
    for element in root.iter(etree.Element):
        if "display:none" in element.get("style", "") and element.get("id") != "layer2":
            element.set("style", element.get("style", "").replace("display:none", "display:inline"))
    _, found, said = read(hand.bytes_of(root))
    assert not said
    assert {piece.name for piece in found.pieces} == {"front", "back"}
    assert len(found.seams) == 2


# What lies inside, and what is derived --------------------------------------------------------------------------------


def inner(root: etree._Element, kind: str) -> etree._Element:
    return next(e for e in hand.group(root, "front").iter(tag("path")) if e.get(own(kind)) is not None)


def test_a_moved_line_dart_or_grain_is_read_as_drawn() -> None:
    for kind, name in (("line", "balance"), ("dart", "waist-fish"), ("grain", "grain")):
        data = edited(lambda root, kind=kind: hand.bake(inner(root, kind), Affine.translation(4, 6), closed=False))
        _, pattern, findings = read(data)
        assert not findings
        assert by_hand_lines(pattern) == [f"# by hand: front.{name} drawn anew"]
        piece = pattern.piece("front")
        starts = {
            "line": piece.lines[0].curve.start,
            "dart": next(d for d in piece.darts if d.form == "lines").points[0],
            "grain": piece.grain.start if piece.grain else None,
        }
        wanted = {"line": [29, 156], "dart": [94, 206], "grain": [64, 146]}
        assert np.allclose(starts[kind], wanted[kind], atol=1e-3)
        goes_on(data)


def test_a_deleted_line_dart_or_grain_is_gone_and_told_in_the_steps() -> None:
    for kind, name in (("line", "balance"), ("dart", "waist-fish"), ("grain", "grain")):
        data = edited(lambda root, kind=kind: hand.delete(inner(root, kind)))
        _, pattern, _ = read(data)
        assert by_hand_lines(pattern) == [f"# by hand: front.{name} deleted"]
        goes_on(data)


def test_a_duplicated_line_is_a_line_of_its_own() -> None:
    data = edited(lambda root: hand.bake(hand.duplicate(inner(root, "line")), Affine.translation(0, 30), closed=False))
    _, pattern, _ = read(data)
    assert [line.name for line in pattern.piece("front").lines] == ["balance", "balance-2"]
    assert by_hand_lines(pattern) == ["# by hand: front.balance-2 added as a copy"]
    _, found = goes_on(data)
    assert [round(float(line.curve.start[1])) for line in found.piece("front").lines] == [150, 180]


def test_a_drawn_dart_with_a_node_more_keeps_its_points() -> None:
    data = edited(lambda root: add_to_open(inner(root, "dart")))
    _, pattern, findings = read(data)
    assert not findings
    dart = next(d for d in pattern.piece("front").darts if d.form == "lines")
    assert np.allclose(dart.points, [[90, 200], [90, 330]], atol=1e-3)
    goes_on(data)


def add_to_open(element: etree._Element) -> None:
    curve = hand.curve_of(element)
    nodes = curve.nodes
    hand.redrawn(element, polyline([nodes[0], (nodes[0] + nodes[1]) / 2, *nodes[1:]]), closed=False)


def test_shrunk_to_nothing_a_line_is_left_alone() -> None:
    data = edited(lambda root: inner(root, "line").set("d", "M 20,20 L 20,20"))
    _, pattern, _ = read(data)
    assert not pattern.piece("front").lines
    goes_on(data)


@pytest.mark.parametrize("role", ["cut", "label", "notch", "cap", "point", "arrow"])
@pytest.mark.parametrize("what", ["deleted", "moved"])
def test_derived_drawing_changed_by_hand_is_never_doubled(role: str, what: str) -> None:
    def edit(root: etree._Element) -> None:
        for element in hand.derived(root, role):
            if what == "deleted":
                hand.delete(element)
            else:
                hand.put_transform(element, Affine.translation(7, 7))

    goes_on(edited(edit))


def test_the_moved_mark_of_a_point_moves_the_point() -> None:
    for how in ("transform", "baked"):

        def edit(root: etree._Element, how: str = how) -> None:
            mark = hand.derived(root, "point")[0]
            if how == "transform":
                hand.put_transform(mark, Affine.translation(12, -5))
            else:
                curves = [sub.curve for sub in parse(mark.get("d", ""))]
                hand.redrawn(mark, [transform(c, Affine.translation(12, -5)) for c in curves], closed=False)

        data = edited(edit)
        _, pattern, findings = read(data)
        assert not findings
        assert by_hand_lines(pattern) == ["# by hand: front.bust-point moved"]
        assert np.allclose(spot(pattern, "front.bust-point").point, [152, 225], atol=1e-4)
        _, found = goes_on(data)
        assert np.allclose(spot(found, "front.bust-point").point, [152, 225], atol=1e-4)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("how", ["transform", "its place"])
def test_a_label_moved_by_hand_stays_where_it_was_put(how: str, turned: bool) -> None:
    """Also when the piece is turned with it and when its text changes afterwards."""

    def edit(root: etree._Element) -> None:
        label = hand.derived(root, "label")[0]
        if how == "transform":
            hand.put_transform(label, Affine.translation(15, 40))
        else:
            text = parse_transform(label.get("transform", ""))
            x, y = replace_shift(text).inverse().apply([15.0, 40.0])
            for row in label:
                row.set("x", str(float(row.get("x", "0")) + x))
                row.set("y", str(float(row.get("y", "0")) + y))
        if turned:
            hand.put_transform(hand.group(root, "front"), MOTIONS["turned"])

    before = label_place(start())
    data = edited(edit)
    _, pattern, findings = read(data)
    assert not findings
    assert not by_hand_lines(pattern)
    wanted = np.add(before, (15, 40))
    if turned:
        wanted = carried(MOTIONS["turned"]).apply(wanted)
    at = pattern.piece("front").caption.at
    assert at is not None
    assert np.allclose(at, wanted, atol=0.01)
    after = hand.perform(data, "style", name="spring", size="38")
    assert np.allclose(label_place(after), wanted, atol=0.01)
    goes_on(data)


def replace_shift(matrix: Affine) -> Affine:
    return matrix._replace(e=0.0, f=0.0)


def label_place(data: bytes) -> np.ndarray:
    """The middle of the front's label in document mm."""
    drawing, _, _ = read(data)
    label = hand.derived(drawing.document.root, "label")[0]
    return drawing.document.matrix_of(label).apply([0.0, 0.0])


def test_what_a_person_puts_into_the_derived_group_is_kept_where_it_is() -> None:
    def edit(root: etree._Element) -> None:
        group = next(g for g in root.iter(tag("g")) if g.get(own("derived")) == front_uid())
        hand.put_transform(group, Affine.translation(5, 0))
        etree.SubElement(group, tag("path"), id="mine", d="M 50,50 L 60,60")

    again, _ = goes_on(edited(edit))
    mine = again.document.by_id("mine")
    assert mine is not None
    assert np.allclose(again.document.matrix_of(mine).apply([50, 50]), [58, 48])


def test_the_whole_derived_group_deleted_is_drawn_again_with_the_next_change() -> None:
    def edit(root: etree._Element) -> None:
        hand.delete(next(g for g in root.iter(tag("g")) if g.get(own("derived")) == front_uid()))

    goes_on(edited(edit))


def test_an_edge_made_shorter_than_what_stands_on_it_says_so() -> None:
    """The side's ease ends 80 mm from its start and a notch stands 60 mm from its end; it is made 50 mm long."""

    def edit(root: etree._Element) -> None:
        hand.move_node(front(root), 3, (-4.0, 195.0))

    data = edited(edit)
    _, _pattern, findings = read(data)
    assert len(findings) == 2
    assert findings[0].startswith("the ease of front.side lay beyond its end")
    assert findings[1].startswith("a notch lay beyond the start of front.side")
    goes_on(data)


# The command line -----------------------------------------------------------------------------------------------------


def test_steps_prints_what_was_done_by_hand_and_ends_with_one(tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "edited.svg"
    path.write_bytes(edited(lambda root: hand.move_node(front(root), 4, (6.0, 8.0))))
    assert main(["steps", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[-1].startswith("move front.side@100% --by=")
    path.write_bytes(edited(lambda root: hand.move_handle(front(root), 2, (-3.0, 4.0))))
    assert main(["steps", str(path)]) == 1
    told = capsys.readouterr()
    assert told.out.splitlines()[-1] == "# by hand: front.armhole, largest 5.0 mm"
    assert "step 8 was done by hand: a replay differs from there on" in told.err
    path.write_bytes(start())
    assert main(["steps", str(path)]) == 0


def test_an_operation_on_an_edited_file_ends_with_one_when_a_piece_was_left(tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    path, out = tmp_path / "edited.svg", tmp_path / "out.svg"
    path.write_bytes(edited(lambda root: hand.delete_node(front(root), 4)))
    assert main(["allowance", "back", "--width=1cm", "-i", str(path), "-o", str(out)]) == 1
    assert "front is left as it is" in capsys.readouterr().err
    assert read(out.read_bytes())[1].piece("back").edge("side").allowance is not None
    assert main(["steps", str(path)]) == 1

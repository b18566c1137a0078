"""What a person's hand does to a drawing: it is told for what it is, after what it has made wrong."""

from __future__ import annotations

import re

import numpy as np
import pytest
from lxml import etree

from flatcut.findings import Finding
from flatcut.formats.svg.elements import tag
from flatcut.formats.svg.new import new_drawing
from flatcut.formats.svg.pathdata import parse, unparse
from flatcut.formats.svg.read import read
from flatcut.formats.svg.vocabulary import own
from flatcut.formats.svg.write import write
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, split_spans
from flatcut.pattern.values import Pattern
from flatcut.recipe import read_recipe, replay
from flatcut.reports import report
from tests import by_hand as hand
from tests.seeding import ROOT, SETS, controls, made, with_controls
from tests.test_check_seeding import grain_turned

Root = etree._Element


def drawn(pattern: Pattern) -> bytes:
    return write(new_drawing()[0], pattern)


def found_in(data: bytes) -> list[Finding]:
    drawing, pattern, notes = read(data)
    return report.load("check")().findings(drawing, pattern, notes)  # type: ignore[attr-defined, no-any-return]


@pytest.fixture(scope="module")
def sets() -> dict[str, bytes]:
    return {name: drawn(make()) for name, make in SETS.items()}


def root_of(data: bytes) -> Root:
    return etree.fromstring(data)


def ticks_at_darts(root: Root, piece: str = "front") -> dict[str, list[Root]]:
    """The elements of each notch of a piece that is drawn twice, by its uid."""
    by_uid: dict[str, list[Root]] = {}
    for path in hand.group(root, piece).iter(tag("path")):
        if path.get(own("drawn")) == "notch":
            by_uid.setdefault(path.get(own("of"), ""), []).append(path)
    return {uid: paths for uid, paths in by_uid.items() if len(paths) == 2}


def removed(*elements: Root) -> None:
    for element in elements:
        parent = element.getparent()
        assert parent is not None
        parent.remove(element)


# One of a dart's two ticks -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("which", [0, 1])
def test_one_of_a_darts_two_ticks_deleted(which: int, sets: dict[str, bytes]) -> None:
    root = root_of(sets["top"])
    ((_, ticks),) = ticks_at_darts(root).items()
    removed(ticks[which])
    (found,) = found_in(etree.tostring(root))
    assert found.check == "out-of-date"
    assert found.where == ("front.waist", "front")
    assert "lost one of its ticks" in found.text
    # the words that it says mend it
    drawing, pattern, _ = read(etree.tostring(root))
    again = write(drawing, made("redraw front", pattern))
    assert [f.text for f in found_in(again)] == []
    assert len(ticks_at_darts(root_of(again))) == 1


def test_both_ticks_of_a_dart_deleted_take_the_notch_away(sets: dict[str, bytes]) -> None:
    root = root_of(sets["top"])
    ((uid, ticks),) = ticks_at_darts(root).items()
    removed(*ticks)
    data = etree.tostring(root)
    assert [(f.check, f.where) for f in found_in(data)] == [("by-hand", ("front",))]
    assert uid not in {notch.uid for piece in read(data)[1].pieces for notch in piece.notches}


def test_a_mark_of_a_double_notch_deleted_is_a_single_notch() -> None:
    root = root_of(drawn(made("notch front.armhole@1/2 --count=double", SETS["top"]())))
    (_, ticks), *_ = ((u, t) for u, t in ticks_at_darts(root).items() if u not in ticks_at_darts(root_of(drawn_top())))
    removed(ticks[0])
    assert [f.check for f in found_in(etree.tostring(root))] == ["by-hand"]


def drawn_top() -> bytes:
    return drawn(SETS["top"]())


# The label ------------------------------------------------------------------------------------------------------------


def moved_label(data: bytes, piece: str, by: tuple[float, float]) -> bytes:
    root = root_of(data)
    label = next(t for t in hand.group(root, piece).iter(tag("text")) if t.get(own("drawn")) == "label")
    old = label.get("transform", "")
    label.set("transform", f"translate({by[0]},{by[1]}) {old}")
    return etree.tostring(root)


@pytest.mark.parametrize(("by", "off"), [((0.0, 30.0), False), ((0.0, 900.0), True), ((-700.0, 0.0), True)])
def test_a_label_off_its_piece(by: tuple[float, float], off: bool, sets: dict[str, bytes]) -> None:
    found = found_in(moved_label(sets["skirt"], "skirt-back", by))
    assert [(f.check, f.where) for f in found] == ([("labels", ("skirt-back",))] if off else [])
    if off:
        assert "lies beside it" in found[0].text


def test_a_label_beside_a_piece_that_has_no_room_for_it_is_no_fault() -> None:
    strap = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="90mm" viewBox="0 0 300 90">'
    strap += '<path d="M 10,20 H 60 V 23 H 10 Z"/></svg>'
    drawing, pattern, _ = read(strap.encode())
    pattern = made("piece --names=strap\nedge strap.e1 strap.e2 strap.e3 strap.e4 --use=finished", pattern)
    data = write(drawing, made("allowance all\ngrain all\nlabel all --material=shell", pattern))
    assert "labels" not in [f.check for f in found_in(moved_label(data, "strap", (20.0, 40.0)))]


# The fold -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("degrees", [0.3, -0.3, 1.0, -2.0, 4.0])
@pytest.mark.parametrize(("name", "piece"), [("top", "front"), ("skirt", "skirt-back"), ("bodice", "back")])
def test_a_tilted_fold_is_a_fault_of_the_fold(name: str, piece: str, degrees: float) -> None:
    """The fold turned about its upper end; what it met below goes along without turning."""
    pattern = SETS[name]()
    held = pattern.piece(piece)
    fold = next(edge for edge in held.edges if edge.use == "fold")
    (found, *others) = found_in(drawn(tilted(pattern, piece, fold.name, degrees)))
    assert (found.check, found.where) == ("square", (f"{piece}.{fold.name}",))
    assert f"tilted by {abs(degrees):g}°" in found.text
    long = float(np.linalg.norm(fold.end - fold.start))
    assert found.figure == pytest.approx(long * np.tan(np.radians(abs(degrees))), rel=0.01)
    assert "grain" not in [f.check for f in others]


def tilted(pattern: Pattern, piece: str, fold: str, degrees: float) -> Pattern:
    held = pattern.piece(piece)
    order = [edge.name for edge in held.edges]
    points = controls(pattern, piece, fold, 0)
    upper_first = points[0, 0, 1] < points[-1, 3, 1]
    pivot, node = (points[0, 0], points[-1, 3]) if upper_first else (points[-1, 3], points[0, 0])
    turn = Affine.rotation(np.radians(degrees), tuple(pivot))
    by = turn.apply(node) - node
    pattern = with_controls(pattern, piece, fold, 0, turn.apply(points.reshape(-1, 2)).reshape(points.shape))
    other = order[(order.index(fold) + (1 if upper_first else -1)) % len(order)]
    part, span, keep = (0, 0, (0, 1)) if upper_first else (-1, -1, (3, 2))
    met = controls(pattern, piece, other, part)
    straight = held.edge(other).parts[part].straight[span]
    if straight:  # a straight line is shifted as a whole along the fold, so that it does not turn
        met[span] = met[span, 3 - keep[0]] + (met[span] - met[span, 3 - keep[0]]) * 1.0
    met[span, keep[0]] += by
    met[span, keep[1]] += by
    return with_controls(pattern, piece, other, part, met)


def test_grain_off_the_fold_is_still_a_fault_of_the_grain() -> None:
    for name, piece in (("top", "front"), ("skirt", "skirt-back")):
        (found,) = found_in(drawn(grain_turned(SETS[name](), piece, 2.0)))
        assert (found.check, found.where[0]) == ("grain", piece)
        assert found.figure == pytest.approx(2.0)


# What comes first -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("by", [1.2, 1.5, 3.0, -1.3, -4.0])
def test_lengths_go_before_what_is_out_of_date_after_a_node_was_moved(by: float, sets: dict[str, bytes]) -> None:
    """The demo's corner of side and waist moved down, by little (a warning) and by more (a fault)."""
    root = root_of(sets["top"])
    path = hand.outline(root, "front")
    before = parse(path.get("d", ""))[0].curve
    corner = read(sets["top"])[1].piece("front").edge("side").end
    k = int(np.argmin(np.linalg.norm(before.controls[:, 0] - corner, axis=1)))
    hand.move_node(path, k, (0.0, by))
    checks = [f.check for f in found_in(etree.tostring(root))]
    assert checks[0] == "seam-walk"
    # the node that was moved is a step, so it is only the drawing beside it that is older
    assert "out-of-date" in checks
    assert "by-hand" not in checks
    assert checks[-1] == "out-of-date"


# A node more, a node less ---------------------------------------------------------------------------------------------


def with_nodes(curve: Curve, shares: tuple[float, ...]) -> Curve:
    """A ring with a node more in each of its spans at each share (de Casteljau)."""
    spans, flat = [], []
    for span, straight in zip(curve.controls, curve.straight, strict=True):
        rest, done = span[None], 0.0
        for share in shares:
            head, rest = split_spans(rest, np.array([(share - done) / (1 - done)]))
            done = share
            spans.append(head[0])
            flat.append(straight)
        spans.append(rest[0])
        flat.append(straight)
    return Curve(np.array(spans), np.array(flat))


@pytest.mark.parametrize("shares", [(0.5,), (0.3,), (0.25, 0.8)])
@pytest.mark.parametrize("name", SETS)
def test_nodes_added_without_changing_the_shape_are_no_change(
    name: str, shares: tuple[float, ...], sets: dict[str, bytes]
) -> None:
    root = root_of(sets[name])
    for piece in SETS[name]().pieces:
        path = hand.outline(root, piece.name)
        path.set("d", unparse([with_nodes(parse(path.get("d", ""))[0].curve, shares)], True))
    data = etree.tostring(root)
    assert found_in(data) == []
    drawing, pattern, _ = read(data)
    assert [step.line for step in pattern.steps if "by hand" in step.line] == []
    # and what is written then has the nodes, and is known again
    kept = read(write(drawing, pattern))[1]
    assert sum(len(p) for e in kept.pieces[0].edges for p in e.parts) == (len(shares) + 1) * sum(
        len(p) for e in SETS[name]().pieces[0].edges for p in e.parts
    )


@pytest.mark.parametrize("off", [0.3, 2.0])
def test_a_node_added_and_moved_is_told_by_how_far(off: float, sets: dict[str, bytes]) -> None:
    root = root_of(sets["skirt"])
    path = hand.outline(root, "skirt-back")
    ring = with_nodes(parse(path.get("d", ""))[0].curve, (0.5,))
    fold = SETS["skirt"]().piece("skirt-back").edge("centre")
    middle = (fold.start + fold.end) / 2
    k = int(np.argmin(np.linalg.norm(ring.controls[:, 0] - middle, axis=1)))
    path.set("d", unparse([ring], True))
    hand.move_node(path, k, (off, 0.0))
    found = found_in(etree.tostring(root))
    (told,) = [f for f in found if f.check == "by-hand"]
    assert told.where == ("skirt-back.centre",)
    assert float(re.search(r"largest ([\d.]+) mm", told.text)[1]) == pytest.approx(off, abs=0.06)  # type: ignore[index]


def test_a_node_slid_along_its_line_changes_nothing_but_a_corner_slid_does(sets: dict[str, bytes]) -> None:
    """The fold of the skirt with a node in its middle, that node slid along it; then the corner at its end."""
    root = root_of(sets["skirt"])
    path = hand.outline(root, "skirt-back")
    path.set("d", unparse([with_nodes(parse(path.get("d", ""))[0].curve, (0.5,))], True))
    drawing, pattern, _ = read(etree.tostring(root))
    root = root_of(write(drawing, pattern))
    path = hand.outline(root, "skirt-back")
    ring = parse(path.get("d", ""))[0].curve
    fold = pattern.piece("skirt-back").edge("centre")
    for at, told in ((fold.parts[0].nodes[1], []), (fold.end, ["move"])):
        k = int(np.argmin(np.linalg.norm(ring.controls[:, 0] - at, axis=1)))
        slid = etree.fromstring(etree.tostring(root))
        hand.move_node(hand.outline(slid, "skirt-back"), k, (0.0, 7.0))
        steps = read(etree.tostring(slid))[1].steps[len(pattern.steps) :]
        assert [step.line.split()[0] for step in steps] == told


# Motions that are none ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("motion", "said"),
    [
        (Affine.scaling(1.05), "front was scaled by hand, 1.0500 times"),
        (
            Affine.scaling(1.0, 0.9),
            "front was stretched by hand, 1.0000 times across and 0.9000 times down the drawing",
        ),
        # tan 5° = 0.0875; the singular values of a shear s are sqrt(1 + s²/4) ± s/2
        (
            Affine(1.0, 0.0, float(np.tan(np.radians(5))), 1.0, 0.0, 0.0),
            "front was skewed by hand, 5.0°: its lengths are now 0.9572 to 1.0447 times what they were",
        ),
    ],
)
def test_a_motion_that_is_no_motion_says_what_it_is(motion: Affine, said: str, sets: dict[str, bytes]) -> None:
    root = root_of(sets["top"])
    hand.put_transform(hand.group(root, "front"), motion)
    found = found_in(etree.tostring(root))
    assert found[0].text == said
    assert found[0].check == "reading"


def test_the_sample_made_by_hand_ends_clean() -> None:
    folder = ROOT / "samples/by_hand"
    drawing, pattern, _ = read((folder / "bodice.svg").read_bytes())
    data = write(drawing, replay(read_recipe((folder / "bodice.recipe").read_text()), pattern))
    assert [f.text for f in found_in(data)] == []

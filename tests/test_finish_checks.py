"""Checks of the finish: clean pieces give nothing, each seeded fault is found first and by its figure."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from flatcut.checks.check import load as load_check
from flatcut.checks.check import run_checks
from flatcut.findings import Finding
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, cubic, line
from flatcut.operations.operation import load
from flatcut.pattern.values import Edge, Pattern, Piece, Position
from tests.dart_pieces import front as dart_front


def panel(name: str, side: Curve, *, mirrored: bool = False) -> Piece:
    """A skirt panel: waist, side, hem, centre on the fold; mirrored: the side lies at its left."""
    far = side.start[0] + (300 if mirrored else -200)
    if mirrored:
        curves = [
            line(side.start, (far, side.start[1])),
            line((far, side.start[1]), (far, side.end[1])),
            line((far, side.end[1]), side.end),
            Curve(side.controls[::-1, ::-1], side.straight[::-1]),
        ]
        names = ["waist", "centre", "hem", "side"]
    else:
        curves = [
            line((far, side.start[1]), side.start),
            side,
            line(side.end, (far, side.end[1])),
            line((far, side.end[1]), (far, side.start[1])),
        ]
        names = ["waist", "side", "hem", "centre"]
    uses = {"hem": "hem", "centre": "fold"}
    edges = tuple(
        Edge(uid=f"{name}-{n}", name=n, parts=(c,), use=uses.get(n, "seam")) for n, c in zip(names, curves, strict=True)
    )
    return Piece(uid=name, name=name, edges=edges)


def run(made: Pattern, command: str, *target: str, **fields) -> Pattern:
    return load(command)(target=target, **fields)(made)


@pytest.fixture(scope="module")
def clean() -> Pattern:
    """A flared skirt front and back, finished: allowances, squared waist ends, turned hems, notches, grain, labels."""
    side = cubic((200, 0), (230, 100), (235, 250), (250, 600))
    back = cubic((600, 0), (570, 100), (565, 250), (550, 600))
    made = Pattern(pieces=(panel("front", side), panel("back", back, mirrored=True)))
    made = run(made, "seam", "front.side", "back.side")
    made = run(made, "allowance", "all")
    made = run(
        made, "corner", "front.waist/side", "back.waist/side", kind="squared", through=("front.side", "back.side")
    )
    made = run(made, "notch", "front.side@12cm", "front.side@-20cm", mates=True)
    made = run(made, "grain", "all")
    return run(made, "label", "all", material="shell")


def findings(made: Pattern) -> list[Finding]:
    return run_checks(made, [load_check(name)() for name in ("allowances", "corners", "grain", "labels", "notches")])


def changed(made: Pattern, name: str, **fields) -> Pattern:
    pieces = tuple(replace(p, **fields) if p.name == name else p for p in made.pieces)
    return replace(made, pieces=pieces)


def only(made: Pattern, check: str) -> Finding:
    found = findings(made)
    assert [f.check for f in found] == [check], [f.text for f in found]
    return found[0]


def test_a_clean_set_gives_nothing(clean):
    assert findings(clean) == []


@pytest.mark.parametrize("target", ["front.side", "back.side", "front.side@10cm..30cm"])
def test_a_side_with_another_allowance(clean, target):
    found = only(run(clean, "allowance", target, width=15), "allowances")
    assert set(found.where) == {"front.side", "back.side"}
    assert abs(found.figure) == pytest.approx(5)


def test_an_allowance_on_the_fold(clean):
    found = only(run(clean, "allowance", "front.centre", width=10), "allowances")
    assert (found.severity, found.where, found.figure) == ("fault", ("front.centre",), 10)


def test_corners_of_one_seam_that_end_unlike(clean):
    found = only(run(clean, "corner", "back.waist/side", kind="mitred"), "corners")
    assert set(found.where) == {"front.waist/side", "back.side/waist"}


def test_squared_ends_that_do_not_coincide(clean):
    found = only(run(clean, "allowance", "back.waist", width=16), "corners")
    assert set(found.where) == {"front.waist/side", "back.side/waist"}
    assert abs(found.figure) == pytest.approx(6, abs=0.5)


def test_a_hem_that_is_not_turned(clean):
    """Plane geometry: the naive error of a leaning side is 2 x depth x tan(lean); here tan is 15 / 350."""
    made = run(clean, "corner", "front.side/hem", "back.side/hem", kind="mitred")
    found = findings(made)
    assert {f.where for f in found} == {("front.side/hem",), ("back.hem/side",)}
    assert [f.figure for f in found] == pytest.approx([2 * 40 * 15 / 350] * 2, abs=1e-6)


def moved_notch(made: Pattern, name: str, by: float) -> Pattern:
    piece = made.piece(name)
    first = piece.notches[0]
    shifted = replace(first, at=Position(mode=first.at.mode, value=first.at.value + by))
    return changed(made, name, notches=(shifted, *piece.notches[1:]))


@pytest.mark.parametrize("name", ["front", "back"])
@pytest.mark.parametrize("by", [3.0, -8.0])
def test_a_notch_that_was_moved(clean, name, by):
    found = only(moved_notch(clean, name, by), "notches")
    assert found.severity == "fault"
    assert found.figure == pytest.approx(abs(by), abs=1e-6)
    assert {w.split("@")[0] for w in found.where} == {"front.side", "back.side"}


def test_a_notch_moved_within_the_tolerance_passes(clean):
    assert findings(moved_notch(clean, "front", 0.9)) == []


def test_a_notch_without_a_mate(clean):
    found = only(changed(clean, "back", notches=clean.piece("back").notches[1:]), "notches")
    assert found.where[0].startswith("front.side@120")
    assert found.where[1] == "back.side"


def test_a_mate_with_another_count(clean):
    notched = clean.piece("back").notches
    found = only(changed(clean, "back", notches=(replace(notched[0], count=2), notched[1])), "notches")
    assert re.search(r"2 marks.* has 1 mark;|1 mark, .* has 2 marks", found.text)


def test_a_notch_too_deep_and_one_beyond_its_edge(clean):
    first = clean.piece("front").notches[0]
    deep = only(
        changed(clean, "front", notches=(replace(first, depth=8.0), clean.piece("front").notches[1])), "notches"
    )
    assert deep.figure == pytest.approx(3)
    lost = replace(first, at=Position(mode="start", value=9000.0))
    found = findings(changed(clean, "front", notches=(*clean.piece("front").notches, lost)))
    assert [f.severity for f in found] == ["fault"]
    assert "nowhere" in found[0].text


@pytest.mark.parametrize("kept", [0, 1])
def test_of_the_two_notches_at_a_dart_in_a_corner_one_is_missing(kept):
    """Its feet lie on two edges, so both halves of the corner are marked, or neither."""
    made = run(dart_front(), "dart", "front.shoulder/armhole", intake=12.0, point="front.bust-point", name="tip")
    made = run(made, "notch", "front.tip")
    edges = [made.piece("front").edge_of(notch.edge).name for notch in made.piece("front").notches]
    assert sorted(edges) == ["armhole", "shoulder"]
    told = [f.where for f in run_checks(made) if f.check == "notches"]
    assert told == []
    one = changed(made, "front", notches=made.piece("front").notches[kept : kept + 1])
    (found,) = (f for f in run_checks(one) if f.check == "notches")
    assert found.where == ("front.tip", f"front.{edges[1 - kept]}")
    assert f"at its foot on front.{edges[kept]} and none" in found.text


def test_a_grain_line_that_is_missing_off_or_beside(clean):
    assert only(changed(clean, "front", grain=None), "grain").where == ("front",)
    laid = clean.piece("front").grain
    turn = Affine.rotation(np.radians(3), tuple((laid.start + laid.end) / 2))
    off = replace(laid, start=turn.apply(laid.start), end=turn.apply(laid.end))
    found = only(changed(clean, "front", grain=off), "grain")
    assert (found.where, found.unit) == (("front", "front.centre"), "°")
    assert found.figure == pytest.approx(3, abs=1e-6)
    away = replace(laid, start=laid.start + np.array([400, 0]), end=laid.end + np.array([400, 0]))
    assert only(changed(clean, "front", grain=away), "grain").severity == "fault"
    assert only(changed(clean, "front", grain=replace(laid, kind="bias")), "grain").figure == pytest.approx(45)


def test_labels_that_cannot_be_cut(clean):
    assert "3 times" in findings(changed(clean, "front", cut_as="pair", quantity=3))[0].text
    assert only(changed(clean, "front", cut_as="single"), "labels").where == ("front", "front.centre")
    bare = tuple(replace(e, use="centre") if e.use == "fold" else e for e in clean.piece("front").edges)
    assert only(changed(clean, "front", edges=bare), "labels").severity == "fault"
    listed = replace(clean, style=replace(clean.style, materials=("lining",)))
    assert {f.check for f in findings(listed)} == {"labels"}

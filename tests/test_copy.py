"""`copy`: pieces with identities of their own, the seams of their layer, and fusing inside the cut line."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from flatcut.checks.check import load as load_check
from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, flatten
from flatcut.marking.cutline import cut_line
from flatcut.pattern.comparing import differences
from flatcut.pattern.runs import show_run
from flatcut.pattern.values import Pattern, Piece, area, outline
from flatcut.recipe import read_recipe, replay

BLOCK = """block bodice --size=bust-90
style --name=shift --size=90 --materials=shell,lining,fusing
label all --material=shell
allowance all --width=1cm
"""


@cache
def block() -> Pattern:
    return replay(read_recipe(BLOCK), Pattern())


def after(lines: str) -> Pattern:
    return replay(read_recipe(lines), block())


def seams(pattern: Pattern) -> set[str]:
    return {f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}" for s in pattern.seams}


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


def test_a_copy_is_its_piece_under_other_uids() -> None:
    pattern = after("copy front --names=again")
    front, again = pattern.piece("front"), pattern.piece("again")
    there = front.edges[0].start - again.edges[0].start
    for one, two in zip(front.edges, again.edges, strict=True):
        for a, b in zip(one.parts, two.parts, strict=True):
            assert np.allclose(a.controls, b.controls + there)
    assert len(front.notches) == len(again.notches)
    assert [dart.name for dart in front.darts] == [dart.name for dart in again.darts]
    uids = list(pattern.uids())
    assert len(set(uids)) == len(uids)


def test_a_mirrored_copy_is_the_mirror_image() -> None:
    pattern = after("copy front --mirror")
    front, copy = pattern.piece("front"), pattern.piece("front-copy")
    assert area(front) == pytest.approx(-area(copy))
    assert shapely.affinity.scale(ring(front), -1, 1).area == pytest.approx(ring(copy).area)


def test_a_copy_is_a_snapshot() -> None:
    pattern = after("copy front --material=lining\nmove front.side/waist --by=1cm")
    before = after("copy front --material=lining")
    lining = [replace(one, pieces=(one.piece("front-lining"),), seams=()) for one in (pattern, before)]
    assert differences(*lining, tolerance=1e-9) == []


def test_seams_of_a_layer_join_the_copies_whether_made_together_or_one_by_one() -> None:
    """The rule, by hand: shoulder and side are sewn front to back; where the back has no copy, to the shell's back."""
    alone = seams(after("copy front --material=lining")) - seams(block())
    assert alone == {"front-lining.shoulder = back.shoulder", "front-lining.side = back.side"}
    joined = {"front-lining.shoulder = back-lining.shoulder", "front-lining.side = back-lining.side"}
    for lines in (
        "copy front back --material=lining",
        "copy front --material=lining\ncopy back --material=lining",
        "copy back --material=lining\ncopy front --material=lining",
    ):
        assert seams(after(lines)) - seams(block()) == joined, lines
        assert seams(block()) <= seams(after(lines))


def test_a_copy_in_the_same_material_takes_no_seam_of_the_piece_and_says_so() -> None:
    pattern = after("copy front")
    assert seams(pattern) == seams(block())
    assert any("front.side" in said for said in pattern.steps[-1].warnings)


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-118"])
@pytest.mark.parametrize("inset", [1.0, 2.0, 3.5])
def test_fusing_lies_inside_the_cut_line_by_what_was_asked(size: str, inset: float) -> None:
    """By shapely: the fusing is inside the cut line, nowhere nearer to it than asked, on the fold as the piece is."""
    start = replay(read_recipe(BLOCK.replace("bust-90", size)), Pattern())
    pattern = replay(read_recipe(f"copy front back --inset={inset}mm"), start)
    for name in ("front", "back"):
        piece, fusing = pattern.piece(name), pattern.piece(f"{name}-fusing")
        cut = cut_line(piece)
        assert cut is not None
        assert piece.grain is not None
        assert fusing.grain is not None
        by = piece.grain.start - fusing.grain.start
        inner = shapely.affinity.translate(ring(fusing), *by)
        outer = shapely.Polygon(flatten(cut.curve, tolerance=0.01))
        assert outer.buffer(0.05).contains(inner)
        centre = piece.edge("centre")
        fold = shapely.LineString([centre.start, centre.end]).buffer(15)
        away = shapely.Polygon(inner).exterior.difference(fold)
        near = min(outer.exterior.distance(shapely.Point(at)) for part in shapely.get_parts(away) for at in part.coords)
        assert near == pytest.approx(inset, abs=0.05)
        assert inner.exterior.intersection(shapely.LineString([centre.start, centre.end]).buffer(0.01)).length > 150


def test_fusing_without_allowances_lies_inside_the_stitch_line() -> None:
    start = replay(read_recipe("block bodice --size=bust-90\ncopy front --inset=2mm"), Pattern())
    front, fusing = start.piece("front"), start.piece("front-fusing")
    assert front.grain is not None
    assert fusing.grain is not None
    net = shapely.LineString(flatten(front.edge("side").parts[0], tolerance=0.01))
    side = shapely.LineString(flatten(fusing.edge("side").parts[0], tolerance=0.01))
    side = shapely.affinity.translate(side, *(front.grain.start - fusing.grain.start))
    assert all(net.distance(shapely.Point(at)) == pytest.approx(2.0, abs=0.02) for at in side.coords[1:-1])
    assert ring(front).contains(side.interpolate(0.5, normalized=True))
    assert {edge.use for edge in fusing.edges} == {"finished", "fold"}


def test_copies_are_clean_to_the_check_but_for_what_the_block_has_open() -> None:
    before = {finding.text for finding in run_checks(block())}
    found = run_checks(after("copy front back --material=lining\ncopy front --inset=2mm"))
    new = [f for f in found if f.text not in before and f.check != "open-edges"]
    assert new == []
    assert not [f for f in found if "fusing" in f.text]
    assert load_check("open-edges").__name__ == "OpenEdges"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("copy", "target wants a piece"),
        ("copy sleeve", "no piece 'sleeve'"),
        ("copy front --names=back", "there is a 'back' already"),
        ("copy front --names=a,b", "--names gives 2 names for 1 pieces"),
        ("copy front --inset=2mm --mirror", "--mirror"),
        ("copy front --inset=-2mm", "inset"),
    ],
)
def test_what_it_refuses(line: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said):
        after(line)

"""Seams that are suggested: found, walked, confirmed, taken away.

What is found is held against the seams that the blocks were drafted with, taken away before the search: flatcut's own,
so that nothing here is checked from outside but the figures that a test names.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.findings import FAULT
from flatcut.formats.json_pieces import pattern_record
from flatcut.formats.svg.read import read
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, line, transform
from flatcut.operations.operation import load
from flatcut.operations.seam import StateSeam
from flatcut.pattern.runs import show_run
from flatcut.pattern.values import Edge, Pattern, Piece
from flatcut.recipe import read_recipe, replay
from flatcut.sewing.fitting_runs import fit
from flatcut.sewing.sewable import sewables
from flatcut.sewing.suggesting import suggested

DRAFTED = {
    frozenset({"front.shoulder", "back.shoulder"}),
    frozenset({"front.side", "back.side"}),
    frozenset({"sleeve.underarm-front", "sleeve.underarm-back"}),
    frozenset({"back.armhole+front.armhole", "sleeve.cap"}),
    frozenset({"skirt-front.side", "skirt-back.side"}),
}


def blocks(size: str) -> Pattern:
    """Bodice, sleeve and skirt, their seams taken away."""
    pattern = Pattern()
    for kind in ("bodice", "sleeve", "skirt"):
        pattern = load("block")(target=(kind,), size=size)(pattern)  # type: ignore[call-arg]  # its own fields
    assert pattern.seams
    return replace(pattern, seams=(), steps=())


def pairs(pattern: Pattern) -> list[frozenset[str]]:
    """The runs of every seam, signs of direction left out, their edges in alphabetical order."""
    return [frozenset(plain(show_run(pattern, run)) for run in (s.a, s.b)) for s in pattern.seams]


def plain(run: str) -> str:
    return "+".join(sorted(re.sub(r"^[-~]+", "", part) for part in run.split("+")))


def mapped(piece: Piece, matrix: Affine) -> Piece:
    """A piece drawn elsewhere, its outline only."""

    def through(curves: tuple[Curve, ...]) -> tuple[Curve, ...]:
        return tuple(transform(curve, matrix) for curve in curves)

    edges = tuple(replace(edge, parts=through(edge.parts)) for edge in piece.edges)
    legs = [through(dart.legs) for dart in piece.darts]
    darts = tuple(replace(d, legs=(one, two)) for d, (one, two) in zip(piece.darts, legs, strict=True))
    return replace(piece, edges=edges, darts=darts, lines=(), points=(), grain=None)


@pytest.mark.parametrize("size", ["bust-78", "bust-90", "bust-102", "bust-118"])
def test_the_seams_that_blocks_were_drafted_to(size: str) -> None:
    done = StateSeam(suggest=True)(blocks(size))
    assert sorted(pairs(done), key=sorted) == sorted(DRAFTED, key=sorted)
    assert all(seam.suggested for seam in done.seams)
    # 30 mm of ease in the cap, which the sleeve block was asked for: its default
    (cap,) = [s for s in pattern_record(done)["seams"] if "sleeve.cap" in (s["a"], s["b"])]
    assert cap["sewn_b"] - cap["sewn_a"] == pytest.approx(30, abs=0.1)
    assert cap["b"] == "sleeve.cap"


def test_also_where_nothing_is_known_of_edges_and_cut() -> None:
    known = blocks("bust-90")
    bare = tuple(
        replace(piece, cut_as="single", edges=tuple(replace(edge, use="seam") for edge in piece.edges))
        for piece in known.pieces
    )
    assert set(pairs(StateSeam(suggest=True)(replace(known, pieces=bare)))) == DRAFTED


def test_pieces_drawn_for_the_other_hand_and_turned() -> None:
    known = blocks("bust-94")
    flip = Affine(-1, 0, 0, 1, 0, 0)
    turned = [
        mapped(piece, Affine.rotation(0.3 * k) @ (flip if k in (1, 3) else Affine.rotation(0)))
        for k, piece in enumerate(known.pieces)
    ]
    done = StateSeam(suggest=True)(replace(known, pieces=tuple(turned)))
    assert set(pairs(done)) == DRAFTED
    # halves and pairs have their mirror images, so the seam is that of the other half
    assert any("~" in show_run(done, seam.b) for seam in done.seams)


def test_what_a_search_found_is_recorded_and_replays_on_another_size() -> None:
    done = StateSeam(suggest=True)(blocks("bust-90"))
    line = done.steps[-1].line
    assert line.startswith("seam ")
    assert line.endswith("--suggest=true")
    again = replay(read_recipe(line), blocks("bust-112"))
    assert pairs(again) == pairs(done)
    assert again.steps[-1].line == line
    assert StateSeam(suggest=True)(blocks("bust-90")).steps == done.steps


def test_best_first_and_every_difference_is_told() -> None:
    done = StateSeam(suggest=True)(blocks("bust-90"))
    step = done.steps[-1]
    assert str(step.figures[0]) == "seams suggested: 5"
    assert len(step.figures) == 6
    # the sides of the skirt and the two edges of the sleeve's underarm fit alike
    assert any(str(f) == "skirt-back.side with skirt-front.side, difference: 0 mm" for f in step.figures[1:3])
    assert [said for said in step.warnings if "30 mm longer" in said]
    found = suggested(blocks("bust-90"), most=20.0)
    assert [one.cost for one in found] == sorted(one.cost for one in found)


def test_a_suggested_seam_counts_less_until_it_is_confirmed() -> None:
    done = StateSeam(suggest=True)(blocks("bust-90"))
    walked = [f for f in run_checks(done) if f.check == "seam-walk"]
    assert [f.severity == FAULT for f in walked] == [False]
    assert "only suggested" in walked[0].text
    sure = StateSeam(confirm=True)(done)
    assert not any(seam.suggested for seam in sure.seams)
    assert [f.severity == FAULT for f in run_checks(sure) if f.check == "seam-walk"] == [True]
    eased = StateSeam(target=("sleeve.cap",), confirm=True, ease=30)(done)
    assert [seam.suggested for seam in eased.seams].count(False) == 1
    assert not [f for f in run_checks(eased) if f.check == "seam-walk"]
    assert all(not record["suggested"] for record in pattern_record(sure)["seams"])


def test_stating_a_seam_confirms_it_and_ends_suggestions_of_its_edges() -> None:
    done = StateSeam(suggest=True)(blocks("bust-90"))
    stated = StateSeam(target=("front.side", "back.side"))(done)
    assert [s.suggested for s in stated.seams].count(False) == 1
    assert len(stated.seams) == 5
    other = StateSeam(target=("front.armhole", "sleeve.cap@0..1/2"))(done)
    assert not any("sleeve.cap" in pair and "back.armhole+front.armhole" in pair for pair in pairs(other))
    # what is stated is not looked for again
    again = StateSeam(suggest=True)(stated)
    assert len(again.seams) == 5
    assert [s.suggested for s in again.seams].count(True) == 4


def test_seams_are_taken_away() -> None:
    done = StateSeam(suggest=True)(blocks("bust-90"))
    assert len(StateSeam(target=("front.side",), remove=True)(done).seams) == 4
    assert len(StateSeam(target=("sleeve",), remove=True)(done).seams) == 3
    stated = StateSeam(target=("front.side", "back.side"))(done)
    assert [s.suggested for s in StateSeam(remove=True)(stated).seams] == [False]
    assert StateSeam(target=("all",), remove=True)(stated).seams == ()


def test_only_among_the_pieces_that_are_named() -> None:
    done = StateSeam(target=("skirt-front", "skirt-back"), suggest=True)(blocks("bust-90"))
    assert pairs(done) == [frozenset({"skirt-front.side", "skirt-back.side"})]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"target": ("front.side", "back.side", "front.waist"), "suggest": True}, "in pairs"),
        ({"target": ("front", "back.side")}, "an edge of each piece"),
        ({"target": ("front", "skirt-back")}, "no edges of front and skirt-back fit each other"),
        ({"suggest": True, "confirm": True}, "one thing at a time"),
        ({"confirm": True}, "there is no suggested seam"),
        ({"target": ("front.side",), "remove": True}, "there is no seam of these edges"),
        ({}, "0 are given"),
        ({"target": ("front.side", "front.side"), "suggest": True}, "sewn to itself"),
    ],
)
def test_what_cannot_be_asked(options: dict[str, object], words: str) -> None:
    with pytest.raises(FlatcutError) as caught:
        StateSeam(**options)(blocks("bust-90"))  # type: ignore[arg-type]
    assert words in str(caught.value)


def test_nothing_fits_and_nothing_is_recorded() -> None:
    whole = blocks("bust-90")
    done = StateSeam(target=("front",), suggest=True).perform(whole)
    assert not done.recorded
    assert done.pattern.seams == ()
    assert any("no two edges fit" in said for said in done.step.warnings)


def test_a_perfect_fit_costs_nothing_and_its_mirror_image_more() -> None:
    # two triangles with a side in common, the angles there adding up to 180°: closed form
    whole = np.array([(0.0, 0), (300, 0), (100, -240), (100, 240)])

    def triangle(name: str, nodes: list[int]) -> Piece:
        ends = [(whole[a], whole[b]) for a, b in zip(nodes, [*nodes[1:], nodes[0]], strict=True)]
        controls = [np.array([p, p + (q - p) / 3, p + (q - p) * 2 / 3, q])[None] for p, q in ends]
        edges = tuple(
            Edge(uid=f"{name}{k}", name=f"e{k}", parts=(Curve(c, np.array([True])),)) for k, c in enumerate(controls)
        )
        return Piece(uid=name, name=name, edges=edges)

    above, below = triangle("above", [0, 2, 1]), triangle("below", [0, 1, 3])
    runs = {run.text: run for run in sewables(Pattern(pieces=(above, below)), ("seam",))}
    one, two = runs["above.e2"], runs["below.e0"]
    assert one.sewn == two.sewn == 300
    # 300 mm from (0, 0): the angles are atan(240 / 100) and atan(240 / 200) on both sides of the line
    wanted = [np.degrees(np.arctan2(240, 200)), np.degrees(np.arctan2(240, 100))]
    assert one.angles == pytest.approx(wanted)
    assert fit(one, two).difference == 0
    # the edges beyond turn by twice as much as they would run on: both ends cost what such a miss costs
    assert fit(one, two).cost == pytest.approx(fit(two, one).cost)
    assert fit(one, two.turned_over()).cost > 0
    assert one.turned_over().turned_over() == one


TUNIC = (
    "M 20,100 C 60,100 90,60 100,20 L 190,50 C 170,120 190,190 250,200 L 275,821.06 L 20,821.06 Z",
    "M 400,30 C 440,30 470,25 480,12 L 575,50 C 560,120 585,190 630,200 L 655,821.06 L 400,821.06 Z",
)
"""A front and a back drawn beside each other, both with their centre on the left: the sides go from (250, 200) to
(275, 821.06) and from (630, 200) to (655, 821.06), 621.56 mm by Pythagoras, and the hems are of one length too."""


def tunic() -> Pattern:
    paths = "".join(f'<path id="{name}" d="{d}"/>' for name, d in zip(("front", "back"), TUNIC, strict=True))
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="900mm" viewBox="0 0 900 900">{paths}</svg>'
    pattern = read(svg.encode())[1]
    return load("piece")(target=("id:front", "id:back"), names=("front", "back"))(pattern)  # type: ignore[call-arg]


def test_equal_sides_are_found_and_hems_are_not_sewn_to_each_other() -> None:
    found = suggested(tunic(), most=20.0)
    assert [(one.a.text, one.b.text) for one in found] == [("front.e4", "~back.e4")]
    assert found[0].a.sewn == pytest.approx(np.hypot(25, 621.06), abs=1e-6)


def test_two_pieces_are_sewn_where_one_edge_of_each_fits_and_suggested_where_several_do() -> None:
    done = StateSeam(target=("front", "back"))(tunic())
    assert done.steps[-1].line == "seam front.e4 ~back.e4"
    assert [seam.suggested for seam in done.seams] == [False]
    told = [finding.text for finding in run_checks(done) if finding.check == "hands"]
    assert len(told) == 1
    assert "mirror one, or cut it as a pair" in told[0]
    several = StateSeam(target=("front", "back"))(blocks("bust-90"))
    assert set(pairs(several)) == {frozenset({f"front.{n}", f"back.{n}"}) for n in ("shoulder", "side")}
    assert all(seam.suggested for seam in several.seams)
    assert replay(read_recipe(several.steps[-1].line), blocks("bust-90")).seams == several.seams


def test_a_seam_by_which_a_neck_runs_on_into_a_wrist_is_told() -> None:
    """Two pieces drawn alike, whose shoulders are too level to have an upper end: only names tell."""

    def piece(name: str, at: float) -> Piece:
        nodes = [(at, 0), (at + 60, 0), (at + 560, 150), (at + 530, 270), (at, 600)]
        names = ("neck", "shoulder", "wrist", "side", "centre")
        sides = (line(a, b) for a, b in zip(nodes, nodes[1:] + nodes[:1], strict=True))
        edges = tuple(Edge(uid=f"{name}-{n}", name=n, parts=(side,)) for n, side in zip(names, sides, strict=True))
        return Piece(uid=name, name=name, edges=edges)

    drawn = Pattern(pieces=(piece("front", 0), piece("back", 700)))
    sewn = StateSeam(target=("front.shoulder", "back.shoulder"))
    (said,) = sewn(drawn).steps[-1].warnings
    assert "so that front.neck runs on into back.wrist" in said
    assert "--reversed=false" in said
    assert not replace(sewn, reversed="false")(drawn).steps[-1].warnings
    # the image of one of them lies as it is sewn
    assert not StateSeam(target=("front.shoulder", "~back.shoulder"))(drawn).steps[-1].warnings
    # names that only count say nothing
    unnamed = [replace(p, edges=tuple(replace(e, name=f"e{k}") for k, e in enumerate(p.edges))) for p in drawn.pieces]
    assert not StateSeam(target=("front.e1", "back.e1"))(replace(drawn, pieces=tuple(unnamed))).steps[-1].warnings


def test_edges_that_meet_upper_end_to_lower_end_are_told() -> None:
    done = StateSeam(target=("front.e4", "back.e4"))(tunic())
    assert "meet as upper end to lower end" in done.steps[-1].warnings[0]
    assert "--reversed=false" in done.steps[-1].warnings[0]
    assert not StateSeam(target=("front.e4", "~back.e4"))(tunic()).steps[-1].warnings
    assert not StateSeam(target=("front.side", "back.side"))(blocks("bust-90")).steps[-1].warnings

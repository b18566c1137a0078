"""Shawl collars grown on: neck edge against back neck, square at the centre back, long enough outside, with facings."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest
import shapely

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, flatten, tangent
from flatcut.pattern.runs import show_run
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.values import Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made
from tests.test_collar import NECKS, bodice

DONE = (
    "\nfacing back.neck --width=45\nlabel front shawl-facing --cut=pair\nlabel all --material=shell"
    "\nallowance all --width=1cm"
)


@lru_cache
def shawl(size: str, method: str, more: str = "--extension=20") -> Pattern:
    return made(f"collar shawl --neck=back.neck+front.neck {more}", bodice(size, method))


def chords(piece: Piece, name: str) -> np.ndarray:
    return flatten(chain(piece.edge(name).parts, within=1e-6), tolerance=0.005)


@pytest.mark.parametrize(("size", "method"), NECKS)
def test_it_fits_the_back_neck(size: str, method: str) -> None:
    """Neck edge against back neckline 0 to -3 mm; fall and stand at a square centre back; the outer edge at least as
    long as the parallel to the back neckline on which it lies, by shapely (common practice, no source)."""
    pattern = shawl(size, method)
    front, back = pattern.piece("front"), pattern.piece("back")
    neck = sewn_length(back.edge("neck"))
    assert -3.0 <= drawn_length(front.edge("collar-neck")) - neck <= 1e-6
    assert drawn_length(front.edge("collar-centre")) == pytest.approx(75.0, abs=1e-6)
    order = [edge.name for edge in front.edges]
    for one, two in (("collar-edge", "collar-centre"), ("collar-centre", "collar-neck")):
        first = one if order.index(two) == (order.index(one) + 1) % len(order) else two
        assert inside_angle(front, front.edge(first)) == pytest.approx(90.0, abs=0.1)
    # the edge runs on into the front edge without a corner
    first = "front-edge" if front.after(front.edge("front-edge")).name == "collar-edge" else "collar-edge"
    assert inside_angle(front, front.edge(first)) == pytest.approx(180.0, abs=0.5)
    # what the fall lies on: 15 mm below the back neck, from the centre back to the shoulder
    side = [shapely.LineString(chords(back, "neck")).parallel_offset(15.0, s) for s in ("left", "right")]
    cloth = shapely.Polygon(flatten(chain(outline(back), within=1e-6), tolerance=0.01)).buffer(0.01)
    lies = max(side, key=lambda s: s.intersection(cloth).length).intersection(cloth).length
    over = next(f.value for f in pattern.steps[-1].figures if f.label.startswith("outer edge from"))
    assert -3.0 <= over - lies <= 8.0
    roll = next(one for one in front.lines if one.name == "roll-line")
    assert roll.kind == "fold"
    if (size, method) in NECKS[::3]:
        assert [f.text for f in run_checks(made(DONE, pattern))] == []


@pytest.mark.parametrize(("size", "method"), NECKS[::3])
def test_its_facing_lies_on_top(size: str, method: str) -> None:
    """As long at neck and centre back but for the turn of cloth, larger at the outer edge, sewn to the back neck."""
    pattern = shawl(size, method)
    front, facing = pattern.piece("front"), pattern.piece("shawl-facing")
    assert drawn_length(facing.edge("collar-centre")) - drawn_length(front.edge("collar-centre")) == pytest.approx(2.0)
    assert 0.3 < drawn_length(facing.edge("collar-edge")) - drawn_length(front.edge("collar-edge")) < 6.0
    for name in ("collar-neck", "front-edge"):
        assert drawn_length(facing.edge(name)) == pytest.approx(drawn_length(front.edge(name)), abs=0.01)
    seams = {show_run(pattern, s.a) + " = " + show_run(pattern, s.b) for s in pattern.seams}
    for row in ("collar-edge = shawl-facing.collar-edge", "front-edge = shawl-facing.front-edge"):
        assert any(row in seam for seam in seams), seams
    assert any("back.neck" in seam and "shawl-facing.collar-neck" in seam for seam in seams)
    assert facing.cut_as == front.cut_as == "pair"
    assert facing.source is not None
    assert facing.source.kind == "facing"


def test_the_roll_line_is_where_the_collar_turns() -> None:
    """From the break point to 5 mm within the height of the stand beyond the neck, and to that height at the back."""
    pattern = shawl("bust-94", "neck-and-across", "--extension=20 --break-point=18cm --height=28 --fall=4cm")
    front = pattern.piece("front")
    roll = next(one.curve for one in front.lines if one.name == "roll-line")
    centre = next(one.curve for one in front.lines if one.name == "centre")
    neck = next(one.curve for one in front.lines if one.name == "neck")
    pit = min((centre.start, centre.end), key=lambda p: min(math.dist(p, q) for q in (neck.start, neck.end)))
    assert math.dist(roll.start, pit) == pytest.approx(math.hypot(180.0, 20.0), abs=0.1)
    snp = max((neck.start, neck.end), key=lambda p: math.dist(p, pit))
    assert math.dist(roll.nodes[1], snp) == pytest.approx(23.0, abs=0.01)
    ends = front.edge("collar-centre")
    nape = min((ends.start, ends.end), key=lambda p: math.dist(p, snp))
    assert math.dist(roll.end, nape) == pytest.approx(28.0, abs=0.01)
    assert abs(tangent(roll, float(len(roll)), before=True) @ (ends.end - ends.start)) < 0.1


def test_the_more_it_leans_the_longer_its_outer_edge() -> None:
    long = []
    for lean in (0, 15, 30):
        pattern = shawl("bust-94", "neck-and-across", f"--extension=20 --lean={lean}")
        long.append(next(f.value for f in pattern.steps[-1].figures if f.label.startswith("outer edge from")))
        told = " ".join(pattern.steps[-1].warnings)
        assert ("rides up" in told) == (lean == 0)
    # a strip that is swung by an angle has its outer edge longer by width times angle (exact for a sharp bend)
    back = sewn_length(shawl("bust-94", "neck-and-across").piece("back").edge("neck"))
    assert long[1] - long[0] == pytest.approx(75.0 * 2 * math.asin(15 / 2 / back), rel=0.15)


def test_a_lowered_neck_gives_a_collar_that_fits_again() -> None:
    for low in (0.5, 2.5):
        pattern = made(
            f"block bodice --size=bust-90\nmove front.neck/centre --by=-{low}cm\n"
            f"move back.neck/shoulder --by=-{low}cm\n"
            "collar shawl --neck=back.neck+front.neck --extension=2cm"
        )
        back = sewn_length(pattern.piece("back").edge("neck"))
        assert drawn_length(pattern.piece("front").edge("collar-neck")) == pytest.approx(back, abs=1e-6)


BAD = {
    "collar shawl --back-neck=8cm --front-neck=11cm": "name the neckline",
    "collar shawl --neck=front.neck": "name the neckline",
    "collar shawl --neck=back.neck+front.neck --break-point=2m": "break-point",
    "collar shawl --neck=back.neck+front.neck --break-point=100cm": "set it on that edge",
    "collar shawl --neck=back.neck+front.neck --break-point=1cm": "set it on that edge",
    "collar shawl --neck=back.neck+front.neck --opening=back": "grown on to fronts",
    "collar shawl --neck=back.neck+front.neck --rise=1cm": "takes no --rise",
    "collar shawl --neck=back.neck+front.neck --names=front": "already",
    "collar shawl --neck=back.neck+front.neck --lean=15cm --lapel=1cm": "lean it less",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, bodice("bust-86", "neck-and-across"))


def test_drafted_twice_it_says_that_the_neck_is_gone() -> None:
    with pytest.raises(FlatcutError, match="grown on to it already"):
        made("collar shawl --neck=back.neck+front.neck --extension=20", shawl("bust-94", "neck-and-across"))

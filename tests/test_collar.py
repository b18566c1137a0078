"""Collars: their neck edge is as long as the neckline, their notch at the shoulder, their edges fair and square."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.collars.curves import rising
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import Curve, tangent
from flatcut.geometry.length import length
from flatcut.pattern.seam_ends import inside_angle
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made

SIZES = ("bust-78", "bust-86", "bust-94", "bust-106", "bust-118")
NECKS = [(size, method) for size in SIZES for method in ("neck-and-across", "bust-only")]
DONE = "\nlabel all --material=shell\nlabel front --cut=pair\nallowance all --width=1cm"
KINDS = {
    "band": "collar band",
    "band-low": "collar band --height=22 --rise=8 --round=10",
    "shirt": "collar stand-and-fall --extension=15 --round=12 --buttoned",
    "in-one": "collar stand-and-fall --in-one",
    "flat": "collar flat",
    "flat-raised": "collar flat --overlap=50 --corner=10",
}


@lru_cache
def bodice(size: str, method: str) -> Pattern:
    """A block that opens in front; its front edge is finished."""
    return made(
        f"block bodice --size={size} --method={method}\nedge front.waist back.waist front.centre --use=finished\n"
        "edge front.armhole back.armhole --use=finished"
    )


def collared(size: str, method: str, line: str) -> Pattern:
    return made(f"{line} --neck=back.neck+front.neck", bodice(size, method))


def neck_piece(pattern: Pattern) -> Piece:
    """The piece that carries the neck edge."""
    names = {piece.name for piece in pattern.pieces}
    return pattern.piece(next(n for n in ("stand", "band", "fall", "collar") if n in names))


def bend(curve: Curve) -> float:
    """Degrees of the sharpest kink between the spans of a curve."""
    joints = np.arange(1, len(curve))
    if not len(joints):
        return 0.0
    into, out = tangent(curve, joints, before=True), tangent(curve, joints)
    return float(np.degrees(np.arccos(np.clip((into * out).sum(axis=1), -1, 1))).max())


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("size", "method"), NECKS)
def test_it_fits_its_neckline(size: str, method: str, kind: str) -> None:
    """Neck edge against neckline 0 to -3 mm, notch at the shoulder, square at the fold (common practice, no source)."""
    pattern = collared(size, method, KINDS[kind])
    back, front = (sewn_length(pattern.piece(n).edge("neck")) for n in ("back", "front"))
    piece = neck_piece(pattern)
    neck = piece.edge("neck")
    over = 15.0 if kind == "shirt" else 0.0
    assert -3.0 <= drawn_length(neck) - (back + front + over) <= 1e-6
    at = [n.at.along(sewn_length(neck)) for n in piece.notches if n.edge == neck.uid]
    from_fold = at if kind.startswith("flat") else [drawn_length(neck) - a for a in at]
    assert min(abs(a - back) for a in from_fold) < 0.01
    for one in (p for p in pattern.pieces if p.name not in ("back", "front")):
        for edge in one.edges:
            assert max(bend(part) for part in edge.parts) < 1.0, f"{one.name}.{edge.name}"
            if "fold" in (edge.use, one.after(edge).use):
                assert inside_angle(one, edge) == pytest.approx(90.0, abs=0.1)
    if (size, method) in NECKS[::3]:
        assert [f.text for f in run_checks(made(DONE, pattern))] == []


@pytest.mark.parametrize(("size", "method"), NECKS[::3])
def test_the_outer_edge_is_as_its_kind_wants(size: str, method: str) -> None:
    """A stand is shorter at its top; a flat collar's outer edge is the longer the less the shoulders overlap; the under
    collar is smaller (common practice, no source)."""
    stand = neck_piece(collared(size, method, "collar band"))
    # a front raised by 15 draws the top in by 3 to 10 mm over the half
    assert 3.0 < drawn_length(stand.edge("neck")) - drawn_length(stand.edge("top")) < 10.0
    outers = []
    for overlap in (0, 12, 50, 100):
        pattern = collared(size, method, f"collar flat --overlap={overlap}")
        outers.append(drawn_length(pattern.piece("collar").edge("outer")))
        assert drawn_length(pattern.piece("under-collar").edge("outer")) < outers[-1]
    assert outers == sorted(outers, reverse=True)


def test_a_flat_collar_stands_by_a_quarter_of_the_overlap() -> None:
    """5 cm for 1.3, 10 cm for 2.5 (Joseph-Armstrong, Patternmaking for Fashion Design; from memory). What is drawn has
    it in itself: the outer edge, bent out to lie at full width, would be longer by width times the angle by which the
    shoulders were overlapped, and stands up for want of that."""
    flat = collared("bust-94", "neck-and-across", "collar flat --overlap=0 --width=60 --corner=0")
    for overlap, stand in ((50, 13), (100, 25)):
        pattern = collared("bust-94", "neck-and-across", f"collar flat --overlap={overlap} --width=60 --corner=0")
        told = next(f.value for f in pattern.steps[-1].figures if f.label == "it stands about")
        assert told == pytest.approx(stand, abs=0.6)
        outers = [drawn_length(p.piece("collar").edge("outer")) for p in (flat, pattern)]
        shoulder = sewn_length(pattern.piece("back").edge("shoulder"))
        assert outers[0] - outers[1] == pytest.approx(60 * 2 * math.asin(overlap / 2 / shoulder), rel=0.1)


def test_usual_collars_hide_their_seam_and_turn_under() -> None:
    """Stand 2.5 to 3.5 cm and fall wider by 1 at least; top collar larger by 2 to 3 mm; the top of a stand as long
    as the neck and 1 cm (common practice, no source)."""
    pattern = collared("bust-94", "neck-and-across", "collar stand-and-fall")
    stand, fall, under = (pattern.piece(name) for name in ("stand", "fall", "under-fall"))
    high, wide, small = (drawn_length(piece.edge("centre")) for piece in (stand, fall, under))
    assert 25 <= high <= 35
    assert wide - high >= 10
    assert 2 <= wide - small <= 3
    assert not pattern.steps[-1].warnings
    assert 2 * drawn_length(stand.edge("top")) >= pattern.body["neck"] - 20
    shawl = made("collar shawl --neck=back.neck+front.neck --extension=20", bodice("bust-94", "neck-and-across"))
    figures = {f.label: f.value for f in shawl.steps[-1].figures}
    # fall wider than the stand by 1.2, both at the centre back
    assert figures["front.collar-centre"] - 2 * 30 == pytest.approx(15, abs=3.1)


def test_a_flat_collar_follows_the_laid_blocks() -> None:
    """With no overlap the outer edge of a narrow collar is the inner edge plus width times the turn of the neckline:
    for a smooth curve the offset at w is longer by w times the angle it turns through (exact)."""
    pattern = collared("bust-94", "neck-and-across", "collar flat --overlap=0 --width=30 --corner=0")
    piece = pattern.piece("collar")
    neck = piece.edge("neck").parts[0]
    turned = math.degrees(
        math.acos(float(np.clip(tangent(neck, 0.0) @ tangent(neck, float(len(neck)), before=True), -1, 1)))
    )
    longer = drawn_length(piece.edge("outer")) - drawn_length(piece.edge("neck"))
    assert longer == pytest.approx(30 * math.radians(turned), abs=0.3)


@pytest.mark.parametrize("rise", [-20.0, 0.0, 8.0, 15.0, 30.0])
def test_the_neck_edge_of_a_stand_has_its_length_and_rise(rise: float) -> None:
    """Its length by Simpson's rule on y = rise (x/X)³, which shares nothing with how it is found."""
    curve = rising(190.0, rise)
    x = float(curve.end[0])
    t = np.linspace(0.0, x, 2001)
    speed = np.hypot(1.0, 3 * rise * t**2 / x**3)
    weights = np.ones(2001)
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    assert (speed * weights).sum() * x / 2000 / 3 == pytest.approx(190.0, abs=1e-6)
    assert length(curve) == pytest.approx(190.0, abs=1e-6)
    assert curve.end[1] == pytest.approx(-rise)


def test_from_lengths_it_is_the_same_collar() -> None:
    pattern = collared("bust-86", "neck-and-across", "collar band")
    back, front = (sewn_length(pattern.piece(n).edge("neck")) for n in ("back", "front"))
    alone = made(f"collar band --back-neck={back:.9f} --front-neck={front:.9f}")
    one, two = (p.piece("band") for p in (pattern, alone))
    for edge in one.edges:
        assert drawn_length(edge) == pytest.approx(drawn_length(two.edge(edge.name)), abs=1e-6)


def test_however_the_neckline_is_written_it_starts_at_the_fold() -> None:
    start = bodice("bust-86", "neck-and-across")
    back = sewn_length(start.piece("back").edge("neck"))
    for run in ("back.neck+front.neck", "front.neck+back.neck", "-front.neck+-back.neck"):
        piece = made(f"collar band --neck={run}", start).piece("band")
        assert piece.notches[0].at.value == pytest.approx(back)
    other = made("collar band --neck=back.neck+front.neck --opening=back", start).piece("band")
    front = sewn_length(start.piece("front").edge("neck"))
    assert other.notches[0].at.value == pytest.approx(front)


def test_a_lowered_neck_gives_a_collar_that_fits_again() -> None:
    """One figure of the recipe changed; not another word."""
    found = []
    for low in (0.5, 2.5):
        pattern = made(
            f"block bodice --size=bust-90\nmove front.neck/centre --by=-{low}cm\n"
            "collar stand-and-fall --neck=back.neck+front.neck\n"
            "edge front.waist back.waist front.centre back.armhole front.armhole --use=finished" + DONE
        )
        line = sum(sewn_length(pattern.piece(n).edge("neck")) for n in ("back", "front"))
        assert drawn_length(pattern.piece("stand").edge("neck")) == pytest.approx(line, abs=1e-6)
        found.append(line)
    assert abs(found[1] - found[0]) > 5


@pytest.mark.parametrize("line", ["flat", "flat --overlap=50", "shawl --extension=2cm", "stand-and-fall"])
def test_a_dart_in_the_neckline_is_closed_in_the_collar(line: str) -> None:
    """The shoulder dart pivoted into the back neck: sewn it is the same neck, and the collar is the same collar."""
    block = "block bodice --size=bust-90 --front-darts=1 --back-darts=1"
    collars = [
        made(f"{start}\ncollar {line} --neck=back.neck+front.neck")
        for start in (block, f"{block}\npivot back.shoulder-dart --to=back.neck@1/2 --hold=back.centre")
    ]
    plain, darted = (
        {(p.name, e.name): drawn_length(e) for p in c.pieces for e in p.edges if p.name not in ("front", "back")}
        for c in collars
    )
    assert darted == pytest.approx(plain, abs=0.5)


def test_short_by_two_is_eased_in() -> None:
    pattern = collared("bust-86", "neck-and-across", "collar band --short=2")
    line = sum(sewn_length(pattern.piece(n).edge("neck")) for n in ("back", "front"))
    assert drawn_length(pattern.piece("band").edge("neck")) == pytest.approx(line - 1.0)
    assert [f.text for f in run_checks(made(DONE, pattern))] == []


def test_a_neck_changed_after_the_collar_makes_check_name_it() -> None:
    """With the line that draws it anew; that done, it fits again where it lay, with its allowances."""
    sound = made(DONE, collared("bust-86", "neck-and-across", "collar band"))
    moved = made("move front.neck/centre --by=-5", sound)
    first = run_checks(moved)[0]
    assert (first.check, first.where[1]) == ("seam-walk", "band.neck")
    line = "collar band --neck=back.neck+front.neck"
    assert first.text.endswith(f"if band is out of date, draw it anew with: {line}")
    again = made(line, moved)
    assert not [f for f in run_checks(again) if f.check == "seam-walk"]
    assert [p.name for p in again.pieces].count("band") == 1
    before, after = (p.piece("band") for p in (sound, again))
    assert [e.allowance for e in after.edges] == [e.allowance for e in before.edges]
    assert after.edge("centre").start[0] == pytest.approx(before.edge("centre").start[0])


BAD = {
    "collar": "takes one of band, flat",
    "collar ruff": "not 'ruff'",
    "collar band": "wants its neckline",
    "collar band --neck=back.neck+front.neck --back-neck=8cm": "both give",
    "collar band --neck=back.neck+front.waist": "do not meet at seams",
    "collar band --neck=back.neck+back.neck": "twice",
    "collar band --neck=back.neck+front.neck --fall=4cm": "takes no --fall",
    "collar flat --back-neck=8cm --front-neck=11cm": "name the edges",
    "collar flat --neck=back.neck+front.neck --extension=1cm": "ends at the centre",
    "collar flat --neck=back.neck": "two edges",
    "collar band --neck=back.neck+front.neck --rise=8cm": "cannot rise",
    "collar band --neck=back.neck+front.neck --buttoned": "beyond the centre",
    "collar band --neck=back.neck+front.neck --names=front": "already",
    "collar band --neck=back.neck+front.neck --names=a,b,c": "for 2 pieces",
    "collar band --back-neck=1cm --front-neck=1cm": "too short",
    "collar band --back-neck=5cm --front-neck=5cm --extension=11cm": "less than half",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, bodice("bust-86", "neck-and-across"))

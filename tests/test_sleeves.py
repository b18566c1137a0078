"""Short, cap and puff sleeves walked against their armholes by the chords of fine polylines."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import flatten
from flatcut.pattern.runs import run_curves, run_sewn, walk
from flatcut.pattern.values import Edge, Pattern, RunPart
from flatcut.pattern.walking import sewn_length
from tests.seeding import made

SIZES = ("bust-78", "bust-90", "bust-118")
DONE = "\nallowance all --width=1cm\nlabel all --material=shell"
HEMMED = "\nedge {0}.hem --use=hem"


@cache
def bodice(size: str) -> Pattern:
    return made(f"block bodice --size={size}\nedge front.neck back.neck front.waist back.waist --use=finished")


def chords(pattern: Pattern, run: tuple[RunPart, ...]) -> float:
    curves = [curve for step in walk(pattern, run) for curve in run_curves(step)]
    return sum(math.dist(a, b) for curve in curves for a, b in pairwise(flatten(curve, tolerance=0.0005)))


def way(edge: Edge, *, first: bool) -> np.ndarray:
    points = np.concatenate([flatten(part, tolerance=0.0005) for part in edge.parts])
    return points[1] - points[0] if first else points[-1] - points[-2]


def corner(one: Edge, two: Edge) -> float:
    """Degrees inside the piece where the second follows the first."""
    a, b = -way(one, first=False), way(two, first=True)
    return math.degrees(math.acos(float(a @ b) / math.hypot(*a) / math.hypot(*b)))


@pytest.mark.parametrize("size", SIZES)
def test_a_short_sleeve_is_set_in(size: str) -> None:
    """Its cap is longer than the armholes by the ease alone, plain below the notches, smooth under the arm, its hem
    square to both seams (common practice, no source)."""
    pattern = made(f"sleeve --below=7cm --taper=2cm --cap-ease=2cm{DONE}", bodice(size))
    piece = pattern.piece("short-sleeve")
    holes = [pattern.piece(name).edge("armhole") for name in ("back", "front")]
    cap = RunPart(piece=piece.uid, of=piece.edge("cap").uid)
    assert chords(pattern, (cap,)) == pytest.approx(sum(map(sewn_length, holes)) + 20, abs=0.05)
    assert [f.text for f in run_checks(pattern)] == []
    joined = corner(piece.edge("cap"), piece.edge("underarm-front")) + corner(
        piece.edge("underarm-back"), piece.edge("cap")
    )
    assert joined == pytest.approx(180, abs=2)
    hems = [
        corner(piece.edge("underarm-front"), piece.edge("hem")),
        corner(piece.edge("hem"), piece.edge("underarm-back")),
    ]
    assert hems == pytest.approx([90, 90], abs=1)
    for seam in pattern.seams:
        if seam.b[0].of == cap.of:
            off = chords(pattern, seam.b) - chords(pattern, seam.a)
            assert off == pytest.approx(seam.ease, abs=0.05)
    assert sum(s.ease for s in pattern.seams if s.b[0].of == cap.of) == pytest.approx(20, abs=0.01)


@pytest.mark.parametrize("size", SIZES)
def test_a_cap_sleeve_lies_on_the_top_of_the_armhole(size: str) -> None:
    pattern = made("sleeve --kind=cap --over=9cm --cap-ease=1cm", bodice(size))
    piece = pattern.piece("cap-sleeve")
    sewn = [s for s in pattern.seams if s.b[0].piece == piece.uid]
    assert len(sewn) == 2
    assert sum(chords(pattern, s.b) - chords(pattern, s.a) for s in sewn) == pytest.approx(
        sum(s.ease for s in sewn), abs=0.05
    )
    # all of the ease of the cap lies above the notches, where this sleeve is
    assert sum(s.ease for s in sewn) == pytest.approx(10, abs=3.0)
    notch = next(n for n in pattern.piece("front").notches if n.edge == pattern.piece("front").edge("armhole").uid)
    front = sewn_length(pattern.piece("front").edge("armhole"))
    held = [s for s in sewn if s.a[0].piece == pattern.piece("front").uid]
    assert run_sewn(pattern, held[0].a) == pytest.approx(front - notch.at.along(front), abs=0.05)
    crown = piece.points[0].at
    hem = flatten(piece.edge("hem").parts[0], tolerance=0.001)
    below = min(hem, key=lambda p: abs(p[0] - crown[0]))
    assert below[1] - crown[1] == pytest.approx(90, abs=0.5)
    assert {edge.name for edge in piece.edges} == {"cap", "hem"}


@pytest.mark.parametrize("size", SIZES[1:])
@pytest.mark.parametrize("more", ["", " --full=14cm --rise=5cm --below=15cm", " --band=34cm"])
def test_a_puff_is_gathered_to_its_armholes(size: str, more: str) -> None:
    """Drawn: longer than the armholes by what is gathered, and no less below the notches than a plain sleeve."""
    pattern = made(f"sleeve --kind=puff{more}{DONE}", bodice(size))
    piece = pattern.piece("puff-sleeve")
    cap = piece.edge("cap")
    holes = sum(sewn_length(pattern.piece(name).edge("armhole")) for name in ("back", "front"))
    drawn = chords(pattern, (RunPart(piece=piece.uid, of=cap.uid),))
    taken = sum(t.amount for t in cap.takeups)
    assert taken > 60
    assert sewn_length(cap) == pytest.approx(holes, abs=0.02)
    points = np.concatenate([flatten(part, tolerance=0.0005) for part in cap.parts])
    assert sum(math.dist(a, b) for a, b in pairwise(points)) == pytest.approx(holes + taken, abs=0.05)
    assert drawn == pytest.approx(holes + taken, abs=0.05)
    assert [f.text for f in run_checks(pattern)] == []
    if "band" in more:
        assert sewn_length(piece.edge("hem")) == pytest.approx(340, abs=0.01)
    # opened by so much at the arm too
    plain = made("sleeve --kind=short --cap-ease=0", bodice(size)).piece("short-sleeve")
    wide = [abs(p.edge("cap").end[0] - p.edge("cap").start[0]) for p in (piece, plain)]
    assert wide[0] - wide[1] == pytest.approx(140 if "14cm" in more else 80, abs=3)


def test_drawn_anew_after_the_armhole_has_changed() -> None:
    start = made(f"sleeve{DONE}", bodice("bust-90"))
    line = next(step.line for step in start.steps if step.line.startswith("sleeve"))
    moved = made("move front.side/armhole --by=-1cm\nmove back.side/armhole --by=-1cm", start)
    assert any("draw it anew with: sleeve" in f.text for f in run_checks(moved))
    again = made(line, moved)
    assert not [f.text for f in run_checks(again) if f.check in ("derived", "seam-walk", "notches")]


BAD = {
    "sleeve a b": "2 names are given",
    "sleeve front": "already",
    "sleeve --armholes=front.armhole": "two edges",
    "sleeve --armholes=front.neck,back.neck --below=10cm": "mm long",
    "sleeve --full=10cm": "is for a puff sleeve",
    "sleeve --kind=puff --over=10cm": "is for a cap sleeve",
    "sleeve --kind=cap --band=30cm": "is for a puff sleeve",
    "sleeve --kind=cap --over=3cm": "above its own ends",
    "sleeve --kind=cap --from=25cm": "begin it lower",
    "sleeve --taper=20cm": "leans too much",
    "sleeve --kind=puff --band=80cm": "another band",
    "sleeve --kind=puff --full=0 --rise=0": "gathered",
    "sleeve --top-arm=70cm": "too small for top-arm",
    "sleeve --kind=bell": "bell",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, bodice("bust-90"))


def test_without_armholes_or_arm_it_says_what_it_wants() -> None:
    with pytest.raises(FlatcutError, match="wants its armholes"):
        made("sleeve")

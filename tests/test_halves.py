"""Left and right as worn, and the lining of a lapped vent, whose halves are unlike."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
import shapely
from shapely import affinity

from flatcut.blocks.body import sizes_or_errors
from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import chain, flatten
from flatcut.marking.cutline import cut_line
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.values import Pattern, Piece, outline
from flatcut.pattern.walking import drawn_length
from flatcut.recipe import read_recipe, replay
from tests.seeding import made

SAMPLES = Path(__file__).parents[1] / "samples"
SKIRT = (
    (SAMPLES / "garments" / "narrow-skirt.recipe")
    .read_text()
    .partition("# the lining")[0]
    .replace("style ", "style --size=8 ")
)
FINISH = """
edge skirt-front.waist skirt-back.waist --use=finished
allowance all --width=1cm
allowance skirt-front.hem skirt-back.hem --width=4cm
allowance skirt-back.zip --width=2cm
corner skirt-back.centre/zip --kind=stepped
"""
BODIES = sizes_or_errors((SAMPLES / "panels" / "sizes.toml").read_text())
LINED = """
lining skirt-front skirt-back
allowance skirt-front-lining skirt-back-lining-left skirt-back-lining-right --width=1cm
allowance skirt-front-lining.hem skirt-back-lining-left.hem skirt-back-lining-right.hem --width=2cm
label skirt-front-lining skirt-back-lining-left skirt-back-lining-right --material=lining
"""
BACKS = "block skirt --size=bust-90\nedge skirt-back.centre --use=seam\nseam skirt-back.centre ~skirt-back.centre\n"


@cache
def lined(size: str = "bust-90", more: str = "") -> Pattern:
    body = BODIES[size]
    assert isinstance(body, dict)
    return replay(
        read_recipe(SKIRT + FINISH + LINED.replace("skirt-back\n", f"skirt-back{more}\n", 1)),
        Pattern(body=MappingProxyType(body)),
    )


def ring(piece: Piece) -> shapely.Polygon:
    return shapely.Polygon(flatten(chain(outline(piece), within=1e-6), tolerance=0.01))


def seams(pattern: Pattern) -> set[str]:
    return {f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}" for s in pattern.seams}


@pytest.mark.parametrize("size", ["bust-76", "bust-90", "bust-122"])
def test_the_lining_of_a_vent_is_left_and_right(size: str) -> None:
    """Cut away on the left, which laps over, by twice the extension; the right one 1 cm narrower (common practice, no
    source); their vent edges walk to the shell's within 1 mm, and no check has anything to say."""
    pattern = lined(size)
    assert [finding.text for finding in run_checks(pattern)] == []
    left, right = (pattern.piece(f"skirt-back-lining-{side}") for side in ("left", "right"))
    assert [(p.cut_as, p.quantity, p.side) for p in (left, right)] == [("single", 1, "left"), ("single", 1, "right")]
    hems = [drawn_length(p.edge("hem")) for p in (left, right)]
    assert hems[1] - hems[0] == pytest.approx(2 * 50 - 10, abs=0.5)
    shell = pattern.piece("skirt-back")
    for seam in pattern.seams:
        if seam.a[0].of in {shell.edge("vent").uid, shell.edge("vent-top").uid}:
            assert run_sewn(pattern, seam.a) == pytest.approx(run_sewn(pattern, seam.b), abs=1.0)
    assert len([s for s in pattern.seams if s.a[0].of == shell.edge("vent").uid]) == 2
    assert "skirt-front-lining.side = skirt-back-lining-left.side" in seams(pattern)


def test_what_is_cut_away_is_what_is_folded_over_it() -> None:
    """By shapely: the shell's extension mirrored about its fold, and the lining of the overlay laid there, meet along
    their edges and cover nothing twice."""
    pattern = lined()
    shell, left = pattern.piece("skirt-back"), pattern.piece("skirt-back-lining-left")
    fold = next(line for line in shell.lines if line.name == "vent-fold").curve
    x = float(fold.start[0])
    assert abs(fold.start[0] - fold.end[0]) < 1e-6
    extension = ring(shell).intersection(shapely.box(x - 200, float(min(fold.nodes[:, 1])), x, 5000))
    folded = affinity.scale(extension, -1, 1, origin=(x, 0))
    # both seen from the same side: the lining of the left half is drawn as the shell's right one is
    corner = shell.edge("waist").start - left.edge("waist").start
    lining = affinity.translate(ring(left), *corner)
    assert folded.area > 5000
    assert folded.intersection(lining).area < 20
    touching = folded.buffer(0.2).intersection(lining.buffer(0.2)).area / 0.4
    assert touching > 0.85 * 200


def test_it_laps_over_on_the_other_side_and_is_drawn_anew() -> None:
    other = lined(more=" --over=right --turn=0")
    hems = [drawn_length(other.piece(f"skirt-back-lining-{side}").edge("hem")) for side in ("left", "right")]
    assert hems[0] - hems[1] == pytest.approx(100, abs=0.5)
    again = made("lining skirt-front skirt-back --hem=3cm", lined())
    assert len(again.pieces) == len(lined().pieces)
    assert seams(again).symmetric_difference(seams(lined())) == {
        text for text in seams(again) ^ seams(lined()) if ".vent" in text
    }
    left = again.piece("skirt-back-lining-left")
    assert left.edge("side").allowance == lined().piece("skirt-back-lining-left").edge("side").allowance


def test_halves_are_sewn_on_both_sides() -> None:
    pattern = made(f"{BACKS}halves skirt-back")
    assert seams(pattern) == {
        "skirt-front.side = skirt-back-right.side",
        "~skirt-front.side = -skirt-back-left.side",
        "skirt-back-right.centre = -skirt-back-left.centre",
    }
    left, right = pattern.piece("skirt-back-left"), pattern.piece("skirt-back-right")
    assert ring(left).area == pytest.approx(ring(right).area, rel=1e-6)
    # seen from behind with the hem below, the right one lies to the right of the centre
    for piece, sign in ((left, -1), (right, 1)):
        assert sign * (ring(piece).centroid.x - float(np.mean(piece.edge("centre").parts[0].nodes[:, 0]))) > 20
    done = made(
        "edge skirt-front.waist skirt-back-left.waist skirt-back-right.waist --use=finished\n"
        "allowance all --width=1cm\nlabel all --material=shell",
        pattern,
    )
    assert [finding.text for finding in run_checks(done)] == []


def test_fronts_are_told_from_backs_and_drawn_says_otherwise() -> None:
    start = made("block bodice --size=bust-90\nedge front.centre --use=seam\nseam front.centre ~front.centre")
    front = start.piece("front")
    lies = ring(front).centroid.x - float(front.edge("centre").start[0])
    own = made("halves front", start).piece("front-left" if lies > 0 else "front-right")
    assert own.uid == front.uid
    told = made("halves front --drawn=left --names=a,b", start)
    assert [p.uid == front.uid for p in (told.piece("a"), told.piece("b"))] == [True, False]


BAD = {
    "halves": "target",
    "halves skirt-front": "on the fold",
    "halves skirt-back\nhalves skirt-back-left": "one side already",
    "halves skirt-back --names=a": "left and the right half",
    "halves skirt-back --names=skirt-front,b": "already",
    "label skirt-back --quantity=4\nhalves skirt-back": "cut 4 times",
    "edge skirt-back.centre --words=none\nhalves skirt-back": "nothing on skirt-back tells",
    "lining skirt-back --over=up": "one of",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, made(BACKS))


def test_the_centre_seam_of_a_lining_is_sewn_before_its_vent() -> None:
    """Its allowance runs straight on beyond the top of the vent: of the cut line there nothing lies farther out, where
    once the vent's own allowance stood out by 7 mm beside it."""
    left = lined().piece("skirt-back-lining-left")
    centre, top = left.edge("centre"), left.edge("vent-top")
    cut = cut_line(left)
    assert cut is not None
    points = flatten(cut.curve, tolerance=0.01)
    corner = next(
        e for e in (top.start, top.end) if min(np.hypot(*(e - at)) for at in (centre.start, centre.end)) < 0.1
    )
    beside = points[np.abs(points[:, 1] - corner[1]) < 40]
    off = abs(beside[:, 0] - corner[0])
    outside = np.sign(beside[:, 0] - corner[0]) == -np.sign(left.grain.start[0] - corner[0])
    assert off[outside].max() == pytest.approx(10.0, abs=0.05)

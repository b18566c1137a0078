"""Gored skirts and godets against the arithmetic of widths and the formulas of the circle."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import Curve, flatten
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.values import Edge, Pattern
from flatcut.pattern.walking import sewn_length
from tests.seeding import made

SIX = "gore --waist=72cm --hip=96cm --level=20cm --high=60cm --flare=6cm"
SKIRT = "block skirt --size=bust-90\n"
DONE = "\nallowance all --width=1cm\nlabel all --material=shell"
WAISTS = "\nedge skirt-front.waist skirt-back.waist --use=finished"


def measured(edge: Edge | Curve) -> float:
    """mm along the chords of a fine polyline."""
    curves = edge.parts if isinstance(edge, Edge) else (edge,)
    points = np.concatenate([flatten(curve, tolerance=0.0005) for curve in curves])
    return sum(math.dist(a, b) for a, b in pairwise(points))


def way(edge: Edge, *, first: bool) -> np.ndarray:
    points = np.concatenate([flatten(curve, tolerance=0.0005) for curve in edge.parts])
    return points[1] - points[0] if first else points[-1] - points[-2]


def between(a: np.ndarray, b: np.ndarray) -> float:
    return math.degrees(math.acos(float(a @ b) / math.hypot(*a) / math.hypot(*b)))


def faults(pattern: Pattern) -> list[str]:
    return [finding.text for finding in run_checks(pattern)]


CUTS = ["", " --flare=0", " --flare=15cm", " --from=40cm --flare=10cm", " --count=8 --high=90cm", " --from=20cm"]


@pytest.mark.parametrize("more", CUTS)
def test_a_gore_has_its_share_of_waist_hip_and_sweep(more: str) -> None:
    """Six gores of waist 72 and hip 96 are 12 and 16 cm wide; 6 cm of flare at each edge make 28, the sweep 168 (arith-
    metic); hem and waist meet each seam at a right angle, so that the joined ones run on (common practice, no source).
    """
    words = dict(word.removeprefix("--").split("=") for word in (SIX + more).split()[1:])
    line = " ".join(["gore", *(f"--{name}={value}" for name, value in words.items())])
    count, flare = float(words.get("count", 6)), float(words["flare"].removesuffix("cm")) * 10
    pattern = made(line)
    piece = pattern.piece("gore")
    assert piece.quantity == count
    assert measured(piece.edge("waist")) == pytest.approx(720 / count, abs=0.02)
    assert measured(piece.edge("hem")) == pytest.approx(960 / count + 2 * flare, abs=0.02)
    hip = next(line for line in piece.lines if line.name == "hip-line").curve
    assert measured(hip) == pytest.approx(960 / count, abs=0.02)
    assert measured(piece.edge("side")) == pytest.approx(measured(piece.edge("side-2")), abs=1e-6)
    for one, two in (("waist", "side"), ("side", "hem"), ("hem", "side-2"), ("side-2", "waist")):
        corner = between(way(piece.edge(one), first=False), way(piece.edge(two), first=True))
        assert corner == pytest.approx(90.0, abs=0.3), (one, two)
    told = {figure.label: figure.value for figure in pattern.steps[-1].figures}
    assert told["sweep"] == pytest.approx(960 + 2 * flare * count, abs=0.05)


def test_the_middle_of_a_gore_is_as_long_as_asked_and_the_hem_level_below_the_hip() -> None:
    """Every place of the hem lies as far from the line at the hip: 40 cm."""
    piece = made(SIX).piece("gore")
    hem = flatten(piece.edge("hem").parts[0], tolerance=0.01)
    hip = flatten(next(line for line in piece.lines if line.name == "hip-line").curve, tolerance=0.001)
    away = [min(math.dist(p, q) for q in hip) for p in hem]
    assert away == pytest.approx([400.0] * len(away), abs=0.05)
    waist = flatten(piece.edge("waist").parts[0], tolerance=0.01)
    assert hem[:, 1].max() - waist[:, 1].max() == pytest.approx(600.0, abs=0.01)


@pytest.mark.parametrize("opening", ["15cm", "22cm"])
def test_a_zip_stands_between_two_gores(opening: str) -> None:
    """Above and below the hip; the three pieces are six gores in all, and nothing is told of them."""
    pattern = made(f"{SIX} --opening={opening}\nedge gore.waist gore-front.waist gore-back.waist --use=finished{DONE}")
    assert [(p.name, p.quantity) for p in pattern.pieces] == [("gore", 4), ("gore-front", 1), ("gore-back", 1)]
    for name in ("gore-front", "gore-back"):
        assert measured(pattern.piece(name).edge("zip")) == pytest.approx(float(opening[:-2]) * 10, abs=0.01)
        assert pattern.piece(name).edge("zip").use == "opening"
    assert "gore-front.side = gore-back.side-2" in {
        f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}" for s in pattern.seams
    }
    assert faults(pattern) == []


@pytest.mark.parametrize("count", [4, 5, 6])
def test_gores_hang_from_an_edge(count: int) -> None:
    pattern = made(
        f"{SKIRT}gore --to=skirt-back.hem+skirt-front.hem --both --count={count} --edge=top --hip=120cm{WAISTS}{DONE}"
    )
    sewn = [
        seam
        for seam in pattern.seams
        if pattern.piece("gore").uid in {p.piece for p in seam.a} and seam.b[0].piece != pattern.piece("gore").uid
    ]
    assert len(sewn) == (count // 2 if count % 2 == 0 else count)
    assert [run_sewn(pattern, s.a) - run_sewn(pattern, s.b) for s in sewn] == pytest.approx([0.0] * len(sewn), abs=0.01)
    assert faults(pattern) == []
    assert "notch it at" in pattern.steps[1].warnings[-1]


def test_too_many_gores_are_told() -> None:
    pattern = made(
        f"{SKIRT}gore --to=skirt-back.hem+skirt-front.hem --both --edge=top --hip=120cm{WAISTS}{DONE}\nlabel gore "
        "--quantity=5"
    )
    assert "gore.top is there 5 times, and what it is sewn to 6 times" in faults(pattern)[0]


def test_it_is_drawn_from_the_body_in_another_size() -> None:
    sizes = [made(f"block skirt --size={size}\ngore").piece("gore") for size in ("bust-90", "bust-106")]
    assert measured(sizes[1].edge("waist")) > measured(sizes[0].edge("waist")) + 15


GODETS = ["--angle=60", "--angle=90", "--wide=20cm"]


@pytest.mark.parametrize("how", GODETS)
def test_a_godet_is_a_sector(how: str) -> None:
    """Its hem is L·α: 30 cm at 60° 31.416, at 90° 47.124 (arithmetic); its point is 30 cm from every place of it."""
    pattern = made(f"{SKIRT}godet skirt-front.side --high=30cm {how}{WAISTS}{DONE}")
    piece = pattern.piece("godet")
    wanted = {"--angle=60": 314.159, "--angle=90": 471.239, "--wide=20cm": 200.0}[how]
    assert measured(piece.edge("hem")) == pytest.approx(wanted, abs=0.01)
    hem = flatten(piece.edge("hem").parts[0], tolerance=0.01)
    assert [math.dist(p, piece.edge("side").start) for p in hem] == pytest.approx([300.0] * len(hem), abs=0.01)
    assert piece.quantity == 2
    assert faults(pattern) == []
    seams = {f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}" for s in pattern.seams}
    assert seams == {
        "skirt-front.side@300..-0 = skirt-back.side@0..-300",
        "godet.side = skirt-front.side@0..300",
        "godet.side-2 = skirt-back.side@-300..-0",
    }


CENTRE = f"{SKIRT}edge skirt-back.centre --use=seam\nseam skirt-back.centre ~skirt-back.centre\n"


def test_godets_at_a_centre_seam_and_between_gores() -> None:
    pattern = made(f"{CENTRE}godet skirt-back.centre --high=25cm{WAISTS}{DONE}")
    assert pattern.piece("godet").quantity == 1
    assert faults(pattern) == []
    gored = made(f"{SIX}\ngodet gore.side --high=25cm\nedge gore.waist --use=finished{DONE}")
    assert gored.piece("godet").quantity == 6
    assert faults(gored) == []


def test_a_godet_drawn_anew_opens_the_seam_anew() -> None:
    once = made(f"{SKIRT}godet skirt-front.side --high=20cm")
    twice = made(f"{SKIRT}godet skirt-front.side --high=30cm\ngodet skirt-front.side --high=20cm")
    sides = [p.piece("skirt-front").edge("side") for p in (once, twice)]
    assert sewn_length(sides[0]) == sewn_length(sides[1])
    shown = [{f"{show_run(p, s.a)} = {show_run(p, s.b)}" for s in p.seams} for p in (once, twice)]
    assert shown[0] == shown[1]
    notches = [[n.at for n in p.piece("skirt-front").notches] for p in (once, twice)]
    assert notches[0] == notches[1]


BAD = {
    "gore --waist=72cm": "gores want a hip",
    "gore --waist=100cm --hip=90cm": "is wider than its",
    "gore --waist=72cm --hip=96cm --level=45cm --high=40cm": "not in that order",
    "gore --waist=72cm --hip=96cm --from=10cm": "not in that order",
    "gore --waist=72cm --hip=96cm --flare=1m": "flare it less",
    "gore --waist=72cm --hip=96cm --opening=59cm": "takes more than 10 mm",
    "gore --waist=72cm --hip=96cm --count=2 --opening=20cm": "three gores or more",
    "gore --waist=72cm --to=skirt-front.hem": "both give the waist",
    "gore --to=skirt-front.hem --opening=20cm": "nothing is sewn to it",
    "gore a b --waist=72cm --hip=96cm": "2 names are given",
    "gore skirt-front --waist=72cm --hip=96cm": "already",
    "gore --both --waist=72cm": "no halves",
    "gore --waist=72cm --hip=96cm --count=2.5": "whole number",
    "godet": "target",
    "godet skirt-front.side skirt-back.side": "one seam",
    "godet skirt-front.side --high=90cm": "make it lower",
    "godet skirt-front.side --angle=30 --wide=10cm": "both say how wide",
    "godet skirt-front.side --high=10cm --wide=60cm": "more than a circle",
    "godet skirt-front.centre": "fold",
    "godet skirt-front.waist": "does not meet one hem",
    "godet skirt-front.side --names=a,b": "2 names are given",
    "godet skirt-front.side --names=skirt-back": "already",
    "drop skirt-back\ngodet skirt-front.side": "sewn to nothing at its hem",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    start = replace(made(SKIRT), body={})
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, start)

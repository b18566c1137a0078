"""Circle skirts and flounces against the formulas of the circle."""

from __future__ import annotations

import math

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.errors import FlatcutError
from flatcut.geometry.curves import bounds, chain, flatten
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Pattern, outline
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made

CIRCLES = [
    (1.0, 114.592, 714.592, 4489.9),
    (0.75, 152.789, 752.789, 3547.4),
    (0.5, 229.183, 829.183, 2605.0),
    (0.25, 458.366, 1058.366, 1662.5),
]
"""How many circles, inner and outer radius and hem, mm, of a waist of 72 and a length of 60 cm: r = W / 2πk, hem =
W + 2πkL (arithmetic)."""
SKIRT = "block skirt --size=bust-90\n"
DONE = "\nedge skirt-front.waist skirt-back.waist --use=finished\nallowance all --width=1cm\nlabel all --material=shell"


def figures(pattern: Pattern) -> dict[str, float]:
    return {figure.label: figure.value for figure in pattern.steps[-1].figures}


@pytest.mark.parametrize(("circles", "inner", "outer", "hem"), CIRCLES)
def test_radii_and_hem(circles: float, inner: float, outer: float, hem: float) -> None:
    pattern = made(f"flounce --inner=72cm --high=60cm --circles={circles} --cloth=220cm")
    told, piece = figures(pattern), pattern.piece("flounce")
    assert told["flounce inner radius"] == pytest.approx(inner, abs=0.001)
    assert told["flounce outer radius"] == pytest.approx(outer, abs=0.001)
    assert told["flounce hem"] == pytest.approx(hem, abs=0.06)
    assert drawn_length(piece.edge("waist")) * piece.quantity == pytest.approx(720, abs=0.01)
    # square at every seam, so that the joined hem runs on
    assert [f.text for f in run_checks(made("allowance all --width=1cm\nlabel all --material=shell", pattern))] == [
        "flounce.waist ("
        + f"{720 / piece.quantity:g} mm) is sewn to nothing; state the seam with seam, or another use "
        "with edge"
    ]


@pytest.mark.parametrize(("circles", "area"), [(1.0, 1.5630), (0.5, 0.9975)])
def test_net_area_of_circle_skirts(circles: float, area: float) -> None:
    """m² of cloth for a waist of 72 and a length of 60 cm: π k (R² - r²) (arithmetic), by the surveyor's formula."""
    piece = made(f"flounce --inner=72cm --high=60cm --circles={circles} --cloth=220cm").piece("flounce")
    x, y = flatten(chain(outline(piece), within=1e-6), tolerance=0.005).T
    one = abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
    assert one * piece.quantity / 1e6 == pytest.approx(area, abs=1e-4)


def test_a_ring_is_a_ring() -> None:
    """Every place of the hem of a flounce lies at the outer radius from the middle of its inner arc's circle."""
    piece = made("flounce --inner=31.416cm --high=6cm --circles=1 --edge=top").piece("flounce")
    # a ring of inner radius 5, 6 wide: 31.416 and 69.115, ratio 2.2 (arithmetic)
    assert drawn_length(piece.edge("hem")) * piece.quantity == pytest.approx(691.15, abs=0.05)
    top, hem = (flatten(piece.edge(n).parts[0], tolerance=0.01) for n in ("top", "hem"))
    middle = top.mean(axis=0)
    ends = piece.edge("side").start, piece.edge("side-2").end
    centre = ((ends[0] + ends[1]) / 2).copy()  # of a half ring: in the middle between its ends
    assert [math.dist(p, centre) for p in top] == pytest.approx([50.0] * len(top), abs=0.01)
    assert [math.dist(p, centre) for p in hem] == pytest.approx([110.0] * len(hem), abs=0.01)
    assert middle[1] > centre[1]


@pytest.mark.parametrize(("cloth", "count"), [(150, 2), (143, 2), (142, 3), (90, 5)])
def test_parts_come_out_of_the_cloth(cloth: float, count: int) -> None:
    """A part of a whole circle of radius 71.46 cm that turns through 360°/n is 2 R sin(180°/n) wide."""
    piece = made(f"flounce --inner=72cm --high=60cm --cloth={cloth}cm").piece("flounce")
    assert piece.quantity == count
    left, _, right, _ = bounds(chain(outline(piece), within=1e-6))
    assert right - left <= cloth * 10 + 0.01


def test_it_hangs_from_the_garment() -> None:
    pattern = made(f"{SKIRT}flounce --to=skirt-back.hem+skirt-front.hem --both --high=20cm --edge=top{DONE}")
    seam = pattern.seams[-1]
    assert run_sewn(pattern, seam.a) == pytest.approx(run_sewn(pattern, seam.b), abs=0.01)
    assert {pattern.piece(n).edge("hem").use for n in ("skirt-front", "skirt-back")} == {"seam"}
    piece = pattern.piece("flounce")
    at = piece.notches[0].at.along(sewn_length(piece.edge("top")))
    assert at == pytest.approx(sewn_length(pattern.piece("skirt-front").edge("hem")), abs=0.01)
    assert [f.text for f in run_checks(pattern)] == []


def test_less_is_stretched_in() -> None:
    pattern = made(f"{SKIRT}flounce --to=skirt-back.hem+skirt-front.hem --both --less=20 --high=20cm --edge=top{DONE}")
    assert pattern.seams[-1].ease == pytest.approx(10)
    assert [f.text for f in run_checks(pattern)] == []


def test_where_its_parts_meet_the_garment_is_told_as_a_place_to_be_notched() -> None:
    """Three parts on a hem of 990 mm (arithmetic): 330 mm from the centre back is 82.5 mm beyond the side seam, so 165
    mm from the centre front, on both halves; and no notch of the parts is without a mate."""
    line = "flounce --to=skirt-back.hem+skirt-front.hem --both --circles=0.25 --high=90cm --cloth=110cm"
    pattern = made(SKIRT + line)
    (told,) = [text for text in pattern.steps[-1].warnings if "between its seams" in text]
    places = told.partition("notch it at ")[2].split(", ")
    assert len(places) == 1
    hem = pattern.piece("skirt-front").edge("hem")
    centre = pattern.piece("skirt-front").edge("centre")
    at_start = min(math.dist(hem.start, end) for end in (centre.start, centre.end)) < 1e-6
    away = float(places[0].partition("@")[2])
    third = 2 * (sewn_length(hem) + sewn_length(pattern.piece("skirt-back").edge("hem"))) / 3
    from_centre = sewn_length(hem) - (third - sewn_length(pattern.piece("skirt-back").edge("hem")))
    assert away == pytest.approx(from_centre if at_start else sewn_length(hem) - from_centre, abs=0.01)
    assert [f for f in run_checks(pattern) if f.check == "notches"] == []


BAD = {
    "flounce": "wants its inner edge",
    "flounce a b --inner=70cm": "one piece",
    "flounce --inner=70cm --to=skirt-back.hem": "both give",
    "flounce --inner=3cm --less=5cm": "would be -20 mm",
    "flounce --inner=70cm --high=190cm --cloth=50cm": "does not come out",
    "flounce skirt-back --inner=70cm": "already",
}


@pytest.mark.parametrize("line", BAD)
def test_bad_input_is_refused_in_a_sentence(line: str) -> None:
    with pytest.raises(FlatcutError, match=BAD[line]):
        made(line, made(SKIRT))

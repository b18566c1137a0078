"""Three darts that end in one point: a step on one leaves the others, and the angles about the point add up.

Angles about a point are kept where no cloth is put in or taken out (closed form); a seam is drawn up by what a released
dart took in.
"""

from __future__ import annotations

import math

import pytest

from flatcut.checks.check import run_checks
from flatcut.darts.darting import angle
from flatcut.errors import FlatcutError
from flatcut.pattern.values import Pattern, area
from flatcut.pattern.walking import sewn_length
from tests.test_cut import made

START = """block bodice --size=bust-90
pivot front.bust-dart --to=front.shoulder@1/2 --share=0.5 --name=shoulder-dart
back-off front.bust-dart --to=front.bust-point
back-off front.waist-dart --to=front.bust-point
"""


@pytest.fixture(scope="module")
def start() -> Pattern:
    pattern = made(START)
    assert sorted(d.name for d in pattern.piece("front").darts) == ["bust-dart", "shoulder-dart", "waist-dart"]
    assert run_checks(pattern) == []
    return pattern


def angles(pattern: Pattern) -> dict[str, float]:
    return {d.name: angle(d) for p in pattern.pieces for d in p.darts if p.name != "back"}


@pytest.mark.parametrize(
    ("step", "left"),
    [
        ("pivot front.shoulder-dart --to=front.bust-dart", {"bust-dart", "waist-dart"}),
        ("pivot front.shoulder-dart --to=front.waist-dart", {"bust-dart", "waist-dart"}),
        ("pivot front.waist-dart --to=front.neck@1/2", {"bust-dart", "waist-dart", "shoulder-dart"}),
        (
            "divide front.waist-dart --to=front.bust-dart,front.shoulder-dart --shares=1,1",
            {"bust-dart", "shoulder-dart"},
        ),
        ("true front.waist --within=3mm", {"bust-dart", "waist-dart", "shoulder-dart"}),
        ("true front.shoulder --within=3mm", {"bust-dart", "waist-dart", "shoulder-dart"}),
    ],
)
def test_angles_about_the_point_add_up(start: Pattern, step: str, left: set[str]) -> None:
    after = made(step, start)
    assert set(angles(after)) == left
    assert sum(angles(after).values()) == pytest.approx(sum(angles(start).values()), abs=0.001)
    assert run_checks(after) == []
    for edge in start.piece("front").edges:
        assert sewn_length(after.piece("front").edge(edge.name)) == pytest.approx(sewn_length(edge), abs=0.5), edge.name


def test_a_wedge_goes_into_one_of_them(start: Pattern) -> None:
    after = made("contour front.neck@1/2 --amount=6 --at=edge --into=front.bust-dart", start)
    grown = {name: value - angles(start)[name] for name, value in angles(after).items()}
    told = next(f.value for f in after.steps[-1].figures if f.unit == "°" and "wedge" in f.label)
    assert grown == pytest.approx({"bust-dart": told, "waist-dart": 0, "shoulder-dart": 0}, abs=0.001)


@pytest.mark.parametrize(("dart", "to"), [("waist-dart", "gathers"), ("shoulder-dart", "ease")])
def test_one_released_leaves_the_others(start: Pattern, dart: str, to: str) -> None:
    after = made(f"release front.{dart} --to={to}", start)
    kept = {name: value for name, value in angles(start).items() if name != dart}
    assert angles(after) == pytest.approx(kept, abs=0.001)
    for edge in start.piece("front").edges:
        assert sewn_length(after.piece("front").edge(edge.name)) == pytest.approx(sewn_length(edge), abs=0.01), (
            edge.name
        )


@pytest.mark.parametrize("more", ["", " front.bust-dart"])
def test_a_cut_along_two_of_them_says_what_to_do_with_the_third(start: Pattern, more: str) -> None:
    with pytest.raises(FlatcutError, match="ends in the same point") as caught:
        made(f"cut front.shoulder-dart front.waist-dart{more} --edge=princess", start)
    said = str(caught.value)
    assert "\n" not in said
    step = said.partition("first with: ")[2].partition(", or")[0]
    cut = "cut " + " ".join(f"front.{name}" for name in angles(made(step, start))) + " --edge=princess"
    after = made(f"{step}\n{cut}", start)
    assert len(after.pieces) == 3
    cloth = sum(abs(area(p)) for p in after.pieces if p.name != "back")
    assert cloth == pytest.approx(abs(area(start.piece("front"))), abs=1e-3)
    assert math.isclose(*(sewn_length(p.edge("princess")) for p in after.pieces if p.name != "back"), abs_tol=0.5)

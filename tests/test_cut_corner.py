"""Cuts along lines that meet in a corner: the new edges end there, as an outline's do; over a bend they go on."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.pattern.runs import show_run
from flatcut.pattern.values import Pattern
from flatcut.pattern.walking import drawn_length, sewn_length
from tests.seeding import made

START = "block skirt --size=bust-90\ndart skirt-front.waist-dart --remove\n"
LINES = (
    "line --start=skirt-front.centre@{}cm --end=at(skirt-front.centre/hem,skirt-front.side/waist,0.5,0) --name=yoke\n"
    "line --start=at(skirt-front.centre/hem,skirt-front.side/waist,0.5,0) --end=skirt-front.side@{}cm --name=panel\n"
)
CUT = "cut skirt-front.yoke skirt-front.panel --names=upper.waist,lower.hem"


def cut(one: float, two: float) -> Pattern:
    return made(START + LINES.format(one, two) + CUT)


def seams(pattern: Pattern) -> dict[str, float]:
    return {f"{show_run(pattern, s.a)} = {show_run(pattern, s.b)}": s.ease for s in pattern.seams}


@pytest.mark.parametrize(("one", "two"), [(15.0, 40.0), (25.0, 55.0)])
def test_a_corner_ends_the_edge_on_both_parts(one: float, two: float) -> None:
    pattern = cut(one, two)
    upper, lower = pattern.piece("upper"), pattern.piece("lower")
    new = [[e.name for e in p.edges if e.name in ("yoke", "panel")] for p in (upper, lower)]
    assert sorted(new[0]) == sorted(new[1]) == ["panel", "yoke"]
    for name in new[0]:
        assert drawn_length(upper.edge(name)) == pytest.approx(drawn_length(lower.edge(name)), abs=1e-6)
        assert len(upper.edge(name).parts[0]) == 1
        rows = [row for row in seams(pattern) if f"upper.{name} = " in row or row.endswith(f"upper.{name}")]
        assert len(rows) == 1
        assert f"lower.{name}" in rows[0]
    # the corner, where the two lines met
    ends = [{tuple(np.round(at, 6)) for e in new[0] for at in (p.edge(e).start, p.edge(e).end)} for p in (upper, lower)]
    assert ends[0] == ends[1]
    assert len(ends[0]) == 3
    assert sewn_length(upper.edge("yoke")) > 20


def test_a_bend_of_less_than_a_corner_stays_one_edge() -> None:
    """15° and less is no corner, as where outlines become pieces."""
    middle = made(START + LINES.format(20, 20)).piece("skirt-front")
    one, two = (next(line.curve for line in middle.lines if line.name == name) for name in ("yoke", "panel"))
    ways = [(c.end - c.start) / np.hypot(*(c.end - c.start)) for c in (one, two)]
    turn = np.degrees(np.arccos(np.clip(ways[0] @ ways[1], -1, 1)))
    pattern = cut(20, 20)
    count = sum(e.name in ("yoke", "panel") for e in pattern.piece("upper").edges)
    assert count == (2 if turn > 15 else 1)


def test_what_is_cut_so_is_sound() -> None:
    pattern = made(
        "edge upper.waist skirt-back.waist --use=finished\nallowance all\nlabel all --material=shell",
        cut(15, 40),
    )
    told = [f.text for f in run_checks(pattern) if f.check in ("seam-walk", "open-edges", "shape", "notches")]
    assert told == []


def test_with_a_name_for_the_new_edges_its_stretches_are_numbered() -> None:
    pattern = made(START + LINES.format(15, 40) + CUT + " --edge=style")
    for name in ("upper", "lower"):
        assert {e.name for e in pattern.piece(name).edges if e.name.startswith("style")} == {"style", "style-2"}

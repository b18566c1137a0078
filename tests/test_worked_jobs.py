"""Worked jobs in every size from bust 76 to 122: the same names in all, sound, and what a cutter would measure on them.

Tolerances: a plain seam walked, 0.5 mm aimed at; lines over a seam within 2 degrees (common practice, no source).
"""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from flatcut.checks.check import run_checks
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import tangent
from flatcut.geometry.nearest import nearest
from flatcut.pattern.runs import run_sewn
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.recipe import read_recipe, replay
from flatcut.tables import read_table
from tests.garments import ROW_A, drafted, garment, text_of

SAMPLES = Path(__file__).parents[1] / "samples" / "panels"
BODIES = {n: b for n, b in read_table((SAMPLES / "sizes.toml").read_text()).items() if isinstance(b, dict)}
SIZES = tuple(BODIES)


@cache
def made(recipe: str, size: str) -> Pattern:
    return replay(read_recipe((SAMPLES / f"{recipe}.recipe").read_text()), Pattern(body=BODIES[size]))


def names(pattern: Pattern) -> list[tuple[str, str, list[str]]]:
    return [(p.name, p.cut_as, sorted(p.names())) for p in pattern.pieces]


def ends(piece: Piece, edge: str) -> tuple[Array, Array]:
    """Unit directions of an edge away from its start and from its end."""
    parts = piece.edge(edge).parts
    return tangent(parts[0], 0.0), -tangent(parts[-1], float(len(parts[-1])), before=True)


def inside(piece: Piece, first: str, second: str) -> float:
    """Degrees inside a piece between an edge at its end and the one that follows it at its start."""
    a, b = ends(piece, first)[1], ends(piece, second)[0]
    return math.degrees(math.acos(float(np.clip(a @ b, -1, 1))))


@pytest.mark.parametrize("size", SIZES)
def test_a_front_in_one_piece_over_lower_panels(size: str) -> None:
    pattern = made("one-piece-front", size)
    assert names(pattern) == names(made("one-piece-front", SIZES[0]))
    assert run_checks(pattern) == []
    upper = pattern.piece("upper")
    lower = sum(sewn_length(pattern.piece(p).edge("style")) for p in ("low-centre", "low-side"))
    assert sewn_length(upper.edge("style")) == pytest.approx(lower, abs=0.5)
    for seam in pattern.seams:
        assert run_sewn(pattern, seam.a) + seam.ease == pytest.approx(run_sewn(pattern, seam.b), abs=0.5)
    # the dart that opens beyond the closed stretch: its point under the bust, its legs alike
    (dart,) = upper.darts
    assert upper.edge_of(dart.host).name == "cutaway"
    # the back's curve runs on over the side seam into the armhole of the front
    side = inside(pattern.piece("back-side"), "low-back", "side") + inside(upper, "side", "cutaway")
    assert side == pytest.approx(180, abs=2)
    middle = inside(pattern.piece("back-centre"), "low-back", "panel") + inside(
        pattern.piece("back-side"), "panel", "low-back"
    )
    assert middle == pytest.approx(180, abs=2)


@pytest.mark.parametrize("size", SIZES)
def test_a_yoke_with_the_rest_of_the_dart_gathered_below_it(size: str) -> None:
    pattern = made("gathered-yoke", size)
    assert names(pattern) == names(made("gathered-yoke", SIZES[0]))
    assert run_checks(pattern) == []
    yoke, front = pattern.piece("yoke"), pattern.piece("front")
    assert yoke.darts == ()
    assert [dart.name for dart in front.darts] == ["waist-dart"]
    (gathers,) = front.edge("yoke").takeups
    assert gathers.kind == "gathers"
    assert sewn_length(front.edge("yoke")) == pytest.approx(sewn_length(yoke.edge("yoke")), abs=0.5)
    assert drawn_length(front.edge("yoke")) - gathers.amount == pytest.approx(drawn_length(yoke.edge("yoke")), abs=0.5)
    # both seams of the front yoke's armhole with the front's are one smooth line
    both = inside(front, "armhole", "yoke") + inside(yoke, "yoke", "armhole")
    assert both == pytest.approx(180, abs=2)


@pytest.mark.parametrize("recipe", ["one-piece-front", "gathered-yoke"])
def test_what_stays_the_same_in_every_size(recipe: str) -> None:
    """Seams differ by the ease of the first size, matching notches agree, grain and folds keep their direction, and
    allowances their width (common practice for graded sets, no source; directions 0.01 degrees, lengths 0.5 mm).
    """
    first = made(recipe, SIZES[0])
    eases = [run_sewn(first, seam.b) - run_sewn(first, seam.a) for seam in first.seams]
    for size in SIZES[1:]:
        now = made(recipe, size)
        for seam, ease in zip(now.seams, eases, strict=True):
            assert run_sewn(now, seam.b) - run_sewn(now, seam.a) == pytest.approx(ease, abs=0.5), (size, seam)
        for old, new in zip(first.pieces, now.pieces, strict=True):
            assert [e.allowance for e in new.edges] == [e.allowance for e in old.edges], (size, new.name)
            assert old.grain is not None
            assert new.grain is not None
            assert way(old.grain.start, old.grain.end) == pytest.approx(way(new.grain.start, new.grain.end), abs=0.01)
            for edge in new.edges:
                if edge.use in ("fold", "centre"):
                    nodes = np.concatenate([part.nodes for part in edge.parts])
                    across = np.array([-np.sin(w := math.radians(way(new.grain.start, new.grain.end))), np.cos(w)])
                    assert np.ptp(nodes @ across) < 0.01, (size, new.name, edge.name)


def way(start: Array, end: Array) -> float:
    """Degrees from one place to another, as a line without a direction has them."""
    return math.degrees(math.atan2(*(end - start)[::-1])) % 180.0


def test_the_draped_front_takes_up_what_it_opened_and_keeps_its_folds_on_the_neck() -> None:
    """Taken up, the neck is as long as before it was opened; the swung pair is alike; the hem runs on over seams."""
    before = drafted(text_of("peplum-top").partition("# the dart goes to the neck")[0], ROW_A)
    after = garment("peplum-top")
    was, now = before.piece("upper").edge("neck"), after.piece("upper").edge("neck")
    assert sewn_length(now) == pytest.approx(sewn_length(was), abs=0.05)
    assert sorted(t.kind for t in now.takeups) == ["gathers", "pleat"]
    folds = [item.curve for item in after.piece("upper").lines if item.kind == "fold"]
    assert len(folds) == 2
    for fold in folds:
        assert min(float(nearest(part, fold.start)[1]) for part in now.parts) < 0.05
    lower = sum(sewn_length(after.piece(p).edge("style")) for p in ("low-centre", "low-side"))
    assert sewn_length(after.piece("upper").edge("style")) == pytest.approx(lower, abs=0.5)
    pair = [sewn_length(after.piece(p).edge("panel")) for p in ("back-centre", "back-side")]
    assert pair[0] == pytest.approx(pair[1], abs=0.5)
    for first, second in (("low-centre", "low-side"), ("back-side", "back-centre")):
        both = inside(after.piece(first), "hem", "panel") + inside(after.piece(second), "panel", "hem")
        assert both == pytest.approx(180, abs=2)

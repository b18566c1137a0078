"""`join X ~X`: a piece on the fold, or of a pair, laid open along an edge.

Judged by shapely: the whole is symmetric about the edge, twice as large, and its seams are twice as long.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from flatcut.darts.darting import angle
from flatcut.errors import FlatcutError
from flatcut.operations.operation import load
from flatcut.pattern.runs import run_sewn, show_run
from flatcut.pattern.values import Pattern, area
from flatcut.pattern.walking import drawn_length, sewn_length
from flatcut.reshape.cycle import with_edge
from tests.test_cut import made, shape
from tests.test_reshape_chains import furnished

OPEN = "join front.centre ~front.centre"


def mirrored(polygon: shapely.Polygon, p: np.ndarray, q: np.ndarray) -> shapely.Polygon:
    """Closed form of a reflection about the line through two points."""
    x, y = (q - p) / np.hypot(*(q - p))
    a, b = x * x - y * y, 2 * x * y
    dx, dy = p - np.array([[a, b], [b, -a]]) @ p
    return shapely.affinity.affine_transform(polygon, [a, b, b, -a, dx, dy])


def test_a_block_front_is_laid_open() -> None:
    start = made("block torso --size=bust-90\nallowance all --width=1cm")
    after = made(OPEN, start)
    half, whole = start.piece("front"), after.piece("front")
    fold = half.edge("centre")
    assert (whole.cut_as, whole.quantity) == ("single", 1)
    both = shapely.union_all([shape(half).buffer(1e-6), mirrored(shape(half), fold.start, fold.end).buffer(1e-6)])
    assert shape(whole).symmetric_difference(both).area < 1.0
    # what meets the fold is one edge now, twice as long; all else is there twice, as are the darts
    assert {e.name for e in whole.edges} == {
        "neck", "hip", "shoulder", "armhole", "side", "shoulder-2", "armhole-2", "side-2",
    }  # fmt: skip
    for name in ("neck", "hip"):
        assert sewn_length(whole.edge(name)) == pytest.approx(2 * sewn_length(half.edge(name)), abs=1e-6)
    for name in ("shoulder", "armhole", "side"):
        assert drawn_length(whole.edge(f"{name}-2")) == pytest.approx(drawn_length(half.edge(name)), abs=1e-6)
    angles = {d.name: angle(d) for d in whole.darts if not d.double}
    assert angles["bust-dart"] == pytest.approx(angles["bust-dart-2"], abs=1e-9)
    # the old centre is a line of its name, on the grain, and lines over it are one
    assert np.allclose([line.curve.start for line in whole.lines if line.name == "centre"], fold.start)
    assert sorted(line.name for line in whole.lines) == ["bust-line", "centre", "waist-line"]
    # both halves are sewn, the other one to the other half of the back, which stays on the fold
    told = {(show_run(after, s.a), show_run(after, s.b)) for s in after.seams}
    assert {("front.shoulder-2", "~back.shoulder"), ("front.side-2", "~back.side")} <= told
    for seam in after.seams:
        ways = next(s for s in start.seams if s.uid == seam.uid) if seam.uid in {s.uid for s in start.seams} else seam
        assert run_sewn(after, seam.a) == pytest.approx(run_sewn(after, ways.a), abs=1e-6)


def test_cut_along_the_centre_again_gives_both_halves() -> None:
    start = made("block torso --size=bust-90")
    after = made(f"{OPEN}\ncut front.centre --names=right.side,left.side-2", start)
    for name in ("right", "left"):
        assert abs(area(after.piece(name))) == pytest.approx(abs(area(start.piece("front"))), abs=1e-3)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(furnished(), st.data())
def test_any_piece_laid_open_is_symmetric(pattern: Pattern, data: st.DataObject) -> None:
    piece = pattern.pieces[0]
    edge = data.draw(st.sampled_from(piece.edges))
    piece = with_edge(piece, replace(edge, use="fold"))
    piece = replace(piece, cut_as="fold")
    pattern = pattern.with_piece(piece)
    try:
        after = load("join")(target=(f"front.{edge.name}", f"~front.{edge.name}"))(pattern)  # type: ignore[call-arg]
    except FlatcutError as error:
        event(f"refused: {str(error)[:50]}")
        return
    event("laid open")
    whole = after.pieces[0]
    start, end = edge.start, edge.end
    assert abs(area(whole)) == pytest.approx(2 * abs(area(piece)), rel=1e-6)
    if shape(whole).is_valid:
        assert shape(whole).symmetric_difference(mirrored(shape(whole), start, end)).area < 1.0
    assert len(whole.notches) >= 2 * len([n for n in piece.notches if n.edge != edge.uid])
    assert len(set(after.uids())) == len(list(after.uids()))
    names = [thing.name for thing in whole.things() if thing not in whole.lines]
    assert len(set(names)) == len(names)
    for seam in after.seams:
        if seam.uid in {s.uid for s in pattern.seams}:
            was = next(s for s in pattern.seams if s.uid == seam.uid)
            assert run_sewn(after, seam.a) == pytest.approx(run_sewn(pattern, was.a), abs=0.01)


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        (
            "label front --cut=single\nedge front.centre --use=seam\njoin front.side ~front.side",
            "bows|has no other half",
        ),
        ("join front.armhole ~front.armhole", r"front\.armhole bows [\d.]+ mm"),
        ("join front.centre@0..1/2 ~front.centre@0..1/2", "is a stretch; a piece is laid open along a whole edge"),
        ("join front.centre ~front.centre --name=back", "there is a piece 'back' already"),
    ],
)
def test_what_is_refused(steps: str, said: str) -> None:
    with pytest.raises(FlatcutError, match=said) as caught:
        made(f"block torso --size=bust-90\n{steps}")
    assert "\n" not in str(caught.value)

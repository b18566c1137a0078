"""Notches on what a cut makes: matching ones about the fullest point, and those that stood on the cut itself."""

from __future__ import annotations

import numpy as np
import pytest

from flatcut.pattern.spots import on_edge, spot
from flatcut.pattern.values import Pattern, Piece
from flatcut.pattern.walking import sewn_at, sewn_length
from flatcut.recipe import read_recipe, replay

DARTS = """block bodice --size=bust-90
pivot front.bust-dart --to=front.shoulder@1/2 --name=shoulder-dart
back-off front.waist-dart --to=front.bust-point
"""
CUT = "cut front.shoulder-dart front.waist-dart --edge=princess --names=front-centre.centre,front-side.side"
BACK = """line --start=back.shoulder-dart.point --end=back.waist-dart.point --name=bridge
cut back.shoulder-dart back.bridge back.waist-dart --edge=princess --names=back-centre.centre,back-side.side"""


def made(*steps: str) -> Pattern:
    return replay(read_recipe("\n".join(steps)), Pattern())


def places(piece: Piece, edge: str) -> list[float]:
    """Sewn mm of the notches on an edge, ascending."""
    on = piece.edge(edge)
    return sorted(sewn_at(on, n.at) for n in piece.notches if n.edge == on.uid)


@pytest.mark.parametrize("reach", [30, 80])
def test_matching_notches_stand_beyond_the_fullest_point_on_both_sides(reach: int) -> None:
    """So far above and below the bust point, counted along the seam, on both panels (closed form: lengths add up)."""
    plain, pattern = made(DARTS, CUT), made(DARTS, f"{CUT} --notches={reach}")
    at = spot(made(DARTS), "front.bust-point").point
    for name in ("front-centre", "front-side"):
        piece = pattern.piece(name)
        edge = piece.edge("princess")
        new = [
            p for p in places(piece, "princess") if min(abs(p - q) for q in places(plain.piece(name), "princess")) > 1
        ]
        assert len(new) == 2
        assert new[1] - new[0] == pytest.approx(2 * reach, abs=0.01)
        middle = on_edge(piece, edge, (new[0] + new[1]) / 2).point
        assert np.hypot(*(middle - at)) < 0.01
    one, other = (pattern.piece(name) for name in ("front-centre", "front-side"))
    total = sewn_length(other.edge("princess"))
    opposite = sorted(total - p for p in places(other, "princess"))
    assert places(one, "princess") == pytest.approx(opposite, abs=0.01)


def test_over_two_darts_that_lie_apart_they_stand_above_the_upper_and_below_the_lower() -> None:
    pattern = made("block bodice --size=bust-90", f"{BACK} --notches=2cm")
    before = made("block bodice --size=bust-90")
    piece = pattern.piece("back-centre")
    low, high = (places(piece, "princess")[k] for k in (0, -1))
    darts = [spot(before, f"back.{name}.point").point for name in ("shoulder-dart", "waist-dart")]
    ends = [on_edge(piece, piece.edge("princess"), at).point for at in (low + 20, high - 20)]
    away = [min(float(np.hypot(*(end - tip))) for tip in darts) for end in ends]
    assert max(away) < 0.05


def test_a_seam_without_a_fullest_point_and_one_that_ends_too_soon_are_told() -> None:
    plain = "line --start=skirt-front.side@1/2 --square=skirt-front.centre --name=across"
    pattern = made("block skirt --size=bust-90", plain, "cut skirt-front.across --notches=5cm")
    assert any("no matching notches; set them with notch" in said for said in pattern.steps[-1].warnings)
    far = made(DARTS, f"{CUT} --notches=20cm")
    assert any("ends less than 200 mm from its fullest point" in said for said in far.steps[-1].warnings)


def test_a_notch_on_the_cut_goes_to_the_corner_of_both_parts_and_is_one_again_when_they_are_joined() -> None:
    start = made(
        "block skirt --size=bust-90",
        "notch skirt-front.side@40%",
        "line --start=skirt-front.side@40% --square=skirt-front.centre --name=across",
    )
    cut = replay(read_recipe("cut skirt-front.across --edge=across --names=top.waist,low.hem"), start)
    at = spot(start, "skirt-front.side@40%").point
    for name in ("top", "low"):
        piece = cut.piece(name)
        near = [
            n
            for n in piece.notches
            if np.hypot(*(on_edge(piece, piece.edge_of(n.edge), sewn_at(piece.edge_of(n.edge), n.at)).point - at))
            < 0.01
        ]
        assert len(near) == 1, name
    again = replay(read_recipe("join top.across low.across --name=skirt-front --notches=false"), cut)
    assert places(again.piece("skirt-front"), "side") == pytest.approx(
        places(start.piece("skirt-front"), "side"), abs=0.01
    )

"""Drafts against worked figures of the trade, to the digits in which they are stated, and against closed forms.

Marks at each: (M) from memory, the source is named but was not verified; (T) common practice, no source; (C) exact.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from flatcut.blocks import bust_only, neck_and_across
from flatcut.blocks.bodice import draft_bodice
from flatcut.blocks.shoulders import back_shoulder, front_shoulder
from flatcut.blocks.skirt import draft_skirt, skirt_frame
from flatcut.blocks.sleeve import half_width, sleeve_frame
from flatcut.errors import GeometryError
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Piece
from flatcut.pattern.walking import sewn_length
from tests.bodies import read_sizes

BODIES = read_sizes((Path(__file__).parent / "data" / "trade_bodies.toml").read_text(encoding="utf-8"))
ROW_A = BODIES["A"]


def cm(point: object) -> np.ndarray:
    """A drafted point in the frame of the worked figures: cm, y up."""
    return np.asarray(point, dtype=float) / 10 * [1, -1]


def dart(piece: Piece, name: str) -> tuple[float, float, float]:
    """Both leg lengths in cm and the angle in degrees, from the drawn points alone."""
    (found,) = [d for d in piece.darts if d.name == name]
    a, b = found.legs[0].start - found.legs[0].end, found.legs[1].end - found.legs[1].start
    turn = abs(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b)))
    return float(np.linalg.norm(a)) / 10, float(np.linalg.norm(b)) / 10, math.degrees(turn)


def test_neck_and_across_row_a() -> None:
    # Aldrich's close-fitting block for 88-72-96, in own words (M). Otherwise than written, and so not held here: the
    # levels of the shoulder tips, since the shoulders keep one slope on every body, and the front neck point, which is
    # put level with the back's by `front_raise`.
    f = neck_and_across.frame(ROW_A, front_raise=0.0)
    assert f.half / 10 == pytest.approx(49, abs=1e-9)
    assert cm(f.nape) == pytest.approx([0, 21.5], abs=1e-9)
    assert -f.waist_y / 10 == pytest.approx(-19.5, abs=1e-9)
    assert -f.hip_y / 10 == pytest.approx(-40.1, abs=1e-9)
    assert cm(f.back_neck) == pytest.approx([7.2, 23.0], abs=1e-9)
    # the slope of the back as it comes out with the dart open: 22.17° as written
    parts, legs = back_shoulder(f.back_neck, f.back_shoulder, f.back_slope, blade=f.blade, dart=f.shoulder_dart)
    slope = math.degrees(math.atan2(*(cm(f.back_neck) - cm(parts[-1].end))[::-1] * [1, -1]))
    assert slope == pytest.approx(22.17, abs=0.5)
    # shoulder 12.25 and 1.0 of ease or dart
    assert f.back_shoulder / 10 == pytest.approx(12.25, abs=1e-9)
    assert float(np.linalg.norm(legs[0] - legs[2])) / 10 == pytest.approx(1.0, abs=1e-9)
    foot, tip, _ = front_shoulder(f.front_neck, 122.5, f.front_slope, bust_point=f.bust_point, dart=f.bust_angle)
    assert float(np.linalg.norm(cm(foot) - cm(tip))) == pytest.approx(12.25, abs=1e-9)
    assert f.across_back / 10 == pytest.approx(17.7, abs=1e-9)
    assert cm(f.pit) == pytest.approx([49, 15.8], abs=1e-9)
    assert cm(f.front_neck) == pytest.approx([42.3, 23.0], abs=1e-9)
    # the far foot as written is (35.3, 23): on the same ray, 0.95 mm farther out than the trued one
    away = cm(foot) - cm(f.bust_point)
    assert cm(f.bust_point) + away * 25.7890 / 25.6938 == pytest.approx([35.3, 23.0], abs=5e-4)
    assert cm(f.bust_point) == pytest.approx([39.15, -2.5], abs=1e-9)
    assert (f.half - f.bust_point[0]) / 10 == pytest.approx(9.85, abs=1e-9)
    assert (f.half - f.across_chest) / 10 == pytest.approx(19.7, abs=1e-9)
    assert float(np.linalg.norm(cm(f.front_neck) - cm(f.bust_point))) == pytest.approx(25.6938, abs=5e-5)
    assert math.degrees(f.bust_angle) == pytest.approx(15.6277, abs=5e-5)


def test_neck_and_across_trues_the_legs() -> None:
    _, front = draft_bodice(neck_and_across.frame(ROW_A, front_raise=0.0), Uids()).pieces
    first, second, angle = dart(front, "bust-dart")
    # the leg at the neck stays, the other, 0.95 mm longer as written, comes to its length; the angle stays
    assert (first, second) == pytest.approx((25.6938, 25.6938), abs=5e-5)
    assert abs(first - second) < 1e-9
    assert angle == pytest.approx(15.6277, abs=5e-5)
    assert sewn_length(front.edge("shoulder")) == pytest.approx(122.5, abs=1e-9)


# B, W, half, bust line, back and chest width, front height, N, depth, rise, bust angle, shoulder dart, front and back
# shoulder, waist (M)
BUST_ONLY = [
    (83, 64, 47.5, 20.617, 17.775, 16.575, 24.9, 6.858, 7.358, 2.353, 18.25, 1.794, 12.280, 14.074, 12.5),
    (84, 66, 48.0, 20.700, 17.900, 16.700, 25.1, 6.900, 7.400, 2.367, 18.50, 1.825, 12.370, 14.195, 12.0),
    (88, 72, 50.0, 21.033, 18.400, 17.200, 25.9, 7.067, 7.567, 2.422, 19.50, 1.950, 12.729, 14.679, 11.0),
]


@pytest.mark.parametrize("row", BUST_ONLY, ids=lambda row: f"{row[0]}-{row[1]}")
def test_bust_only_table(row: tuple[float, ...]) -> None:
    # Bunka textbook block (M)
    bust, waist, half, level, back_w, chest_w, front_h, n, depth, rise, theta, shoulder_dart, front, back, taken = row
    # these three alone: any other measurement goes before its proportion
    body = {"bust": bust * 10.0, "waist": waist * 10.0, "nape-to-waist": 380.0}
    f = bust_only.frame(body)
    neck, nape, snp, pit = cm(f.front_neck), cm(f.nape), cm(f.back_neck), cm(f.pit)
    found = [
        f.half / 10,
        nape[1],
        f.across_back / 10,
        (f.half - f.across_chest) / 10,
        neck[1],
        f.half / 10 - neck[0],
        neck[1] - pit[1],
        snp[1] - nape[1],
        f.front_shoulder / 10,
        (f.back_shoulder + f.shoulder_dart) / 10,
        (f.half - f.waist) / 10,
    ]
    want = [half, level, back_w, chest_w, front_h, n, depth, rise, front, back, taken]
    assert found == pytest.approx(want, abs=5e-4)
    assert found[9] - found[8] == pytest.approx(shoulder_dart, abs=1e-3)
    # slope of the front shoulder 22°; the back's 18°, as drawn with its dart open, gives way to one slope as sewn
    assert math.degrees(f.front_slope) == pytest.approx(22.0, abs=1e-9)
    assert snp[0] == pytest.approx(n + 0.2, abs=5e-4)
    assert math.degrees(f.bust_angle) == pytest.approx(theta, abs=5e-3)
    piece_back, piece_front = draft_bodice(f, Uids()).pieces
    first, second, drawn = dart(piece_front, "bust-dart")
    assert drawn == pytest.approx(theta, abs=5e-3)
    assert abs(first - second) < 1e-9
    (cut,) = [d for d in piece_back.darts if d.name == "shoulder-dart"]
    assert float(np.linalg.norm(cut.feet[1] - cut.feet[0])) / 10 == pytest.approx(shoulder_dart, abs=1e-3)
    assert sewn_length(piece_back.edge("shoulder")) / 10 == pytest.approx(front, abs=5e-4)
    # the bust point: middle of the chest line, 0.7 toward the side
    assert (f.half - f.bust_point[0]) / 10 == pytest.approx(chest_w / 2 + 0.7, abs=1e-9)


def test_bust_only_shares_of_the_waist() -> None:
    body = {"bust": 880.0, "waist": 720.0, "nape-to-waist": 410.0}
    f = bust_only.frame(body, back_darts=2, front_darts=2)
    # 88-72: f 0.77, e 1.98, d 3.85, c 1.21, b 1.65, a 1.54 (M)
    e, d = (w.intake / 10 for w in f.back_darts)
    a, b = (w.intake / 10 for w in f.front_darts)
    shares = [f.back_shaping / 10, e, d, 2 * f.side_shaping / 10, b, a]
    assert shares == pytest.approx([0.77, 1.98, 3.85, 1.21, 1.65, 1.54], abs=1e-9)
    back, front = draft_bodice(f, Uids()).pieces
    drawn = [
        float(np.linalg.norm(w.feet[1] - w.feet[0])) / 10 for p in (back, front) for w in p.darts if "waist" in w.name
    ]
    # what d has over 3.2 cm goes into the side edges
    assert sorted(drawn) == pytest.approx(sorted([1.98, 3.2, 1.65, 1.54]), abs=1e-6)
    # one dart takes the shares of two
    one = bust_only.frame(body)
    assert [w.intake / 10 for w in (*one.back_darts, *one.front_darts)] == pytest.approx([5.83, 3.19], abs=1e-9)


def test_bust_only_warns_beyond_its_table() -> None:
    long = bust_only.frame({"bust": 1220.0, "waist": 1000.0, "nape-to-waist": 430.0})
    assert long.front_shoulder / 10 == pytest.approx(15.8, abs=0.05)
    assert "104 cm" in long.warnings[0]
    assert "measure across-back, across-chest, neck, scye-depth, shoulder" in long.warnings[0]
    assert not bust_only.frame({"bust": 1040.0, "waist": 800.0, "nape-to-waist": 430.0}).warnings
    # measured, none of it is in proportion
    assert not bust_only.frame({**BODIES["A"], "bust": 1060.0, "shoulder": 130.0}).warnings


BALANCE = {"front-waist-length": 445.0, "neck-to-bust": 275.0}


@pytest.mark.parametrize("method", [neck_and_across, bust_only], ids=lambda m: m.__name__.split(".")[-1])
def test_the_front_is_as_long_over_the_bust_as_measured(method: ModuleType) -> None:
    _, front = draft_bodice(method.frame({**ROW_A, **BALANCE}), Uids()).pieces
    (point,) = [p.at for p in front.points if p.name == "bust-point"]
    neck, waist = front.edge("neck").start, front.edge("centre").end[1]
    assert float(np.linalg.norm(neck - point)) == pytest.approx(275.0, abs=1e-6)
    assert 275.0 + waist - point[1] == pytest.approx(445.0, abs=1e-6)
    # a front longer over the bust has a wider dart, and the armhole keeps its depth
    angles, depths = [], []
    for more in (0.0, 10.0, 20.0):
        f = method.frame({**ROW_A, "front-waist-length": 445.0 + more, "neck-to-bust": 275.0 + more})
        angles.append(math.degrees(f.bust_angle))
        _, front = draft_bodice(f, Uids()).pieces
        (point,) = [p.at for p in front.points if p.name == "bust-point"]
        hole = front.edge("armhole")
        # from tip to underarm; where the dart opens on the armhole it is closed about the bust point first
        tail = hole.parts[0].start - point
        turn = f.bust_angle if method is bust_only else 0.0
        closed = point[1] + math.sin(turn) * tail[0] + math.cos(turn) * tail[1]
        depths.append(float(closed - hole.parts[-1].end[1]))
    assert angles[0] + 1 < angles[1] < angles[2] - 1
    assert np.ptp(depths) < 1.0, depths


def test_balance_that_no_body_has_is_refused() -> None:
    for body, said in (
        ({"front-waist-length": 445.0, "neck-to-bust": 230.0}, "put the bust point"),
        ({"neck-to-bust": 340.0}, "front neck point .* above that of the back"),
        ({"front-waist-length": 400.0}, "front neck point .* below that of the back|so short over the bust"),
    ):
        with pytest.raises(GeometryError, match=said):
            neck_and_across.frame({**ROW_A, **body})


def test_what_the_method_sets_is_told() -> None:
    told = dict(bust_only.frame({"bust": 880.0, "waist": 720.0, "nape-to-waist": 410.0}).told)
    assert all(name.endswith(", by the bust") for name in told)
    assert {name.removesuffix(", by the bust") for name in told} == {
        "scye-depth", "neck", "shoulder", "across-back", "across-chest", "bust-span", "front-waist-length",
        "neck-to-bust",
    }  # fmt: skip
    measured = dict(bust_only.frame({**ROW_A, **BALANCE}).told)
    assert measured["neck"] == pytest.approx(370.0)
    assert measured["across-back"] == pytest.approx(344.0)
    assert measured["front-waist-length"] == pytest.approx(445.0)


def test_skirt_row_a() -> None:
    # common practice, no source (T); sums exact (C)
    f = skirt_frame(ROW_A, length=585.0, back_darts=2, front_darts=2)
    assert (f.half / 10, f.waist / 10) == pytest.approx((49, 36.5), abs=1e-9)
    assert (f.half - f.waist) / 10 == pytest.approx(12.5, abs=1e-9)
    assert (sum(f.back) / 10, sum(f.front) / 10, f.taken / 10) == pytest.approx((4.0, 3.5, 2.5), abs=1e-9)
    back, front = draft_skirt(f, Uids()).pieces
    for piece, total in ((back, 4.0), (front, 3.5)):
        drawn = sum(float(np.linalg.norm(d.feet[1] - d.feet[0])) for d in piece.darts)
        assert drawn / 10 == pytest.approx(total, abs=1e-6)
    centre, side = front.edge("centre").start, front.edge("waist").start
    assert 10.0 <= centre[1] - side[1] <= 12.5  # waist raised 1.0 to 1.25 at the side
    drop = back.edge("centre").end[1] - centre[1]
    assert 6.0 <= drop <= 10.0  # centre back dropped 0.6 to 1
    assert (f.half - f.waist) / 10 == pytest.approx(4.0 + 3.5 + 2 * 2.5, abs=1e-9)
    # the hip line lies 20 to 21 below the waist, 20.6 for this body
    (hip,) = [line.curve for line in front.lines if line.name == "hip-line"]
    assert (hip.start[1] - centre[1]) / 10 == pytest.approx(20.6, abs=1e-9)
    assert (front.edge("hem").start[1] - centre[1]) / 10 == pytest.approx(58.5, abs=1e-9)
    # the waist seam rises, so it is a little longer than wide; each side edge takes that on
    shaped = front.edge("side").end[0] - front.edge("side").start[0]
    assert 25.0 <= shaped <= 26.2


def test_straight_lined_cap() -> None:
    # front armhole 20.5, back 21.5, height 14: half widths 14.9750 and 16.3172, bicep 31.2921 (C)
    front, back = half_width(20.5, 14), half_width(21.5, 14)
    assert (front, back, front + back) == pytest.approx((14.9750, 16.3172, 31.2921), abs=5e-5)


def test_cap_height_is_a_third_of_the_armhole() -> None:
    # (M, Bunka, as a round figure) where the arm leaves room for it
    slim = {**ROW_A, "top-arm": 230.0}
    f = sleeve_frame(slim, back_armhole=215.0, front_armhole=205.0)
    assert f.height == pytest.approx(140.0, abs=1e-9)
    assert not f.warnings

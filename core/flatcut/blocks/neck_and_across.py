"""The method 'neck-and-across': a frame from bust, neck, shoulder, scye depth and the widths across back and chest.

The proportions are those of a European close-fitting block as the trade teaches it (Aldrich, Metric Pattern Cutting for
Women's Wear; from memory, in own words, checked against worked figures for one body only). The method as known here is
partial. Own choices, common practice without a source: where the side seam stands, the split of the waist (30 % back
darts, 30 % front darts, 20 % each side edge), position and height of the waist darts, the back shoulder dart for the
extra centimetre of the back shoulder, the levels of the width lines, all curves.

Made true here: the legs of the bust dart, which the method leaves unequal by about a millimetre. The neck point and the
bust point stay, the far foot moves along its leg, and the shoulder is drawn anew from there at its measured length.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from flatcut.blocks.fairing import angle
from flatcut.blocks.frame import TWO_DARTS, Frame, WaistDart
from flatcut.errors import GeometryError
from flatcut.units import show

NEEDED = ("bust", "waist", "nape-to-waist", "scye-depth", "neck", "shoulder", "across-back", "across-chest")
BUST_EASE, WAIST_EASE, HIP_EASE = 100.0, 60.0, 50.0
"""mm over the whole girth (Aldrich's close-fitting block, from memory; hip 4 to 6 cm)."""
BACK_SHARE, FRONT_SHARE = 0.3, 0.3
"""Parts of the waist suppression that go into back and front darts; the rest goes to the two side edges."""
SCYE_EASE, ACROSS_EASE, SHOULDER_EASE = 5.0, 5.0, 10.0
"""mm: on scye depth, on half the back width, and on the back shoulder, where the dart takes it up again."""
BELOW_BUST = 25.0
"""mm: the bust point below the underarm line, and the front waist dart's point below the bust point."""
LEAST_BEYOND = 3.0
"""mm of the shoulder tips beyond the width lines: with less there is no armhole to draw."""
BLADE = 80.0
"""mm from the middle of the back shoulder to the point of its dart (common practice 7 to 9 cm, no source)."""


def bust_dart_width(bust: float) -> float:
    """mm of the bust dart where it opens at the shoulder: 7 cm at bust 88, then 6 mm for each 4 cm of bust, from bust
    104 on for each 6 cm (textbook table, from memory).

    >>> bust_dart_width(880.0), round(bust_dart_width(920.0), 3)
    (70.0, 76.0)
    """
    return 70.0 + 0.15 * (min(bust, 1040.0) - 880.0) + 0.1 * max(0.0, bust - 1040.0)


def frame(
    body: Mapping[str, float],
    *,
    bust_ease: float = BUST_EASE,
    waist_ease: float = WAIST_EASE,
    hip_ease: float = HIP_EASE,
    bust_dart: float | None = None,
    front_raise: float = 0.0,
) -> Frame:
    """The frame for a body (mm, keys as in NEEDED; 'bust-span', 'hip' and 'waist-to-hip' where known).

    front_raise: lifts the front neck point and shoulder. As written they lie level with the back's; a fuller or more
    upright figure wants 1 to 2 cm. Errors: GeometryError for measurements that cannot belong to one body.
    """
    bust, neck, shoulder, scye = body["bust"], body["neck"], body["shoulder"], body["scye-depth"]
    half = (bust + bust_ease) / 2
    nape_y = -(scye + SCYE_EASE)
    waist_y = nape_y + body["nape-to-waist"]
    back_neck = np.array([neck / 5 - 2, nape_y - 15])
    tip_y = nape_y + scye / 5 - 7
    back_tip = back_neck + _slanted(shoulder + SHOULDER_EASE, tip_y - back_neck[1])
    width = bust_dart_width(bust) if bust_dart is None else bust_dart
    across_chest = half - (body["across-chest"] + width) / 2
    front_neck = np.array([half - (neck / 5 - 7), back_neck[1] - front_raise])
    far_foot = front_neck - [width, 0.0]
    chest_half = half - across_chest
    from_front = body["bust-span"] / 2 if "bust-span" in body else chest_half / 2
    bust_point = np.array([half - from_front, BELOW_BUST])
    theta = abs(angle(front_neck - bust_point, far_foot - bust_point))
    front_tip_y = tip_y + 15 - front_raise
    front_tip = far_foot + _slanted(shoulder, front_tip_y - far_foot[1]) * [-1, 1]
    across_back = body["across-back"] / 2 + ACROSS_EASE
    if across_chest - across_back < 70:
        raise GeometryError(
            f"across-back {show(body['across-back'], 'cm')} and across-chest {show(body['across-chest'], 'cm')} leave"
            f" no room for the arm at bust {show(bust, 'cm')}"
        )
    if back_tip[0] - across_back < LEAST_BEYOND or across_chest - front_tip[0] < LEAST_BEYOND:
        raise GeometryError(
            f"shoulder {show(shoulder, 'cm')} does not reach beyond across-back {show(body['across-back'], 'cm')} and"
            f" across-chest {show(body['across-chest'], 'cm')}"
        )
    middle = (across_back + across_chest) / 2
    side = min(max(half / 2 - 5, middle - 5), middle + 5)
    waist = (body["waist"] + waist_ease) / 2
    taken = half - waist
    blade = (back_neck + back_tip) / 2 + BLADE * np.array([-0.14, 0.99])
    back, front = max(0.0, BACK_SHARE * taken), max(0.0, FRONT_SHARE * taken)
    hip = (body["hip"] + hip_ease) / 2 if "hip" in body else math.nan
    return Frame(
        half=half,
        side=side,
        bust_y=BELOW_BUST,
        waist_y=waist_y,
        hip_y=waist_y + body.get("waist-to-hip", math.nan),
        waist=waist,
        hip=hip,
        nape=np.array([0.0, nape_y]),
        back_neck=back_neck,
        back_tip=back_tip,
        back_shoulder=shoulder,
        blade=blade,
        across_back=across_back,
        front_neck=front_neck,
        pit=np.array([half, front_neck[1] + front_raise + neck / 5 - 2]),
        front_tip=front_tip,
        front_shoulder=shoulder,
        across_chest=across_chest,
        bust_point=bust_point,
        bust_angle=theta,
        bust_on="shoulder",
        far_foot=far_foot,
        back_shaping=0.0,
        side_shaping=(taken - back - front) / 2,
        back_darts=_darts(
            back, (0.5 * across_back, 0.42 * across_back, 0.85 * across_back), BELOW_BUST + 5, waist_y, (130, 110)
        ),
        front_darts=_darts(
            front,
            (bust_point[0], bust_point[0], bust_point[0] - 0.5 * (bust_point[0] - side)),
            bust_point[1] + BELOW_BUST,
            waist_y,
            (95, 90),
        ),
    )


def _darts(
    total: float, at: tuple[float, float, float], top: float, waist_y: float, below: tuple[float, float]
) -> tuple[WaistDart, ...]:
    """One dart at the first place, or where it would be too large two at the other places, nearer the centre first."""
    if total < 1.0:
        return ()
    if total <= TWO_DARTS:
        return (WaistDart(name="waist-dart", x=at[0], top=top, bottom=waist_y + below[0], intake=total),)
    return (
        WaistDart(name="waist-dart", x=at[1], top=top, bottom=waist_y + below[0], intake=0.6 * total),
        WaistDart(name="waist-dart-2", x=at[2], top=top + 20, bottom=waist_y + below[1], intake=0.4 * total),
    )


def _slanted(length: float, drop: float) -> np.ndarray:
    """A straight line of that length falling by `drop`, to the right."""
    if abs(drop) >= 0.9 * length:
        raise GeometryError(f"a shoulder of {show(length, 'cm')} cannot fall by {show(drop, 'cm')}")
    return np.array([math.sqrt(length * length - drop * drop), drop])

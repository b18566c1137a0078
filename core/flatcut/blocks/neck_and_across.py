"""The method 'neck-and-across': a frame from bust, neck, shoulder, scye depth and the widths across back and chest.

The proportions are those of a European close-fitting block as the trade teaches it (Aldrich, Metric Pattern Cutting for
Women's Wear; from memory, in own words, checked against worked figures for one body only). The method as known here is
partial. Own choices, common practice without a source: where the side seam stands, the split of the waist (30 % back
darts, 30 % front darts, 20 % each side edge), position and height of the waist darts, the back shoulder dart for the
extra centimetre of the back shoulder, the levels of the width lines, all curves.

Otherwise than the method is written: the shoulders have one slope on every body, darts closed, where the method sets
levels of the tips, which lets the front shoulder run ever flatter as the bust dart opens; the front neck point lies
higher than the back's, by what is measured over the bust or by the bust, where the method has them level; and the legs
of the bust dart, which the method leaves unequal by about a millimetre, are made true.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from flatcut.blocks.balance import bust_level, by_itself, neck_point
from flatcut.blocks.fairing import angle
from flatcut.blocks.frame import Frame, waist_darts
from flatcut.blocks.shoulders import back_shoulder, dart_to_level, front_shoulder
from flatcut.errors import GeometryError
from flatcut.units import show

NEEDED = ("bust", "waist", "nape-to-waist", "scye-depth", "neck", "shoulder", "across-back", "across-chest")
BUST_EASE, WAIST_EASE, HIP_EASE = 100.0, 60.0, 50.0
"""mm over the whole girth (Aldrich's close-fitting block, from memory; hip 4 to 6 cm)."""
BACK_SHARE, FRONT_SHARE = 0.3, 0.3
"""Parts of the waist suppression that go into back and front darts; the rest goes to the two side edges."""
SCYE_EASE, ACROSS_EASE, SHOULDER_EASE = 5.0, 5.0, 10.0
"""mm: on scye depth, on half the back width, and on the back shoulder, where the dart takes it up again."""
BACK_SLOPE, FRONT_SLOPE = math.radians(19.5), math.radians(20)
"""Of the shoulders below level, darts closed (common practice 16 to 22° and 18 to 24°, no source): the back's is what
the method comes to for the body of its worked figures."""
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


def usual_raise(bust: float) -> float:
    """mm of the front neck point over the back's where it is not measured: the fuller, the longer over the bust.

    So that the front tip comes to the level at which both armholes are deep alike, whatever the bust dart; 1 to 4 cm
    (common practice, no source).

    >>> usual_raise(780.0), usual_raise(920.0)
    (10.0, 13.6)
    """
    return min(40.0, max(10.0, 12.5 + 0.055 * (bust - 900.0)))


def frame(
    body: Mapping[str, float],
    *,
    bust_ease: float = BUST_EASE,
    waist_ease: float = WAIST_EASE,
    hip_ease: float = HIP_EASE,
    bust_dart: float | None = None,
    front_raise: float | None = None,
    slope: float | None = None,
    back_darts: int = 1,
    front_darts: int = 1,
) -> Frame:
    """The frame for a body (mm, keys as in NEEDED; 'bust-span', 'front-waist-length', 'neck-to-bust', 'hip' and
    'waist-to-hip' where known).

    bust_dart: its width at the shoulder; front_raise: of the front neck point over the back's; slope: of the shoulders,
    radians. Left out, they follow from the body. Errors: GeometryError for measurements that cannot belong to one body.
    """
    bust, neck, shoulder, scye = body["bust"], body["neck"], body["shoulder"], body["scye-depth"]
    half = (bust + bust_ease) / 2
    nape_y = -(scye + SCYE_EASE)
    waist_y = nape_y + body["nape-to-waist"]
    back_slope, front_slope = (BACK_SLOPE, FRONT_SLOPE) if slope is None else (slope, slope)
    back_neck = np.array([neck / 5 - 2, nape_y - 15])
    middle = back_neck + shoulder / 2 * np.array([math.cos(back_slope), math.sin(back_slope)])
    blade = middle + BLADE * np.array([-0.14, 0.99])
    # the front as a table sets it: its tip's level stands, whatever the body's own balance is
    usual_dart = bust_dart_width(bust) if bust_dart is None else bust_dart
    chest_half = (body["across-chest"] + usual_dart) / 2
    from_front = body["bust-span"] / 2 if "bust-span" in body else chest_half / 2
    neck_x = half - (neck / 5 - 7)
    usual_point = np.array([half - from_front, BELOW_BUST])
    usual_neck = np.array([neck_x, back_neck[1] - usual_raise(bust)])
    bust_point = np.array([half - from_front, bust_level(body, waist_y, BELOW_BUST)])
    front_neck = neck_point(body, neck_x, bust_point, waist_y, float(back_neck[1]))
    measured = front_neck is not None
    if front_raise is not None:
        front_neck = np.array([neck_x, back_neck[1] - front_raise])
    elif front_neck is None:
        front_neck = usual_neck
    theta = _angle(front_neck, bust_point, usual_dart)
    if measured and bust_dart is None:
        usual = _angle(usual_neck, usual_point, usual_dart)
        _, tip, _ = front_shoulder(usual_neck, shoulder, front_slope, bust_point=usual_point, dart=usual)
        theta = dart_to_level(front_neck, shoulder, front_slope, bust_point=bust_point, level=float(tip[1]))
    width = 2 * math.sin(theta / 2) * float(np.linalg.norm(front_neck - bust_point))
    across_chest = half - (body["across-chest"] + (width if measured else usual_dart)) / 2
    across_back = body["across-back"] / 2 + ACROSS_EASE
    if across_chest - across_back < 70:
        raise GeometryError(
            f"across-back {show(body['across-back'], 'cm')} and across-chest {show(body['across-chest'], 'cm')} leave"
            f" no room for the arm at bust {show(bust, 'cm')}"
        )
    parts, _ = back_shoulder(back_neck, shoulder, back_slope, blade=blade, dart=SHOULDER_EASE)
    _, front_tip, _ = front_shoulder(front_neck, shoulder, front_slope, bust_point=bust_point, dart=theta)
    if parts[-1].end[0] - across_back < LEAST_BEYOND or across_chest - front_tip[0] < LEAST_BEYOND:
        raise GeometryError(
            f"shoulder {show(shoulder, 'cm')} does not reach beyond across-back {show(body['across-back'], 'cm')} and"
            f" across-chest {show(body['across-chest'], 'cm')}"
        )
    middle_x = (across_back + across_chest) / 2
    side = min(max(half / 2 - 5, middle_x - 5), middle_x + 5)
    waist = (body["waist"] + waist_ease) / 2
    taken = half - waist
    back, front = max(0.0, BACK_SHARE * taken), max(0.0, FRONT_SHARE * taken)
    made = Frame(
        half=half,
        side=side,
        bust_y=float(bust_point[1]),
        waist_y=waist_y,
        hip_y=waist_y + body.get("waist-to-hip", math.nan),
        waist=waist,
        hip=(body["hip"] + hip_ease) / 2 if "hip" in body else math.nan,
        nape=np.array([0.0, nape_y]),
        back_neck=back_neck,
        back_shoulder=shoulder,
        back_slope=back_slope,
        shoulder_dart=SHOULDER_EASE,
        blade=blade,
        across_back=across_back,
        front_neck=front_neck,
        pit=np.array([half, front_neck[1] + neck / 5 - 2]),
        front_shoulder=shoulder,
        front_slope=front_slope,
        across_chest=across_chest,
        bust_point=bust_point,
        bust_angle=theta,
        bust_on="shoulder",
        back_shaping=0.0,
        side_shaping=(taken - back - front) / 2,
        back_darts=waist_darts(
            0.5 * across_back,
            float(bust_point[1]) + 5,
            waist_y + 130,
            _split(back, back_darts),
            second=0.85 * across_back,
        ),
        front_darts=waist_darts(
            float(bust_point[0]),
            float(bust_point[1]) + BELOW_BUST,
            waist_y + 95,
            _split(front, front_darts),
            second=side,
        ),
    )
    told = by_itself(
        body,
        bust_span=2 * from_front,
        front_waist_length=made.front_waist_length,
        neck_to_bust=made.neck_to_bust,
    )
    return replace(made, told=told)


def _angle(neck: np.ndarray, bust_point: np.ndarray, width: float) -> float:
    """Radians of a dart that opens by `width` along the level of the neck point."""
    return abs(angle(neck - bust_point, neck - [width, 0.0] - bust_point))


def _split(total: float, count: int) -> tuple[float, ...]:
    """What each dart takes, nearer the centre first."""
    return (total,) if count == 1 else (0.6 * total, 0.4 * total)

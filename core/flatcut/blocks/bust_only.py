"""The method 'bust-only': a whole frame from bust, waist and nape to waist, all else in proportion to the bust.

The proportions are those of a block taught in Japanese schools (Bunka textbook; from memory, in own words, checked
against worked figures for three bodies; the published table ends near bust 104). Own choices, common practice without
a source: where the side seam stands and where on the armhole its dart opens, points and places of the waist darts, the
shaped centre back from the bust line down, all curves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from flatcut.blocks.balance import bust_level, by_itself, neck_point
from flatcut.blocks.fairing import about
from flatcut.blocks.frame import Frame, waist_darts
from flatcut.blocks.shoulders import solved
from flatcut.units import show

NEEDED = ("bust", "waist", "nape-to-waist")
BUST_EASE, WAIST_EASE, HIP_EASE = 120.0, 60.0, 50.0
"""mm over the whole girth (bust and waist: the method's own, from memory; hip: common practice, no source)."""
FRONT_SLOPE, BACK_SLOPE = math.radians(22), math.radians(16.5)
"""Of the shoulders below level, darts closed. The method has the back's 18° as drawn with its dart open, which lets the
sewn shoulder run at 7 to 12°, flatter with every size."""
APART = (FRONT_SLOPE - BACK_SLOPE) / 2
"""How much steeper the front is, and the back flatter, than the measured slope of a shoulder."""
SCYE_EASE, BACK_EASE, CHEST_EASE, NECK_LESS = 5.0, 12.0, 10.0, 3.3
"""mm on scye depth, half the back, half the chest and off a fifth of the neck: measured figures used in place of the
proportions come to the same on a body of even proportions (own choice)."""
MOST_SHOULDER_DART, MOST_EASE = 20.0, 5.0
"""mm: what the back shoulder has more than this goes half into ease of the shoulder seam, up to the second figure, and
otherwise into the armhole, which is not taken in by it (common practice, no source)."""
MOST_RAISE = 40.0
"""mm of the front neck point over the back's where it is not measured: the method's own figure grows without end."""
LEAST_BEYOND = 12.0
"""mm of the front shoulder tip beyond the chest line: else the armhole would hook; the chest gives up ease."""
USED = frozenset({"shoulder", "across-back", "across-chest", "neck", "scye-depth"})
"""Measurements in place of which there are proportions that end with the table."""
TABLE_ENDS = 1040.0
"""mm of bust: beyond the published table shoulders and armholes grow too long."""
CENTRE, BACK, BACK_SIDE, SIDE, FRONT_SIDE, FRONT = 0.07, 0.18, 0.35, 0.11, 0.15, 0.14
"""Shares of the waist suppression from centre back to centre front; together 1."""


def frame(
    body: Mapping[str, float],
    *,
    bust_ease: float = BUST_EASE,
    waist_ease: float = WAIST_EASE,
    hip_ease: float = HIP_EASE,
    slope: float | None = None,
    back_darts: int = 1,
    front_darts: int = 1,
) -> Frame:
    """The frame for a body (mm, keys as in NEEDED; every other measurement of the upper body is used where it is known,
    in place of the proportion).

    slope: of the shoulders, radians. Errors: GeometryError for measurements that cannot belong to one body.
    """
    bust = body["bust"]
    half = (bust + bust_ease) / 2
    usual_nape = -(bust / 12 + 137)
    nape_y = -(body["scye-depth"] + SCYE_EASE) if "scye-depth" in body else usual_nape
    waist_y = nape_y + body["nape-to-waist"]
    across_back = body["across-back"] / 2 + BACK_EASE if "across-back" in body else bust / 8 + 74
    usual_chest = body["across-chest"] / 2 + CHEST_EASE if "across-chest" in body else bust / 8 + 62
    neck_width = body["neck"] / 5 - NECK_LESS if "neck" in body else bust / 24 + 34
    back_slope, front_slope = (BACK_SLOPE, FRONT_SLOPE) if slope is None else (slope - APART, slope + APART)
    back_neck = np.array([neck_width + 2, nape_y - (neck_width + 2) / 3])
    shoulder = body.get("shoulder", (usual_chest - neck_width) / math.cos(FRONT_SLOPE) + 18)
    reach = neck_width + shoulder * math.cos(front_slope) - LEAST_BEYOND
    chest = min(usual_chest, reach)
    extra = bust / 32 - 8
    dart = min(extra, MOST_SHOULDER_DART)
    across_chest = half - chest
    bust_x = half - (body["bust-span"] / 2 if "bust-span" in body else chest / 2 + 7)
    side = (across_back + across_chest - bust / 32) / 2
    # the front as the method sets it: its armhole keeps its depth, whatever the body's own balance is
    raised = min(back_neck[1] + bust / 5 + 83 - nape_y + usual_nape, MOST_RAISE)
    usual_neck = np.array([half - neck_width, back_neck[1] - raised])
    usual_dart = math.radians(bust / 40 - 2.5)
    bust_point = np.array([bust_x, bust_level(body, waist_y, 0.0)])
    front_neck = neck_point(body, half - neck_width, bust_point, waist_y, float(back_neck[1]))
    theta = usual_dart
    if front_neck is None:
        front_neck = usual_neck
    else:
        theta = _dart_to_depth(side, bust_point, float(front_neck[1] - usual_neck[1]), usual_dart)
    waist = (body["waist"] + waist_ease) / 2
    taken = max(0.0, half - waist)
    warnings: tuple[str, ...] = ()
    if 2 * chest < body.get("across-chest", 0.0):
        warnings += (
            f"the chest is {show(2 * chest, 'cm')} wide and not {show(body['across-chest'], 'cm')}, since a shoulder of"
            f" {show(shoulder, 'cm')} does not reach farther; check shoulder and across-chest",
        )
    if bust > TABLE_ENDS and not set(body) >= USED:
        warnings += (
            f"bust {show(bust, 'cm')} lies beyond the method's table, which ends at {show(TABLE_ENDS, 'cm')};"
            f" what is in proportion to it comes out long, so measure {', '.join(sorted(USED - set(body)))}",
        )
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
        back_shoulder=shoulder + min(MOST_EASE, (extra - dart) / 2),
        back_slope=back_slope,
        shoulder_dart=dart,
        blade=np.array([across_back / 2 + 10, nape_y + 80]),
        across_back=across_back,
        front_neck=front_neck,
        pit=np.array([half, front_neck[1] + neck_width + 5]),
        front_shoulder=shoulder,
        front_slope=front_slope,
        across_chest=across_chest,
        bust_point=bust_point,
        bust_angle=theta,
        bust_on="armhole",
        back_shaping=CENTRE * taken,
        side_shaping=SIDE * taken / 2,
        back_darts=waist_darts(
            across_back / 2,
            float(bust_point[1]) + 5,
            waist_y + 130,
            _split(taken, (BACK, BACK_SIDE), back_darts),
            second=across_back,
        ),
        front_darts=waist_darts(
            bust_x,
            float(bust_point[1]) + 25,
            waist_y + 95,
            _split(taken, (FRONT, FRONT_SIDE), front_darts),
            second=side,
        ),
        warnings=warnings,
    )
    told = by_itself(
        body,
        scye_depth=-nape_y - SCYE_EASE,
        neck=5 * (neck_width + NECK_LESS),
        shoulder=shoulder,
        across_back=2 * (across_back - BACK_EASE),
        across_chest=2 * (usual_chest - CHEST_EASE),
        bust_span=2 * (half - bust_x),
        front_waist_length=made.front_waist_length,
        neck_to_bust=made.neck_to_bust,
    )
    return replace(made, told=told)


def _dart_to_depth(side: float, bust_point: np.ndarray, lower: float, usual: float) -> float:
    """Radians of the bust dart at which the closed front armhole is as deep as by the method.

    lower: mm by which neck point and tip lie below where the method sets them.
    """

    def tail(point: tuple[float, float], dart: float) -> float:
        return float(np.asarray(about(np.array(point), dart).apply(np.array([side, 0.0])))[1])

    x, y = float(bust_point[0]), float(bust_point[1])
    wanted = tail((x, 0.0), usual) + lower
    return solved(lambda dart: wanted - tail((x, y), dart), math.radians(5), math.radians(40))


def _split(taken: float, shares: tuple[float, float], count: int) -> tuple[float, ...]:
    """What each dart takes, nearer the centre first; one dart takes the shares of both."""
    return (sum(shares) * taken,) if count == 1 else tuple(share * taken for share in shares)

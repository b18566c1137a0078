"""The method 'bust-only': a whole frame from bust, waist and nape to waist, all else in proportion to the bust.

The proportions are those of a block taught in Japanese schools (Bunka textbook; from memory, in own words, checked
against worked figures for three bodies; the published table ends near bust 104). Own choices, common practice without
a source: where the side seam stands and where on the armhole its dart opens, points and places of the waist darts, the
shaped centre back from the bust line down, all curves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from flatcut.blocks.frame import Frame, WaistDart
from flatcut.units import show

NEEDED = ("bust", "waist", "nape-to-waist")
BUST_EASE, WAIST_EASE, HIP_EASE = 120.0, 60.0, 50.0
"""mm over the whole girth (bust and waist: the method's own, from memory; hip: common practice, no source)."""
FRONT_SLOPE, BACK_SLOPE = math.radians(22), math.radians(18)
"""Of the shoulders as drawn, below level."""
BACKWARD = 4.0
"""mm of the side seam from the middle of the armhole toward the back, so that the back armhole is little the longer."""
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
) -> Frame:
    """The frame for a body (mm, keys as in NEEDED; 'hip' and 'waist-to-hip' where known)."""
    bust = body["bust"]
    half = (bust + bust_ease) / 2
    nape_y = -(bust / 12 + 137)
    waist_y = nape_y + body["nape-to-waist"]
    across_back, chest = bust / 8 + 74, bust / 8 + 62
    neck_width = bust / 24 + 34
    back_neck = np.array([neck_width + 2, nape_y - (neck_width + 2) / 3])
    front_neck = np.array([half - neck_width, -(bust / 5 + 83)])
    front = (chest - neck_width) / math.cos(FRONT_SLOPE) + 18
    dart = bust / 32 - 8
    back_tip = back_neck + (front + dart) * np.array([math.cos(BACK_SLOPE), math.sin(BACK_SLOPE)])
    front_tip = front_neck + front * np.array([-math.cos(FRONT_SLOPE), math.sin(FRONT_SLOPE)])
    across_chest = half - chest
    bust_point = np.array([half - chest / 2 - 7, 0.0])
    arm = across_chest - bust / 32
    side = (across_back + arm) / 2 - BACKWARD
    waist = (body["waist"] + waist_ease) / 2
    taken = max(0.0, half - waist)
    shares = (
        ("waist-dart", across_back / 2, 5.0, 130.0, BACK),
        ("waist-dart-2", across_back - 8, 20.0, 110.0, BACK_SIDE),
    )
    fronts = (
        ("waist-dart", float(bust_point[0]), 25.0, 95.0, FRONT),
        ("waist-dart-2", (float(bust_point[0]) + side) / 2 - 8, 45.0, 80.0, FRONT_SIDE),
    )
    warnings: tuple[str, ...] = ()
    if bust > TABLE_ENDS:
        warnings = (
            f"bust {show(bust, 'cm')} lies beyond the method's table, which ends at {show(TABLE_ENDS, 'cm')};"
            " the shoulders come out long, so measure shoulder and take --method=neck-and-across",
        )
    return Frame(
        half=half,
        side=side,
        bust_y=0.0,
        waist_y=waist_y,
        hip_y=waist_y + body.get("waist-to-hip", math.nan),
        waist=waist,
        hip=(body["hip"] + hip_ease) / 2 if "hip" in body else math.nan,
        nape=np.array([0.0, nape_y]),
        back_neck=back_neck,
        back_tip=back_tip,
        back_shoulder=front,
        blade=np.array([across_back / 2 + 10, nape_y + 80]),
        across_back=across_back,
        front_neck=front_neck,
        pit=np.array([half, front_neck[1] + neck_width + 5]),
        front_tip=front_tip,
        front_shoulder=front,
        across_chest=across_chest,
        bust_point=bust_point,
        bust_angle=math.radians(bust / 40 - 2.5),
        bust_on="armhole",
        far_foot=None,
        back_shaping=CENTRE * taken,
        side_shaping=SIDE * taken / 2,
        back_darts=tuple(
            WaistDart(name=name, x=x, top=top, bottom=waist_y + below, intake=share * taken)
            for name, x, top, below, share in shares
            if share * taken >= 1.0
        ),
        front_darts=tuple(
            WaistDart(name=name, x=x, top=top, bottom=waist_y + below, intake=share * taken)
            for name, x, top, below, share in fronts
            if share * taken >= 1.0
        ),
        warnings=warnings,
    )

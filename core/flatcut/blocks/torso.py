"""The torso block: back and front to the hip line in one, with double-pointed waist darts; and on to a hem."""

from __future__ import annotations

import math

import numpy as np

from flatcut.blocks.bodice import (
    INWARD,
    NOTCH_BACK,
    back_centre,
    blade_wedges,
    bust_wedge,
    front_notch,
    panel_marks,
    upper_figures,
    upper_seams,
    waist_at_centre,
)
from flatcut.blocks.frame import Frame, WaistDart
from flatcut.blocks.shaping import MOST_SIDE, STEEPEST, shaped
from flatcut.blocks.upper import draw_upper
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.bernstein import rising
from flatcut.geometry.curves import Curve, chain, cubic, line, reverse, transform
from flatcut.geometry.length import length
from flatcut.pattern.assembling import (
    Diamond,
    Draft,
    Mark,
    Side,
    assembled,
    dart_figures,
    girth,
    laid_out,
)
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure
from flatcut.units import show

HIP_SPRING = 6.0
"""mm: each side edge goes out at least so much from waist to hip; darts give way before the side bends back."""
ABOVE_HIP = 30.0
"""mm: the lower points of the waist darts stay so far above the hip line."""
BELOW_HIP = 50.0
"""mm: a dress's hem lies at least so far below the hip line."""
LEAN = 1.35
"""Slope of the side seam at the underarm, as a part of its mean slope down to the waist."""


def draft_torso(frame: Frame, uids: Uids, *, names: tuple[str, str] = ("back", "front")) -> Draft:
    """The torso of a frame: the lower edge is the hip line. Errors: GeometryError where no fair block exists."""
    return draft_long(frame, uids, names=names, hem_y=None)


def draft_long(frame: Frame, uids: Uids, *, names: tuple[str, str], hem_y: float | None) -> Draft:
    """An upper block below the waist: to the hip line, or with straight sides on to a hem at level `hem_y`."""
    if hem_y is not None and hem_y < frame.hip_y + BELOW_HIP:
        least = show(frame.hip_y + BELOW_HIP - frame.waist_y, "cm")
        raise UsageError(
            "the dress ends above its hip; give ", Option("length"), f" of {least} or more, from the waist down"
        )
    frame = balanced(frame)
    spring, taken = hip_spring(frame), frame.side_shaping
    inner, lean = side_curve(frame, taken, spring)
    if not _gentle(inner, both_ways=True):
        raise GeometryError(
            "bust and hip differ by too much for one side seam from the underarm to the hip; draft a bodice and a skirt"
        )
    below = [] if hem_y is None else [line([-spring, frame.hip_y], [-spring, hem_y])]
    # drawn as the distance in from the frame's side line; the back's is mirrored
    to_front, to_back = Affine(e=frame.side), Affine(a=-1.0, e=frame.side)
    bottom = frame.hip_y if hem_y is None else hem_y
    front_side = transform(chain([inner, *below]), to_front)
    back_side = transform(chain([inner, *below]), to_back)
    upper = draw_upper(frame, underarm_back=back_side.start, underarm_front=front_side.start, lean=lean)
    waist_notch = length(Curve(inner.controls[:1], inner.straight[:1]))
    side_marks = [waist_notch] if hem_y is None else [waist_notch, length(inner)]
    hem_name, hem_words = ("hip", "hip line") if hem_y is None else ("hem", "")
    centre = waist_at_centre(frame)
    low_back = np.array([frame.back_shaping, bottom])
    low_front = np.array([frame.half, bottom])
    back = assembled(
        names[0],
        (
            Side(name="neck", parts=(upper.back_neck,)),
            Side(name="shoulder", parts=upper.back_shoulder),
            Side(name="armhole", parts=(upper.back_armhole,)),
            Side(name="side", parts=(back_side,)),
            Side(name=hem_name, parts=(line(back_side.end, low_back),), use="hem", words=hem_words),
            back_centre(frame, (centre, low_back)),
        ),
        uids,
        wedges=blade_wedges(upper),
        diamonds=[_diamond(frame, dart) for dart in frame.back_darts],
        levels=(
            ("bust-line", np.array([0.0, frame.bust_y]), np.array([frame.side, frame.bust_y])),
            ("waist-line", centre, np.array([frame.side - taken, frame.waist_y])),
            *_hip_line(frame, hem_y, centre[0], frame.side + spring),
        ),
        points=(("shoulder-blade-point", frame.blade),),
        marks=(
            Mark(edge="armhole", at=NOTCH_BACK * length(upper.back_armhole), count=2, from_end=True),
            *(Mark(edge="side", at=at) for at in side_marks),
        ),
        grain=(np.array([INWARD, bottom - 15]), np.array([INWARD, frame.nape[1] + 15])),
        cut_as="pair" if frame.back_shaping else "fold",
    )
    front = assembled(
        names[1],
        (
            Side(name="shoulder", parts=(upper.front_shoulder,)),
            Side(name="neck", parts=(upper.front_neck,)),
            Side(name="centre", parts=(line(frame.pit, low_front),), use="fold", words="CF"),
            Side(name=hem_name, parts=(line(low_front, front_side.end),), use="hem", words=hem_words),
            Side(name="side", parts=(reverse(front_side),)),
            Side(name="armhole", parts=upper.front_armhole),
        ),
        uids,
        wedges=(bust_wedge(upper, frame),),
        diamonds=[_diamond(frame, dart) for dart in frame.front_darts],
        levels=(
            ("bust-line", np.array([frame.side, frame.bust_y]), np.array([frame.half, frame.bust_y])),
            ("waist-line", np.array([frame.side + taken, frame.waist_y]), np.array([frame.half, frame.waist_y])),
            *_hip_line(frame, hem_y, frame.side - spring, frame.half),
        ),
        points=(("bust-point", frame.bust_point),),
        beside=panel_marks(frame),
        marks=(front_notch(upper), *(Mark(edge="side", at=at, from_end=True) for at in side_marks)),
        grain=(np.array([frame.half - INWARD, bottom - 15]), np.array([frame.half - INWARD, frame.pit[1] + 10])),
        cut_as="fold",
    )
    back, front = laid_out((back, front), left=0.0, top=0.0)
    seams = upper_seams(frame, back, front, uids)
    figures = (
        Figure("half bust with ease", girth((back, front), "bust-line")),
        Figure("half waist with ease", girth((back, front), "waist-line")),
        Figure("half hip with ease", girth((back, front), "hip" if hem_y is None else "hip-line")),
        *upper_figures(frame, back, front),
        *dart_figures((back, front)),
    )
    return Draft(pieces=(back, front), seams=tuple(seams), figures=figures, warnings=frame.warnings)


def hip_spring(frame: Frame) -> float:
    """mm of each side edge outside the frame's side line at the hip, so that the hip comes out; may be negative."""
    return (frame.hip - frame.half + frame.back_shaping) / 2


def balanced(frame: Frame) -> Frame:
    """The frame with what waist darts and side edges take off, within what a side seam down to the hip allows.

    From waist to hip a side edge goes out by HIP_SPRING at least where that is not too much from underarm to waist; a
    hip far larger or smaller than the waist is shaped in the darts.
    """
    spring = hip_spring(frame)
    low, high = min(0.0, -spring), MOST_SIDE
    for _ in range(16):
        middle = (low + high) / 2
        low, high = (middle, high) if _gentle(side_curve(frame, middle, spring)[0]) else (low, middle)
    return shaped(frame, most_side=low, least_side=min(HIP_SPRING - spring, low))


def _gentle(side: Curve, *, both_ways: bool = False) -> bool:
    """Whether no part of a side seam goes in above the waist, or out below it, too far or too steeply.

    both_ways: nor out above it or in below it.
    """
    first = 3 * np.diff(side.controls, axis=1)
    t = np.linspace(0.0, 1.0, 41)[:, None]
    for part, inward in zip(first, (1.0, -1.0), strict=True):
        way = (1 - t) ** 2 * part[0] + 2 * t * (1 - t) * part[1] + t * t * part[2]
        across = inward * float(part[:, 0].sum()) / 3
        steep = float((inward * way[:, 0] / way[:, 1]).max())
        if both_ways:
            across, steep = abs(across) - 0.1, float(np.abs(way[:, 0] / way[:, 1]).max()) - 0.001
        if across > MOST_SIDE - 0.1 or steep > math.tan(STEEPEST) - 0.001:
            return False
    return True


def side_curve(frame: Frame, taken: float, spring: float) -> tuple[Curve, float]:
    """The side seam of the front from underarm to hip, x = 0 being the frame's side line and positive x inward.

    Two cubics, upright at waist and hip, with the bend running through at the waist where the figure allows it. It
    crosses x = 0 at the level where the bust is measured. Also: its lean at the underarm, radians.
    """
    waist_y, high = frame.waist_y, frame.hip_y - frame.waist_y
    if high < 80:
        raise GeometryError("the hip line lies too near the waist")
    waist, hip = np.array([taken, waist_y]), np.array([-spring, frame.hip_y])
    lower = (waist, waist + np.array([0, 0.25 * high]), hip - np.array([0, 0.32 * high]), hip)
    out = taken + spring
    over = 0.0
    for _ in range(40):
        upper = _upper_side(waist, over, out / (0.25 * high) ** 2 if out > 0 else 0.0)
        crossing = _x_at(upper, frame.bust_y)
        if abs(crossing) < 1e-10:
            break
        over += crossing
    lean = math.atan2(upper[1][0] - upper[0][0], upper[1][1] - upper[0][1])
    return chain([cubic(*upper), cubic(*lower)]), lean


def _upper_side(waist: Array, over: float, bend: float) -> tuple[Array, Array, Array, Array]:
    """The controls from underarm to waist; `bend`: 3/2 of the curvature below the waist."""
    high, across = float(waist[1]), float(waist[0]) + over
    start = np.array([-over, 0.0])
    # upright where it goes out: else the armhole would dip below the underarm
    first = start + np.array([LEAN * max(across, 0.0) / 3, high / 3])
    away = float(waist[0] - first[0])
    handle = math.sqrt(away / bend) if bend > 0 and away > 0 else high / 3
    return start, first, waist - [0, min(max(handle, 0.22 * high), 0.5 * high)], waist


def _x_at(controls: tuple[Array, Array, Array, Array], y: float) -> float:
    """x of a cubic that runs downward, at level y."""
    if y <= controls[0][1]:
        return float(controls[0][0])
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = (control.tolist() for control in controls)
    t = rising([y0 - y, y1 - y, y2 - y, y3 - y])
    if t is None:
        return float(x3)
    s = 1 - t
    return float(s * s * s * x0 + 3 * s * s * t * x1 + 3 * s * t * t * x2 + t * t * t * x3)


def _hip_line(frame: Frame, hem_y: float | None, left: float, right: float) -> list[tuple[str, Array, Array]]:
    if hem_y is None:
        return []
    return [("hip-line", np.array([left, frame.hip_y]), np.array([right, frame.hip_y]))]


def _diamond(frame: Frame, dart: WaistDart) -> Diamond:
    return Diamond(
        name=dart.name,
        upper=np.array([dart.x, dart.top]),
        lower=np.array([dart.x, min(dart.bottom, frame.hip_y - ABOVE_HIP)]),
        middle=np.array([dart.x, frame.waist_y]),
        intake=dart.intake,
        pressed="centre",
    )

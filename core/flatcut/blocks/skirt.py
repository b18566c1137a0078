"""The skirt block: straight from the hip line down, darts cut in at a waist that is drawn with its darts closed.

Figures and order of work are common practice, no source: of what hip and waist differ by, 32 % go into back darts, 28 %
into front darts, 20 % into each side edge, but no more into any than `shaping` allows; the waist rises toward the side
and drops at the centre back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import fair
from flatcut.blocks.opening import Opened, Wedge, come_out, opened
from flatcut.blocks.shaping import (
    BETWEEN,
    MOST_DART,
    MOST_SIDE,
    ROUNDED,
    SHORTER,
    STEEPEST,
    dart_warning,
    shared,
)
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, line, reverse
from flatcut.geometry.length import length
from flatcut.pattern.assembling import Draft, Mark, Side, Wedged, assembled, dart_figures, girth, laid_out, sewn_to
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure
from flatcut.units import show

NEEDED = ("waist", "hip", "waist-to-hip")
WAIST_EASE, HIP_EASE = 10.0, 20.0
"""mm over the whole girth."""
BACK_SHARE, FRONT_SHARE = 0.32, 0.28
"""Parts of the difference of hip and waist: back darts, front darts; the rest is at the side edges."""
SIDE_RISE, BACK_DROP, FULL = 12.0, 8.0, 100.0
"""mm that the waist rises at the side and drops at the centre back; a figure that differs by less than FULL mm over the
half gets less of both."""
BACK_LENGTH, FRONT_LENGTH = 130.0, 95.0
"""mm of the darts, the one nearer the centre."""
BACK_AT, FRONT_AT = (0.42, 0.34), (0.45, 0.38)
"""Where the darts stand, as parts of a panel's width from its centre: one, or the first of two."""
LEAN = 1.6
"""Slope of the side seam at the waist, as a part of its mean slope from hip to waist."""
BELOW_HIP = 50.0
"""mm: the hem lies at least so far below the hip line."""
INWARD = 35.0
"""mm of the grain line from the centre line."""
RIGHT, DOWN = np.array([1.0, 0.0]), np.array([0.0, 1.0])


@dataclass(frozen=True, kw_only=True)
class SkirtFrame:
    """mm, y down, origin at the centre front's waist level; centre back at x = 0, centre front at x = half.

    half, waist: half girths with ease. side: x of the side seam at the hip line. rise, drop: of the waist at the side
    (upward) and at the centre back (downward). back, front: intakes of the darts; taken: of each side edge.
    """

    half: float
    waist: float
    hip_y: float
    hem_y: float
    side: float
    rise: float
    drop: float
    back: tuple[float, ...]
    front: tuple[float, ...]
    taken: float


def skirt_frame(
    body: Mapping[str, float],
    *,
    length: float,
    waist_ease: float = WAIST_EASE,
    hip_ease: float = HIP_EASE,
    back_darts: int = 1,
    front_darts: int = 1,
) -> SkirtFrame:
    """The frame for a body (mm, keys as in NEEDED) and a length from the waist down.

    back_darts, front_darts: of each half.

    Errors: UsageError for a skirt that ends above the hip, GeometryError for a waist larger than the hip.
    """
    half, waist = (body["hip"] + hip_ease) / 2, (body["waist"] + waist_ease) / 2
    hip_y = body["waist-to-hip"]
    if length < hip_y + BELOW_HIP:
        raise UsageError(
            "the skirt ends above its hip; give ", Option("length"), f" of {show(hip_y + BELOW_HIP, 'cm')} or more"
        )
    differ = half - waist
    if differ < 5:
        raise GeometryError(
            f"waist {show(body['waist'], 'cm')} is not smaller than hip {show(body['hip'], 'cm')} by 2 cm at least"
        )
    full = min(1.0, differ / FULL)
    rise = SIDE_RISE * full
    most = min(MOST_SIDE, math.tan(STEEPEST) * (hip_y + rise) / LEAN)
    curved = 0.0
    # the waist seam rises and falls, so the sides take off more than planned: by how much is found by drawing it
    for _ in range(5):
        found = shared(
            differ,
            [BACK_SHARE * differ / back_darts] * back_darts,
            [FRONT_SHARE * differ / front_darts] * front_darts,
            most_side=most - curved,
        )
        frame = SkirtFrame(
            half=half,
            waist=waist,
            hip_y=hip_y,
            hem_y=length,
            side=half / 2,
            rise=rise,
            drop=BACK_DROP * full,
            back=found.back,
            front=found.front,
            taken=found.side,
        )
        over = _waists(frame)[2] - most
        if over <= 0.0:
            break
        curved += over + 0.1
    return frame


def draft_skirt(frame: SkirtFrame, uids: Uids, *, names: tuple[str, str] = ("skirt-back", "skirt-front")) -> Draft:
    """The skirt of a frame, laid at the origin. Errors: GeometryError where the frame admits no fair skirt."""
    back_waist, front_waist, taken = _waists(frame)
    back_side, front_side = _sides(frame, taken)
    hip_notch = length(Curve(front_side.controls[:1], front_side.straight[:1]))
    low_back, low_front = np.array([0.0, frame.hem_y]), np.array([frame.half, frame.hem_y])
    back = assembled(
        names[0],
        (
            Side(name="waist", parts=back_waist.parts),
            Side(name="side", parts=(back_side,)),
            Side(name="hem", parts=(line(back_side.end, low_back),), use="hem"),
            Side(name="centre", parts=(line(low_back, back_waist.parts[0].start),), use="fold", words="CB"),
        ),
        uids,
        wedges=[_wedged(w, feet, k) for k, (w, feet) in enumerate(zip(_back(frame), back_waist.feet, strict=True))],
        levels=(("hip-line", np.array([0.0, frame.hip_y]), np.array([frame.side, frame.hip_y])),),
        marks=(Mark(edge="side", at=hip_notch),),
        grain=(np.array([INWARD, frame.hem_y - 15]), np.array([INWARD, frame.drop + 15])),
        cut_as="fold",
    )
    outward = front_waist.parts
    front = assembled(
        names[1],
        (
            Side(name="waist", parts=tuple(reverse(part) for part in outward[::-1])),
            Side(name="centre", parts=(line([frame.half, 0.0], low_front),), use="fold", words="CF"),
            Side(name="hem", parts=(line(low_front, front_side.end),), use="hem"),
            Side(name="side", parts=(reverse(front_side),)),
        ),
        uids,
        wedges=[
            _wedged(w, feet[::-1], len(front_waist.feet) - 1 - k)
            for k, (w, feet) in enumerate(zip(_front(frame), front_waist.feet, strict=True))
        ],
        levels=(("hip-line", np.array([frame.side, frame.hip_y]), np.array([frame.half, frame.hip_y])),),
        marks=(Mark(edge="side", at=hip_notch, from_end=True),),
        grain=(np.array([frame.half - INWARD, frame.hem_y - 15]), np.array([frame.half - INWARD, 15.0])),
        cut_as="fold",
    )
    back, front = laid_out((back, front), left=0.0, top=0.0)
    figures = (
        Figure("half waist with ease", girth((back, front), "waist")),
        Figure("half hip with ease", girth((back, front), "hip-line")),
        *dart_figures((back, front)),
    )
    wide = [
        dart_warning(name, dart.name, dart.intake, len(darts))
        for name, darts in zip(names, (_back(frame), _front(frame)), strict=True)
        for dart in darts
        if dart.intake > MOST_DART + ROUNDED
    ]
    seams = (sewn_to((front, "side"), (back, "side"), uids),)
    return Draft(pieces=(back, front), seams=seams, figures=figures, warnings=tuple(wide))


def _waists(frame: SkirtFrame) -> tuple[Opened, Opened, float]:
    """The waists of back and front from the centres to the sides, and what each side edge takes off: so that the girth
    comes out with the darts closed."""

    def drawn(taken: float) -> tuple[tuple[Opened, Opened], float]:
        back_side, front_side = _sides(frame, taken)
        lean = LEAN * taken / (frame.hip_y + frame.rise)
        cos, sin = 1 / math.hypot(1, lean), lean / math.hypot(1, lean)
        back = opened(np.array([0.0, frame.drop]), RIGHT, back_side.start, np.array([cos, -sin]), _back(frame))
        front = opened(np.array([frame.half, 0.0]), -RIGHT, front_side.start, np.array([-cos, -sin]), _front(frame))
        return (back, front), length(back.closed) + length(front.closed) - frame.waist

    (back, front), taken = come_out(drawn, frame.taken)
    return back, front, taken


def _sides(frame: SkirtFrame, taken: float) -> tuple[Curve, Curve]:
    """The side seams of back and front from waist to hem: one curve down to the hip line, straight below."""
    lean = LEAN * taken / (frame.hip_y + frame.rise)
    way = np.array([lean, 1.0]) / math.hypot(lean, 1.0)
    hip, hem = np.array([frame.side, frame.hip_y]), np.array([frame.side, frame.hem_y])
    waist = np.array([frame.side - taken, -frame.rise])
    back = chain([fair(waist, way, hip, DOWN), line(hip, hem)])
    mirror = np.array([-1.0, 1.0])
    shift = np.array([2 * frame.side, 0.0])
    return back, Curve(back.controls * mirror + shift, back.straight)


def _back(frame: SkirtFrame) -> list[Wedge]:
    return _darts(frame.back, frame.drop + BACK_LENGTH, BACK_AT[len(frame.back) - 1] * frame.side, 1.0)


def _front(frame: SkirtFrame) -> list[Wedge]:
    width = frame.half - frame.side
    return _darts(frame.front, FRONT_LENGTH, frame.half - FRONT_AT[len(frame.front) - 1] * width, -1.0)


def _darts(intakes: Sequence[float], point: float, x: float, outward: float) -> list[Wedge]:
    """One dart with its point at level `point`, or a second farther from the centre and shorter."""
    found = [Wedge(name="waist-dart", apex=np.array([x, point]), axis=-DOWN, intake=intakes[0])]
    if len(intakes) > 1:
        apex = np.array([x + outward * (BETWEEN + sum(intakes) / 2), point - SHORTER])
        found.append(Wedge(name="waist-dart-2", apex=apex, axis=-DOWN, intake=intakes[1]))
    return found


def _wedged(wedge: Wedge, feet: Array, after: int) -> Wedged:
    legs = np.array([feet[0], wedge.apex, feet[1]])
    return Wedged(name=wedge.name, host="waist", legs=legs, after=after, pressed="centre")

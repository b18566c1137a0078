"""The curves of an upper block over its frame: necklines, shoulders with the back dart, armholes, the bust dart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import about, rotated
from flatcut.blocks.frame import Frame
from flatcut.blocks.necklines import necklines
from flatcut.blocks.shoulders import back_shoulder, front_shoulder
from flatcut.blocks.touching import touching
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, line, point, reverse, section, transform

TIP_REACH = 25.0
"""mm: an armhole square to the shoulder would have to turn upright within less than this where the shoulder hardly
reaches beyond the back width; there the back is opened beyond square at the tip, and the front closed by as much."""
FRONT_REACH = 0.45
"""Part of the front tip's height above the underarm within which its armhole may run straight to the chest width."""
MOST_TURN = math.radians(18)
"""No armhole leaves the shoulder farther from square than this; beyond, its seam corner could not be sewn cleanly."""
FLAT = 5.5
"""mm of the front neckline straight and square to the centre (common practice at least 5 mm, no source)."""
LEVELS = (0.22, 0.62)
"""How far up the armhole the width lines may be touched: half-way up is where the widths are measured, lower where the
curve comes out fairer."""
DART_DOWN = 0.3
"""How far below the width line the bust dart opens on the closed front armhole, as a part of the lower curve."""


@dataclass(frozen=True, kw_only=True)
class Upper:
    """Curves of back and front, each in the clockwise direction of its outline on the screen.

    Lists have one curve, or two with a dart between them. bust_legs, blade_legs: feet and point of the darts, (3, 2).
    """

    back_neck: Curve
    back_shoulder: tuple[Curve, ...]
    back_armhole: Curve
    front_shoulder: Curve
    front_neck: Curve
    front_armhole: tuple[Curve, ...]
    blade_dart: Array
    bust_dart: Array


def draw_upper(frame: Frame, *, underarm_back: Array, underarm_front: Array, lean: float) -> Upper:
    """The curves above the side seam.

    underarm_back, underarm_front: (2,) points where the side seams start; lean: how far the side seam leans in there,
    radians from upright. Errors: GeometryError.
    """
    shoulder, blade_dart = back_shoulder(
        frame.back_neck, frame.back_shoulder, frame.back_slope, blade=frame.blade, dart=frame.shoulder_dart
    )
    foot, tip, sewn_way = front_shoulder(
        frame.front_neck,
        frame.front_shoulder,
        frame.front_slope,
        bust_point=frame.bust_point,
        dart=frame.bust_angle if frame.bust_on == "shoulder" else 0.0,
    )
    back_tip, way = shoulder[-1].end, unit(tip - foot)
    closed_way = np.array([math.cos(frame.back_slope), math.sin(frame.back_slope)])
    # square to the shoulders where they end, but for the turn that both armholes share
    back_way = rotated(unit(shoulder[-1].end - shoulder[-1].start), math.pi / 2)
    front_way = rotated(way, -math.pi / 2)
    turn = _tip_turn(frame, back_tip, back_way, tip, front_way)
    back_way, front_way = rotated(back_way, -turn), rotated(front_way, -turn)
    into_back, into_front = np.array([math.cos(lean), math.sin(lean)]), np.array([-math.cos(lean), math.sin(lean)])
    back_armhole = touching(back_tip, back_way, underarm_back, into_back, wall=frame.across_back, levels=LEVELS)
    if frame.bust_on == "shoulder":
        hole = touching(tip, front_way, underarm_front, into_front, wall=frame.across_chest, levels=LEVELS)
        armhole: tuple[Curve, ...] = (reverse(hole),)
        dart = np.array([foot, frame.bust_point, frame.front_neck])
    else:
        armhole, dart = _dart_on_armhole(frame, tip, front_way, underarm_front, into_front)
    flat = frame.pit - [FLAT, 0.0]
    back_neck, front_neck = necklines(
        frame.nape,
        frame.back_neck,
        rotated(closed_way, -math.pi / 2),
        frame.front_neck,
        rotated(sewn_way, -math.pi / 2),
        flat,
    )
    return Upper(
        back_neck=back_neck,
        back_shoulder=shoulder,
        back_armhole=back_armhole,
        front_shoulder=line(tip, foot),
        front_neck=chain([front_neck, line(flat, frame.pit)]),
        front_armhole=armhole,
        blade_dart=blade_dart,
        bust_dart=dart,
    )


def _tip_turn(frame: Frame, back_tip: Array, back_way: Array, tip: Array, front_way: Array) -> float:
    """Radians by which the back armhole starts more upright than square to the shoulder, and the front's less.

    Where the back shoulder hardly reaches beyond the back width, and where the open bust dart throws the front shoulder
    far out from the chest width, so that a square start would run past the middle of the armhole before it touches.
    """
    back = math.atan2(-back_way[0], back_way[1])
    front = math.atan2(front_way[0], front_way[1])
    back_beyond, front_beyond = float(back_tip[0]) - frame.across_back, frame.across_chest - float(tip[0])
    for_back = back - math.atan2(max(back_beyond, 0.0), TIP_REACH)
    for_front = math.atan2(front_beyond, -FRONT_REACH * float(tip[1])) - front if frame.bust_on == "shoulder" else 0.0
    return min(max(0.0, for_back, for_front), MOST_TURN)


def _dart_on_armhole(
    frame: Frame, tip: Array, along: Array, underarm: Array, into: Array
) -> tuple[tuple[Curve, ...], Array]:
    """The front armhole, drawn with the dart closed and then opened about the bust point."""
    close = about(frame.bust_point, frame.bust_angle)
    tail = np.asarray(close.apply(underarm))
    hole = touching(tip, along, tail, rotated(into, frame.bust_angle), wall=frame.across_chest, levels=LEVELS)
    u = 1.0 + DART_DOWN
    upper, lower = section(hole, 0.0, u), transform(section(hole, u, 2.0), close.inverse())
    foot = point(hole, u)
    dart = np.array([lower.start, frame.bust_point, foot])
    return (reverse(lower), reverse(upper)), dart

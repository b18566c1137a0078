"""The curves of an upper block over its frame: necklines, shoulders with the back dart, armholes, the bust dart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import about, fairest, turned
from flatcut.blocks.frame import Frame
from flatcut.blocks.touching import touching
from flatcut.errors import GeometryError
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


NECK_TURN = math.radians(8)
"""How much the back neckline is opened beyond square at the shoulder, and the front's closed, so that the joined line
runs through: a shallow back neckline squared at its end would hook up in the last centimetre."""


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
    shoulder, blade_dart, closed_way = _back_shoulder(frame)
    tip, way, sewn_way = _front_shoulder(frame)
    # square to the shoulders where they end, but for the turn that both armholes share
    back_way = turned(unit(shoulder[-1].end - shoulder[-1].start), math.pi / 2)
    front_way = turned(way, -math.pi / 2)
    turn = _tip_turn(frame, back_way, tip, front_way)
    back_way, front_way = turned(back_way, -turn), turned(front_way, -turn)
    into_back, into_front = np.array([math.cos(lean), math.sin(lean)]), np.array([-math.cos(lean), math.sin(lean)])
    back_armhole = touching(frame.back_tip, back_way, underarm_back, into_back, wall=frame.across_back, levels=LEVELS)
    if frame.bust_on == "shoulder":
        foot = tip - frame.front_shoulder * way
        hole = touching(tip, front_way, underarm_front, into_front, wall=frame.across_chest, levels=LEVELS)
        armhole: tuple[Curve, ...] = (reverse(hole),)
        dart = np.array([foot, frame.bust_point, frame.front_neck])
    else:
        foot = frame.front_neck
        armhole, dart = _dart_on_armhole(frame, front_way, underarm_front, into_front)
    right = np.array([1.0, 0.0])
    flat = frame.pit - FLAT * right
    neck_way = turned(sewn_way, NECK_TURN - math.pi / 2)
    return Upper(
        back_neck=fairest(frame.nape, right, frame.back_neck, turned(closed_way, NECK_TURN - math.pi / 2)),
        back_shoulder=shoulder,
        back_armhole=back_armhole,
        front_shoulder=line(tip, foot),
        front_neck=chain([fairest(frame.front_neck, neck_way, flat, right), line(flat, frame.pit)]),
        front_armhole=armhole,
        blade_dart=blade_dart,
        bust_dart=dart,
    )


def _front_shoulder(frame: Frame) -> tuple[Array, Array, Array]:
    """The front shoulder's tip, its direction toward the tip as drawn, and that with a bust dart at the neck closed.

    Such a dart is made true: its far foot lies as far from the bust point as the neck point does, and the shoulder goes
    from there at its length to the level that the method gives the tip.
    """
    if frame.bust_on != "shoulder":
        way = unit(frame.front_tip - frame.front_neck)
        return frame.front_tip, way, way
    foot = np.asarray(about(frame.bust_point, -frame.bust_angle).apply(frame.front_neck))
    drop = float(frame.front_tip[1] - foot[1])
    if abs(drop) >= frame.front_shoulder:
        raise GeometryError("the front shoulder is shorter than it falls")
    tip = foot + np.array([-math.sqrt(frame.front_shoulder**2 - drop**2), drop])
    way = unit(tip - foot)
    return tip, way, turned(way, frame.bust_angle)


def _tip_turn(frame: Frame, back_way: Array, tip: Array, front_way: Array) -> float:
    """Radians by which the back armhole starts more upright than square to the shoulder, and the front's less.

    Where the back shoulder hardly reaches beyond the back width, and where the open bust dart throws the front shoulder
    far out from the chest width, so that a square start would run past the middle of the armhole before it touches.
    """
    back = math.atan2(-back_way[0], back_way[1])
    front = math.atan2(front_way[0], front_way[1])
    back_beyond, front_beyond = float(frame.back_tip[0]) - frame.across_back, frame.across_chest - float(tip[0])
    for_back = back - math.atan2(max(back_beyond, 0.0), TIP_REACH)
    for_front = math.atan2(front_beyond, -FRONT_REACH * float(tip[1])) - front if frame.bust_on == "shoulder" else 0.0
    return min(max(0.0, for_back, for_front), MOST_TURN)


def _back_shoulder(frame: Frame) -> tuple[tuple[Curve, ...], Array, Array]:
    """The two parts of the back shoulder, its dart (foot, point, foot) and the direction of the sewn shoulder.

    The sewn shoulder is straight and as long as `back_shoulder`; the tip stays where the method sets it, so the dart
    takes what is left over.
    """
    low, high = 0.0, math.radians(30)
    neck, tip, blade = frame.back_neck, frame.back_tip, frame.blade

    def sewn(theta: float) -> Array:
        return np.asarray(about(blade, -theta).apply(tip) - neck)

    if np.linalg.norm(sewn(0.0)) - frame.back_shoulder < 0.5:
        return (line(neck, tip),), np.empty((0, 2)), unit(tip - neck)
    for _ in range(60):
        theta = (low + high) / 2
        low, high = (theta, high) if np.linalg.norm(sewn(theta)) > frame.back_shoulder else (low, theta)
    whole = sewn(theta)
    # the dart stands where its axis from the blade point is square to the shoulder, kept to its middle half
    along = float((blade - neck) @ unit(whole)) / frame.back_shoulder
    foot = neck + min(max(along, 0.3), 0.6) * whole
    other = np.asarray(about(blade, theta).apply(foot))
    return (line(neck, foot), line(other, tip)), np.array([foot, blade, other]), unit(whole)


def _dart_on_armhole(frame: Frame, along: Array, underarm: Array, into: Array) -> tuple[tuple[Curve, ...], Array]:
    """The front armhole, drawn with the dart closed and then opened about the bust point."""
    close = about(frame.bust_point, frame.bust_angle)
    tail = np.asarray(close.apply(underarm))
    hole = touching(
        frame.front_tip, along, tail, turned(into, frame.bust_angle), wall=frame.across_chest, levels=LEVELS
    )
    u = 1.0 + DART_DOWN
    upper, lower = section(hole, 0.0, u), transform(section(hole, u, 2.0), close.inverse())
    foot = point(hole, u)
    dart = np.array([lower.start, frame.bust_point, foot])
    return (reverse(lower), reverse(upper)), dart

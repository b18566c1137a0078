"""The bodice block: back and front to the waist, darts cut in, the waist drawn with its darts closed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.blocks.fairing import angle
from flatcut.blocks.frame import Frame, WaistDart
from flatcut.blocks.opening import Opened, Wedge, come_out, opened
from flatcut.blocks.shaping import MOST_SIDE, STEEPEST, shaped
from flatcut.blocks.upper import Upper, draw_upper
from flatcut.errors import GeometryError, Option
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, reverse
from flatcut.geometry.length import length
from flatcut.pattern.assembling import (
    Beside,
    Draft,
    Mark,
    Side,
    Wedged,
    assembled,
    dart_figures,
    edge_figure,
    girth,
    laid_out,
    sewn_to,
)
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Figure, Piece, Seam
from flatcut.units import show

BLUNT = math.radians(35)
"""The most that a waist dart opens (common practice, no source): bust darts of full cups have up to 30°."""
UPRIGHT_AT_WAIST = 6.0
"""mm of a shaped centre back that run square to the waist."""
UP_THE_SIDE = 0.75
"""How far from its level the waist may end at the sides, as a part of the way from there to the bust."""
SINK = 0.6
"""How far the waist sinks toward the side, as a part of what evenly bent seams would; see `solve_waist`."""
NOTCH_FRONT, NOTCH_BACK = 0.37, 0.4
"""Parts of the armholes from the underarm up to their notches (common practice, no source)."""
PANEL = 50.0
"""mm from the bust point to the balance marks of the panel line above and below it (common practice, no source)."""
INWARD = 35.0
"""mm of the grain line from the centre line: clear of neckline and darts."""
UPRIGHT, RIGHT = np.array([0.0, -1.0]), np.array([1.0, 0.0])


@dataclass(frozen=True, kw_only=True)
class Waist:
    """The waist seams from the centres to the sides, and where the side seams end there."""

    back: Opened
    front: Opened
    back_side: Array
    front_side: Array


def draft_bodice(frame: Frame, uids: Uids, *, names: tuple[str, str] = ("back", "front")) -> Draft:
    """The bodice of a frame, laid at the origin. Errors: GeometryError where the frame admits no fair block."""
    frame, waist = _shaped_waist(frame)
    _refuse_blunt(frame, waist)
    over = waist_lean(frame, float(waist.back_side[1]), frame.side - float(waist.back_side[0]))
    underarm = np.array([frame.side + over[1], 0.0]), np.array([frame.side - over[1], 0.0])
    upper = draw_upper(frame, underarm_back=underarm[0], underarm_front=underarm[1], lean=over[0])
    level = frame.bust_y
    back = assembled(
        names[0],
        (
            Side(name="neck", parts=(upper.back_neck,)),
            Side(name="shoulder", parts=upper.back_shoulder),
            Side(name="armhole", parts=(upper.back_armhole,)),
            Side(name="side", parts=(line(underarm[0], waist.back_side),)),
            Side(name="waist", parts=turned_about(waist.back)),
            back_centre(frame, (waist_at_centre(frame),)),
        ),
        uids,
        wedges=(
            *blade_wedges(upper),
            *(
                Wedged(name=d.name, host="waist", legs=legs, after=k, pressed="centre")
                for k, (d, legs) in enumerate(reversed_wedges(frame.back_darts, waist.back))
            ),
        ),
        levels=(("bust-line", np.array([0.0, level]), np.array([frame.side, level])),),
        points=(("shoulder-blade-point", frame.blade),),
        marks=(Mark(edge="armhole", at=NOTCH_BACK * length(upper.back_armhole), count=2, from_end=True),),
        grain=(np.array([INWARD, frame.waist_y - 15]), np.array([INWARD, frame.nape[1] + 15])),
        cut_as="pair" if frame.back_shaping else "fold",
    )
    front = assembled(
        names[1],
        (
            Side(name="shoulder", parts=(upper.front_shoulder,)),
            Side(name="neck", parts=(upper.front_neck,)),
            Side(name="centre", parts=(line(frame.pit, [frame.half, frame.waist_y]),), use="fold", words="CF"),
            Side(name="waist", parts=waist.front.parts),
            Side(name="side", parts=(line(waist.front_side, underarm[1]),)),
            Side(name="armhole", parts=upper.front_armhole),
        ),
        uids,
        wedges=(
            bust_wedge(upper, frame),
            *(
                Wedged(name=d.name, host="waist", legs=_legs(feet, d), after=k, pressed="centre")
                for k, (d, feet) in enumerate(zip(frame.front_darts, waist.front.feet, strict=True))
            ),
        ),
        levels=(("bust-line", np.array([frame.side, level]), np.array([frame.half, level])),),
        points=(("bust-point", frame.bust_point),),
        beside=panel_marks(frame),
        marks=(front_notch(upper),),
        grain=(
            np.array([frame.half - INWARD, frame.waist_y - 15]),
            np.array([frame.half - INWARD, frame.pit[1] + 10]),
        ),
        cut_as="fold",
    )
    back, front = laid_out((back, front), left=0.0, top=0.0)
    seams = upper_seams(frame, back, front, uids)
    figures = (
        Figure("half bust with ease", girth((back, front), "bust-line")),
        Figure("half waist with ease", girth((back, front), "waist")),
        *upper_figures(frame, back, front),
        *dart_figures((back, front)),
    )
    return Draft(pieces=(back, front), seams=tuple(seams), figures=figures, warnings=frame.warnings)


def upper_seams(frame: Frame, back: Piece, front: Piece, uids: Uids) -> list[Seam]:
    """The seams of shoulder, where the back may be eased, of side, and of a shaped centre back."""
    ease = frame.back_shoulder - frame.front_shoulder
    seams = [
        sewn_to((front, "shoulder"), (back, "shoulder"), uids, ease=ease),
        sewn_to((front, "side"), (back, "side"), uids),
    ]
    if frame.back_shaping:
        seams.append(sewn_to((back, "centre"), (back, "centre"), uids, mirrored=True))
    return seams


def _shaped_waist(frame: Frame) -> tuple[Frame, Waist]:
    """The frame with darts and side edges that share the waist, and its waist seams.

    A side edge is shaped in a straight line from the underarm on. The waist seam rises and falls, so that it is longer
    than wide and the sides take off more than planned: by how much is found by drawing it.
    """
    high = frame.waist_y - frame.bust_y
    most, curved = min(MOST_SIDE * high / frame.waist_y, math.tan(STEEPEST) * high), 0.0
    for _ in range(8):
        made = shaped(frame, most_side=most - curved)
        waist = solve_waist(made)
        goes, down = float(waist.front_side[0]) - made.side, float(waist.front_side[1]) - frame.bust_y
        over = max(goes - most, goes - math.tan(STEEPEST) * down)
        if over <= 0.0:
            break
        curved += over + 0.2
    return made, waist


def _refuse_blunt(frame: Frame, waist: Waist) -> None:
    """Errors: GeometryError where a waist dart would open by more than BLUNT: no cloth lies flat about such a point."""
    groups = (("back", frame.back_darts, waist.back), ("front", frame.front_darts, waist.front))
    blunt = [
        (piece, len(darts), dart, turn)
        for piece, darts, seam in groups
        for dart, turn in zip(darts, seam.angles, strict=True)
        if turn > BLUNT
    ]
    if not blunt:
        return
    piece, _, dart, turn = blunt[0]
    # one dart more is the cure where there is one; both pieces are named at once
    cures = [Option(f"{name}-darts", "2") for name, count, _, _ in blunt if count == 1] or [Option("waist-ease")]
    raise GeometryError(
        f"{piece}.{dart.name} would be {show(dart.intake, 'cm')} wide and only"
        f" {show(dart.intake / 2 / math.sin(turn / 2), 'cm')} long, since nape-to-waist and scye-depth leave"
        f" {show(frame.waist_y, 'cm')} from underarm to waist and half the bust loses"
        f" {show(frame.half - frame.waist, 'cm')} there; check the measurements, or give ",
        *[part for cure in cures for part in (cure, " and ")][:-1],
    )


def upper_figures(frame: Frame, back: Piece, front: Piece) -> tuple[Figure, ...]:
    """What one reads off an upper block, and what the method has set by itself."""
    return (
        edge_figure(back, "armhole"),
        edge_figure(front, "armhole"),
        edge_figure(back, "neck"),
        edge_figure(front, "neck"),
        edge_figure(front, "shoulder"),
        Figure("back shoulder slope", math.degrees(frame.back_slope), unit="°"),
        Figure("front shoulder slope", math.degrees(frame.front_slope), unit="°"),
        *(Figure(name, value) for name, value in frame.told),
        Figure("front neck point over the back's", float(frame.back_neck[1] - frame.front_neck[1])),
        Figure("bust dart", math.degrees(frame.bust_angle), unit="°"),
    )


def waist_lean(frame: Frame, waist_y: float, taken: float) -> tuple[float, float]:
    """How a straight side seam leans (radians), and how far beyond `side` it starts at the underarm (mm).

    The seam passes through the frame's side line at the level where the bust is measured.
    """
    slope = taken / (waist_y - frame.bust_y)
    return math.atan(slope), slope * frame.bust_y


def waist_at_centre(frame: Frame) -> Array:
    """Where the waist meets the centre back."""
    return np.array([frame.back_shaping, frame.waist_y])


def solve_waist(frame: Frame) -> Waist:
    """The waist seams: square to the centres and to the side seams, darts closed one curve each, girth as wanted.

    Two unknowns: what each side edge takes off, so that the girth comes out; and the level of the side's end. Were the
    two closed curves to bend as evenly as circular arcs, the waist would sink toward the sides; it is let down by SINK
    of that, so that the side seam stays near its length on the body and the curves still bend one way.
    Errors: GeometryError where it does not come out, or would run up along the sides.
    """
    low = SINK * _evened(frame, frame.side_shaping, 0.0)
    high = frame.waist_y - frame.bust_y
    if abs(low) > UP_THE_SIDE * high:
        raise GeometryError(f"its waist would run {show(abs(low), 'cm')} up the side seams")

    def drawn(taken: float) -> tuple[Waist, float]:
        waist = _waist(frame, taken, low)
        return waist, length(waist.back.closed) + length(waist.front.closed) - frame.waist

    return come_out(drawn, frame.side_shaping)[0]


def _waist(frame: Frame, taken: float, low: float) -> Waist:
    y = frame.waist_y + low
    lean, _ = waist_lean(frame, y, taken)
    cos, sin = math.cos(lean), math.sin(lean)
    back_side, front_side = np.array([frame.side - taken, y]), np.array([frame.side + taken, y])
    back = opened(waist_at_centre(frame), RIGHT, back_side, np.array([cos, sin]), _wedges(frame.back_darts))
    front = opened(
        np.array([frame.half, frame.waist_y]), -RIGHT, front_side, np.array([-cos, sin]), _wedges(frame.front_darts)
    )
    return Waist(back=back, front=front, back_side=back_side, front_side=front_side)


def _evened(frame: Frame, taken: float, low: float) -> float:
    """How far below the waist level the side would end if the chords of both closed seams halved their turns, mm."""

    def imbalance(at: float) -> float:
        waist = _waist(frame, taken, at)
        return _uneven(waist.back.closed) - _uneven(waist.front.closed)

    step = 1.0
    here, there = imbalance(low), imbalance(low + step)
    return low if there == here else low - here * step / (there - here)


def _uneven(closed: Curve) -> float:
    """Signed radians by which the chord of a curve leans from the middle of its end directions."""
    p = closed.controls[0]
    chord = p[3] - p[0]
    return angle(p[1] - p[0], chord) - angle(chord, p[3] - p[2])


def _wedges(darts: tuple[WaistDart, ...]) -> list[Wedge]:
    return [Wedge(name=d.name, apex=np.array([d.x, d.top]), axis=-UPRIGHT, intake=d.intake) for d in darts]


def _legs(feet: Array, dart: WaistDart) -> Array:
    return np.array([feet[0], [dart.x, dart.top], feet[1]])


def turned_about(seam: Opened) -> tuple[Curve, ...]:
    """The parts of a seam walked from its end."""
    return tuple(reverse(part) for part in seam.parts[::-1])


def reversed_wedges(darts: tuple[WaistDart, ...], seam: Opened) -> list[tuple[WaistDart, Array]]:
    """Darts with their feet and points, for a seam walked from its end."""
    return [(d, _legs(feet, d)[::-1]) for d, feet in reversed(list(zip(darts, seam.feet, strict=True)))]


def back_centre(frame: Frame, below: tuple[Array, ...]) -> Side:
    """The centre back from the lowest of the points `below` up to the nape; straight on the fold, or shaped as a seam.

    A shaped one is upright from nape to bust line and comes in to the waist in one curve, upright there again.
    """
    waist = waist_at_centre(frame)
    if not frame.back_shaping:
        return Side(name="centre", parts=(line(below[-1], frame.nape),), use="fold", words="CB")
    bust = np.array([0.0, frame.bust_y])
    third = np.array([0.0, (frame.waist_y - UPRIGHT_AT_WAIST - frame.bust_y) / 3])
    low = waist - np.array([0.0, UPRIGHT_AT_WAIST])
    curves = [line(waist, low), cubic(low, low - third, bust + third, bust), line(bust, frame.nape)]
    if below[-1][1] > frame.waist_y + 1:
        curves.insert(0, line(below[-1], waist))
    return Side(name="centre", parts=(chain(curves),), words="CB", centre=True)


def blade_wedges(upper: Upper) -> tuple[Wedged, ...]:
    """The back shoulder dart, where there is one."""
    if not len(upper.blade_dart):
        return ()
    return (Wedged(name="shoulder-dart", host="shoulder", legs=upper.blade_dart, pressed="neck"),)


def bust_wedge(upper: Upper, frame: Frame) -> Wedged:
    """The bust dart, in the corner of shoulder and neck or on the armhole. It is made to be moved, so that how it is
    folded is left to where it goes."""
    return Wedged(name="bust-dart", host=frame.bust_on, legs=upper.bust_dart)


def panel_marks(frame: Frame) -> tuple[Beside, ...]:
    """Balance marks above and below the bust point, where a panel line runs on from the bust dart to the waist's."""
    below = min(frame.front_darts, key=lambda dart: abs(dart.x - float(frame.bust_point[0])))
    return tuple(Beside(dart=dart, about="bust-point", by=PANEL) for dart in ("bust-dart", below.name))


def front_notch(upper: Upper) -> Mark:
    """The single notch on the front armhole, kept off the foot of a dart there."""
    at = NOTCH_FRONT * sum(length(part) for part in upper.front_armhole)
    if len(upper.front_armhole) > 1:
        foot = length(upper.front_armhole[0])
        at = min(at, foot - 12) if at < foot else max(at, foot + 12)
    return Mark(edge="armhole", at=at)

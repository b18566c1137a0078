"""The sleeve block: one piece, set in, its cap as long as the armhole plus a stated ease.

Common practice, no source: a cap a third of the armhole high, more ease in the back than in the front, none below the
notches; own choices: the shape of the cap (one S-shaped cubic on each side) and the taper to the wrist.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np

from flatcut.blocks.underarm import draw_underarm, hem_chord, underarm_seams
from flatcut.errors import GeometryError, Option, UsageError
from flatcut.geometry.curves import Curve, chain, cubic, reverse
from flatcut.geometry.length import length
from flatcut.pattern.assembling import Mark, Side, assembled, sewn_to
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Piece, Position, Seam
from flatcut.pattern.walking import sewn_at, sewn_length
from flatcut.units import show

NEEDED = ("top-arm", "wrist", "sleeve-length")
CAP_EASE, ARM_EASE, WRIST_EASE = 30.0, 50.0, 70.0
"""mm: cap over armhole; least over the upper arm; over the wrist."""
CAP_SHARE, LEAST_CAP = 1 / 3, 0.2
"""Height of the cap as a part of the armhole, and the least before the sleeve is refused."""
BACK_SHARE = 0.55
"""Part of the ease that goes into the back."""
USUAL_EASE = 45.0
"""mm of cap ease beyond which a warning is due (common practice, no source)."""
SETTLED = 1e-8
"""mm within which lengths and widths come out."""
FRONT_HANDLES, BACK_HANDLES = (0.5, 0.52), (0.4, 0.6)
"""Handles at the underarm and at the crown, as parts of the half width: the front is hollower, the back fuller."""


@dataclass(frozen=True, kw_only=True)
class SleeveFrame:
    """mm. back, front: half widths at the bicep line, left and right of the crown; height: of the cap; below: underarm
    seam's drop to the hem; hem: its width as asked; cap_back, cap_front: the curves from the left underarm to the crown
    and from there to the right underarm. Origin under the crown on the bicep line, y down."""

    back: float
    front: float
    height: float
    below: float
    hem: float
    cap_back: Curve
    cap_front: Curve
    warnings: tuple[str, ...] = ()

    @property
    def bicep(self) -> float:
        """Width at the bicep line."""
        return self.back + self.front


def half_width(diagonal: float, height: float) -> float:
    """Half width of a straight-lined cap: its diagonal over the cap's height.

    >>> round(half_width(205, 140), 3), round(half_width(215, 140), 3)
    (149.75, 163.172)
    """
    return math.sqrt(diagonal * diagonal - height * height)


def sleeve_frame(
    body: Mapping[str, float],
    *,
    back_armhole: float,
    front_armhole: float,
    cap_ease: float = CAP_EASE,
    cap_height: float | None = None,
    arm_ease: float = ARM_EASE,
    wrist_ease: float = WRIST_EASE,
    lean: float | None = None,
) -> SleeveFrame:
    """The frame for an arm (mm, keys as in NEEDED) and the two armhole lengths.

    lean: radians of the underarm seams, which the cap meets squarely; None for that which hem and length give.

    The cap is lowered, with a warning, where the sleeve would come out narrower than arm and `arm_ease`.
    Errors: UsageError where that would leave no cap.
    """
    whole = back_armhole + front_armhole
    targets = back_armhole + BACK_SHARE * cap_ease, front_armhole + (1 - BACK_SHARE) * cap_ease
    least = body["top-arm"] + arm_ease
    height = CAP_SHARE * whole if cap_height is None else cap_height
    warnings = []
    if not 0 <= cap_ease <= USUAL_EASE:
        warnings.append(f"a cap ease of {show(cap_ease, 'cm')} is unusual; a woven sleeve takes 0 to 4.5 cm")
    hem = body["wrist"] + wrist_ease

    def solved(height: float, near: _Near | None = None) -> tuple[SleeveFrame, _Near]:
        return _solved(targets, height, body["sleeve-length"] - height, hem, near, lean)

    if height > 0.48 * min(targets) * 2:
        raise UsageError(
            f"a cap {show(height, 'cm')} high does not fit an armhole of {show(whole, 'cm')}; give a lower one"
        )
    frame, near = solved(height)
    if frame.bicep < least:
        low, high = LEAST_CAP * whole, height
        wide, near = solved(low, near) if low < high else (frame, near)
        if wide.bicep < least:
            raise UsageError(
                f"an armhole of {show(whole, 'cm')} is too small for top-arm {show(body['top-arm'], 'cm')};"
                " give more bust ease or a smaller ",
                Option("arm-ease"),
            )
        # the bicep falls evenly as the cap rises: false position, where an end that stays counts half (Dowell and
        # Jarratt, A modified regula falsi method for computing the root of an equation, 1971)
        over, under, last = wide.bicep - least, frame.bicep - least, 0.0
        for _ in range(30):
            middle = low + (high - low) * over / (over - under)
            frame, near = solved(middle, near)
            away = frame.bicep - least
            if abs(away) < SETTLED:
                break
            if away > 0:
                low, over, under = middle, away, under / 2 if last > 0 else under
            else:
                high, under, over = middle, away, over / 2 if last < 0 else over
            last = away
        low = middle
        warnings.append(
            f"the cap is {show(low, 'cm')} high instead of {show(height, 'cm')}, so that the sleeve goes round the arm"
        )
    if hem > frame.bicep:
        warnings.append(
            f"the hem is {show(frame.bicep, 'cm')} wide instead of {show(hem, 'cm')}, as wide as the sleeve at the arm;"
            " give a smaller --wrist-ease"
        )
    return SleeveFrame(**{**vars(frame), "warnings": tuple(warnings)})


class _Half(NamedTuple):
    """mm of a half width, and how many mm the cap's curve grows for one of it."""

    width: float
    grows: float


class _Near(NamedTuple):
    """Where a search starts that follows one for a cap of another height. lean: of the underarm seams, in radians."""

    lean: float = 0.0
    halves: tuple[_Half | None, _Half | None] = (None, None)


def _solved(
    targets: tuple[float, float], height: float, below: float, hem: float, near: _Near | None, fixed: float | None
) -> tuple[SleeveFrame, _Near]:
    """The half widths at which the cap's two curves have their lengths; the underarm seams lean with them."""
    if below < 100 and fixed is None:
        raise UsageError("the sleeve ends above the elbow; check sleeve-length, usually 52 to 66 cm")
    lean, halves = near or _Near()
    lean = lean if fixed is None else fixed
    for _ in range(30):
        back, cap_back = _half(targets[0], height, lean, BACK_HANDLES, halves[0])
        front, mirrored = _half(targets[1], height, lean, FRONT_HANDLES, halves[1])
        halves = back, front
        before = lean
        if fixed is None:
            lean = math.atan(max(0.0, back.width + front.width - hem_chord(hem, lean)) / 2 / below)
        if abs(lean - before) < 1e-11:
            break
    cap_front = reverse(Curve(mirrored.controls * np.array([-1.0, 1.0]), mirrored.straight))
    frame = SleeveFrame(
        back=back.width,
        front=front.width,
        height=height,
        below=below,
        hem=min(hem, back.width + front.width),
        cap_back=cap_back,
        cap_front=cap_front,
    )
    return frame, _Near(lean, halves)


def _half(
    target: float, height: float, lean: float, handles: tuple[float, float], near: _Half | None
) -> tuple[_Half, Curve]:
    """Half width and curve of one side of the cap, from the left underarm, square to its seam, to the level crown."""
    # the length grows almost evenly with the width: a few secant steps from the straight diagonal do, fewer from a
    # width that was right for nearly the same cap
    width, grows = near or (half_width(max(target, 1.05 * height), height), 1.0)
    before = away = math.nan
    if near is None:
        before, away = 0.9 * width, length(_cap(0.9 * width, height, lean, handles)) - target
    for _ in range(30):
        curve = _cap(width, height, lean, handles)
        excess = length(curve) - target
        if abs(excess) < SETTLED or excess == away:
            break
        if not math.isnan(away):
            grows = (excess - away) / (width - before)
        before, away, width = width, excess, width - excess / grows
    if not 0.2 * height < width:
        raise GeometryError("the cap is too high for its armhole; give a lower ", Option("cap-height"))
    return _Half(width, grows), curve


def _cap(width: float, height: float, lean: float, handles: tuple[float, float]) -> Curve:
    start, crown = np.array([-width, 0.0]), np.array([0.0, -height])
    along = np.array([math.cos(lean), -math.sin(lean)])
    return cubic(start, start + handles[0] * width * along, crown - [handles[1] * width, 0.0], crown)


def draft_sleeve(
    frame: SleeveFrame,
    uids: Uids,
    *,
    back_notch: float,
    front_notch: float,
    name: str = "sleeve",
    elbow: str = "straight",
) -> tuple[Piece, tuple[Seam, ...]]:
    """The sleeve, its back on the left and its front on the right, and the seams that close it.

    Notches: mm from the underarm along the cap. elbow: one of `underarm.ELBOWS`. Errors: GeometryError.
    """
    left, right = np.array([-frame.back, 0.0]), np.array([frame.front, 0.0])
    if frame.height + frame.below < 100 or frame.hem < 60:
        raise GeometryError("the sleeve has no room for a hand; check wrist and sleeve-length")
    under = draw_underarm(left, right, below=frame.below, hem=frame.hem, kind=elbow)
    cap = chain([frame.cap_back, frame.cap_front])
    piece = assembled(
        name,
        (
            Side(name="cap", parts=(cap,)),
            Side(name="underarm-front", parts=(under.front,)),
            Side(name="hem", parts=(under.hem,), use="hem"),
            Side(name="underarm-back", parts=under.back),
        ),
        uids,
        wedges=under.wedges,
        levels=(("bicep-line", left, right), ("elbow-line", *under.elbow)),
        points=(("crown", np.array([0.0, -frame.height])),),
        marks=(
            Mark(edge="cap", at=back_notch, count=2),
            Mark(edge="cap", at=length(frame.cap_back)),
            Mark(edge="cap", at=front_notch, from_end=True),
            *under.marks,
        ),
        grain=(np.array([0.0, frame.below - 25]), np.array([0.0, -frame.height + 20])),
        cut_as="pair",
    )
    return piece, underarm_seams(piece, under, uids)


@dataclass(frozen=True, kw_only=True)
class Armhole:
    """One armhole as drafted. notch: sewn mm from the underarm to its notch.

    The piece's outline runs clockwise, so a back's armhole ends at the underarm and a front's starts there.
    """

    piece: Piece
    edge: Edge
    notch: float

    @property
    def sewn(self) -> float:
        """mm, darts closed."""
        return sewn_length(self.edge)


Row: TypeAlias = tuple[Armhole, tuple[Position, Position], tuple[Position, Position], float]
"""A stretch of an armhole, one of the cap that it is sewn to, and mm of ease in it."""


def armhole_of(piece: Piece, edge: Edge, *, front: bool, share: float) -> Armhole:
    """An armhole with the place of its notch, or without one at a part `share` of its length from the underarm."""
    whole = sewn_length(edge)
    for notch in piece.notches:
        if notch.edge == edge.uid:
            at = sewn_at(edge, notch.at)
            return Armhole(piece=piece, edge=edge, notch=at if front else whole - at)
    return Armhole(piece=piece, edge=edge, notch=share * whole)


def cap_length(frame: SleeveFrame) -> float:
    """mm of the whole cap."""
    return length(frame.cap_back) + length(frame.cap_front)


def cap_seams(back: Armhole, front: Armhole, sleeve: Piece, frame: SleeveFrame, uids: Uids) -> tuple[Seam, ...]:
    """The seams of the cap with both armholes: plain from the underarm to the notches, with the ease above them."""
    whole, crown = cap_length(frame), length(frame.cap_back)
    return set_in(back, front, sleeve, crown, (crown - back.sewn, whole - crown - front.sewn), uids)


def set_in(
    back: Armhole, front: Armhole, sleeve: Piece, crown: float, eases: tuple[float, float], uids: Uids
) -> tuple[Seam, ...]:
    """The seams of a cap with both armholes, with ease above the notches.

    crown: sewn mm along the cap to the shoulder; eases: mm, of the back and of the front.
    """
    rows = (
        (front, (from_start(0.0), from_start(front.notch)), (from_end(front.notch), from_end(0.0)), 0.0),
        (front, (from_start(front.notch), from_end(0.0)), (from_start(crown), from_end(front.notch)), eases[1]),
        (back, (from_start(0.0), from_end(back.notch)), (from_start(back.notch), from_start(crown)), eases[0]),
        (back, (from_end(back.notch), from_end(0.0)), (from_start(0.0), from_start(back.notch)), 0.0),
    )
    return to_armholes(sleeve, rows, uids)


def to_armholes(sleeve: Piece, rows: Iterable[Row], uids: Uids) -> tuple[Seam, ...]:
    """Seams of stretches of armholes with stretches of a sleeve's cap, each with the ease in it."""
    return tuple(
        sewn_to((hole.piece, hole.edge.name), (sleeve, "cap"), uids, ease=ease, a_stretch=on_hole, b_stretch=on_cap)
        for hole, on_hole, on_cap, ease in rows
    )


def from_start(at: float) -> Position:
    """A place so many mm from the start of an edge."""
    return Position(mode="start", value=at)


def from_end(at: float) -> Position:
    """A place so many mm from the end of an edge."""
    return Position(mode="end", value=at)

"""The frame of an upper block: the points and widths that a drafting method gives, before any curve is laid.

Half a body, mm, y down. Origin: centre back at the level of the underarm; centre front at x = `half`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.arrays import Array


@dataclass(frozen=True, kw_only=True)
class WaistDart:
    """A waist dart, its axis upright at `x`: point at `top`, lower point of a double-pointed one at `bottom`, mm."""

    name: str
    x: float
    top: float
    bottom: float
    intake: float


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What a method says of one body.

    half: half of bust and ease. side: x of the side seam at `bust_y`, the level at which the bust is measured.
    back_shoulder, front_shoulder: lengths as sewn; back_slope, front_slope: radians below level, darts closed.
    shoulder_dart: width of the back shoulder dart; blade: its point.
    across_back, across_chest: x of the width lines. bust_point; bust_angle in radians; bust_on: 'shoulder' (the dart
    opens in the corner of neck and shoulder) or 'armhole'.
    waist_y, hip_y: levels. waist, hip: half girths with ease. back_shaping: what a shaped centre back takes off at the
    waist; side_shaping: what each side edge takes off. back_darts, front_darts: as the method plans them.
    told: what the method sets by itself, and the balance, as names and mm.
    """

    half: float
    side: float
    bust_y: float
    waist_y: float
    hip_y: float
    waist: float
    hip: float
    nape: Array
    back_neck: Array
    back_shoulder: float
    back_slope: float
    shoulder_dart: float
    blade: Array
    across_back: float
    front_neck: Array
    pit: Array
    front_shoulder: float
    front_slope: float
    across_chest: float
    bust_point: Array
    bust_angle: float
    bust_on: str
    back_shaping: float
    side_shaping: float
    back_darts: tuple[WaistDart, ...]
    front_darts: tuple[WaistDart, ...]
    told: tuple[tuple[str, float], ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def front_waist_length(self) -> float:
        """mm from the front neck point over the bust point to the waist."""
        return self.neck_to_bust + self.waist_y - float(self.bust_point[1])

    @property
    def neck_to_bust(self) -> float:
        """mm from the front neck point to the bust point."""
        return float(np.linalg.norm(self.front_neck - self.bust_point))


def waist_darts(
    x: float, top: float, bottom: float, intakes: Sequence[float], *, second: float
) -> tuple[WaistDart, ...]:
    """One dart or two, as planned. second: x of the second until its intake, and so its place, is settled."""
    first = WaistDart(name="waist-dart", x=x, top=top, bottom=bottom, intake=intakes[0])
    if len(intakes) == 1:
        return (first,)
    return first, WaistDart(name="waist-dart-2", x=second, top=top, bottom=bottom, intake=intakes[1])

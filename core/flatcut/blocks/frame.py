"""The frame of an upper block: the points and widths that a drafting method gives, before any curve is laid.

Half a body, mm, y down. Origin: centre back at the level of the underarm; centre front at x = `half`.
"""

from __future__ import annotations

from dataclasses import dataclass

from flatcut.geometry.arrays import Array

TWO_DARTS = 35.0
"""mm: a larger waist dart is made as two (common practice 3 to 3.5 cm, no source)."""


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
    back_shoulder, front_shoulder: lengths as sewn. blade: point of the back shoulder dart.
    across_back, across_chest: x of the width lines. bust_point; bust_angle in radians; bust_on: 'shoulder' (the dart
    opens in the corner of neck and shoulder) or 'armhole'. far_foot: where the method as written sets the dart's second
    foot at the shoulder. front_tip: as written.
    waist_y, hip_y: levels. waist, hip: half girths with ease. back_shaping: what a shaped centre back takes off at the
    waist; side_shaping: what each side edge takes off.
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
    back_tip: Array
    back_shoulder: float
    blade: Array
    across_back: float
    front_neck: Array
    pit: Array
    front_tip: Array
    front_shoulder: float
    across_chest: float
    bust_point: Array
    bust_angle: float
    bust_on: str
    far_foot: Array | None
    back_shaping: float
    side_shaping: float
    back_darts: tuple[WaistDart, ...]
    front_darts: tuple[WaistDart, ...]
    warnings: tuple[str, ...] = ()

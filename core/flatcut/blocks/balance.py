"""The front's balance: how high the neck point and how low the bust point lie, from two measurements or by the bust."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.units import show

FRONT_WAIST, NECK_TO_BUST = "front-waist-length", "neck-to-bust"
HIGHEST, LOWEST = 0.0, 110.0
"""mm of the bust point below the underarm line between which a front can be drawn."""
MOST_RAISE = -20.0, 70.0
"""mm of the front neck point over the back's that a body can have."""


def bust_level(body: Mapping[str, float], waist_y: float, usual: float) -> float:
    """The level of the bust point: above the waist by what the two measurements differ by; else the method's own.

    Errors: GeometryError where no bust lies so high or so low.
    """
    if FRONT_WAIST not in body or NECK_TO_BUST not in body:
        return usual
    level = waist_y - (body[FRONT_WAIST] - body[NECK_TO_BUST])
    if not HIGHEST <= level <= LOWEST:
        raise GeometryError(
            f"front-waist-length {show(body[FRONT_WAIST], 'cm')} and neck-to-bust {show(body[NECK_TO_BUST], 'cm')} put"
            f" the bust point {show(abs(level), 'cm')} {'above' if level < 0 else 'below'} the underarm"
        )
    return level


def neck_point(body: Mapping[str, float], x: float, bust_point: Array, waist_y: float, back_y: float) -> Array | None:
    """The front neck point at `x`, as far from the bust point as is measured; None where neither is measured.

    With one of the measurements alone the bust point lies where the method sets it, and the other follows.
    Errors: GeometryError where it comes out far off the back neck point's level `back_y`.
    """
    if NECK_TO_BUST in body:
        reach = body[NECK_TO_BUST]
    elif FRONT_WAIST in body:
        reach = body[FRONT_WAIST] - (waist_y - float(bust_point[1]))
    else:
        return None
    aside = abs(x - float(bust_point[0]))
    y = float(bust_point[1]) - math.sqrt(max(0.0, reach * reach - aside * aside))
    if not MOST_RAISE[0] <= back_y - y <= MOST_RAISE[1]:
        known = " and ".join(f"{name} {show(body[name], 'cm')}" for name in (FRONT_WAIST, NECK_TO_BUST) if name in body)
        raise GeometryError(
            f"{known} put the front neck point {show(abs(back_y - y), 'cm')} {'above' if y < back_y else 'below'} that"
            " of the back"
        )
    return np.array([x, y])


def by_itself(body: Mapping[str, float], **values: float) -> tuple[tuple[str, float], ...]:
    """What is told of each: its name as a measurement has it, marked where the body does not state it.

    >>> by_itself({"neck": 370.0}, neck=370.0, bust_span=190.0)
    (('neck', 370.0), ('bust-span, by the bust', 190.0))
    """
    named = {key.replace("_", "-"): value for key, value in values.items()}
    return tuple((name if name in body else f"{name}, by the bust", value) for name, value in named.items())

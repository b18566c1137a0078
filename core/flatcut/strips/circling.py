"""Circle skirts and flounces: parts of a ring whose inner edge is as long as what they are sewn to. mm, y down."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, reverse
from flatcut.pattern.assembling import Mark, Side, assembled
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Piece

STEP = math.radians(30.0)
"""Largest turn of one cubic: its arc then strays by less than 1e-6 of the radius."""
SAME = 1.0
"""mm: a notch this near to an end of the inner edge is left out."""
MOST = 12
"""Parts that a ring is cut in, before the cloth is taken to be too narrow."""


def radius(inner: float, circles: float) -> float:
    """mm of the radius at which an inner edge of that length goes round so many whole circles: W / 2πk.

    >>> round(radius(720.0, 1.0), 3), round(radius(720.0, 0.5), 3), round(radius(28.0, 0.25), 4)
    (114.592, 229.183, 17.8254)
    """
    return inner / (2 * math.pi * circles)


def parts_of(outer: float, circles: float, cloth: float) -> int:
    """Into how many equal parts a ring is cut so that each lies across the cloth, its middle on the grain.

    A part that turns through φ is 2 R sin(φ/2) wide, and 2 R from a half circle on. One that is a whole circle or more
    cannot be one part. Errors: GeometryError where the cloth is too narrow for any.

    >>> parts_of(714.6, 1.0, 1500.0), parts_of(714.6, 1.0, 1400.0), parts_of(714.6, 0.5, 1500.0)
    (2, 3, 1)
    """
    for count in range(1, MOST + 1):
        turn = 2 * math.pi * circles / count
        if turn > math.pi + 1e-9:
            continue
        if 2 * outer * math.sin(turn / 2) <= cloth + 1e-6:
            return count
    raise GeometryError(
        f"a ring of radius {outer:.0f} mm does not come out of cloth {cloth:.0f} mm wide; take it wider"
    )


def sector(
    name: str, inner: float, high: float, turn: float, places: Sequence[float], uids: Uids, *, edge: str
) -> Piece:
    """A part of a ring about its upright middle: its inner edge of radius `inner`, so high, turning by radians.

    places: mm along the inner edge at which it gets notches.
    """
    start = math.pi / 2 + turn / 2  # of the inner edge, at the left; angles count from +x, y down
    near = arc(inner, start, -turn)
    far = arc(inner + high, start, -turn)
    sides = (
        Side(name=edge, parts=(near,)),
        Side(name="side", parts=(line(near.end, far.end),)),
        Side(name="hem", parts=(reverse(far),), use="hem"),
        Side(name="side-2", parts=(line(far.start, near.start),)),
    )
    middle = np.array([0.0, inner + 0.2 * high]), np.array([0.0, inner + 0.8 * high])
    marks = [Mark(edge=edge, at=at) for at in places if SAME < at < inner * turn - SAME]
    return assembled(name, sides, uids, marks=marks, grain=middle, cut_as="single")


def arc(size: float, start: float, turn: float) -> Curve:
    """A circular arc about the origin from an angle on, by cubics of equal turns."""
    count = max(1, math.ceil(abs(turn) / STEP - 1e-9))
    step = turn / count
    reach = 4 / 3 * math.tan(step / 4) * size

    def at(angle: float) -> tuple[Array, Array]:
        unit = np.array([math.cos(angle), math.sin(angle)])
        return size * unit, np.array([-unit[1], unit[0]])

    spans = []
    for k in range(count):
        (p, u), (q, v) = at(start + k * step), at(start + (k + 1) * step)
        spans.append(cubic(p, p + reach * u, q - reach * v, q))
    return chain(spans, within=1e-6)

"""An edge whose corner at the fold or at the centre line is moved, drawn anew so that it stands as square as before."""

from __future__ import annotations

import math

import numpy as np

from flatcut.drafting.blending import tightest_of
from flatcut.drafting.ends import NODE, outward
from flatcut.drafting.shifting import shifted
from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, section, tangent
from flatcut.geometry.even import most_even
from flatcut.geometry.fairness import fairness
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length, place_at
from flatcut.geometry.welding import ending_at, starting_at
from flatcut.pattern.values import Edge

SQUARE = 1.0
"""Degrees off a right angle that count as square (common practice, no source)."""
TIGHTER = 1.5
"""Times the tightest bend of the edge as it was that it may have."""
ROUND = 50.0
"""mm: radius of a bend that no edge is refused for: a narrow neck (common practice, no source)."""
ASKEW = 15.0
"""Degrees that an edge may leave its other end otherwise than if it only turned (common practice, no source)."""
SMOOTH = 0.5
"""Degrees that an edge turns at a node and is said to have a corner there, which is kept."""


def is_square(edge: Edge, other: Edge, *, at_end: bool) -> bool:
    """Whether an edge stands square on the fold or the centre line that it meets at one of its ends."""
    if not other.middle:
        return False
    along = outward(edge, at_end=at_end) @ outward(other, at_end=not at_end)
    return abs(math.degrees(math.asin(float(np.clip(along, -1, 1))))) <= SQUARE


def kept_square(part: Curve, stretch: float, turned: Curve, at: float, turn: float) -> Curve | None:
    """A part whose last `stretch` mm are drawn anew to where `turned` ends, arriving as it did, turned by `turn`.

    turned: the part as it would be if it only turned, from `at` mm on. A line that bends to one side is one even curve,
    which leaves as it did or, where that bends too tightly and nothing runs on before it, as the turned one or nearly
    so. A line that bends to and fro keeps its shape. turn: radians by which the line has turned that it is square to.
    None where it would bend more often than before, or too tightly. Both are walked toward the corner.

    >>> from flatcut.geometry.curves import cubic
    >>> neck = cubic((0, 0), (0, 40), (30, 70), (60, 70))
    >>> low = kept_square(neck, length(neck), cubic((0, 0), (0, 40), (30, 90), (60, 90)), 0.0, 0.0)
    >>> tangent(low, 0.0), tangent(low, 1.0, before=True), low.end
    (array([0., 1.]), array([1., 0.]), array([60., 90.]))
    """
    u = place_at(part, max(0.0, length(part) - stretch))
    u = float(round(u)) if abs(u - round(u)) < NODE else u
    old, end = section(part, u, float(len(part))), turned.end
    leave, way = tangent(part, u, before=u > 0), tangent(part, float(len(part)), before=True)
    cos, sin = math.cos(turn), math.sin(turn)
    arrive = np.array([cos * way[0] - sin * way[1], sin * way[0] + cos * way[1]])
    was = fairness(old)
    tried: list[Curve | None] = []
    if was.inflections == 0 and was.kink < SMOOTH:
        tried.append(most_even(old.start, leave, end, arrive))
        if at <= 0:
            onto = tangent(turned, 0.0)
            tried.append(_flowing(old.start, onto, end, arrive))
            free = _flowing(old.start, None, end, arrive)
            near = free is not None and float(tangent(free, 0.0) @ onto) > math.cos(math.radians(ASKEW))
            tried.append(free if near else None)
    elif abs(turn) < NODE:
        tried.append(shifted(old, end - old.end, rising=True, straight=False))
    most = max(TIGHTER * tightest_of([old]), 1.0 / ROUND)
    for made in tried:
        if made is None or tightest_of([made]) > most or fairness(made).inflections > was.inflections:
            continue
        made = ending_at(starting_at(made, old.start), end)
        return chain([section(part, 0.0, u), made], within=1e-6) if u > 0 else made
    return None


def _flowing(start: Array, leave: Array | None, end: Array, arrive: Array) -> Curve | None:
    try:
        return flowing([start, end], leave=leave, arrive=arrive)
    except GeometryError:
        return None

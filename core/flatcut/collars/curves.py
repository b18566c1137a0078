"""The lines of a collar: fair, square to the fold, of a stated length. mm; the fold lies at x = 0, up is -y."""

from __future__ import annotations

import math

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, cubic, line, point, section, tangent
from flatcut.geometry.flowing import flowing
from flatcut.geometry.length import length, place_at

ROUNDS = 60
"""Halvings and Newton steps for a length; ten are the rule."""
SETTLED = 1e-9
"""mm."""


def rising(long: float, rise: float) -> Curve:
    """A neck edge so long that leaves the fold square and ends `rise` mm higher (below 0: lower).

    It is the cubic parabola y = rise · (x/X)³, which bends not at all at the fold and more and more toward the front,
    as draughtsmen's curves do; it is one cubic exactly. Errors: GeometryError where it would be too steep.

    >>> neck = rising(185.0, 15.0)
    >>> round(length(neck), 6), neck.start, round(float(neck.end[1]), 6)
    (185.0, array([0., 0.]), -15.0)
    """
    if abs(rise) > long / 3:
        raise GeometryError(f"an edge of {long:.1f} mm cannot rise by {abs(rise):.1f} mm; take less")

    def made(x: float) -> Curve:
        return cubic((0.0, 0.0), (x / 3, 0.0), (2 * x / 3, 0.0), (x, -rise))

    x = long
    for _ in range(ROUNDS):
        off = length(made(x)) - long
        if abs(off) < SETTLED:
            break
        x -= off
    return made(x)


def extended(curve: Curve, by: float) -> Curve:
    """The curve going straight on at its end, by mm."""
    if by <= 0:
        return curve
    return chain([curve, line(curve.end, curve.end + by * tangent(curve, float(len(curve)), before=True))], within=1e-6)


def rounded(edge: Curve, end: Curve, radius: float) -> tuple[Curve, Curve | None]:
    """An edge that is led in a curve into the one that follows it, and what is left of that one.

    radius: mm cut off either; None is left where the curve takes all of it.
    """
    if radius <= 0:
        return edge, end
    most = min(length(edge), length(end)) - 1e-6
    if radius > most + 1e-6:
        raise GeometryError(f"a corner cannot be rounded over {radius:.1f} mm where an edge is {most:.1f} mm long")
    u, v = place_at(edge, length(edge) - radius), place_at(end, radius)
    kept = section(edge, 0.0, u)
    a, b = point(edge, u), point(end, v)
    out, into = tangent(edge, u), tangent(end, v)
    turn = math.acos(float(np.clip(out @ into, -1.0, 1.0)))
    chord = float(np.linalg.norm(b - a))
    # handles of a circular arc of that turn
    reach = 2 / 3 * chord * math.tan(turn / 4) / math.sin(turn / 2) if turn > 1e-6 else chord / 3
    bend = cubic(a, a + reach * out, b - reach * into, b)
    rest = section(end, v, float(len(end))) if length(end) - radius > 0.05 else None
    if rest is None:
        bend = cubic(a, a + reach * out, end.end - reach * into, end.end)
    return chain([kept, bend], within=1e-6), rest


def swept(start: Array, end: Array) -> Curve:
    """An outer edge from the fold, which it leaves square, to the collar's point, on its own way there."""
    return flowing([start, end], leave=np.array([1.0, 0.0]))


def smoothed(curve: Curve, shoulder: float, wanted: float) -> Curve:
    """A neckline laid together, without its kink at the shoulder, and exactly so long as wanted.

    Through the middle of both its parts and by both its ends, with their directions; the end at the opening is moved
    along its own direction until the length comes out. Errors: GeometryError.
    """
    total = length(curve)
    u = [place_at(curve, at) for at in (shoulder * 0.55, shoulder + (total - shoulder) * 0.5)]
    through = [point(curve, at) for at in u]
    leave, arrive = tangent(curve, 0.0), tangent(curve, float(len(curve)), before=True)

    def made(by: float) -> Curve:
        return flowing([curve.start, *through, curve.end + by * arrive], leave=leave, arrive=arrive)

    by = wanted - total
    for _ in range(ROUNDS):
        off = length(made(by)) - wanted
        if abs(off) < 1e-7:
            return made(by)
        by -= off
    raise GeometryError("no fair neck edge comes out as long as the neckline; overlap the shoulders less")

"""Elliptical arcs of path data as cubics."""

from __future__ import annotations

import math

Cubic = tuple[float, float, float, float, float, float]
"""The two handles and the end point of a cubic that starts where the one before it ends."""

LARGEST_TURN = math.pi / 4
"""Radians of an arc that one cubic stands for.

Ends and tangents of a cubic are the arc's; between them it lies outside by 2/27·sin⁶(turn/4)/cos²(turn/4) of the
radius. That is 2.7e-4 at a quarter turn, 4.3e-6 at an eighth (0.4 µm at 100 mm), 3.7e-7 at a twelfth, which would take
half as many nodes again for nothing that a cutter could measure.
"""


def arc(
    x0: float, y0: float, rx: float, ry: float, degrees: float, large: bool, sweep: bool, x: float, y: float
) -> list[Cubic]:
    """The cubics of an arc from (x0, y0) to (x, y), with the flags and the turned axis of SVG.

    Every cubic stands for the same turn of at most LARGEST_TURN and lies within 4.3e-6 of the larger radius.
    Radii: without sign; too small ones are enlarged until the arc fits; one of zero makes a straight line, for which
    the list is empty, as it is when the two ends are equal.
    Source: SVG 2, appendix B.2.4 and B.2.5 (SVG 1.1, appendix F.6.5 and F.6.6).

    >>> [tuple(round(v, 6) for v in c) for c in arc(1, 0, 1, 1, 0, False, True, 0, 1)]
    [(1.0, 0.265216, 0.894643, 0.51957, 0.707107, 0.707107), (0.51957, 0.894643, 0.265216, 1.0, 0.0, 1.0)]
    """
    rx, ry = abs(rx), abs(ry)
    if rx == 0 or ry == 0 or (x0 == x and y0 == y):
        return []
    phi = math.radians(degrees % 360.0)
    cos, sin = math.cos(phi), math.sin(phi)
    # the half chord in the frame of the axes, as multiples of the radii: there the arc lies on a unit circle
    dx, dy = (x0 - x) / 2, (y0 - y) / 2
    u, v = (cos * dx + sin * dy) / rx, (cos * dy - sin * dx) / ry
    half = math.hypot(u, v)
    if half == 0 or not math.isfinite(half):  # a chord lost beside its radii, or radii lost beside their chord
        return []
    turn = 2 * math.asin(min(1.0, half))
    height = math.sqrt(max(0.0, (1 - half) * (1 + half))) * (-1 if large == sweep else 1)
    if half > 1:
        rx, ry, u, v, half = rx * half, ry * half, u / half, v / half, 1.0
    cu, cv = height * v / half, -height * u / half
    first = math.atan2(v - cv, u - cu)
    turn = (2 * math.pi - turn if large else turn) * (1 if sweep else -1)
    count = max(1, math.ceil(abs(turn) / LARGEST_TURN - 1e-9))
    step = turn / count
    reach = 4 / 3 * math.tan(step / 4)
    mx, my = (x0 + x) / 2, (y0 + y) / 2
    a, b, c, d = cos * rx, sin * rx, -sin * ry, cos * ry
    cubics: list[Cubic] = []
    px, py = u - cu, v - cv
    for k in range(1, count + 1):
        angle = first + k * step
        qx, qy = math.cos(angle), math.sin(angle)
        h1x, h1y = cu + px - reach * py, cv + py + reach * px
        h2x, h2y = cu + qx + reach * qy, cv + qy - reach * qx
        ex, ey = cu + qx, cv + qy
        cubics.append(
            (
                mx + a * h1x + c * h1y,
                my + b * h1x + d * h1y,
                mx + a * h2x + c * h2y,
                my + b * h2x + d * h2y,
                mx + a * ex + c * ey,
                my + b * ex + d * ey,
            )
        )
        px, py = qx, qy
    cubics[-1] = (*cubics[-1][:4], float(x), float(y))
    return cubics

"""Single cubics as a cutter lays a curve: given ends, given directions there, and as even a bend as that allows.

Points (2,) in mm, document coordinates (y down); directions are unit vectors along the walk.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from flatcut.errors import GeometryError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, cubic, line, locate

STRAIGHT = 1e-7
"""Radians: where both ends aim along the chord within this, the curve is the straight line."""
HANDLES = (0.08, 0.95)
"""Shortest and longest handle tried, as parts of the chord: shorter ones make a corner of the curve's end, longer ones
let the curve bulge out of its frame."""
FINE = 3e-6
"""How closely the numbers behind the handles are settled: far below a hundredth of a millimetre on any armhole."""
GENTLE = 40.0
"""mm: a sharper bend than of this radius makes an armhole boxy."""
SHORT = 0.92
"""How far a handle reaches toward the point where the end lines meet; at 1 the end of the curve would be flat."""
STARTS = 4
"""Places from which the search for an armhole starts: with one it may end in a poorer valley."""
_TRIED = (-1.7, -0.4, 0.9)
_SHARE = np.linspace(0.0, 1.0, 41)
"""Places on a span at which its curvature is looked at; fewer, and a short sharp bend is missed."""
_STEP = np.array([[-1.0, 1, 0, 0], [0, -1, 1, 0], [0, 0, -1, 1]])
_FIRST = 3 * np.stack([(1 - _SHARE) ** 2, 2 * _SHARE * (1 - _SHARE), _SHARE**2], axis=1) @ _STEP
"""First derivatives of a span at the places _SHARE, from its four controls; _SECOND the second ones."""
_SECOND = 6 * np.stack([1 - _SHARE, _SHARE], axis=1) @ _STEP[:2, :3] @ _STEP


def turned(vector: Array, radians: float) -> Array:
    """A vector turned, positive clockwise on the screen.

    >>> turned(np.array([1.0, 0.0]), math.pi / 2).round(9)
    array([0., 1.])
    """
    cos, sin = math.cos(radians), math.sin(radians)
    x, y = float(vector[0]), float(vector[1])
    return np.array([cos * x - sin * y, sin * x + cos * y])


def about(centre: Array, radians: float) -> Affine:
    """The turn about a point, positive clockwise on the screen."""
    return Affine.rotation(radians, (float(centre[0]), float(centre[1])))


def angle(a: Array, b: Array) -> float:
    """Signed radians from one direction to another, positive clockwise on the screen.

    >>> round(angle(np.array([1.0, 0.0]), np.array([0.0, 2.0])), 6)
    1.570796
    """
    return math.atan2(float(cross(a, b)), float(a @ b))


def fair(start: Array, along: Array, end: Array, into: Array) -> Curve:
    """One cubic from `start`, leaving along `along`, to `end`, arriving along `into`.

    The handles are those of Hobby's velocity function (J. D. Hobby, Smooth, easy to compute interpolating splines,
    1986; the constants are from memory). For small equal turns at both ends it is a circular arc within 1e-4.

    >>> c = fair(np.array([0., 0.]), np.array([1., 0.]), np.array([10., 10.]), np.array([0., 1.]))
    >>> c.controls[0, 1].round(2)
    array([5.52, 0.  ])
    """
    chord = end - start
    size = float(np.linalg.norm(chord))
    theta, phi = angle(chord, along), angle(into, chord)
    if abs(theta) < STRAIGHT and abs(phi) < STRAIGHT:
        return line(start, end)
    near, far = _velocity(theta, phi), _velocity(phi, theta)
    return cubic(start, start + near * size / 3 * along, end - far * size / 3 * into, end)


def _velocity(theta: float, phi: float) -> float:
    a, b, c = math.sqrt(2), (math.sqrt(5) - 1) / 2, (3 - math.sqrt(5)) / 2
    sin_t, sin_p, cos_t, cos_p = math.sin(theta), math.sin(phi), math.cos(theta), math.cos(phi)
    return (2 + a * (sin_t - sin_p / 16) * (sin_p - sin_t / 16) * (cos_t - cos_p)) / (1 + b * cos_t + c * cos_p)


def fairest(start: Array, along: Array, end: Array, into: Array) -> Curve:
    """Like `fair`, with both handles chosen for the least change of curvature along the curve.

    For ends that turn by very different amounts, such as a back neckline: flat first, then rising. Where the two end
    lines meet, the handles stop short of that point, so that the curve bends one way only.
    """
    size = float(np.linalg.norm(end - start))
    turn = float(cross(along, into))
    near_most = far_most = HANDLES[1]
    if abs(turn) > STRAIGHT:
        to_meeting = float(cross(end - start, into)) / turn, float(cross(along, end - start)) / turn
        if min(to_meeting) > 0:
            near_most, far_most = (min(HANDLES[1], SHORT * m / size) for m in to_meeting)
    near, far = 0.6 * near_most, 0.6 * far_most
    for _ in range(6):
        # mypy cannot type the default that binds a lambda to the present value, hence the two ignores
        near = _least(
            lambda a, b=far: unevenness(_spans(start, along, end, into, a * size, b * size)),  # type: ignore[misc]
            most=near_most,
        )
        far = _least(
            lambda b, a=near: unevenness(_spans(start, along, end, into, a * size, b * size)),  # type: ignore[misc]
            most=far_most,
        )
    return cubic(*_spans(start, along, end, into, near * size, far * size)[0])


def touching(start: Array, along: Array, end: Array, into: Array, *, wall: float, levels: tuple[float, float]) -> Curve:
    """Two cubics with given ends and end directions that touch the upright line x = `wall` where they join.

    levels: how far up from `end` to `start` the line may be touched, as parts of the height. Curvature runs through at
    the joint (G2). Of all such curves the one whose curvature changes least. An armhole: from the shoulder, square to
    it, touching the width line, to the underarm. Errors: GeometryError when the line does not lie beyond both ends.

    >>> hole = touching(np.array([195., -180.]), np.array([-.4, .9165]), np.array([240., 0.]), np.array([1., 0.]),
    ...                 wall=177., levels=(0.3, 0.5))
    >>> len(hole), float(hole.controls[0, 3, 0]), bool(np.ptp(curvature(hole, np.array([0.999999999, 1.0]))) < 1e-7)
    (2, 177.0, True)
    """
    side = 1.0 if wall > start[0] else -1.0
    if side * (wall - start[0]) <= 0 or side * (wall - end[0]) <= 0 or side * along[0] <= 0:
        raise GeometryError("the width line does not lie beyond both ends of the curve")
    # both end lines are drawn on to the upright line; handles that stop short of where they meet it bend one way only
    reach, reach_back = float((wall - start[0]) / along[0]), float((end[0] - wall) / into[0])
    if min(reach, reach_back) <= 0:
        raise GeometryError("the curve would bend both ways")
    low, high = float(start[1] + reach * along[1]), float(end[1] - reach_back * into[1])
    # between the two meetings, with some room for the handles
    height = float(end[1] - start[1])
    lowest = max(levels[0], float(end[1] - high) / height + 0.05)
    highest = min(levels[1], 0.98 * float(end[1] - low) / height)
    if highest <= lowest:
        raise GeometryError("no fair curve touches the width line where it should")

    def drawn(at: Array) -> tuple[Array, float]:
        """The spans for any four numbers, and by how much the lower handle wants to be too long, as a part of it."""
        near, to_wall, far, level = (0.01 + 0.98 / (1 + math.exp(-min(max(float(v), -30.0), 30.0))) for v in at)
        touch = float(end[1] + (lowest + level * (highest - lowest)) * (start[1] - end[1]))
        first, last = start + near * reach * along, end - far * reach_back * into
        # curvature at the end of a handle h is 2/3 of the other control's distance from the tangent, over h²
        before, most = to_wall * (touch - low), 0.98 * (high - touch)
        onward = before * math.sqrt((wall - last[0]) / (wall - first[0]))
        spans = np.array(
            [
                [start, first, (wall, touch - before), (wall, touch)],
                [(wall, touch), (wall, touch + min(onward, most)), last, end],
            ]
        )
        return spans, max(0.0, onward / most - 1)

    def cost(at: Array) -> float:
        spans, excess = drawn(at)
        return unevenness(spans, gentle=GENTLE) * (1 + 10 * excess) + 1e3 * excess

    tried = [np.array([n, w, f, v]) for n in _TRIED for w in _TRIED for f in _TRIED for v in (-1.0, 1.0)]
    # the cost has more than one valley: a short way down from the best starts, and from the lowest place to the end
    starts = sorted(tried, key=cost)[:STARTS]
    reached = min((descended(cost, at, size=0.7, rounds=50) for at in starts), key=cost)
    best, excess = drawn(descended(cost, descended(cost, reached, size=0.3, rounds=120), size=0.1))
    if excess > 0:
        raise GeometryError("no fair curve touches the width line")
    return Curve(best, np.zeros(2, dtype=np.bool_))


def descended(cost: Callable[[Array], float], start: Array, *, size: float = 0.04, rounds: int = 260) -> Array:
    """The place of least cost near `start`, by the downhill simplex (Nelder and Mead 1965); no chance is in it."""
    corners = [start, *(start + size * axis for axis in np.eye(len(start)))]
    costs = [cost(c) for c in corners]
    for _ in range(rounds):
        order = sorted(range(len(corners)), key=costs.__getitem__)
        corners, costs = [corners[k] for k in order], [costs[k] for k in order]
        if costs[-1] - costs[0] < 1e-8 * costs[0] and np.abs(corners[-1] - corners[0]).max() < FINE:
            break
        centre = sum(corners[:-1]) / (len(corners) - 1)
        step = centre - corners[-1]
        mirrored = centre + step
        found = cost(mirrored)
        if found < costs[0]:
            longer = centre + 2 * step
            beyond = cost(longer)
            corners[-1], costs[-1] = (longer, beyond) if beyond < found else (mirrored, found)
        elif found < costs[-2]:
            corners[-1], costs[-1] = mirrored, found
        else:
            inner = centre + (0.5 if found < costs[-1] else -0.5) * step
            found = cost(inner)
            if found < costs[-1]:
                corners[-1], costs[-1] = inner, found
            else:
                corners = [corners[0], *((corners[0] + c) / 2 for c in corners[1:])]
                costs = [costs[0], *(cost(c) for c in corners[1:])]
    return corners[int(np.argmin(costs))]


def curvature(curve: Curve, u: Array) -> Array:
    """Signed curvature in 1/mm at places on a curve, positive where it turns clockwise on the screen."""
    index, t = locate(curve, u)
    d = 3 * np.diff(curve.controls, axis=1)[index]
    t = t[:, None]
    first = (1 - t) ** 2 * d[:, 0] + 2 * t * (1 - t) * d[:, 1] + t * t * d[:, 2]
    second = 2 * ((1 - t) * (d[:, 1] - d[:, 0]) + t * (d[:, 2] - d[:, 1]))
    return np.asarray(cross(first, second) / np.linalg.norm(first, axis=1) ** 3)


def unevenness(controls: Array, *, gentle: float = 0.0) -> float:
    """How much the curvature of spans (n, 4, 2) changes: its squared slope integrated over the length, without unit.

    gentle: a radius in mm; curves with a sharper bend anywhere count as more uneven.
    """
    first, second = _FIRST @ controls, _SECOND @ controls
    speed = np.hypot(first[..., 0], first[..., 1])
    bend = (first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]) / speed**3
    step = (speed[:, 1:] + speed[:, :-1]) * ((_SHARE[1] - _SHARE[0]) / 2)
    change = bend[:, 1:] - bend[:, :-1]
    found = float((change * change / step).sum() * step.sum() ** 3)
    if gentle:
        found *= 1 + 4 * max(0.0, gentle * float(np.abs(bend).max()) - 1) ** 2
    return found


def _spans(start: Array, along: Array, end: Array, into: Array, near: float, far: float) -> Array:
    return np.array([[start, start + near * along, end - far * into, end]])


def _least(cost: Callable[[float], float], *, most: float = HANDLES[1]) -> float:
    """The handle, as a part of the chord, with the least cost: a coarse search, then golden sections."""
    tried = np.linspace(min(HANDLES[0], most / 2), most, 16)
    costs = [cost(float(h)) for h in tried]
    k = int(np.argmin(costs))
    low, high = float(tried[max(0, k - 1)]), float(tried[min(len(tried) - 1, k + 1)])
    golden = (math.sqrt(5) - 1) / 2
    a, b = high - golden * (high - low), low + golden * (high - low)
    cost_a, cost_b = cost(a), cost(b)
    for _ in range(18):
        if cost_a <= cost_b:
            high, b, cost_b = b, a, cost_a
            a = high - golden * (high - low)
            cost_a = cost(a)
        else:
            low, a, cost_a = a, b, cost_b
            b = low + golden * (high - low)
            cost_b = cost(b)
    return (low + high) / 2

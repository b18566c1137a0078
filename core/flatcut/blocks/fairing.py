"""Single cubics as a cutter lays a curve: given ends, given directions there, and as even a bend as that allows.

Points (2,) in mm, document coordinates (y down); directions are unit vectors along the walk.
"""

from __future__ import annotations

import cmath
import math

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross
from flatcut.geometry.curves import Curve, cubic, line, locate

STRAIGHT = 1e-7
"""Radians: where both ends aim along the chord within this, the curve is the straight line."""
HANDLES = (0.08, 0.95)
"""Shortest and longest handle tried, as parts of the chord: shorter ones make a corner of the curve's end, longer ones
let the curve bulge out of its frame."""
SHORT = 0.92
"""How far a handle reaches toward the point where the end lines meet; at 1 the end of the curve would be flat."""
_SHARE = np.linspace(0.0, 1.0, 41)
"""Places on a span at which its curvature is looked at; fewer, and a short sharp bend is missed."""
_STEP = np.array([[-1.0, 1, 0, 0], [0, -1, 1, 0], [0, 0, -1, 1]])
_FIRST = 3 * np.stack([(1 - _SHARE) ** 2, 2 * _SHARE * (1 - _SHARE), _SHARE**2], axis=1) @ _STEP
_SECOND = 6 * np.stack([1 - _SHARE, _SHARE], axis=1) @ _STEP[:2, :3] @ _STEP
_BOTH = np.ascontiguousarray(np.vstack([_FIRST, _SECOND]).T)
"""(4, 82): first, then second derivatives of a span at the places _SHARE, from its four controls by coordinate."""
GRID = 13
"""Handles tried at once at either end of a curve, over the range that is left; then the range is narrowed."""
NARROWED = 9
"""Times that the range of handles is narrowed, to two steps around the best each: down to 1e-5 of the chord."""


def rotated(vector: Array, radians: float) -> Array:
    """A vector turned, positive clockwise on the screen.

    >>> rotated(np.array([1.0, 0.0]), math.pi / 2).round(9)
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
    first, last, straight = handles(_complex(start), _complex(along), _complex(end), _complex(into))
    if straight:
        return line(start, end)
    return cubic(start, (first.real, first.imag), (last.real, last.imag), end)


def handles(start: complex, along: complex, end: complex, into: complex) -> tuple[complex, complex, bool]:
    """The two inner controls of `fair`, all points and directions as complex numbers, and whether it is straight."""
    chord = end - start
    theta, phi = cmath.phase(along * chord.conjugate()), cmath.phase(chord * into.conjugate())
    if abs(theta) < STRAIGHT and abs(phi) < STRAIGHT:
        return start + chord / 3, end - chord / 3, True
    near, far = _velocity(theta, phi), _velocity(phi, theta)
    return start + near * abs(chord) / 3 * along, end - far * abs(chord) / 3 * into, False


def _complex(vector: Array) -> complex:
    return complex(float(vector[0]), float(vector[1]))


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
    most = [HANDLES[1], HANDLES[1]]
    if abs(turn) > STRAIGHT:
        to_meeting = float(cross(end - start, into)) / turn, float(cross(along, end - start)) / turn
        if min(to_meeting) > 0:
            most = [min(HANDLES[1], SHORT * m / size) for m in to_meeting]
    least = [min(HANDLES[0], m / 2) for m in most]
    low, high = least, most
    best = np.empty((4, 2))
    for _ in range(NARROWED + 1):
        near, far = np.linspace(low[0], high[0], GRID), np.linspace(low[1], high[1], GRID)
        tried = _spans(start, along, end, into, size * near, size * far)
        k = divmod(int(np.argmin(unevenness(tried[..., None, :, :]))), GRID)
        best = tried[k]
        reach = [2 * (h - g) / (GRID - 1) for g, h in zip(low, high, strict=True)]
        at = float(near[k[0]]), float(far[k[1]])
        low = [max(m, v - w) for m, v, w in zip(least, at, reach, strict=True)]
        high = [min(m, v + w) for m, v, w in zip(most, at, reach, strict=True)]
    return cubic(*best)


def curvature(curve: Curve, u: Array) -> Array:
    """Signed curvature in 1/mm at places on a curve, positive where it turns clockwise on the screen."""
    index, t = locate(curve, u)
    d = 3 * np.diff(curve.controls, axis=1)[index]
    t = t[:, None]
    first = (1 - t) ** 2 * d[:, 0] + 2 * t * (1 - t) * d[:, 1] + t * t * d[:, 2]
    second = 2 * ((1 - t) * (d[:, 1] - d[:, 0]) + t * (d[:, 2] - d[:, 1]))
    return np.asarray(cross(first, second) / np.linalg.norm(first, axis=1) ** 3)


def bends(controls: Array) -> tuple[Array, Array]:
    """Speed and signed curvature, (..., 41) each, of spans (..., 4, 2) at even steps of their parameter."""
    x, y = np.ascontiguousarray(controls.reshape(-1, 4, 2).transpose(2, 0, 1)) @ _BOTH
    n = len(_SHARE)
    speed = np.sqrt(x[:, :n] * x[:, :n] + y[:, :n] * y[:, :n])
    bend = (x[:, :n] * y[:, n:] - y[:, :n] * x[:, n:]) / (speed * speed * speed)
    shape = (*controls.shape[:-2], len(_SHARE))
    return speed.reshape(shape), bend.reshape(shape)


def wavering(controls: Array, *, gentle: float = 0.0) -> Array:
    """How the curvature of curves (..., n, 4, 2) changes from place to place, (..., 40 n): without unit.

    The squares add up to its squared slope integrated over the length. gentle: a radius in mm; curves with a sharper
    bend anywhere count as more uneven.
    """
    speed, bend = bends(controls)
    step = (speed[..., 1:] + speed[..., :-1]) * ((_SHARE[1] - _SHARE[0]) / 2)
    found = (bend[..., 1:] - bend[..., :-1]) / np.sqrt(step)
    weight = step.sum(axis=(-2, -1)) ** 1.5
    if gentle:
        sharp = gentle * np.abs(bend).max(axis=(-2, -1)) - 1
        weight = weight * np.sqrt(1 + 4 * np.maximum(sharp, 0.0) ** 2)
    return np.asarray(found.reshape(*weight.shape, -1) * weight[..., None])


def unevenness(controls: Array, *, gentle: float = 0.0) -> Array:
    """One figure (...) for each of some curves (..., n, 4, 2): the sum of the squares that `wavering` gives."""
    found = wavering(controls, gentle=gentle)
    return np.asarray(np.einsum("...k,...k", found, found))


def _spans(start: Array, along: Array, end: Array, into: Array, near: Array, far: Array) -> Array:
    """Cubics (a, b, 4, 2) for every handle of `near` (a,) at the start with every one of `far` (b,) at the end, mm."""
    spans = np.empty((len(near), len(far), 4, 2))
    spans[..., 0, :], spans[..., 3, :] = start, end
    spans[..., 1, :] = (start + near[:, None] * along)[:, None]
    spans[..., 2, :] = end - far[:, None] * into
    return spans

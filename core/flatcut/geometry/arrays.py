"""Array types, and arrays that cannot be written to."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:  # loading its own types takes numpy a third of what it takes to load itself
    from numpy.typing import ArrayLike, NDArray

    Array: TypeAlias = NDArray[np.float64]
    BoolArray: TypeAlias = NDArray[np.bool_]
    ComplexArray: TypeAlias = NDArray[np.complex128]
    Ints: TypeAlias = NDArray[np.intp]
else:
    Array = BoolArray = ComplexArray = Ints = np.ndarray


def frozen(values: ArrayLike) -> Array:
    """A float64 copy that refuses writes.

    >>> frozen([1, 2]).flags.writeable
    False
    """
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array


def as_complex(points: Array) -> ComplexArray:
    """Points (..., 2) as x + iy: products with conjugates are then dot and cross products in one.

    >>> as_complex(np.array([[1.0, 2.0]]))
    array([1.+2.j])
    """
    return np.asarray(np.ascontiguousarray(points).view(np.complex128)[..., 0])


def cross(u: Array, v: Array) -> Array:
    """The z component of u × v over the last axis; positive when v lies clockwise of u on the screen (y down).

    >>> float(cross(np.array([1., 0.]), np.array([0., 1.])))
    1.0
    """
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0], dtype=np.float64)


def span_size(controls: Array) -> Array:
    """The largest step along x or y from the first control point of spans (n, 4, 2) to another, (n,)."""
    step = np.abs(controls[:, 1:] - controls[:, :1])
    most = np.maximum(np.maximum(step[:, 0], step[:, 1]), step[:, 2])
    return np.asarray(np.maximum(most[:, 0], most[:, 1]))


def unit(v: Array) -> Array:
    """Vectors of length one along the last axis; a zero vector stays zero.

    >>> unit(np.array([[3., 4.], [0., 0.]]))
    array([[0.6, 0.8],
           [0. , 0. ]])
    """
    if v.shape == (2,):
        x, y = v.tolist()
        length = math.hypot(x, y)
        return np.array([x / length, y / length]) if length > 0 else np.zeros(2)
    # along an axis of two numbers numpy is slow
    size = np.sqrt((v * v).sum(axis=-1) if v.shape[-1] != 2 else v[..., 0] * v[..., 0] + v[..., 1] * v[..., 1])[
        ..., None
    ]
    return np.asarray(np.divide(v, size, out=np.zeros_like(v), where=size > 0))


def signed_angle(u: Array, v: Array) -> float:
    """Radians from u to v, positive clockwise on the screen, between -pi and pi.

    >>> round(signed_angle(np.array([1.0, 0.0]), np.array([0.0, 1.0])), 6)
    1.570796
    """
    return math.atan2(float(cross(u, v)), float(u @ v))

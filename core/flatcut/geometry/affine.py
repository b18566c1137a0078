"""Affine maps of the plane."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from flatcut.geometry.arrays import Array


class Affine(NamedTuple):
    """The map (x, y) -> (a·x + c·y + e, b·x + d·y + f), in the order of SVG's ``matrix()``.

    ``outer @ inner`` applies `inner` first.

    >>> (Affine.translation(10, 0) @ Affine.scaling(2)).apply([1, 1])
    array([12.,  2.])
    """

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @staticmethod
    def translation(x: float, y: float) -> Affine:
        """A shift in mm."""
        return Affine(e=float(x), f=float(y))

    @staticmethod
    def scaling(x: float, y: float | None = None) -> Affine:
        """A scale about the origin."""
        return Affine(a=float(x), d=float(x if y is None else y))

    @staticmethod
    def rotation(radians: float, centre: tuple[float, float] = (0.0, 0.0)) -> Affine:
        """A turn about `centre`, positive clockwise on the screen (y down).

        >>> Affine.rotation(math.pi / 2).apply([1, 0]).round(12)
        array([0., 1.])
        """
        cos, sin = math.cos(radians), math.sin(radians)
        x, y = float(centre[0]), float(centre[1])
        return Affine(cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y)

    @staticmethod
    def reflection(p: Array, q: Array) -> Affine:
        """The mirror image across the line through `p` and `q`, two (2,) points apart from each other.

        >>> Affine.reflection(np.array([0., 0.]), np.array([0., 5.])).apply([3, 1])
        array([-3.,  1.])
        """
        dx, dy = float(q[0] - p[0]), float(q[1] - p[1])
        norm = dx * dx + dy * dy
        cos, sin = (dx * dx - dy * dy) / norm, 2 * dx * dy / norm
        x, y = float(p[0]), float(p[1])
        return Affine(cos, sin, sin, -cos, x - cos * x - sin * y, y - sin * x + cos * y)

    @staticmethod
    def similarity(was: tuple[Array, Array], now: tuple[Array, Array]) -> Affine:
        """The turn, scale and shift that takes two points (2,) apart from each other to two others.

        >>> Affine.similarity((np.zeros(2), np.array([1.0, 0])), (np.zeros(2), np.array([0.0, 2]))).apply([1, 1])
        array([-2.,  2.])
        """
        u, v = was[1] - was[0], now[1] - now[0]
        size = float(u @ u)
        a, b = float(u @ v) / size, float(u[0] * v[1] - u[1] * v[0]) / size
        x, y = float(was[0][0]), float(was[0][1])
        return Affine(a, b, -b, a, float(now[0][0]) - a * x + b * y, float(now[0][1]) - b * x - a * y)

    def __matmul__(self, inner: Affine) -> Affine:
        return Affine(
            self.a * inner.a + self.c * inner.b,
            self.b * inner.a + self.d * inner.b,
            self.a * inner.c + self.c * inner.d,
            self.b * inner.c + self.d * inner.d,
            self.a * inner.e + self.c * inner.f + self.e,
            self.b * inner.e + self.d * inner.f + self.f,
        )

    @property
    def determinant(self) -> float:
        """Area factor; negative for a mirror image."""
        return self.a * self.d - self.b * self.c

    def inverse(self) -> Affine:
        """The map back. Raises ZeroDivisionError when the plane is flattened."""
        det = self.determinant
        a, b, c, d = self.d / det, -self.b / det, -self.c / det, self.a / det
        return Affine(a, b, c, d, -(a * self.e + c * self.f), -(b * self.e + d * self.f))

    def apply(self, points: object) -> Array:
        """The images of points, any shape (..., 2)."""
        array = np.asarray(points, dtype=float)
        x, y = array[..., 0], array[..., 1]
        return np.stack([self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f], axis=-1)

    def moved(self, x: float, y: float) -> tuple[float, float]:
        """The image of one point, in plain numbers: a tenth of the time that arrays take.

        >>> Affine.translation(10, 0).moved(1, 2)
        (11.0, 2.0)
        """
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def is_rigid(self, *, tolerance: float = 1e-9) -> bool:
        """Whether lengths and angles are kept; a mirror image counts as rigid."""
        return (
            abs(self.a * self.a + self.b * self.b - 1) <= tolerance
            and abs(self.c * self.c + self.d * self.d - 1) <= tolerance
            and abs(self.a * self.c + self.b * self.d) <= tolerance
        )


IDENTITY = Affine()

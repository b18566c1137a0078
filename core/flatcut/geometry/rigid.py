"""The rigid motion that brings points as near as it can to others."""

from __future__ import annotations

import math

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross


def brought(at: Array, to: Array) -> Affine:
    """The rigid motion, no mirror image, that brings points (n, 2) as near as it can to others, (n, 2) too.

    By least squares over their distances (the plane case of P. Schönemann, A generalized solution of the orthogonal
    Procrustes problem, 1966).

    >>> import numpy as np
    >>> brought(np.array([[0.0, 0], [2, 0]]), np.array([[5.0, 1], [5, 3]])).apply([[1.0, 0.0]]).round(9)
    array([[5., 2.]])
    """
    centre, from_ = to.mean(axis=0), at.mean(axis=0)
    p, q = at - from_, to - centre
    turn = math.atan2(float(cross(p, q).sum()), float((p * q).sum()))
    x, y = centre - from_
    return Affine.translation(float(x), float(y)) @ Affine.rotation(turn, (float(from_[0]), float(from_[1])))

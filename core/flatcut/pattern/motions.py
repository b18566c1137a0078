"""What a step moves as paper is moved: a part of a piece turned about a point, or shifted, and never stretched.

An operation that knows its motions tells them in their order; each counts from where the ones before it have led.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array

SMALLEST = 1e-7
"""Radians: what turns by less is shifted; a whole piece of cloth strays by less than a thousandth of a mm."""


@dataclass(frozen=True, kw_only=True)
class Motion:
    """piece: uid of the piece that the part belongs to, as it was before the step; ring: the part, (n, 2) mm.

    It is turned about `about`, (2,), by so many degrees, clockwise on the screen, then shifted by `shift`, (2,) mm.
    over: the direction, (2,), of a fold through `about` over which the part is turned like a page; None for none.
    new: the part is no part of the piece yet: it lies under it, where the ring says, and comes out.
    """

    piece: str
    ring: Array
    about: Array
    degrees: float = 0.0
    shift: Array
    over: Array | None = None
    new: bool = False

    @staticmethod
    def of(piece: str, ring: Array, matrix: Affine) -> Motion:
        """The motion that a rigid map makes of a part: a turn about the one point that stays, or a shift.

        Errors: ValueError for a map that stretches or mirrors (a fault of the program).

        >>> square = np.array([[0.0, 0.0], [9, 0], [9, 9], [0, 9]])
        >>> made = Motion.of("p", square, Affine.rotation(math.pi / 2, (20.0, 0.0)))
        >>> made.about.round(6), round(made.degrees, 6)
        (array([20.,  0.]), 90.0)
        >>> Motion.of("p", square, Affine.translation(3, 4)).shift
        array([3., 4.])
        """
        if not matrix.is_rigid(tolerance=1e-6) or matrix.determinant < 0:
            raise ValueError("a part of a piece is neither stretched nor mirrored by a motion")
        turn = math.atan2(matrix.b, matrix.a)
        if abs(turn) < SMALLEST:
            middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
            return Motion(piece=piece, ring=ring, about=middle, shift=matrix.apply(middle) - middle)
        sides = np.array([[1 - matrix.a, -matrix.c], [-matrix.b, 1 - matrix.d]])
        about = np.linalg.solve(sides, np.array([matrix.e, matrix.f]))
        return Motion(piece=piece, ring=ring, about=about, degrees=math.degrees(turn), shift=np.zeros(2))

    def at(self, share: float = 1.0) -> Affine:
        """The map after a share of the way, 0 to 1.

        >>> made = Motion.of("p", np.zeros((3, 2)), Affine.rotation(1.0, (5.0, 0.0)))
        >>> made.at(0.5).apply([5.0, 0.0]).round(9)
        array([5., 0.])
        >>> page = Motion(piece="p", ring=np.zeros((3, 2)), about=np.zeros(2), shift=np.zeros(2), over=np.array([0, 1]))
        >>> page.at().apply([5.0, 2.0]).round(9), page.at(0.5).apply([5.0, 2.0]).round(9) + 0.0
        (array([-5.,  2.]), array([0., 2.]))
        """
        if self.over is not None:
            x, y = float(self.about[0]), float(self.about[1])
            way = math.atan2(float(self.over[1]), float(self.over[0]))
            flat = Affine.scaling(1.0, math.cos(math.pi * share)) @ Affine.rotation(-way) @ Affine.translation(-x, -y)
            return Affine.translation(x, y) @ Affine.rotation(way) @ flat
        turn = Affine.rotation(math.radians(share * self.degrees), (float(self.about[0]), float(self.about[1])))
        return Affine.translation(*(share * self.shift)) @ turn

    @property
    def moves(self) -> bool:
        """Whether it leads anywhere."""
        return abs(self.degrees) > 1e-9 or bool(np.hypot(*self.shift) > 1e-9) or self.over is not None

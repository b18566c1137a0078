"""A form as the ground that cloth lies on: the distance of points, and the way outward."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.worn.form import Form

CLOSE = 12.0
"""mm from the form within which the way outward is the exact slope of the distance."""


class OnForm:
    """Distances from a form: exact to first order, which within some mm of it is a few hundredths of one."""

    def __init__(self, form: Form) -> None:
        self.form = form

    @cached_property
    def _table(self) -> Any:
        from scipy.interpolate import RectBivariateSpline

        more = 6  # rows beyond front and back, so that the spline knows that the form goes on there
        angles, radii = self.form.angles, self.form.radii
        angles = np.concatenate([-angles[more:0:-1], angles, 2 * np.pi - angles[-2 : -2 - more : -1]])
        radii = np.vstack([radii[more:0:-1], radii, radii[-2 : -2 - more : -1]])
        return RectBivariateSpline(angles, self.form.heights, radii, kx=3, ky=3)

    def near(self, points: Array) -> tuple[Array, Array]:
        """Distance (n,) mm of points (n, 3), negative inside, and its slope (n, 3), which points outward."""
        (found, out), *others = self.each(points)
        for other, way in others:
            found, out = np.minimum(found, other), np.where((other < found)[:, None], way, out)
        return found, out

    def each(self, points: Array) -> Sequence[tuple[Array, Array]]:
        """The same of the trunk and of each limb."""
        return [self._trunk(points), *(limb.near(points) for limb in self.form.limbs)]

    def _trunk(self, points: Array) -> tuple[Array, Array]:
        x, y, z = points.T
        angle = np.arctan2(np.abs(x), z)
        side = np.where(x < 0, -1.0, 1.0)
        rho = np.maximum(np.hypot(x, z), 1e-6)
        low, high = max(self.form.heights[0], self.form.floor), self.form.heights[-1]
        h = np.clip(y, low, high)
        table = self._table
        r = table.ev(angle, h)
        r_turn = table.ev(angle, h, dx=1)
        r_up = np.where((y >= low) & (y < high), table.ev(angle, h, dy=1), 0.0)
        across = -r_turn / rho  # the slope of rho - r outward, along the turn and upward is 1, across and -r_up
        size = np.sqrt(1.0 + across**2 + r_up**2)
        found = (rho - r) / size
        slope = np.column_stack([np.ones_like(rho), across, -r_up]) / size[:, None]
        close = np.abs(found) < CLOSE
        if close.any():
            slope[close] -= (
                self._bend(angle[close], h[close], rho[close], r_turn[close], r_up[close], size[close])
                * (found[close] / size[close])[:, None]
            )
        s, c = np.sin(angle), np.cos(angle)
        out = np.column_stack(
            [(slope[:, 0] * s + slope[:, 1] * c) * side, slope[:, 2], slope[:, 0] * c - slope[:, 1] * s]
        )
        if np.isfinite(self.form.floor):
            under = low - y > found
            return np.where(y > high, np.inf, np.where(under, low - y, found)), np.where(
                under[:, None], np.array([0.0, -1.0, 0.0]), out
            )
        # beyond the neck's upper end and the lower end there is nothing to lie on
        return np.where((y > high) | (y < low), np.inf, found), out

    def _bend(self, angle: Array, h: Array, rho: Array, r_turn: Array, r_up: Array, size: Array) -> Array:
        """How the size of the slope changes outward, along the turn and upward, (n, 3)."""
        table = self._table
        turned, mixed, upped = (table.ev(angle, h, dx=dx, dy=dy) for dx, dy in ((2, 0), (1, 1), (0, 2)))
        return (
            np.column_stack(
                [
                    -(r_turn**2) / rho**3,
                    (r_turn * turned / rho**2 + r_up * mixed) / rho,
                    r_turn * mixed / rho**2 + r_up * upped,
                ]
            )
            / size[:, None]
        )

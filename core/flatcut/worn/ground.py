"""A form as the ground that cloth lies on: the distance of points, and the way outward."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np

from flatcut.geometry.arrays import Array
from flatcut.worn.form import Form


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
        """Distance (n,) mm of points (n, 3), negative inside, and the directions outward (n, 3)."""
        x, y, z = points.T
        angle = np.arctan2(np.abs(x), z)
        side = np.where(x < 0, -1.0, 1.0)
        rho = np.maximum(np.hypot(x, z), 1e-6)
        low, high = self.form.heights[0], self.form.heights[-1]
        h = np.clip(y, low, high)
        table = self._table
        r = table.ev(angle, h)
        r_turn = table.ev(angle, h, dx=1)
        r_up = np.where((y > low) & (y < high), table.ev(angle, h, dy=1), 0.0)
        s, c = np.sin(angle), np.cos(angle)
        out = np.column_stack([(s - r_turn * c / rho) * side, -r_up, c + r_turn * s / rho])
        size = np.linalg.norm(out, axis=1)
        found = (rho - r) / size
        # beyond the neck's upper end and the lower end there is nothing to lie on
        found = np.where((y > high) | (y < low), np.inf, found)
        return found, out / size[:, None]

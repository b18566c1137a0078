"""Kinds of cloth by what the trade calls them, with figures of ordinary size (common practice, no source; settable)."""

from __future__ import annotations

from typing import NamedTuple


class Cloth(NamedTuple):
    """A cloth. warp, weft: N/m that it takes to stretch a strip of 1 m by its own length; shear: N/m against skewing.

    bending: N m (flexural rigidity for 1 m of width); weight: g/m².
    """

    warp: float
    weft: float
    shear: float
    bending: float
    weight: float


CLOTHS: dict[str, Cloth] = {
    "calico": Cloth(warp=3000.0, weft=2500.0, shear=80.0, bending=2.0e-5, weight=160.0),
    "cotton-lawn": Cloth(warp=2500.0, weft=2000.0, shear=50.0, bending=0.5e-5, weight=80.0),
    "wool-crepe": Cloth(warp=1200.0, weft=900.0, shear=40.0, bending=1.2e-5, weight=230.0),
    "denim": Cloth(warp=6000.0, weft=4500.0, shear=200.0, bending=8.0e-5, weight=400.0),
    "silk-satin": Cloth(warp=2200.0, weft=1800.0, shear=25.0, bending=0.3e-5, weight=110.0),
}
"""From stiff to soft they differ mostly in bending and shear, which is what drape is made of."""
SQUEEZE = 0.08
"""Of the stretching stiffness that stands against shortening: cloth buckles in folds finer than the net."""
GRAVITY = 9.81
"""m/s²."""

"""What is laid, on what, and how it lies.

The cloth lies along x: its width along y from 0 on, its length along x from 0 on, in mm, y down. A piece's grain runs
along x. A turn is clockwise on the screen, about the origin, and comes before the move.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.region import ring_area


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing to be laid. name: what it is called in sentences; ring: its cut line as a dense ring of points (n, 2);
    turns: the turns in degrees in which it may lie; source: the number of what it was made from.

    folded: whether it lies with its side at y = 0 on the fold of the cloth.
    """

    name: str
    ring: Array
    turns: tuple[float, ...] = (0.0,)
    source: int = 0
    folded: bool = False

    @property
    def area(self) -> float:
        """mm² of cloth that it takes.

        >>> Item(name="a", ring=np.array([[0, 0], [4, 0], [4, 3]])).area
        6.0
        """
        return abs(ring_area(self.ring))

    def extent(self, turn: float) -> tuple[float, float]:
        """Its length and width in mm as it lies when turned."""
        wide = np.ptp(self.ring @ _turned(turn), axis=0)
        return float(wide[0]), float(wide[1])


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Where an item lies: its number, its turn in degrees, and the move (x, y) after it."""

    item: int
    turn: float
    at: tuple[float, float]

    @property
    def matrix(self) -> Affine:
        """From where the item was given to where it lies."""
        return Affine.translation(*self.at) @ Affine.rotation(math.radians(self.turn))


@dataclass(frozen=True, kw_only=True)
class Lay:
    """items laid on cloth of a width; length: mm of cloth that they take; stopped: whether more was to be tried."""

    items: tuple[Item, ...]
    placed: tuple[Placed, ...]
    width: float
    stopped: bool = False

    def rings(self) -> list[Array]:
        """The ring of each placed item as it lies, in the order of `placed`."""
        return [placed.matrix.apply(self.items[placed.item].ring) for placed in self.placed]

    @property
    def length(self) -> float:
        """mm of cloth from its beginning to the end of the piece that reaches farthest."""
        return max((float(ring[:, 0].max()) for ring in self.rings()), default=0.0)

    @property
    def efficiency(self) -> float:
        """The part of the cloth that the pieces take, 0 to 1."""
        whole = self.width * self.length
        return sum(item.area for item in self.items) / whole if whole else 0.0


def lower_bound(items: tuple[Item, ...], width: float) -> float:
    """mm of cloth below which no lay can be: all area over the width, and the longest piece as it may lie.

    >>> square = np.array([[0.0, 0], [100, 0], [100, 50], [0, 50]])
    >>> lower_bound((Item(name="a", ring=square), Item(name="b", ring=square)), 80.0)
    125.0
    """
    longest = max((min(item.extent(turn)[0] for turn in item.turns) for item in items), default=0.0)
    return max(sum(item.area for item in items) / width, longest)


def _turned(turn: float) -> Array:
    """The matrix that turns rows of points."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    return np.array([[c, s], [-s, c]])

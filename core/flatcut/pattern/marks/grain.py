"""The grain line of a piece."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, ClassVar

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen
from flatcut.pattern.marks.mark import Compared, Mark, Marked


@dataclass(frozen=True, kw_only=True)
class Grain(Mark):
    """The grain line of a piece; start and end (2,) mm."""

    uid: str = "grain"
    start: Array
    end: Array
    kind: str = "straight"
    ways: str = "both"

    role: ClassVar[str] = "grain"
    plural: ClassVar[str] = "grain lines"
    home: ClassVar[str] = "grain"
    single: ClassVar[bool] = True

    def __post_init__(self) -> None:
        object.__setattr__(self, "start", frozen(self.start))
        object.__setattr__(self, "end", frozen(self.end))

    @property
    def upright(self) -> Affine:
        """The turn that sets the line upright: the way it points kept to the nearer end, an arrow of one way up.

        >>> import numpy as np
        >>> across = Grain(start=np.array([0.0, 0.0]), end=np.array([5.0, 1e-9]), ways="one")
        >>> across.upright.apply(across.end).round(3).tolist()
        [0.0, -5.0]
        """
        dx, dy = self.end - self.start
        turn = math.pi / 2 - math.atan2(dy, dx)
        if self.ways == "both":
            turn = (turn + math.pi / 2) % math.pi - math.pi / 2
        else:
            turn -= math.pi
        return Affine.rotation(turn) if abs(math.remainder(turn, 2 * math.pi)) > 1e-12 else Affine()

    def moved(self, matrix: Affine) -> Grain:
        return replace(self, start=matrix.apply(self.start), end=matrix.apply(self.end))

    def told(self, piece: Marked) -> str:
        return "the grain line"

    def listed(self, piece: Marked) -> dict[str, Any]:
        return {"start": self.start, "end": self.end, "kind": self.kind}

    def compared(self, piece: Marked) -> Compared:
        return Compared(said=(self.kind, self.ways), places=(("start", self.start), ("end", self.end)))

"""A point that has a name, such as the bust point."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen
from flatcut.pattern.marks.mark import Compared, Mark, Marked
from flatcut.pattern.sound import hold_place


@dataclass(frozen=True, kw_only=True)
class NamedPoint(Mark):
    """A point that has a name, such as the bust point; at: (2,) mm; origin: as for a dart."""

    uid: str
    name: str
    at: Array
    origin: str = ""

    role: ClassVar[str] = "point"
    plural: ClassVar[str] = "points"
    table: ClassVar[str] = "points"
    home: ClassVar[str] = "points"

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", frozen(self.at))

    def moved(self, matrix: Affine) -> NamedPoint:
        return replace(self, at=matrix.apply(self.at))

    def standing(self) -> Array:
        return self.at

    def put(self, piece: Marked, at: Array) -> NamedPoint:
        return replace(self, at=at)

    def told(self, piece: Marked) -> str:
        return self.name

    def record(self) -> list[Any]:
        return [self.uid, self.name, *self.at.tolist()]

    @classmethod
    def read(cls, record: Any, motion: Affine) -> NamedPoint:
        uid, name, x, y = record
        return cls(uid=uid, name=name, at=motion.apply([x, y]))

    def hold(self, piece: Marked) -> None:
        hold_place(self.at)

    def compared(self, piece: Marked) -> Compared:
        return Compared(places=(("place", self.at),))

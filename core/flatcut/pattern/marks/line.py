"""A line drawn inside a piece."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import Curve, transform
from flatcut.geometry.length import length
from flatcut.pattern.marks.mark import Compared, Mark, Marked


@dataclass(frozen=True, kw_only=True)
class Line(Mark):
    """A line drawn inside a piece, not cut: fold, placement, balance or construction line; origin: as for a dart."""

    uid: str
    name: str
    curve: Curve
    kind: str = "line"
    origin: str = ""

    role: ClassVar[str] = "line"
    plural: ClassVar[str] = "lines"
    home: ClassVar[str] = "lines"

    def moved(self, matrix: Affine) -> Line:
        return replace(self, curve=transform(self.curve, matrix))

    def told(self, piece: Marked) -> str:
        return self.name

    def listed(self, piece: Marked) -> dict[str, Any]:
        return {"name": self.name, "kind": self.kind, "length": length(self.curve)}

    def compared(self, piece: Marked) -> Compared:
        return Compared(said=(self.kind,), places=(("course", self.curve),))

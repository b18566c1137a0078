"""What the label of a piece says and where it is wanted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen
from flatcut.pattern.marks.mark import Compared, Mark, Marked
from flatcut.pattern.sound import hold, hold_place


@dataclass(frozen=True, kw_only=True)
class Caption(Mark):
    """What the label of a piece says beside what is known of the piece; at: where its middle is wanted, (2,) mm.

    shown: false once the label was deleted by hand.
    """

    uid: str = "label"
    text: str = ""
    at: Array | None = None
    shown: bool = True

    role: ClassVar[str] = "label"
    plural: ClassVar[str] = "labels"
    home: ClassVar[str] = "caption"
    single: ClassVar[bool] = True

    def __post_init__(self) -> None:
        if self.at is not None:
            object.__setattr__(self, "at", frozen(self.at))

    def moved(self, matrix: Affine) -> Caption:
        return self if self.at is None else replace(self, at=matrix.apply(self.at))

    def standing(self) -> Array | None:
        return self.at

    def put(self, piece: Marked, at: Array) -> Caption:
        return replace(self, at=at)

    def deleted(self) -> Caption:
        return replace(self, shown=False)

    def told(self, piece: Marked) -> str:
        return "the label"

    def record(self) -> dict[str, Any]:
        """Entries among the data of the piece."""
        return {
            "label": self.text,
            **({} if self.shown else {"label_gone": True}),
            **({} if self.at is None else {"label_at": self.at.tolist()}),
        }

    @classmethod
    def read(cls, record: Any, motion: Affine) -> Caption:
        at = motion.apply(record["label_at"]) if "label_at" in record else None
        return cls(text=record.get("label", ""), at=at, shown=not record.get("label_gone", False))

    def hold(self, piece: Marked) -> None:
        hold(isinstance(self.text, str))
        hold_place(self.at)

    def compared(self, piece: Marked) -> Compared:
        return Compared(said=(self.text, self.shown), places=(("place", self.at),))


UNCAPTIONED = Caption()
"""A label of which nothing was said."""

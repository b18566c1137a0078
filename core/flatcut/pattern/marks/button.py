"""A button, or the buttonhole for one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen
from flatcut.pattern.marks.mark import Compared, Mark, Marked
from flatcut.pattern.sound import hold, hold_finite, hold_place

BUTTON_KINDS = ("button", "buttonhole")
THICKNESS = 3.0
"""mm that a buttonhole is longer than the button is wide (common practice: the button's thickness, no source)."""
SHANK = 3.0
"""mm that a buttonhole across the edge begins beyond the button's place, toward the edge, where the thread of the
button pulls it (common practice, no source)."""


def slit_across(at: Array, out: Array, size: float) -> Array:
    """Both ends (2, 2) of the buttonhole for a button of `size` mm at (2,); out: unit way (2,) in which it is pulled.

    >>> slit_across(np.array([10.0, 0.0]), np.array([1.0, 0.0]), 15.0)
    array([[13.,  0.],
           [-5.,  0.]])
    """
    return np.array([at + SHANK * out, at + (SHANK - size - THICKNESS) * out])


@dataclass(frozen=True, kw_only=True)
class Button(Mark):
    """A button of `size` mm across at (2,) mm, or the buttonhole for one, with its two ends, slit (2, 2) mm.

    on: uid of the edge or line along which it was set.
    """

    uid: str
    kind: str
    at: Array
    size: float
    slit: Array | None = None
    on: str = ""

    role: ClassVar[str] = "button"
    plural: ClassVar[str] = "buttons"
    table: ClassVar[str] = "buttons"
    listing: ClassVar[str] = "holes"
    home: ClassVar[str] = "buttons"

    def __post_init__(self) -> None:
        object.__setattr__(self, "at", frozen(self.at))
        if self.slit is not None:
            object.__setattr__(self, "slit", frozen(self.slit))

    def moved(self, matrix: Affine) -> Button:
        return replace(self, at=matrix.apply(self.at), slit=None if self.slit is None else matrix.apply(self.slit))

    def referring(self, uids: Mapping[str, str]) -> Button:
        return replace(self, on=uids.get(self.on, self.on))

    def standing(self) -> Array:
        return self.at

    def place(self, piece: Marked) -> Array:
        """The middle of a buttonhole is that of its slit, which need not be where its button goes."""
        return self.at if self.slit is None else np.asarray(self.slit.mean(axis=0))

    def put(self, piece: Marked, at: Array) -> Button:
        shift = at - self.place(piece)
        return replace(self, at=self.at + shift, slit=None if self.slit is None else self.slit + shift)

    def told(self, piece: Marked) -> str:
        return f"a {self.kind}"

    def record(self) -> dict[str, Any]:
        record = {"uid": self.uid, "kind": self.kind, "at": self.at.tolist(), "size": self.size}
        if self.slit is not None:
            record["slit"] = self.slit.tolist()
        return {**record, **({"on": self.on} if self.on else {})}

    @classmethod
    def read(cls, record: Any, motion: Affine) -> Button:
        return cls(
            uid=record["uid"],
            kind=record["kind"],
            at=motion.apply(record["at"]),
            size=float(record["size"]),
            slit=motion.apply(record["slit"]) if "slit" in record else None,
            on=record.get("on", ""),
        )

    def hold(self, piece: Marked) -> None:
        hold(isinstance(self.on, str) and self.kind in BUTTON_KINDS)
        hold_finite(self.size, *([] if self.slit is None else [self.slit]))
        hold_place(self.at)

    def listed(self, piece: Marked) -> dict[str, Any]:
        record = {"kind": self.kind, "at": self.at, "size": self.size}
        return record if self.slit is None else {**record, "start": self.slit[0], "end": self.slit[1]}

    def compared(self, piece: Marked) -> Compared:
        on = next((thing.name for thing in piece.things() if thing.uid == self.on), self.on)
        return Compared((self.kind, on), (("size", self.size),), (("place", self.at), ("slit", self.slit)))

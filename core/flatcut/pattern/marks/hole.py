"""A drill hole, at a place of its own or where its dart is now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, frozen, unit
from flatcut.pattern.edges import Dart
from flatcut.pattern.marks.mark import Compared, Mark, Marked
from flatcut.pattern.sound import hold, hold_finite, hold_place

HOLE_OF = ("", "point", "upper", "lower", "side-1", "side-2")
"""Where a drill hole of a dart stands: short of a point, or inside the widest place of a double-pointed dart."""


@dataclass(frozen=True, kw_only=True)
class Hole(Mark):
    """A drill hole: at (2,) mm, or bound to a dart, whose uid is `dart`, and then going where the dart goes.

    of: one of HOLE_OF; by: mm short of the dart's point along its axis, or inside its widest place; diameter: mm.
    """

    uid: str
    at: Array | None = None
    dart: str = ""
    of: str = ""
    by: float = 0.0
    diameter: float = 2.0

    role: ClassVar[str] = "hole"
    plural: ClassVar[str] = "drill holes"
    table: ClassVar[str] = "holes"
    home: ClassVar[str] = "holes"

    def __post_init__(self) -> None:
        if self.at is not None:
            object.__setattr__(self, "at", frozen(self.at))

    def moved(self, matrix: Affine) -> Hole:
        return self if self.at is None else replace(self, at=matrix.apply(self.at))

    def referring(self, uids: Mapping[str, str]) -> Hole:
        return replace(self, dart=uids.get(self.dart, self.dart))

    def standing(self) -> Array | None:
        return self.at

    def goes_with(self) -> str:
        return self.dart

    def place(self, piece: Marked) -> Array | None:
        """The middle of the hole, (2,) mm; None when its dart is gone.

        >>> from flatcut.geometry.curves import line
        >>> from flatcut.pattern.values import Dart, Piece
        >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-15, 0), (0, 120)), line((0, 120), (15, 0))))
        >>> front = Piece(uid="p", name="front", edges=(), darts=(dart,))
        >>> Hole(uid="h", dart="d", of="point", by=13.0).place(front)
        array([  0., 107.])
        """
        if self.at is not None:
            return self.at
        dart = next((dart for dart in piece.darts if dart.uid == self.dart), None)
        return None if dart is None else of_dart(dart, self.of, self.by)

    def put(self, piece: Marked, at: Array) -> Hole:
        """One that was bound to a dart is bound no more."""
        return replace(self, at=at, dart="", of="", by=0.0)

    def told(self, piece: Marked) -> str:
        return "a drill hole"

    def record(self) -> dict[str, Any]:
        place = {"dart": self.dart, "of": self.of, "by": self.by} if self.at is None else {"at": self.at.tolist()}
        return {"uid": self.uid, "diameter": self.diameter, **place}

    @classmethod
    def read(cls, record: Any, motion: Affine) -> Hole:
        return cls(
            uid=record["uid"],
            at=motion.apply(record["at"]) if "at" in record else None,
            dart=record.get("dart", ""),
            of=record.get("of", ""),
            by=float(record.get("by", 0.0)),
            diameter=float(record["diameter"]),
        )

    def hold(self, piece: Marked) -> None:
        hold(isinstance(self.dart, str) and self.of in HOLE_OF)
        hold_finite(self.diameter, self.by)
        hold_place(self.at)

    def listed(self, piece: Marked) -> dict[str, Any] | None:
        at = self.place(piece)
        return None if at is None else {"kind": "drill", "at": at, "size": self.diameter}

    def compared(self, piece: Marked) -> Compared:
        dart = next((dart.name for dart in piece.darts if dart.uid == self.dart), self.dart)
        return Compared((dart, self.of), (("by", self.by), ("diameter", self.diameter)), (("place", self.at),))


def of_dart(dart: Dart, of: str, by: float) -> Array:
    """`by` mm short of a dart's point along its axis, or inside a double-pointed dart's widest place; (2,) mm."""
    middle = dart.feet.mean(axis=0)
    if of in ("side-1", "side-2"):
        foot = dart.feet[0 if of == "side-1" else 1]
        return np.asarray(foot + by * unit(middle - foot))
    point = dart.points[1 if of == "lower" else 0]
    return np.asarray(point + by * unit(_mouth(dart) - point))


def _mouth(dart: Dart) -> Array:
    """The middle of the mouth, seen along the axis: where the bisector of the legs points."""
    if dart.double:
        return np.asarray(dart.feet.mean(axis=0))
    apex = dart.points[0]
    one, two = dart.feet - apex
    return np.asarray(apex + unit(unit(one) + unit(two)) * float(np.linalg.norm(one)))

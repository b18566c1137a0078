"""A balance mark on the legs of a dart, so far from a named point: a panel seam along it gets its notches there."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point, reverse
from flatcut.pattern.edges import Dart
from flatcut.pattern.marks.mark import Compared, Mark, Marked
from flatcut.pattern.sound import hold, hold_finite

SAMPLES = 65
"""Places along a leg that are looked at for the first one far enough off: legs hardly bend."""


@dataclass(frozen=True, kw_only=True)
class Balance(Mark):
    """A mark on both legs of a dart where they are `by` mm from a named point; dart, about: uids of both."""

    uid: str
    dart: str
    about: str
    by: float

    role: ClassVar[str] = "balance"
    plural: ClassVar[str] = "balance marks"
    table: ClassVar[str] = "balance"

    def referring(self, uids: Mapping[str, str]) -> Balance:
        return replace(self, dart=uids.get(self.dart, self.dart), about=uids.get(self.about, self.about))

    def goes_with(self) -> str:
        return self.dart

    def places(self, piece: Marked) -> Array | None:
        """Where it stands on the first leg and on the second, (2, 2) mm.

        None where dart or point is gone, or the dart reaches no place so near to the point or so far from it.

        >>> from flatcut.geometry.curves import line
        >>> from flatcut.pattern.values import Dart, NamedPoint, Piece
        >>> dart = Dart(uid="d", name="d", host="e", legs=(line((-30, 0), (0, 40)), line((0, 40), (30, 0))))
        >>> bust = NamedPoint(uid="b", name="bust-point", at=np.array([0.0, 40.0]))
        >>> front = Piece(uid="p", name="front", edges=(), darts=(dart,), points=(bust,))
        >>> Balance(uid="m", dart="d", about="b", by=10.0).places(front).round(6)
        array([[-6., 32.],
               [ 6., 32.]])
        """
        dart = next((dart for dart in piece.darts if dart.uid == self.dart), None)
        about = next((getattr(thing, "at", None) for thing in piece.things() if thing.uid == self.about), None)
        if dart is None or about is None:
            return None
        found = [_so_far(leg, about, self.by) for leg in _from_point(dart, about)]
        return None if found[0] is None or found[1] is None else np.array(found)

    def place(self, piece: Marked) -> Array | None:
        places = self.places(piece)
        return None if places is None else np.asarray(places.mean(axis=0))

    def put(self, piece: Marked, at: Array) -> Balance:
        """It goes where its dart goes, and nowhere else."""
        return self

    def told(self, piece: Marked) -> str:
        return "a balance mark"

    def record(self) -> list[Any]:
        return [self.uid, self.dart, self.about, self.by]

    @classmethod
    def read(cls, record: Any, motion: Affine) -> Balance:
        uid, dart, about, by = record
        return cls(uid=uid, dart=dart, about=about, by=float(by))

    def hold(self, piece: Marked) -> None:
        hold(isinstance(self.dart, str) and isinstance(self.about, str))
        hold_finite(self.by)

    def listed(self, piece: Marked) -> dict[str, Any] | None:
        places = self.places(piece)
        return None if places is None else {"first": places[0], "second": places[1], "by": self.by}

    def compared(self, piece: Marked) -> Compared:
        return Compared(sizes=(("by", self.by),), places=(("places", self.places(piece)),))


def _from_point(dart: Dart, about: Array) -> tuple[Curve, Curve]:
    """Both legs from that point of the dart on that lies nearer to a place."""
    first, second = dart.legs
    away = np.linalg.norm(dart.points - about, axis=1)
    if dart.double and away[0] <= away[1]:
        return first, reverse(second)
    return reverse(first), second


def _so_far(leg: Curve, about: Array, by: float) -> Array | None:
    """The first place of a leg that is so far from a point, or None."""
    places = np.linspace(0.0, len(leg), SAMPLES)
    away = np.linalg.norm(point(leg, places) - about, axis=1) - by
    beyond = np.flatnonzero(away >= 0)
    if away[0] > 0 or not len(beyond):
        return None
    k = max(int(beyond[0]), 1)
    low, high, below, above = float(places[k - 1]), float(places[k]), float(away[k - 1]), float(away[k])
    for _ in range(50):
        # where a straight line between both would have it, half way at times; between both it stays
        middle = low - below * (high - low) / (above - below) if _ % 3 < 2 and above > below else (low + high) / 2
        here = math.hypot(*(point(leg, middle) - about)) - by
        if here < 0:
            low, below = middle, here
        else:
            high, above = middle, here
        if high - low <= 1e-15 or above <= 1e-12:
            break
    return np.asarray(point(leg, high))

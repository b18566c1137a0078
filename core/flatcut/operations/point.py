"""`point`: a place of a piece that gets a name."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import drawn, ref, text
from flatcut.errors import Option, UsageError
from flatcut.geometry.curves import bounds
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.outlines.anchoring import anchor, piece_under
from flatcut.pattern.places import Drawn, Place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import DrawnPath, Figure, NamedPoint, Pattern, checked_name


@operation(menu="Prepare", title="Add point")
@dataclass(frozen=True, kw_only=True)
class NamePoint(Operation):
    """Give a place of a piece a name, such as bust-point.

    The place is written, or is the middle of a small drawn shape: within 2 mm of a corner, a dart's point or the
    outline it is that place, inside the piece it is stated along and across two corners.
    """

    drawn: Drawn | None = drawn(("a small drawn shape", "whose middle is the point; none means the selected one"))
    at: Place | None = ref("place", "the place", optional=True)
    name: str = text("", "name of the point", named=True)

    def _settled(self, pattern: Pattern) -> NamePoint:
        if self.at:
            return self._with_name(pattern, self.at)
        wanted = self.drawn.id if self.drawn else ""
        if not wanted:
            raise UsageError("point wants a place or a small drawn shape; select one, or give ", Option("at"))
        path = next((t for t in pattern.drawn if isinstance(t, DrawnPath) and t.id == wanted), None)
        if path is None:
            raise UsageError(f"'{wanted}' is no drawn path beside the pieces; select a shape drawn on a piece")
        boxes = np.array([bounds(curve) for curve in path.curves])
        middle = (boxes[:, :2].min(axis=0) + boxes[:, 2:].max(axis=0)) / 2
        piece = piece_under(pattern, middle)
        at = anchor(pattern, piece, middle)
        return replace(self, at=at)._with_name(pattern, at)

    def _with_name(self, pattern: Pattern, at: Place) -> NamePoint:
        piece = pattern.piece_of(spot(pattern, at).piece)
        if not self.name:
            return replace(self, name=numbered("point", piece.names()))
        if self.name in piece.names():
            raise UsageError(f"{piece.name} has a '{self.name}' already; give another name")
        checked_name(self.name, kind="point's name")
        return self

    def _apply(self, pattern: Pattern) -> Outcome:
        assert self.at is not None
        found = spot(pattern, self.at)
        piece = pattern.piece_of(found.piece)
        uid = Uids(pattern.uids()).fresh("point", piece.uid, self.name)
        origin = self.drawn.id if self.drawn else ""
        named = NamedPoint(uid=uid, name=self.name, at=found.point, origin=origin)
        changed = replace(piece, points=(*piece.points, named))
        pattern = replace(pattern, drawn=tuple(thing for thing in pattern.drawn if thing.id != origin))
        figures = tuple(
            Figure(f"{piece.name}.{self.name} {axis}", float(value))
            for axis, value in zip("xy", found.point, strict=True)
        )
        return Outcome(pattern=pattern.with_piece(changed), figures=figures)

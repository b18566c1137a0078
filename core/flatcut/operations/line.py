"""`line`: a line inside a piece, stated by places, so that it replays on another size."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import choice, drawn, ref, text
from flatcut.errors import InputError, Option, UsageError
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.length import length
from flatcut.geometry.nearest import nearest
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.outlines.anchoring import anchor_line, drawn_line, home, parse_shape, show_shape
from flatcut.pattern.places import Drawn, Place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import DrawnPath, Figure, Line, Pattern, checked_name

KINDS = ("line", "fold", "placement", "balance")


@operation(menu="Prepare")
@dataclass(frozen=True, kw_only=True)
class DrawLine(Operation):
    """Keep a drawn line as a line of the piece it lies on, or draw one from place to place.

    The ends of a drawn line become places: a corner or point within 2 mm, else a place on the outline (an overshooting
    end is cut back), else a point along and across two corners. The shape between is kept along and across the line.
    """

    drawn: Drawn | None = drawn(("the drawn line", "none means the selected one"))
    start: Place | None = ref("place", "where it starts", optional=True)
    end: Place | None = ref("place", "where it ends", optional=True)
    shape: str = text(
        "", ("nodes and handles along and across the line, as fractions of its length", "none means straight")
    )
    name: str = text("", "name of the line")
    kind: str = choice("line", "what the line is", KINDS)

    def _settled(self, pattern: Pattern) -> DrawLine:
        if self.start and self.end:
            return replace(self, name=self._named(pattern, self.start))
        path = self._path(pattern)
        piece = home(pattern, path.curves[0])
        anchored, _ = anchor_line(pattern, piece, path.curves[0], closed=path.closed[0])
        settled = replace(self, start=anchored.start, end=anchored.end, shape=show_shape(anchored))
        return replace(settled, name=settled._named(pattern, anchored.start))

    def _named(self, pattern: Pattern, start: Place) -> str:
        piece = pattern.piece_of(spot(pattern, start).piece)
        if not self.name:
            return numbered("line", piece.names())
        if self.name in piece.names():
            raise UsageError(f"{piece.name} has a '{self.name}' already; give another name")
        return checked_name(self.name, kind="line's name")

    def _path(self, pattern: Pattern) -> DrawnPath:
        wanted = self.drawn.id if self.drawn else ""
        paths = [thing for thing in pattern.drawn if isinstance(thing, DrawnPath)]
        if not wanted:
            raise UsageError(
                "line wants a drawn line or two places; select one, or give ", Option("start"), " and ", Option("end")
            )
        path = next((path for path in paths if path.id == wanted), None)
        if path is None:
            raise UsageError(f"'{wanted}' is no drawn path beside the pieces; select a line drawn on a piece")
        if len(path.curves) != 1:
            raise InputError(f"'{wanted}' is several lines in one path; break it apart first")
        return path

    def _apply(self, pattern: Pattern) -> Outcome:
        assert self.start is not None
        assert self.end is not None
        start, end = spot(pattern, self.start), spot(pattern, self.end)
        if start.piece != end.piece:
            raise UsageError("the line starts on one piece and ends on another; draw it on one")
        piece = pattern.piece_of(start.piece)
        if np.linalg.norm(start.point - end.point) < 1e-6:
            raise UsageError("the line starts and ends at one place; give two places")
        curve = drawn_line(pattern, parse_shape(self.shape, self.start, self.end))
        uid = Uids(pattern.uids()).fresh("line", piece.uid, self.name)
        origin = self.drawn.id if self.drawn else ""
        line = Line(uid=uid, name=self.name, curve=curve, kind=self.kind, origin=origin)
        figures = [Figure(f"{piece.name}.{self.name}", length(curve))]
        if self.drawn:
            path = self._path(pattern)
            away = _apart(curve, anchor_line(pattern, piece, path.curves[0], closed=path.closed[0])[1])
            figures.append(Figure(f"{piece.name}.{self.name} differs from the drawn line by", away))
            pattern = replace(pattern, drawn=tuple(thing for thing in pattern.drawn if thing.id != path.id))
        changed = replace(piece, lines=(*piece.lines, line))
        return Outcome(pattern=pattern.with_piece(changed), figures=tuple(figures))


def _apart(a: Curve, b: Curve) -> float:
    """Largest distance in mm from points of one curve to the other."""
    places = np.linspace(0.0, 1.0, 65)
    return float(max(nearest(b, point(a, places * len(a)))[1].max(), nearest(a, point(b, places * len(b)))[1].max()))

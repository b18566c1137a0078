"""`back-off`: a dart's point moved along its axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.darts.darting import angle, dart_figures, dart_of
from flatcut.darts.feet import MOST, pointed_at
from flatcut.darts.pressing import pressing_figure
from flatcut.declared.fields import also_true, length, ref, refs
from flatcut.errors import Option, UsageError
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.pattern.places import Place
from flatcut.pattern.spots import find, spot
from flatcut.pattern.values import Dart, Figure, Pattern, Piece, area
from flatcut.reshape.change import applied
from flatcut.truing.after import trued_after


@operation(menu="Darts", title="Back off dart")
@dataclass(frozen=True, kw_only=True)
class BackOff(Operation):
    """Move the point of a dart along its axis: away from the fullest place, or back to it.

    A positive amount makes the dart shorter, a negative one longer; the feet stay and the legs stay equal. With --to
    the point goes exactly to a place; where that lies beside the axis the feet move along their legs by what makes
    the legs equal again, at most 2 mm. Of a double-pointed dart name the end: front.dart.upper or front.dart.lower.
    """

    target: tuple[Place, ...] = refs(("dart", "place"), ("the dart", "of a double-pointed one its .upper or .lower"))
    by: float | None = length(None, ("how far", "positive toward the mouth"), low=-500, high=500)
    to: Place | None = ref(
        "place", ("where to", "the place that the point goes to, such as front.bust-point"), filled=False
    )
    true: float | None = also_true()

    def _apply(self, pattern: Pattern) -> Outcome:
        if (self.by is None) == (not self.to):
            raise UsageError(
                "back-off takes ", Option("by"), ", an amount, or ", Option("to"), ", a place; give one of them"
            )
        if len(self.target) != 1:
            raise UsageError(f"back-off takes one dart, and {len(self.target)} are given")
        place = self.target[0]
        piece, dart = find(pattern, place)
        if not isinstance(dart, Dart):
            raise UsageError(f"'{place}' is no dart; name one of {', '.join(d.name for d in piece.darts)}")
        end = self._end(piece, dart, place.part)
        old = dart.points[end]
        new = self._along(piece, dart, end) if self.by is not None else self._at(pattern, piece)
        change, moved = pointed_at(piece, dart, end, new)
        after, dropped = applied(pattern, change)
        result = after.piece_of(piece.uid)
        name = f"{piece.name}.{dart.name}"
        made = dart_of(result, dart.uid)
        figures = [Figure(f"{name} point moved by", float(np.hypot(*(new - old))))]
        if not dart.double:
            figures.append(Figure(f"{name} angle before", angle(dart), "°"))
        figures += [*dart_figures(result, made), *pressing_figure(result, made)]
        if moved > 0.005:
            figures.append(Figure(f"{name} feet moved along the legs by", moved))
        figures.append(Figure(f"{piece.name} area changed by", (abs(area(result)) - abs(area(piece))) / 100, "cm²"))
        if moved > MOST:
            dropped = (
                *dropped,
                f"the place lies beside the axis of {name}: each foot moved {moved:.1f} mm along its leg, and the edge "
                "with it; look at the edge, or choose a place nearer to the axis",
            )
        after, trued, told = trued_after(pattern, after, self.true)
        return Outcome(pattern=after, figures=(*figures, *trued), warnings=(*dropped, *told))

    def _end(self, piece: Piece, dart: Dart, part: str) -> int:
        if not dart.double:
            if part not in ("", "point", dart.half):
                raise UsageError(f"{piece.name}.{dart.name} has one point; name the dart alone")
            return 0
        if part not in ("upper", "lower"):
            name = f"{piece.name}.{dart.name}"
            raise UsageError(f"{name} has two points; name {name}.upper or {name}.lower")
        return 0 if part == "upper" else 1

    def _along(self, piece: Piece, dart: Dart, end: int) -> np.ndarray:
        assert self.by is not None
        point = dart.points[end]
        way = dart.feet.mean(axis=0) - point
        tall = float(np.hypot(*way))
        if self.by >= tall - 1.0:
            raise UsageError(
                f"{piece.name}.{dart.name} is {tall:.1f} mm long to its mouth; move its point by less than that"
            )
        return np.asarray(point + self.by * way / tall)

    def _at(self, pattern: Pattern, piece: Piece) -> np.ndarray:
        assert self.to is not None
        found = spot(pattern, self.to)
        if found.piece != piece.uid:
            raise UsageError(f"'{self.to}' lies on another piece; choose a place on {piece.name}")
        return found.point

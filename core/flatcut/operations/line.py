"""`line`: a line inside a piece, stated by places, so that it replays on another size."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import choice, drawn, further, length, ref, refs, text
from flatcut.drafting.lines import (
    angled_off,
    axis_line,
    curved_line,
    grain_way,
    parallel_line,
    smooth_on,
    square_line,
    straight_way,
)
from flatcut.errors import InputError, Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.length import length as length_of
from flatcut.geometry.nearest import nearest
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.outlines.anchoring import anchor_line, drawn_line, home, parse_shape, show_shape
from flatcut.pattern.places import Drawn, Place, parse_place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import Spot, find, spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, DrawnPath, Edge, Figure, Line, Pattern, Piece, checked_name

KINDS = ("line", "fold", "placement", "balance")
GRAIN = Place(name="grain")
"""What a line is square or parallel to that is no edge."""


@operation(menu="Prepare", title="Add line")
@dataclass(frozen=True, kw_only=True)
class DrawLine(Operation):
    """Keep a drawn line as a line of the piece it lies on, or construct one from places.

    The ends of a drawn line become places: a corner or point within 2 mm, else a place on the outline (an overshooting
    end is cut back), else a point along and across two corners. The shape between is kept along and across the line.
    Without a drawing: from --start to --end, straight, or as a curve that goes --through places and leaves and arrives
    as stated; from --start --through one place without --end, straight on to the outline; from --start --square to an
    edge, a line or the grain; --parallel to one from --start on, or at a --distance; --along a dart's axis. A line that
    starts inside and has no end runs to both sides. Angles count from the edge as it runs on clockwise: 90 is square.
    """

    drawn: Drawn | None = drawn(("the drawn line", "none means the selected one"))
    start: Place | None = ref("place", "where it starts", optional=True)
    end: Place | None = ref("place", "where it ends", optional=True)
    shape: str = further(
        text(
            "",
            ("shape", "nodes and handles along and across the line, as fractions of its length; none means straight"),
        )
    )
    through: tuple[Place, ...] = refs("place", ("through", "places that it goes through on its way"), filled=False)
    square: Place | None = ref(
        ("edge", "line"), ("square to", "an edge or line, or grain"), filled=False, words=("grain",)
    )
    parallel: Place | None = ref(
        ("edge", "line"), ("parallel to", "an edge or line, or grain"), filled=False, words=("grain",)
    )
    distance: float | None = length(
        None,
        ("at a distance of", "how far from what it is parallel to: inside an edge, to the right of a line"),
        low=-5000,
    )
    along: Place | None = ref("dart", ("along the axis of the dart", "on from its point"), filled=False)
    until: Place | None = ref(("edge", "line"), ("edge or line at which it ends", "", "the outline"), filled=False)
    leave: str = text(
        "", ("how a curve leaves its start", "square, degrees such as 80deg, or smooth:EDGE that it runs on")
    )
    arrive: str = text("", ("how it arrives at its end", "told in the same way"))
    name: str = text("", "name of the line", named=True)
    kind: str = choice("line", "what the line is", KINDS)

    @property
    def _constructed(self) -> bool:
        return bool(self.square or self.parallel or self.along or (self.through and not self.end))

    def _settled(self, pattern: Pattern) -> DrawLine:
        if self._constructed:
            return replace(self, name=self._named(self._home(pattern)), drawn=None, end=None)
        if self.start and self.end:
            return replace(self, name=self._named(pattern.piece_of(spot(pattern, self.start).piece)))
        path = self._path(pattern)
        piece = home(pattern, path.curves[0])
        anchored, _ = anchor_line(pattern, piece, path.curves[0], closed=path.closed[0])
        settled = replace(self, start=anchored.start, end=anchored.end, shape=show_shape(anchored))
        return replace(settled, name=settled._named(pattern.piece_of(spot(pattern, anchored.start).piece)))

    def _home(self, pattern: Pattern) -> Piece:
        """The piece that a line is constructed on."""
        for place in (self.start, self.along, self.square, self.parallel):
            if place is not None and (place.chord or place.piece):
                found = spot(pattern, place).piece if place is self.start else pattern.piece(place.piece).uid
                return pattern.piece_of(found)
        raise UsageError("a line that is constructed starts at a place; give ", Option("start"))

    def _named(self, piece: Piece) -> str:
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
        if self._constructed:
            piece = self._home(pattern)
            curve = self._made(pattern, piece)
        else:
            assert self.start is not None
            assert self.end is not None
            start, end = spot(pattern, self.start), spot(pattern, self.end)
            if start.piece != end.piece:
                raise UsageError("the line starts on one piece and ends on another; draw it on one")
            piece = pattern.piece_of(start.piece)
            if np.linalg.norm(start.point - end.point) < 1e-6:
                raise UsageError("the line starts and ends at one place; give two places")
            curve = self._between(pattern, piece, start, end)
        uid = Uids(pattern.uids()).fresh("line", piece.uid, self.name)
        origin = self.drawn.id if self.drawn else ""
        line = Line(uid=uid, name=self.name, curve=curve, kind=self.kind, origin=origin)
        figures = [Figure(f"{piece.name}.{self.name}", length_of(curve))]
        if self.drawn:
            path = self._path(pattern)
            away = _apart(curve, anchor_line(pattern, piece, path.curves[0], closed=path.closed[0])[1])
            figures.append(Figure(f"{piece.name}.{self.name} differs from the drawn line by", away))
            pattern = replace(pattern, drawn=tuple(thing for thing in pattern.drawn if thing.id != path.id))
        changed = replace(piece, lines=(*piece.lines, line))
        return Outcome(pattern=pattern.with_piece(changed), figures=tuple(figures))

    def _between(self, pattern: Pattern, piece: Piece, start: Spot, end: Spot) -> Curve:
        """The line from place to place: as it was drawn, straight, or as a curve with stated ends."""
        assert self.start is not None
        assert self.end is not None
        if not (self.through or self.leave or self.arrive):
            return drawn_line(pattern, parse_shape(self.shape, self.start, self.end))
        if self.shape:
            raise UsageError(
                Option("shape"), " is that of a drawn line; leave it out where the line is told by places and angles"
            )
        places = [start.point, *(self._on(pattern, piece, place).point for place in self.through), end.point]
        leave = self._way(pattern, piece, start, self.leave, places[1], "leave")
        arrive = self._way(pattern, piece, end, self.arrive, places[-2], "arrive")
        return curved_line(piece, places, leave, None if arrive is None else -arrive)

    def _on(self, pattern: Pattern, piece: Piece, place: Place) -> Spot:
        found = spot(pattern, place)
        if found.piece != piece.uid:
            raise UsageError(f"'{place}' lies on another piece; a line stays on one, {piece.name}")
        return found

    def _way(self, pattern: Pattern, piece: Piece, at: Spot, told: str, toward: Array, name: str) -> Array | None:
        """The direction away from an end in which the line runs there; None for a free one."""
        if not told:
            return None
        if told == "square":
            return angled_off(piece, at, 90.0, toward)
        word, colon, reference = told.partition(":")
        if word == "smooth" and colon:
            other, thing = find(pattern, parse_place(reference if "." in reference else f"{piece.name}.{reference}"))
            if isinstance(thing, (Edge, Line)):
                return smooth_on(pattern, piece, at, other, thing, toward)
        try:
            degrees = float(told.removesuffix("deg").removesuffix("°"))
        except ValueError:
            degrees = math.nan
        if not 0 < degrees < 180:
            raise UsageError(
                Option(name), f" takes square, degrees between 0 and 180 such as 80deg, or smooth:EDGE, not '{told}'"
            )
        return angled_off(piece, at, degrees, toward)

    def _made(self, pattern: Pattern, piece: Piece) -> Curve:
        """The line that goes on to the outline, or to where it is told to end."""
        ways = [name for name in ("square", "parallel", "along") if getattr(self, name)]
        if len(ways) > 1 or (ways and self.through):
            raise UsageError(
                f"a line is constructed in one way; {' and '.join([*ways, *['through'] * bool(self.through)])} given"
            )
        if self.leave or self.arrive or self.shape:
            raise UsageError("a line that runs on to the outline is straight; give its end, or leave the angles out")
        if self.distance is not None and not (self.parallel and not self.start):
            raise UsageError(Option("distance"), " goes with ", Option("parallel"), ", in the place of a start")
        until = self._thing(pattern, piece, self.until) if self.until else None
        start = self._on(pattern, piece, self.start).point if self.start else None
        if self.along:
            thing = find(pattern, self.along)[1]
            assert isinstance(thing, Dart)
            return axis_line(piece, thing, start, until)
        if self.parallel and self.distance is not None:
            to = self._thing(pattern, piece, self.parallel)
            if self.distance == 0 or (self.distance < 0 and isinstance(to, Edge)):
                raise UsageError(Option("distance"), " is counted into the piece; give more than 0 mm")
            return parallel_line(piece, to, self.distance, None)
        if start is None:
            wanted = (Option("start"), " or ", Option("distance")) if self.parallel else (Option("start"),)
            raise UsageError("a line that is constructed starts at a place; give ", *wanted)
        if self.through:
            if len(self.through) > 1:
                raise UsageError("a line through several places ends somewhere; give ", Option("end"))
            return straight_way(piece, start, self._on(pattern, piece, self.through[0]).point - start, until)
        if self.square:
            if self.square == GRAIN:
                way = grain_way(piece)
                return straight_way(piece, start, np.array([-way[1], way[0]]), until, both=True)
            return square_line(piece, start, self._thing(pattern, piece, self.square), until)
        assert self.parallel is not None
        if self.parallel == GRAIN:
            return straight_way(piece, start, grain_way(piece), until, both=True)
        return parallel_line(piece, self._thing(pattern, piece, self.parallel), None, start)

    def _thing(self, pattern: Pattern, piece: Piece, place: Place) -> Edge | Line:
        """The edge or line of the piece that is named with or without it."""
        if place.piece not in ("", piece.name):
            raise UsageError(f"'{place}' lies on another piece; a line stays on one, {piece.name}")
        thing = find(pattern, replace(place, piece=piece.name))[1]
        if not isinstance(thing, (Edge, Line)) or place.at or place.other or place.part:
            raise UsageError(f"'{place}' is no edge and no line; name one, such as {piece.name}.{piece.edges[0].name}")
        return thing


def _apart(a: Curve, b: Curve) -> float:
    """Largest distance in mm from points of one curve to the other."""
    places = np.linspace(0.0, 1.0, 65)
    return float(max(nearest(b, point(a, places * len(a)))[1].max(), nearest(a, point(b, places * len(b)))[1].max()))

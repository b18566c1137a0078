"""`line`: a line inside a piece, stated by places, so that it replays on another size."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from flatcut.declared.fields import choice, drawn, flag, further, length, ref, refs, text
from flatcut.drafting import folded
from flatcut.drafting.folded import Closed, Leaf, Opened, Plane
from flatcut.drafting.gates import half_of, seam_gates
from flatcut.drafting.lines import (
    ON,
    angled_off,
    axis_line,
    axis_on,
    curved_line,
    grain_way,
    nearest_on,
    parallel_line,
    smooth_on,
    square_line,
    straight_way,
)
from flatcut.drafting.strokes import Flat, laid_flat
from flatcut.errors import InputError, Option, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, point
from flatcut.geometry.flowing import square_to
from flatcut.geometry.length import length as length_of
from flatcut.geometry.nearest import nearest
from flatcut.operations.operation import Operation, Outcome, operation
from flatcut.outlines.anchoring import Anchored, Frame, anchor, anchor_line, drawn_line, home, parse_shape, show_shape
from flatcut.pattern.places import Drawn, Place, parse_place
from flatcut.pattern.renewing import numbered
from flatcut.pattern.spots import Spot, find, is_mirrored, spot
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Dart, DrawnPath, Edge, Figure, Line, Pattern, Piece, checked_name
from flatcut.pattern.walking import sewn_at, sewn_length

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
    --closed names darts and seams over which it runs: it is drawn with them closed, and each part lies on its piece as
    that lies open. Over pieces that lie together it runs as it is.
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
        "", ("how a curve leaves its start", "square, degrees such as 80deg, smooth:EDGE or smooth:DART to run on")
    )
    arrive: str = text("", ("how it arrives at its end", "told in the same way"))
    closed: tuple[Place, ...] = refs(
        ("dart", "place", "edge", "stretch"),
        (
            "drawn with closed",
            "darts, and seams or stretches of them, that it runs over; a dart with two points about its upper one, or "
            "as .lower",
            "those that a drawn line crosses",
        ),
        filled=False,
    )
    open: bool = flag(False, ("darts lie open", "the line runs over darts that are not named as they lie"))
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
        flat = None if path.closed[0] else laid_flat(pattern, piece, path.curves[0])
        if flat is not None:
            return self._over(pattern, flat)
        anchored, _ = anchor_line(pattern, piece, path.curves[0], closed=path.closed[0])
        settled = replace(self, start=anchored.start, end=anchored.end, shape=show_shape(anchored))
        return replace(settled, name=settled._named(pattern.piece_of(spot(pattern, anchored.start).piece)))

    def _over(self, pattern: Pattern, flat: Flat) -> DrawLine:
        """The step of a stroke over open darts or pieces that lie together."""
        first, last = (pattern.piece_of(flat.plane.piece(k)) for k in (0, len(flat.plane.gates)))
        start, end = anchor(pattern, first, flat.curve.start), anchor(pattern, last, flat.last)
        spans = Frame(flat.curve.start, flat.curve.end, is_mirrored(first)).spans(flat.curve)
        shape = show_shape(Anchored(start=start, end=end, spans=spans))
        darts = [gate.name for gate in flat.plane.gates if gate.dart is not None]
        settled = replace(self, start=start, end=end, shape=shape, closed=tuple(parse_place(name) for name in darts))
        return replace(settled, name=settled._named(first))

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
        opened = self._opened(pattern)
        uids = Uids(pattern.uids())
        figures: list[Figure] = []
        before = pattern
        for k, leaf in enumerate(opened.leaves):
            piece = pattern.piece_of(leaf.piece)
            again = [item for item in piece.lines if item.name == self.name]
            if self.name in before.piece_of(leaf.piece).names():
                raise UsageError(f"{piece.name} has a '{self.name}' already; give another name")
            uid = uids.fresh("line", piece.uid, self.name, *([str(k)] if k else []))
            origin = self.drawn.id if self.drawn and not k else ""
            line = Line(uid=uid, name=self.name, curve=leaf.curve, kind=self.kind, origin=origin)
            pattern = pattern.with_piece(replace(piece, lines=(*piece.lines, line)))
            size = length_of(leaf.curve) + sum(length_of(item.curve) for item in again)
            figures = [f for f in figures if f.label != f"{piece.name}.{self.name}"]
            figures.append(Figure(f"{piece.name}.{self.name}", size))
        figures += [Figure(f"two sides miss each other at {name}, closed, by", gap) for name, gap in opened.gaps]
        if len(opened.leaves) > 1:
            figures.append(Figure(f"{self.name} in all", sum(length_of(leaf.curve) for leaf in opened.leaves)))
        if self.drawn:
            figures += self._off_the_drawn(before, opened)
            path = self._path(before)
            pattern = replace(pattern, drawn=tuple(thing for thing in pattern.drawn if thing.id != path.id))
        warnings = tuple(f"the line does not come to {name}, so nothing is closed there" for name in opened.unmet)
        return Outcome(pattern=pattern, figures=tuple(figures), warnings=warnings)

    def _off_the_drawn(self, pattern: Pattern, opened: Opened) -> list[Figure]:
        path = self._path(pattern)
        piece = home(pattern, path.curves[0])
        flat = None if path.closed[0] else laid_flat(pattern, piece, path.curves[0])
        name = f"{piece.name}.{self.name}"
        if flat is None:
            taken = anchor_line(pattern, piece, path.curves[0], closed=path.closed[0])[1]
            away = _apart(opened.leaves[0].curve, taken)
            return [Figure(f"{name} differs from the drawn line by", away)]
        figures = [Figure(f"sides moved to meet at {where}, by", by) for where, by in flat.moved]
        # beside the joints, where it was made fair
        again = [leaf.curve for leaf in folded.drawn_over(pattern, flat.plane, lambda _: flat.curve).leaves]
        away = max(_apart(leaf.curve, one) for leaf, one in zip(opened.leaves, again, strict=True))
        return [*figures, Figure(f"{name} differs from the drawn line, its sides moved, by", away)]

    def _opened(self, pattern: Pattern) -> Opened:
        """The line, in parts where it runs over what lies closed."""
        closed = self._closed(pattern)
        over = bool(closed.darts or closed.seams)
        if self._constructed:
            piece = self._home(pattern)
            made = self._made(pattern, piece, closed)
            if isinstance(made, Opened):
                self._refuse_over(pattern, made, closed)
                return made
            opened = Opened(leaves=(Leaf(piece=piece.uid, curve=made),))
            self._refuse_over(pattern, opened, closed)
            return opened
        assert self.start is not None
        assert self.end is not None
        start, end = spot(pattern, self.start), spot(pattern, self.end)
        piece = pattern.piece_of(start.piece)
        if start.piece == end.piece and np.linalg.norm(start.point - end.point) < 1e-6:
            raise UsageError("the line starts and ends at one place; give two places")
        if not over and start.piece == end.piece:
            opened = Opened(leaves=(Leaf(piece=piece.uid, curve=self._between(pattern, Plane(piece.uid), start, end)),))
        else:
            plane = folded.route(pattern, closed, (start.piece, start.point), (end.piece, end.point))
            opened = folded.drawn_over(pattern, plane, lambda on: self._between(pattern, on, start, end))
        self._refuse_over(pattern, opened, closed)
        return opened

    def _refuse_over(self, pattern: Pattern, opened: Opened, closed: Closed) -> None:
        """Errors: UsageError where the line runs over a dart of which nothing is said."""
        if self.open or (self.shape and not self.closed):
            return
        for leaf in opened.leaves:
            folded.refuse_over_darts(pattern.piece_of(leaf.piece), leaf.curve, [d.uid for _, d, _ in closed.darts])

    def _closed(self, pattern: Pattern) -> Closed:
        """What lies closed while it is drawn."""
        darts, seams = [], []
        for place in self.closed:
            piece, thing = find(pattern, place)
            if isinstance(thing, Dart):
                darts.append((piece, thing, half_of(piece, thing, place.part)))
            elif isinstance(thing, Edge) and not place.other:
                low = 0.0 if place.at is None else sewn_at(thing, place.at)
                high = sewn_length(thing) if place.to is None else sewn_at(thing, place.to)
                seams += seam_gates(pattern, piece, thing, low, high, lying=False)
            else:
                raise UsageError(f"'{place}' is no dart and no seam; name what the line runs over")
        return Closed(darts=tuple(darts), seams=tuple(seams))

    def _between(self, pattern: Pattern, plane: Plane, start: Spot, end: Spot) -> Curve:
        """The line from place to place on the plane: as it was drawn, straight, or as a curve with stated ends."""
        assert self.start is not None
        assert self.end is not None
        laid = plane.laid(len(plane.gates))
        last = end.point if not plane.gates else laid.apply(end.point)
        if not (self.through or self.leave or self.arrive):
            return drawn_line(pattern, parse_shape(self.shape, self.start, self.end), end=last)
        if self.shape:
            raise UsageError(
                Option("shape"), " is that of a drawn line; leave it out where the line is told by places and angles"
            )
        piece, far = (pattern.piece_of(one.piece) for one in (start, end))
        places = [start.point, *(self._laid(pattern, plane, place) for place in self.through), last]
        leave = self._way(pattern, piece, start, self.leave, places[1], "leave")
        arrive = self._way(pattern, far, end, self.arrive, laid.inverse().apply(places[-2]), "arrive")
        if arrive is not None:
            arrive = laid.apply(np.zeros(2)) - laid.apply(arrive)
        return curved_line(piece if not plane.gates else None, places, leave, arrive)

    def _laid(self, pattern: Pattern, plane: Plane, place: Place) -> np.ndarray:
        """A place on the way, on the plane."""
        found = spot(pattern, place)
        if not plane.gates:
            return self._on(pattern, pattern.piece_of(plane.home), place).point
        return plane.laid(plane.on(found.piece, found.point)).apply(found.point)

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
            if isinstance(thing, Dart) and other.uid == piece.uid:
                return axis_on(thing, at)
            if isinstance(thing, (Edge, Line)):
                return smooth_on(pattern, piece, at, other, thing, toward)
        try:
            degrees = float(told.removesuffix("deg").removesuffix("°"))
        except ValueError:
            degrees = math.nan
        if not 0 < degrees < 180:
            raise UsageError(
                Option(name),
                f" takes square, degrees between 0 and 180 such as 80deg, smooth:EDGE or smooth:DART, not '{told}'",
            )
        return angled_off(piece, at, degrees, toward)

    def _made(self, pattern: Pattern, piece: Piece, closed: Closed) -> Curve | Opened:
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
        start = self._on(pattern, piece, self.start).point if self.start else None
        if closed.darts or closed.seams or (self.until and self.until.piece not in ("", piece.name)):
            return self._made_over(pattern, piece, closed, start)
        until = self._thing(pattern, piece, self.until) if self.until else None
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

    def _made_over(self, pattern: Pattern, piece: Piece, closed: Closed, start: np.ndarray | None) -> Opened:
        """A straight line over what lies closed, or on over pieces that lie together."""
        until = None
        if self.until:
            home = pattern.piece(self.until.piece) if self.until.piece else piece
            until = home, self._thing(pattern, home, self.until)
        if self.along:
            thing = find(pattern, self.along)[1]
            assert isinstance(thing, Dart)
            axis = axis_line(piece, thing, start, None)
            return folded.straight(pattern, closed, piece, axis.start, axis.end - axis.start, until)
        if self.parallel and self.parallel != GRAIN and self.distance is not None:
            edge = self._thing(pattern, piece, self.parallel)
            if isinstance(edge, Edge) and self.distance > 0:
                return folded.parallel_over(pattern, closed, piece, edge, self.distance)
        if start is None or (self.parallel and self.parallel != GRAIN):
            raise UsageError("a parallel to an edge runs over nothing closed; give its two ends, or close it for good")
        if self.through:
            to = self._on(pattern, piece, self.through[0]).point
            return folded.straight(pattern, closed, piece, start, to - start, until)
        grain = GRAIN in (self.square, self.parallel)
        if not grain:
            assert self.square is not None
            foot, way, away = nearest_on(self._thing(pattern, piece, self.square), start)
            way = square_to(way) if away <= ON else foot - start
        else:
            way = grain_way(piece)
            way = square_to(way) if self.square else way
        return folded.straight(pattern, closed, piece, start, way, until, both=grain)

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

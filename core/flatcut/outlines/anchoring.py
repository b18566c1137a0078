"""From a drawn point or line to places that mean the same on a piece of another size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flatcut.errors import InputError, UsageError
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, chain, flatten, point, section
from flatcut.geometry.intersect import crossings
from flatcut.geometry.nearest import nearest_place
from flatcut.geometry.region import contains
from flatcut.pattern.mating import ON, sides
from flatcut.pattern.places import Place
from flatcut.pattern.seam_ends import seam_end
from flatcut.pattern.spots import chord_frame, is_mirrored, nearest_drawn, on_edge, spot, spots
from flatcut.pattern.values import Pattern, Piece, Position, outline
from flatcut.pattern.walking import point_at, sewn_length, to_sewn
from flatcut.units import plain

SNAP = 2.0
"""mm: a drawn end this near to a corner, a point or the outline is meant to lie on it: nobody aims closer by hand."""


@dataclass(frozen=True, kw_only=True)
class Anchored:
    """A drawn line as places. spans: per span the nodes and handles after its start, in the chord's own frame.

    A closed line has both places as its frame and `first`, its first node, in that frame.
    """

    start: Place
    end: Place
    spans: tuple[tuple[tuple[float, float], ...], ...]
    first: tuple[float, float] | None = None


def home(pattern: Pattern, curve: Curve) -> Piece:
    """The piece that a drawn curve lies on: the one that holds most of it. Errors: InputError when none does."""
    places = np.linspace(0.0, len(curve), 41)
    points = point(curve, places)
    best, most = None, 0
    for piece in pattern.pieces:
        held = int(contains(_ring(piece), points).sum())
        if held > most:
            best, most = piece, held
    if best is None:
        raise InputError("the line lies on no piece; draw it across one")
    return best


def piece_under(pattern: Pattern, at: Array) -> Piece:
    """The piece that a point (2,) lies on, or touches within SNAP. Errors: InputError when there is none."""
    for piece in pattern.pieces:
        if contains(_ring(piece), at[None])[0]:
            return piece
    for piece in pattern.pieces:
        # the point of a dart that is cut in is a corner of the outline, and half a mark on it lies outside
        if nearest_place(chain(outline(piece), within=1e-6), at)[1] <= SNAP:
            return piece
    raise InputError("the drawn shape lies on no piece; draw it inside one")


def _ring(piece: Piece) -> Array:
    return flatten(chain(outline(piece), within=1e-6), tolerance=0.05)


def fixed_places(piece: Piece) -> list[tuple[Place, Array]]:
    """Corners, named points and dart points of a piece: what a drawn end snaps to."""
    found: list[tuple[Place, Array]] = []
    for edge in piece.edges:
        following = piece.after(edge)
        if following.uid != edge.uid:
            found.append((Place(piece=piece.name, name=edge.name, other=following.name), edge.end))
    found += [(Place(piece=piece.name, name=named.name), named.at) for named in piece.points]
    for dart in piece.darts:
        parts = ("upper", "lower") if dart.double else ("point",)
        for part, at in zip(parts, dart.points, strict=True):
            found.append((Place(piece=piece.name, name=dart.name, part=part), at))
        if not dart.double:
            for k in (0, 1):
                found.append((Place(piece=piece.name, name=dart.name, part=f"foot-{k + 1}"), dart.feet[k]))
    return found


def anchor(pattern: Pattern, piece: Piece, at: Array, *, snap: float = SNAP) -> Place:
    """The place of a drawn point: a corner or point within `snap` mm, else where a seam ends, else on the outline so
    near, else off a chord.

    Errors: UsageError when the piece has too few corners and points to hold it.
    """

    def away(item: tuple[Place, Array]) -> float:
        return float(np.linalg.norm(item[1] - at))

    fixed = sorted(fixed_places(piece), key=away)
    for known in (fixed, sorted(seam_ends_inside(pattern, piece), key=away)):
        if known and away(known[0]) <= snap:
            return known[0][0]
    found = on_outline(piece, at)
    if found[1] <= snap:
        return found[0]
    return off_chord(pattern, piece, at, fixed)


def seam_ends_inside(pattern: Pattern, piece: Piece) -> list[tuple[Place, Array]]:
    """Where seams end inside edges of a piece, at a corner of the other side: there a line that is drawn to end with
    the seam is meant to end, or the two sides would differ by what a hand misses.
    """
    found: list[tuple[Place, Array]] = []
    for seam in pattern.seams:
        for here, there in sides(pattern, seam):
            for first in (True, False):
                step, corner = here[0 if first else -1], seam_end(there, first=first)
                edge = next((e for e in piece.edges if e.uid == step.edge.uid), None)
                if corner is None or edge is None or seam_end(here, first=first) is not None:
                    continue
                end = Position(mode="fraction", value=float(corner.at_end))
                place = Place(chord=(Place(piece=corner.piece.name, name=corner.edge.name, at=end),))
                at = on_edge(piece, edge, step.start if first == step.forward else step.end).point
                meant = spots(pattern, place)
                if len(meant) == 1 and np.hypot(*(meant[0].point - at)) <= ON:
                    found.append((place, at))
    return found


def on_outline(piece: Piece, at: Array) -> tuple[Place, float]:
    """The nearest place on the outline, as a fraction of its edge, and how far it is (mm)."""
    best: tuple[float, str, float] | None = None
    for edge in piece.edges:
        drawn = nearest_drawn(edge, at)
        away = float(np.linalg.norm(point_at(edge, drawn)[0] - at))
        if best is None or away < best[0]:
            best = (away, edge.name, to_sewn(edge, drawn) / sewn_length(edge))
    assert best is not None
    return Place(piece=piece.name, name=best[1], at=Position(mode="fraction", value=min(best[2], 1.0))), best[0]


def off_chord(pattern: Pattern, piece: Piece, at: Array, fixed: list[tuple[Place, Array]] | None = None) -> Place:
    """A point inside a piece, along and across the chord of the two nearest corners or named points."""
    # a dart's feet and points move when the dart does; corners and named points are what stays
    known = [item for item in (fixed or fixed_places(piece)) if not item[0].part]
    known.sort(key=lambda item: float(np.linalg.norm(item[1] - at)))
    for other in known[1:]:
        if np.linalg.norm(other[1] - known[0][1]) > SNAP:
            u, v = Frame(known[0][1], other[1], is_mirrored(piece)).told(at)
            return Place(chord=(known[0][0], other[0]), u=u, v=v)
    raise UsageError(f"{piece.name} has too few corners to hold a point inside it; name two points on it first")


@dataclass(frozen=True)
class Frame:
    """The axes of a chord from p to q on a piece; a point is told along and across it, as multiples of it.

    >>> frame = Frame(np.array([0., 0.]), np.array([2., 0.]), mirrored=False)
    >>> frame.told(np.array([1., 1.])), frame.point((0.5, 0.5))
    ((0.5, 0.5), array([1., 1.]))
    """

    p: Array
    q: Array
    mirrored: bool

    def told(self, at: Array) -> tuple[float, float]:
        """A point (2,) as multiples."""
        along, across = chord_frame(self.p, self.q, mirrored=self.mirrored)
        size = float(along @ along)
        return float((at - self.p) @ along) / size, float((at - self.p) @ across) / size

    def point(self, uv: tuple[float, float]) -> Array:
        """The point (2,) of multiples."""
        along, across = chord_frame(self.p, self.q, mirrored=self.mirrored)
        return np.asarray(self.p + uv[0] * along + uv[1] * across)

    def spans(self, curve: Curve) -> tuple[tuple[tuple[float, float], ...], ...]:
        """The nodes and handles of a curve, each span without its start."""
        return tuple(
            tuple(self.told(handle) for handle in (controls[3:] if straight else controls[1:]))
            for controls, straight in zip(curve.controls, curve.straight, strict=True)
        )


def anchor_line(pattern: Pattern, piece: Piece, curve: Curve, *, closed: bool) -> tuple[Anchored, Curve]:
    """A drawn line as places, and the line as it was taken: overshooting ends cut back to the last outline crossed.

    Errors: InputError when an open line's ends meet.
    """
    if closed:
        return _closed(pattern, piece, curve), curve
    taken = _cut_back(piece, curve)
    start, end = anchor(pattern, piece, taken.start), anchor(pattern, piece, taken.end)
    p, q = spot(pattern, start).point, spot(pattern, end).point
    if np.linalg.norm(q - p) < SNAP:
        raise InputError("the line ends where it starts; close it, or draw it from one place to another")
    # what snapping moves at the ends is spread over the line, so that its shape stays as drawn
    frame = Frame(taken.start, taken.end, is_mirrored(piece))
    return Anchored(start=start, end=end, spans=frame.spans(taken)), taken


def _closed(pattern: Pattern, piece: Piece, curve: Curve) -> Anchored:
    corners = [item for item in fixed_places(piece) if not item[0].part]
    corners.sort(key=lambda item: float(np.linalg.norm(item[1] - curve.start)))
    far = [item for item in corners[1:] if np.linalg.norm(item[1] - corners[0][1]) > SNAP]
    if not far:
        raise UsageError(f"{piece.name} has too few corners to hold a closed line; name two points on it first")
    frame = Frame(corners[0][1], far[0][1], is_mirrored(piece))
    return Anchored(start=corners[0][0], end=far[0][0], spans=frame.spans(curve), first=frame.told(curve.start))


def _cut_back(piece: Piece, curve: Curve) -> Curve:
    """The line without what sticks out of the piece at its ends."""
    ring = _ring(piece)
    met = sorted(c.u for part in outline(piece) for c in crossings(curve, part))
    inside = contains(ring, np.array([curve.start, curve.end]))
    first, last = 0.0, float(len(curve))
    if met and not inside[0]:
        first = met[0]
    if met and not inside[1]:
        last = met[-1]
    # an end that snaps to where it lies anyway is not cut: a hair beyond the outline is on it
    return section(curve, first, last) if last - first > 1e-9 else curve


def drawn_line(pattern: Pattern, anchored: Anchored, *, end: Array | None = None) -> Curve:
    """The line that places and shape give on a pattern; end: where its end lies, if not on the place itself."""
    start = spot(pattern, anchored.start)
    q = spot(pattern, anchored.end).point if end is None else end
    frame = Frame(start.point, q, is_mirrored(pattern.piece_of(start.piece)))
    at = start.point if anchored.first is None else frame.point(anchored.first)
    controls, straight = [], []
    for span in anchored.spans:
        points = [frame.point(uv) for uv in span]
        ends = points[-1]
        handles = points[:-1] or [at + (ends - at) / 3, ends - (ends - at) / 3]
        controls.append([at, *handles, ends])
        straight.append(len(points) == 1)
        at = ends
    if anchored.first is None:
        controls[-1][3] = q
    else:
        controls[-1][3] = controls[0][0]
    return Curve(np.array(controls), np.array(straight))


def show_shape(anchored: Anchored) -> str:
    """The inner nodes and handles as text: spans between semicolons, points between spaces, '' for a straight line.

    >>> show_shape(Anchored(start=Place(), end=Place(), spans=(((0.2, 0.1), (0.8, 0.1), (1.0, 0.0)),)))
    '0.2,0.1 0.8,0.1 1,0'
    """
    spans = [" ".join(f"{plain(u, 7)},{plain(v, 7)}" for u, v in span) for span in anchored.spans]
    if anchored.first is not None:
        u, v = anchored.first
        return "; ".join([f"from {plain(u, 7)},{plain(v, 7)}", *spans])
    return "" if spans == ["1,0"] else "; ".join(spans)


def parse_shape(text: str, start: Place, end: Place) -> Anchored:
    """Read what `show_shape` writes. Errors: UsageError."""
    first = None
    spans = []
    for part in text.split(";") if text.strip() else ["1,0"]:
        words = part.split()
        try:
            if words[0] == "from":
                u, v = words[1].split(",")
                first = (float(u), float(v))
                if len(words) == 2 and np.isfinite(first).all():
                    continue
                raise ValueError
            pairs = [word.split(",") for word in words]
            span = tuple((float(u), float(v)) for u, v in pairs)
        except (IndexError, ValueError):
            span = ()
        if len(span) not in (1, 3) or not np.isfinite(span).all():
            raise UsageError(f"'{part.strip()}' is no span of a shape; write u,v or three of them, along and across")
        spans.append(span)
    return Anchored(start=start, end=end, spans=tuple(spans), first=first)

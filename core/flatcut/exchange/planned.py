"""A piece as the lines and places that an exchange file takes of it, before its curves become points."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.drawing.ink import Words
from flatcut.drawing.pieces import piece_ink
from flatcut.errors import InputError
from flatcut.exchange.layers import BOUNDARY, CUT_OUT, INTERNAL, NOTCHES, SEW
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, chain, section, tangent
from flatcut.marking.derived import Derived
from flatcut.marking.ticks import MOUTH, Tick
from flatcut.pattern.values import Piece

BREAK = 2.0
"""Degrees: where a line turns by more, or an edge ends, a point is a turn point. Smaller kinks come and go from size to
size, and all sizes are to have the same points."""
ALONE = 0.5
"""Degrees: the same where there is one size only, so that even small kinks come back as they were."""
TO_LAYER = {
    "line": INTERNAL,
    "fold-line": INTERNAL,
    "placement-line": INTERNAL,
    "dart": INTERNAL,
    "button": INTERNAL,
    "balance": INTERNAL,
}
"""The layer of what is drawn inside a piece, by its role; words and what has a point of its own are not here."""
WORDS = ("label", "line-words")
"""The roles of words that are written."""


@dataclass(frozen=True, eq=False)
class Stretch:
    """A part of a line between two turn points; name: whose it is, the same in every size."""

    name: str
    curve: Curve


@dataclass(frozen=True, eq=False)
class Track:
    """A line of a piece in stretches, the end of each the start of the next."""

    layer: int
    stretches: tuple[Stretch, ...]
    closed: bool

    @property
    def curve(self) -> Curve:
        """The whole line."""
        return chain([one.curve for one in self.stretches], within=1e-6)


@dataclass(frozen=True, eq=False)
class Spot:
    """A notch before it is written: on the boundary, pointing `into` (2,) unit; depth and width in mm."""

    layer: int
    at: Array
    into: Array
    depth: float
    width: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Plan:
    """What is written of a piece; of its fold, where it has one, only `mirror` tells. Lengths in mm, y down."""

    piece: Piece
    tracks: tuple[Track, ...]
    spots: tuple[Spot, ...]
    holes: tuple[Array, ...]
    grain: Array | None
    mirror: Array | None
    words: tuple[Words, ...]

    @property
    def form(self) -> tuple[object, ...]:
        """What is the same in two sizes that have the same points."""
        lines = tuple((t.layer, t.closed, tuple(s.name for s in t.stretches)) for t in self.tracks)
        there = (self.grain is not None, self.mirror is not None)
        return (lines, tuple(spot.layer for spot in self.spots), len(self.holes), there)


def planned(piece: Piece, derived: Derived, *, kink: float = BREAK) -> Plan:
    """The plan of a piece. kink: degrees from which on a turn is a turn point.

    Errors: InputError for a cut line that could not be made, GeometryError.
    """
    if derived.fault is not None:
        raise InputError(f"{derived.fault}; mend it before the piece is handed on")
    names = {edge.uid: edge.name for edge in piece.edges}
    tracks = []
    sew = tuple(_outline(piece, kink))
    if derived.cut is None:
        tracks.append(Track(BOUNDARY, sew, closed=True))
    else:
        owned = _owned(derived.cut.curve, [names.get(uid, "") for uid in derived.cut.edges])
        tracks += [
            Track(BOUNDARY, tuple(_parted(derived.cut.curve, owned, kink)), closed=True),
            Track(SEW, sew, closed=True),
        ]
    inside = {line.uid: line.name for line in piece.lines} | {dart.uid: dart.name for dart in piece.darts}
    cut_outs = {line.uid for line in piece.lines if line.kind == "cut-out"}
    ink = piece_ink(piece, derived)
    for stroke in ink.strokes:
        layer = TO_LAYER.get(stroke.role.name)
        if layer is None:
            continue
        layer = CUT_OUT if stroke.of in cut_outs else layer
        name = inside.get(stroke.of, stroke.role.name)
        for curve in stroke.curves:
            closed = bool(np.abs(curve.start - curve.end).max() < 1e-6) and len(curve) > 1
            tracks.append(Track(layer, tuple(_parted(curve, [name] * len(curve), kink, closed=closed)), closed=closed))
    return Plan(
        piece=piece,
        tracks=tuple(tracks),
        spots=tuple(_spot(tick) for tick in derived.ticks),
        holes=tuple(at for at in (hole.place(piece) for hole in piece.holes) if at is not None),
        grain=None if piece.grain is None else np.array([piece.grain.start, piece.grain.end]),
        mirror=_mirror(piece),
        words=tuple(words for words in ink.words if words.role.name in WORDS),
    )


def _owned(curve: Curve, names: list[str]) -> list[str]:
    """The owners of a closed line's spans; those at a corner, which have none, are the edges' that meet there.

    So a corner is one turn point in every size, though its ends are spans of their own in some only.
    """
    count = len(names)
    if not any(names):
        return names
    found = list(names)
    turns = np.array([_turn(curve, k, k or count) for k in range(count)])  # at the start of each span
    for first in (k for k in range(count) if not names[k] and names[k - 1]):
        row = [first]
        while not names[(row[-1] + 1) % count]:
            row.append((row[-1] + 1) % count)
        after = (row[-1] + 1) % count
        corner = int(np.argmax(turns[[*row, after]]))
        for j, k in enumerate(row):
            found[k] = names[first - 1] if j < corner else names[after]
    return found


def _outline(piece: Piece, kink: float) -> Iterator[Stretch]:
    """The outline between its turn points: ends of edges, feet and points of darts, and where it breaks."""
    for edge in piece.edges:
        for k, part in enumerate(edge.parts):
            yield from _parted(part, [edge.name] * len(part), kink, closed=False)
            dart = piece.cut_in(edge, k)
            if dart is not None:
                for leg in dart.legs:
                    yield from _parted(leg, [dart.name] * len(leg), kink, closed=False)


def _parted(curve: Curve, names: list[str], kink: float, *, closed: bool = True) -> Iterator[Stretch]:
    """A line in stretches: apart where it breaks or becomes another's. A closed one begins at such a place."""
    joints = [k for k in range(1, len(curve)) if names[k] != names[k - 1] or _turn(curve, k, k) > kink]
    if closed and joints and not (names[0] != names[-1] or _turn(curve, 0, len(curve)) > kink):
        # the line starts in the middle of a stretch: it is begun anew at the first break
        first = joints[0]
        curve = chain([section(curve, first, len(curve)), section(curve, 0, first)], within=1e-6)
        names = [*names[first:], *names[:first]]
        yield from _parted(curve, names, kink, closed=False)
        return
    ends = [0, *joints, len(curve)]
    for a, b in pairwise(ends):
        yield Stretch(names[a], section(curve, a, b))


def _turn(curve: Curve, after: int, before: int) -> float:
    """Degrees that the line turns between two of its nodes."""
    into, out = tangent(curve, float(before), before=True), tangent(curve, float(after))
    return float(np.degrees(np.arccos(np.clip(into @ out, -1.0, 1.0))))


def _spot(tick: Tick) -> Spot:
    notch = tick.notch
    out = tick.tip - tick.foot
    if np.hypot(*out) > 1e-6:
        into = unit(out if notch.into == "out" else -out)
    else:  # on a stitch line without a cut line its shape alone tells where it points
        shape = chain(tick.shape, within=np.inf).controls.reshape(-1, 2)
        into = unit(shape.mean(axis=0) - tick.tip)
    width = 0.0 if notch.kind == "slit" else MOUTH * notch.depth
    return Spot(NOTCHES[notch.kind], tick.tip, into, notch.depth, width)


def _mirror(piece: Piece) -> Array | None:
    """The line of the fold, from end to end. Errors: InputError where it is not straight."""
    folds = [edge for edge in piece.edges if edge.use == "fold"]
    if not folds or piece.cut_as != "fold":
        return None
    ends = np.array([point for edge in folds for point in (edge.start, edge.end)])
    apart = np.hypot(*(ends[:, None] - ends[None]).T)
    a, b = np.unravel_index(int(np.argmax(apart)), apart.shape)
    line = np.array([ends[min(a, b)], ends[max(a, b)]])
    along = unit(line[1] - line[0])
    for edge in folds:
        for part in edge.parts:
            off = np.abs((part.controls - line[0]) @ np.array([-along[1], along[0]])).max()
            if off > 0.05:
                raise InputError(
                    f"the fold {piece.name}.{edge.name} is not straight, by {off:.2f} mm; redraw it straight"
                )
    return line

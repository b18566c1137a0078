"""What stands on paper: strokes and words, in mm; those of a piece are derived afresh from it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import Curve, bounds, chain, line, polyline, transform
from flatcut.marking.derived import Derived
from flatcut.marking.holes import button_symbol, cross_symbol, hole_symbol
from flatcut.marking.labels import LEADING, block
from flatcut.marking.pens import (
    CAP_DASHES,
    CUT,
    GRAIN,
    INNER,
    POINT,
    STITCH,
    STITCH_DASHES,
    TICK,
    arrow_heads,
)
from flatcut.marking.room import as_ring, frame, segments
from flatcut.marking.ticks import Tick, notch_shape
from flatcut.pattern.values import Piece, outline

LINES = ("both", "cut", "stitch")
"""Which outlines are printed."""
OUTWARD = 6.0
"""mm: length of a notch's tick where no cut line is printed for it to end on."""


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """Curves drawn with one pen, each a path of its own; closed: every one ends where it began."""

    curves: tuple[Curve, ...]
    width: float
    dashes: tuple[float, ...] = ()
    closed: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """A box that holds the stroke: of its control points."""
        points = np.concatenate([curve.controls.reshape(-1, 2) for curve in self.curves])
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)


@dataclass(frozen=True, kw_only=True)
class Words:
    """Lines of text about a place `at` (2,), turned clockwise by `angle` degrees; align: which part of the lines stands
    there, 'middle' or 'start'; either way the lines are centred on it up and down.
    """

    lines: tuple[str, ...]
    at: Array
    height: float
    angle: float = 0.0
    align: str = "middle"

    @property
    def outline(self) -> Curve:
        """The box of the text, turned, on the wide side."""
        wide, high = block(self.lines, self.height)
        left = 0.0 if self.align == "start" else -wide / 2
        box = [[left, -high / 2], [left + wide, -high / 2], [left + wide, high / 2], [left, high / 2]]
        return polyline(np.array([*box, box[0]]) @ frame(self.angle).T + self.at)

    @property
    def walls(self) -> tuple[Curve, ...]:
        """What other words keep clear of: the box, and the middle of each line, so that none fits in between."""
        wide, _ = block(self.lines, self.height)
        left = 0.0 if self.align == "start" else -wide / 2
        turn = frame(self.angle).T
        rows = (np.arange(len(self.lines)) - (len(self.lines) - 1) / 2) * LEADING * self.height
        return (self.outline, *(line(*(np.array([[left, y], [left + wide, y]]) @ turn + self.at)) for y in rows))


@dataclass(frozen=True, kw_only=True)
class Ink:
    """Strokes and words; rings: closed rings of points, the paper inside which belongs to a piece, and its names."""

    strokes: tuple[Stroke, ...] = ()
    words: tuple[Words, ...] = ()
    rings: tuple[Array, ...] = ()
    names: tuple[str, ...] = ()

    def moved(self, x: float, y: float) -> Ink:
        """The same elsewhere."""
        shift, way = Affine.translation(x, y), np.array([x, y])
        return Ink(
            strokes=tuple(replace(s, curves=tuple(transform(c, shift) for c in s.curves)) for s in self.strokes),
            words=tuple(replace(w, at=w.at + way) for w in self.words),
            rings=tuple(ring + way for ring in self.rings),
            names=self.names,
        )

    def chords(self) -> Array:
        """All that is drawn as chords, (n, 2, 2); words as their boxes."""
        drawn = [curve for stroke in self.strokes for curve in stroke.curves]
        return segments([*drawn, *(wall for words in self.words for wall in words.walls)])

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Smallest x, y and largest x, y of all that is drawn, exactly."""
        drawn = [curve for stroke in self.strokes for curve in stroke.curves]
        boxes = np.array([bounds(curve) for curve in (*drawn, *(words.outline for words in self.words))])
        (x0, y0), (x1, y1) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)


def together(parts: Iterable[Ink]) -> Ink:
    """Several as one."""
    items = list(parts)
    return Ink(
        strokes=tuple(s for ink in items for s in ink.strokes),
        words=tuple(w for ink in items for w in ink.words),
        rings=tuple(r for ink in items for r in ink.rings),
        names=tuple(n for ink in items for n in ink.names),
    )


def piece_ink(piece: Piece, derived: Derived, *, lines: str = "both") -> Ink:
    """A piece as it is printed. lines: 'cut' leaves out the stitch line and 'stitch' the cut line.

    A piece without a cut line keeps its stitch line whatever is asked.
    """
    cut = derived.cut.curve if derived.cut is not None and lines != "stitch" else None
    stitched = lines != "cut" or cut is None
    ring = chain(outline(piece), within=1e-3)
    strokes: list[Stroke] = []

    def draw(curves: Sequence[Curve], width: float, *, dashes: tuple[float, ...] = (), closed: bool = False) -> None:
        if curves:
            strokes.append(Stroke(curves=tuple(curves), width=width, dashes=dashes, closed=closed))

    if stitched:
        # where a cut line is printed too, the stitch line is the lighter of the two; alone it is cut along
        draw([ring], STITCH if cut is not None else CUT, dashes=STITCH_DASHES if cut is not None else (), closed=True)
        draw(derived.caps, STITCH, dashes=CAP_DASHES)
    if cut is not None:
        draw([cut], CUT, closed=True)
    for dart in piece.darts:
        # what is sewn inside the piece is printed, whatever is left out around it
        if dart.form == "lines" or not stitched:
            draw(dart.legs, STITCH, dashes=STITCH_DASHES)
    for inner in piece.lines:
        draw([inner.curve], INNER, closed=bool((inner.curve.start == inner.curve.end).all()))
    for tick in derived.ticks:
        draw(_tick(tick, cut is not None, stitched), TICK)
    for point in piece.points:
        draw(cross_symbol(point.at, POINT), INNER)
    for hole in piece.holes:
        draw(hole_symbol(piece, hole), INNER)
    for button in piece.buttons:
        draw(button_symbol(button), INNER)
    for fold in derived.folds:
        draw(fold.bracket, GRAIN)
    if piece.grain is not None:
        draw([line(piece.grain.start, piece.grain.end), *arrow_heads(piece.grain)], GRAIN)
    words = [
        Words(lines=(fold.words,), at=fold.centre, height=fold.height, angle=fold.angle)
        for fold in derived.folds
        if fold.centre is not None
    ]
    label = derived.label
    if label is not None:
        words.append(Words(lines=label.lines, at=label.centre, height=label.height, angle=label.angle))
        if label.leader is not None:
            draw([line(*label.leader)], INNER)
    around = as_ring([ring if cut is None else cut])
    return Ink(strokes=tuple(strokes), words=tuple(words), rings=(around,), names=(piece.name,))


def _tick(tick: Tick, cut: bool, stitched: bool) -> tuple[Curve, ...]:
    """A notch, on the lines that are printed: whole, or on the cut line alone, or outward from the stitch line."""
    way = tick.tip - tick.foot
    if cut and stitched:
        return tick.curves
    room = math.hypot(*way)
    if cut:
        if tick.shape or room < 0.1:
            return tick.shape or tick.curves
        into = unit(way) if tick.notch.into == "out" else -unit(way)
        return notch_shape(tick.notch.kind, tick.tip, into, tick.notch.depth)
    if room < 0.1:
        return tick.curves
    return (line(tick.foot, tick.foot + min(room, OUTWARD) * unit(way)),)

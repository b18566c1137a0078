"""A piece as strokes and words: the one place that says what of it is drawn, and in which role."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from flatcut.drawing.ink import Ink, Stroke, Words
from flatcut.drawing.roles import (
    ARROW,
    CAP,
    CUT,
    DART,
    FOLD,
    FOLD_LINE,
    FOLD_WORDS,
    GRAIN,
    LABEL,
    LEADER,
    LINE,
    LINE_WORDS,
    NOTCH,
    OUTLINE,
    PLACEMENT,
    STITCH,
    of_kind,
)
from flatcut.geometry.arrays import unit
from flatcut.geometry.curves import Curve, chain, line, polyline
from flatcut.marking.derived import Derived, derive_all
from flatcut.marking.folds import FoldMark
from flatcut.marking.labels import Label
from flatcut.marking.room import as_ring
from flatcut.marking.symbols import symbol
from flatcut.pattern.values import Grain, Pattern, Piece, outline

if TYPE_CHECKING:
    from flatcut.marking.ticks import Tick

LINES_BY_KIND = {"fold": FOLD_LINE, "placement": PLACEMENT}
"""Lines inside a piece that differ to the eye from the others."""
LINES = ("both", "cut", "stitch")
"""Which outlines are drawn."""
OUTWARD = 6.0
"""mm: length of a notch's tick where no cut line is drawn for it to end on."""
HEAD = 5.0
"""mm: length of an arrow head on the grain line."""


def pattern_inks(pattern: Pattern, *, lines: str = "both") -> list[Ink]:
    """All that is drawn of each piece, as an output takes it that nobody looks at before cloth is cut.

    lines: as for `piece_ink`. Errors: GeometryError for a piece that should have a cut line and can have none.
    """
    every = derive_all(pattern.pieces, pattern.style)
    for derived in every:
        if derived.fault is not None:
            raise derived.fault
    return [piece_ink(piece, derived, lines=lines) for piece, derived in zip(pattern.pieces, every, strict=True)]


def piece_ink(piece: Piece, derived: Derived, *, lines: str = "both") -> Ink:
    """All that is drawn of a piece. lines: 'cut' leaves out the stitch line and 'stitch' the cut line.

    A piece without a cut line keeps its outline whatever is asked, and it leads the eye then.
    """
    cut = derived.cut.curve if derived.cut is not None and lines != "stitch" else None
    stitched = lines != "cut" or cut is None
    items: list[Stroke | Words] = [*outlines(piece, cut, stitched=stitched)]
    if stitched:
        items += [Stroke(role=CAP, curves=(cap,), of=piece.uid) for cap in derived.caps]
    for tick in derived.ticks:
        items.append(Stroke(role=NOTCH, curves=_tick(tick, cut is not None, stitched), of=tick.notch.uid))
    for mark in piece.marks():
        curves = symbol(piece, mark)
        if curves:
            items.append(Stroke(role=of_kind(mark.role), curves=curves, of=mark.uid))
    for fold in derived.folds:
        items += _fold(fold)
    for said in derived.words:
        items.append(
            Words(
                role=LINE_WORDS,
                lines=(said.words,),
                at=said.centre,
                height=said.height,
                angle=said.angle,
                of=said.of,
            )
        )
    if piece.grain is not None:
        items += [Stroke(role=ARROW, curves=(head,), of=piece.uid) for head in arrow_heads(piece.grain)]
    if derived.label is not None:
        items += _label(piece, derived.label)
    ring = chain(outline(piece), within=1e-3) if cut is None else cut
    return Ink(items=tuple(items), rings=(as_ring([ring]),), names=(piece.name,))


def outlines(piece: Piece, cut: Curve | None, *, stitched: bool = True) -> Iterator[Stroke]:
    """The outline of a piece, its cut line, and the lines that were drawn inside: inner lines, darts, the grain line.

    stitched: whether the outline is drawn; where it is left out, darts cut into it are drawn none the less, as what is
    sewn inside the cut line.
    """
    if stitched:
        ring = chain(outline(piece), within=1e-3)
        yield Stroke(role=OUTLINE if cut is None else STITCH, curves=(ring,), closed=True, of=piece.uid)
    if cut is not None:
        yield Stroke(role=CUT, curves=(cut,), closed=True, of=piece.uid)
    for inner in piece.lines:
        yield Stroke(
            role=LINES_BY_KIND.get(inner.kind, LINE),
            curves=(inner.curve,),
            closed=bool((inner.curve.start == inner.curve.end).all()),
            of=inner.uid,
        )
    for dart in piece.darts:
        if dart.form == "lines" or not stitched:
            yield Stroke(role=DART, curves=(chain(dart.legs, within=1e-3),), of=dart.uid)
    if piece.grain is not None:
        yield Stroke(role=GRAIN, curves=(line(piece.grain.start, piece.grain.end),), of=GRAIN.name)


def arrow_heads(grain: Grain) -> list[Curve]:
    """The arrow heads of a grain line: at both ends, or at its end alone when the cloth runs one way.

    >>> [head.nodes[1].tolist() for head in arrow_heads(Grain(start=np.array([0.0, 0.0]), end=np.array([0.0, 90.0])))]
    [[0.0, 90.0], [0.0, 0.0]]
    """
    along = unit(grain.end - grain.start)
    across = 0.35 * HEAD * np.array([-along[1], along[0]])
    ends = [(grain.end, along)] + ([(grain.start, -along)] if grain.ways == "both" else [])
    return [polyline([tip - HEAD * way + across, tip, tip - HEAD * way - across]) for tip, way in ends]


def _tick(tick: Tick, cut: bool, stitched: bool) -> tuple[Curve, ...]:
    """A notch, on the lines that are drawn: whole, or on the cut line alone, or outward from the stitch line."""
    way = tick.tip - tick.foot
    room = math.hypot(*way)
    if stitched and (cut or room < 0.1):
        return tick.curves
    if not cut:
        return (line(tick.foot, tick.foot + min(room, OUTWARD) * unit(way)),)
    if tick.shape or room < 0.1:
        return tick.shape or tick.curves
    from flatcut.marking.ticks import notch_shape

    into = unit(way) if tick.notch.into == "out" else -unit(way)
    return notch_shape(tick.notch.kind, tick.tip, into, tick.notch.depth)


def _fold(fold: FoldMark) -> Iterator[Stroke | Words]:
    yield Stroke(role=FOLD, curves=fold.bracket, of=fold.edge)
    if fold.centre is not None:
        lines = (fold.words,)
        yield Words(role=FOLD_WORDS, lines=lines, at=fold.centre, height=fold.height, angle=fold.angle, of=fold.edge)


def _label(piece: Piece, label: Label) -> Iterator[Stroke | Words]:
    yield Words(role=LABEL, lines=label.lines, at=label.centre, height=label.height, angle=label.angle, of=piece.uid)
    if label.leader is not None:
        yield Stroke(role=LEADER, curves=(line(*label.leader),), of=piece.uid)

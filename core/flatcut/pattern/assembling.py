"""From drafted curves to pieces: names, uses, darts, lines, marks and seams under fresh identities."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import Curve, bounds, chain, line, polyline
from flatcut.pattern.marks.balance import Balance
from flatcut.pattern.moving import moved
from flatcut.pattern.runs import walk
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import (
    Dart,
    Edge,
    Figure,
    Grain,
    Line,
    NamedPoint,
    Notch,
    Pattern,
    Piece,
    Position,
    RunPart,
    Seam,
    outline,
)
from flatcut.pattern.walking import sewn_length

GAP = 40.0
"""mm between pieces laid side by side: room for an allowance on both."""
MARGIN, BESIDE = 20.0, 60.0
"""mm from the corner of an empty drawing, and beside pieces that are there already."""


@dataclass(frozen=True, kw_only=True)
class Side:
    """An edge to be: name, parts clockwise, use, words written along it, and whether it lies on the centre line."""

    name: str
    parts: tuple[Curve, ...]
    use: str = "seam"
    words: str = ""
    centre: bool = False


@dataclass(frozen=True, kw_only=True)
class Wedged:
    """A cut-in dart to be. legs: foot, point, foot, (3, 2), in the order of the outline; after: part of the host."""

    name: str
    host: str
    legs: Array
    after: int = 0
    pressed: str = ""


@dataclass(frozen=True, kw_only=True)
class Diamond:
    """A double-pointed dart to be: upper point, lower point, and the middle of its width with the intake, mm."""

    name: str
    upper: Array
    lower: Array
    middle: Array
    intake: float
    pressed: str = ""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A notch to be: edge, mm from its start along the sewn line, how many ticks."""

    edge: str
    at: float
    count: int = 1
    from_end: bool = False


@dataclass(frozen=True, kw_only=True)
class Beside:
    """A balance mark to be: on the legs of a dart, so many mm from a named point."""

    dart: str
    about: str
    by: float


@dataclass(frozen=True, kw_only=True)
class Draft:
    """What is drafted: pieces where they lie, the seams between them, figures and warnings."""

    pieces: tuple[Piece, ...]
    seams: tuple[Seam, ...]
    figures: tuple[Figure, ...] = ()
    warnings: tuple[str, ...] = ()


def assembled(
    name: str,
    sides: Sequence[Side],
    uids: Uids,
    *,
    wedges: Sequence[Wedged] = (),
    diamonds: Sequence[Diamond] = (),
    levels: Sequence[tuple[str, Array, Array]] = (),
    points: Sequence[tuple[str, Array]] = (),
    marks: Sequence[Mark] = (),
    beside: Sequence[Beside] = (),
    grain: tuple[Array, Array],
    cut_as: str,
) -> Piece:
    """A piece of its parts. levels: balance lines by name and two end points (2,). The outline must close."""
    uid = uids.fresh("block", name)
    edges = {
        s.name: Edge(
            uid=uids.fresh("edge", uid, s.name), name=s.name, parts=s.parts, use=s.use, words=s.words, centre=s.centre
        )
        for s in sides
    }
    darts = [
        Dart(
            uid=uids.fresh("dart", uid, w.name),
            name=w.name,
            legs=(line(w.legs[0], w.legs[1]), line(w.legs[1], w.legs[2])),
            host=edges[w.host].uid,
            after=w.after,
            pressed=edges[w.pressed].uid if w.pressed else "",
        )
        for w in wedges
    ]
    darts += [_double(d, uids.fresh("dart", uid, d.name), edges[d.pressed].uid if d.pressed else "") for d in diamonds]
    named = {text: NamedPoint(uid=uids.fresh("point", uid, text), name=text, at=at) for text, at in points}
    called = {dart.name: dart.uid for dart in darts}
    return Piece(
        uid=uid,
        name=name,
        edges=tuple(edges.values()),
        darts=tuple(darts),
        lines=tuple(
            Line(uid=uids.fresh("line", uid, text), name=text, curve=line(a, b), kind="balance")
            for text, a, b in levels
        ),
        points=tuple(named.values()),
        notches=tuple(
            Notch(
                uid=uids.fresh("notch", uid, m.edge, str(k)),
                edge=edges[m.edge].uid,
                at=Position(mode="end" if m.from_end else "start", value=m.at),
                count=m.count,
            )
            for k, m in enumerate(marks)
        ),
        others=tuple(
            Balance(uid=uids.fresh("balance", uid, b.dart), dart=called[b.dart], about=named[b.about].uid, by=b.by)
            for b in beside
        ),
        grain=Grain(start=grain[0], end=grain[1]),
        quantity=2 if cut_as == "pair" else 1,
        cut_as=cut_as,
    )


def _double(dart: Diamond, uid: str, pressed: str) -> Dart:
    half = np.array([dart.intake / 2, 0.0])
    legs = (
        polyline([dart.upper, dart.middle - half, dart.lower]),
        polyline([dart.lower, dart.middle + half, dart.upper]),
    )
    return Dart(uid=uid, name=dart.name, legs=legs, form="lines", pressed=pressed)


def sewn_to(
    a: tuple[Piece, str],
    b: tuple[Piece, str],
    uids: Uids,
    *,
    ease: float = 0.0,
    a_stretch: tuple[Position, Position] | None = None,
    b_stretch: tuple[Position, Position] | None = None,
    mirrored: bool = False,
) -> Seam:
    """The seam of two edges of clockwise pieces, which meet end to start. mirrored: b is the pair's mate."""
    (piece_a, name_a), (piece_b, name_b) = a, b
    stretch_a, stretch_b = a_stretch or (None, None), b_stretch or (None, None)
    run_a = RunPart(piece=piece_a.uid, of=piece_a.edge(name_a).uid, start=stretch_a[0], end=stretch_a[1])
    run_b = RunPart(
        piece=piece_b.uid, of=piece_b.edge(name_b).uid, start=stretch_b[0], end=stretch_b[1], mirrored=mirrored
    )
    uid = uids.fresh("seam", piece_a.uid, name_a, piece_b.uid, name_b)
    # all edges run clockwise, the mirror image too once it is walked its own way: the pieces lie on opposite sides
    return Seam(uid=uid, a=(run_a,), b=(run_b,), reversed=True, ease=ease)


def laid_out(pieces: Iterable[Piece], *, left: float, top: float) -> tuple[Piece, ...]:
    """The pieces side by side from the left, GAP apart, levels kept; the whole starts at x = left, y = top."""
    boxes = [(piece, bounds(chain(outline(piece), within=1e-6))) for piece in pieces]
    highest = min(box[1] for _, box in boxes)
    laid, x = [], left
    for piece, box in boxes:
        laid.append(moved(piece, Affine.translation(x - box[0], top - highest)))
        x += box[2] - box[0] + GAP
    return tuple(laid)


def free_place(pattern: Pattern) -> tuple[float, float]:
    """Where new pieces are laid: x of their left, y of their top; right of all that is there.

    >>> free_place(Pattern())
    (20.0, 20.0)
    """
    boxes = [bounds(chain(outline(piece), within=1e-6)) for piece in pattern.pieces]
    if not boxes:
        return MARGIN, MARGIN
    return max(box[2] for box in boxes) + BESIDE, min(box[1] for box in boxes)


def girth(pieces: Sequence[Piece], name: str) -> float:
    """mm of the edges or lines of that name on some pieces, darts closed."""
    whole = Pattern(pieces=tuple(pieces))
    run = []
    for piece in pieces:
        things: tuple[Edge | Line, ...] = (*piece.edges, *piece.lines)
        for thing in things:
            if thing.name == name:
                run.append(RunPart(piece=piece.uid, of=thing.uid))
    return sum(step.sewn for step in walk(whole, tuple(run)))


def dart_figures(pieces: Iterable[Piece]) -> list[Figure]:
    """The intake of every dart, mm."""
    found = []
    for piece in pieces:
        for dart in piece.darts:
            found.append(Figure(f"{piece.name}.{dart.name} intake", float(np.linalg.norm(dart.feet[1] - dart.feet[0]))))
    return found


def edge_figure(piece: Piece, name: str) -> Figure:
    """The sewn length of an edge."""
    return Figure(f"{piece.name}.{name}", sewn_length(piece.edge(name)))

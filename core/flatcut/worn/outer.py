"""Pieces as they are seen when worn: of folded strips the outer half without its overlap, of what goes round both sides
alike one half, and collars closed at the centre where they are buttoned."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array
from flatcut.geometry.curves import line
from flatcut.pattern.moving import moved
from flatcut.pattern.runs import ends, run_sewn, stretch_of
from flatcut.pattern.values import Edge, Line, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import drawn_length, nearest_drawn, point_at, sewn_length
from flatcut.worn.sewn import alone, centre_of

STRIP, COLLAR = "strip", "collar"
"""Kinds of derived pieces that are put where what they are sewn to lies."""
NARROWEST = 20.0
"""mm of finished width below which a strip is narrower than a net can show."""
LEANS = 15.0
"""Degrees from upright up to which a centre may lean as it is drawn: a seam there has its shape."""
STRAIGHT = 0.01
"""mm by which the sides of a strip may be off a rectangle."""


def hangs(piece: Piece) -> bool:
    """Whether a piece goes where the edges that it is sewn to go: strips and collars.

    >>> from flatcut.pattern.sources import Source
    >>> hangs(Piece(uid="p", name="cuff", edges=(), source=Source(kind="strip", of=())))
    True
    """
    return piece.source is not None and piece.source.kind in (STRIP, COLLAR)


def unfit_strip(piece: Piece) -> str:
    """Why a strip is not worn, '' where it is."""
    if piece.source is None or piece.source.kind != STRIP:
        return ""
    layers, wide = _layers(piece), _box(piece)
    if layers == 1:
        return ""
    if wide is None:
        return "a folded strip whose outline has been changed"
    if layers == 4 or wide.high / layers < NARROWEST:
        return f"a strip {wide.high / layers:.0f} mm wide, narrower than the net can show"
    return ""


def outer(pattern: Pattern, pieces: Sequence[Piece]) -> tuple[Pattern, list[Piece]]:
    """The pattern and those of its pieces that are worn, each as it is seen from outside."""
    there = {piece.uid: piece for piece in pieces}
    halved: set[str] = set()
    for uid, piece in list(there.items()):
        if not hangs(piece):
            made = _upright(piece)
            pattern = pattern.with_piece(made)
        elif piece.source is not None and piece.source.kind == STRIP:
            pattern, made = _strip(pattern, piece, there, halved)
        else:
            made = _closed(piece)
            pattern = pattern.with_piece(made)
        there[uid] = made
    return pattern, list(there.values())


def _upright(piece: Piece) -> Piece:
    """A piece that lies turned on the paper, as one cut on the bias does, with its centre upright again."""
    centre = centre_of(piece)
    if centre is None:
        return piece
    across, down = centre[1] - centre[0]
    off = float(np.degrees(np.arctan2(across, down)))  # from pointing down, toward the right
    turn = (off + 90.0) % 180.0 - 90.0
    if abs(turn) < LEANS:
        return piece
    # angles of a transform go clockwise on the screen, from the right to down
    return moved(piece, Affine.rotation(math.radians(turn)))


class _Box(NamedTuple):
    """A strip's rectangle. at (2,): its corner of start and seam; along (2,): the unit from there along the seam; up
    (2,): the unit from the seam to the top; long, high: mm."""

    at: Array
    along: Array
    up: Array
    long: float
    high: float


def _layers(piece: Piece) -> int:
    names = {one.name for one in piece.lines}
    return 4 if "seam-line" in names else 2 if "fold" in names else 1


def _box(piece: Piece) -> _Box | None:
    """The rectangle of a strip as it was drafted: edges seam, start, top and end; None where that was changed."""
    if len(piece.edges) != 4 or piece.darts or any(len(edge.parts) != 1 for edge in piece.edges):
        return None
    seam, start, *_ = piece.edges
    if any(abs(drawn_length(e) - float(np.linalg.norm(e.end - e.start))) > STRAIGHT for e in piece.edges):
        return None
    along, up = seam.start - seam.end, start.end - start.start
    long, high = float(np.linalg.norm(along)), float(np.linalg.norm(up))
    if min(long, high) < STRAIGHT or abs(float(along @ up)) > STRAIGHT * max(long, high):
        return None
    return _Box(seam.end, along / long, up / high, long, high)


class _Sewn(NamedTuple):
    """A stretch of a strip's seam edge, sewn mm from its start corner, and the run it is sewn to."""

    low: float
    high: float
    run: tuple[RunPart, ...]
    seam: Seam


def _strip(pattern: Pattern, piece: Piece, there: Mapping[str, Piece], halved: set[str]) -> tuple[Pattern, Piece]:
    box = _box(piece)
    layers = _layers(piece)
    edge = piece.edges[0]
    own = [s for s in pattern.seams if len(s.a) == 1 and s.a[0].of == edge.uid and _others(s.b, piece)]
    if box is None or not own or any(not s.reversed for s in own):
        return pattern, piece
    total = sewn_length(edge)
    sewn = []
    for seam in own:
        start, end = ends(pattern, seam.a[0])
        sewn.append(_Sewn(total - end, total - start, seam.b, seam))
    sewn.sort(key=lambda one: one.low)
    lap = next((one for one in piece.lines if one.name == "lap-line"), None)
    long = box.long if lap is None else float((lap.curve.start - box.at) @ box.along)
    share = long / box.long
    ring = layers == 1 and any(_ring(s, piece) for s in pattern.seams)
    closes = ring or lap is not None
    if lap is not None:
        sewn = [one for one in (_short(pattern, one, share * total) for one in sewn) if one.high - one.low > STRAIGHT]
    middle = _middle(pattern, sewn, halved, piece, there)
    if middle is not None:
        share *= middle / (share * total)
        long = share * box.long
        sewn = [one for one in (_half(pattern, one, middle, halved) for one in sewn) if one.high - one.low > STRAIGHT]
        halved.add(piece.uid)
    made = _cut(piece, box, long, box.high / layers, share, folded=middle is not None, closes=closes)
    used = {edge.uid, *(e.uid for e in (made.edges[3], *((made.edges[2],) if layers > 1 else ())))}
    kept = [
        s
        for s in pattern.seams
        if s not in own
        and not (_all_of(s, piece) and (layers > 1 or middle is not None))
        and not (middle is not None and used & {p.of for p in (*s.a, *s.b)})
    ]
    at = share * total
    new = [
        replace(
            one.seam,
            a=(
                replace(
                    one.seam.a[0],
                    start=None if at - one.high < STRAIGHT else Position(mode="end", value=one.high),
                    end=None if one.low < STRAIGHT else Position(mode="end", value=one.low),
                ),
            ),
            b=one.run,
        )
        for one in sewn
    ]
    if closes and middle is None and not ring:
        new.append(_closing(made))
    return replace(pattern.with_piece(made), seams=(*kept, *new)), made


def _closing(piece: Piece) -> Seam:
    """The ends of a band sewn to each other, as when it is buttoned."""
    start, end = (RunPart(piece=piece.uid, of=piece.edges[k].uid) for k in (1, 3))
    return Seam(uid=f"{piece.uid}-closed", a=(end,), b=(start,), reversed=True)


def _others(run: Sequence[RunPart], piece: Piece) -> bool:
    return all(part.piece != piece.uid for part in run)


def _all_of(seam: Seam, piece: Piece) -> bool:
    return all(part.piece == piece.uid for part in (*seam.a, *seam.b))


def _ring(seam: Seam, piece: Piece) -> bool:
    """Whether a seam joins the two ends of a strip."""
    return _all_of(seam, piece) and {p.of for p in (*seam.a, *seam.b)} == {piece.edges[1].uid, piece.edges[3].uid}


def _short(pattern: Pattern, one: _Sewn, most: float) -> _Sewn:
    """What of it lies before the overlap."""
    if one.high <= most + STRAIGHT:
        return one
    return _until(pattern, one, max(most, one.low))


def _until(pattern: Pattern, one: _Sewn, high: float) -> _Sewn:
    part = (high - one.low) / (one.high - one.low)
    total = run_sewn(pattern, one.run)
    run = stretch_of(pattern, one.run, 0.0, part * total) if part > 0 else ()
    return one._replace(high=high, run=run)


def _middle(
    pattern: Pattern, sewn: Sequence[_Sewn], halved: set[str], piece: Piece, there: Mapping[str, Piece]
) -> float | None:
    """Sewn mm along a strip at which its second half begins, the mirror image of the first; None where it has none."""
    parts = [part for one in sewn for part in one.run]
    if not alone(piece) or not sewn or any(edge.takeups for edge in piece.edges[1:]):
        return None
    on_top = [s for s in pattern.seams if piece.edges[2].uid in {p.of for p in s.b} and not _all_of(s, piece)]
    if any(len(s.b) > 1 or s.b[0].start or s.b[0].end or s.a[0].start or s.a[0].end for s in on_top):
        return None
    if len(parts) == 1 and parts[0].piece in halved and parts[0].start is None and parts[0].end is None:
        return 0.5 * (sewn[0].low + sewn[0].high)
    n = len(parts)
    alike = n % 2 == 0 and all(
        replace(one, mirrored=not one.mirrored) == two for one, two in zip(parts[: n // 2], parts[::-1], strict=False)
    )
    if not alike or any(alone(there[p.piece]) for p in parts if p.piece in there):
        return None
    return 0.5 * (sewn[0].low + sewn[-1].high)


def _half(pattern: Pattern, one: _Sewn, middle: float, halved: set[str]) -> _Sewn:
    if one.high <= middle + STRAIGHT:
        return one
    if one.low >= middle - STRAIGHT:
        return one._replace(high=one.low)
    if len(one.run) == 1 and one.run[0].piece in halved:
        return one._replace(high=middle)  # the run is one half already
    return one._replace(high=middle, run=one.run[: len(one.run) // 2])


def _cut(piece: Piece, box: _Box, long: float, high: float, share: float, *, folded: bool, closes: bool) -> Piece:
    """The rectangle of the strip that is seen, its edges called as before."""
    at, right = box.at, box.at + long * box.along
    over = high * box.up
    seam, start, top, end = piece.edges
    takeups = tuple(replace(t, start=t.start * share, end=t.end * share, amount=t.amount * share) for t in seam.takeups)
    edges: list[Edge] = [
        replace(seam, parts=(line(right, at),), takeups=takeups),
        replace(start, parts=(line(at, at + over),)),
        replace(top, parts=(line(at + over, right + over),)),
        replace(end, parts=(line(right + over, right),)),
    ]
    if folded:
        edges[3] = replace(edges[3], use="fold", words="")
        if closes:
            edges[1] = replace(edges[1], use="opening", centre=True)
    return replace(
        piece,
        edges=tuple(edges),
        lines=(),
        points=(),
        notches=(),
        buttons=(),
        holes=(),
        others=(),
        cut_as="fold" if folded else piece.cut_as,
        quantity=1 if folded else piece.quantity,
    )


def _closed(piece: Piece) -> Piece:
    """A stand with the line where it is buttoned, from the end of its top to its neck edge."""
    edges = {edge.name: edge for edge in piece.edges}
    if not {"top", "front", "neck"} <= set(edges):
        return piece
    corner = edges["top"].end
    neck = edges["neck"]
    course = line(corner, point_at(neck, nearest_drawn(neck, corner))[0])
    return replace(piece, lines=(*piece.lines, Line(uid=f"{piece.uid}-centre", name="centre", curve=course)))

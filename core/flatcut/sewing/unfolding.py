"""A piece that stands for two halves laid open: its mirror image beside it, and the seams of that half."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from flatcut.errors import UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.curves import chain, reverse
from flatcut.pattern.graining import chord_way
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import renewed
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Allowance, Dart, Edge, Line, Mark, Pattern, Piece, Position, RunPart, Seam
from flatcut.pattern.walking import drawn_length

STRAIGHT = 0.1
"""mm that an edge along which a piece is laid open may bow: paper folds along a straight line."""
HALVES = {"fold": 1, "pair": 2}
"""How many of what `quantity` counts are one whole piece."""


class Unfolded(NamedTuple):
    """The pattern with the other half as a piece of its own, and the uids of both halves."""

    pattern: Pattern
    half: str
    other: str


def unfolded(pattern: Pattern, piece: Piece, edge: Edge) -> Unfolded:
    """The pattern with a piece on the fold, or of a pair, and its mirror image across an edge, both cut singly.

    The outline of the image runs the same way round as that of the piece. What was sewn to the mirrored half, or to the
    pair's mate, is sewn to the image. Errors: UsageError for a piece that has no other half, and for a bent edge.
    """
    if piece.cut_as not in HALVES:
        raise UsageError(f"{piece.name} is cut as a {piece.cut_as} and has no other half; lay open one on the fold")
    whole, rest = divmod(piece.quantity, HALVES[piece.cut_as])
    if rest:
        raise UsageError(f"{piece.quantity} of {piece.name} are no whole pairs; set the quantity with label")
    _, off = chord_way(edge)
    if off > STRAIGHT:
        raise UsageError(
            f"{piece.name}.{edge.name} bows {off:.1f} mm, and a piece is laid open along a straight edge; draw it"
            " straight first, with pivot --straighten or move"
        )
    uids = Uids(pattern.uids())
    mirror = Affine.reflection(edge.start, edge.end)
    image = renewed(turned_over(moved(piece, mirror)), uids, name=f"{piece.name}-mirrored")
    twins = {one.uid: image.edge(one.name).uid for one in piece.edges}
    twins |= {one.uid: other.uid for one, other in zip(piece.lines, image.lines, strict=True)}
    centre = Line(uid=uids.fresh("unfolded", edge.uid), name=edge.name, curve=chain(edge.parts, within=1e-6))
    half = replace(piece, lines=(*piece.lines, centre))
    halves = [_single(one, own, whole) for one, own in ((half, edge.uid), (image, twins[edge.uid]))]
    pieces = [one for p in pattern.pieces for one in (halves if p.uid == piece.uid else [p])]
    seams = [_onto(seam, piece.uid, image.uid, twins) for seam in pattern.seams]
    seams += [
        _mirrored(seam, image.uid, twins, uids.fresh("unfolded", seam.uid))
        for seam in pattern.seams
        if _for_both(pattern, seam, piece.uid)
    ]
    return Unfolded(replace(pattern, pieces=tuple(pieces), seams=tuple(seams)), half.uid, image.uid)


def _single(piece: Piece, uid: str, quantity: int) -> Piece:
    edges = tuple(replace(e, use="seam") if e.uid == uid else e for e in piece.edges)
    return replace(piece, edges=edges, cut_as="single", quantity=quantity, cut_by_hand=None)


def _onto(seam: Seam, piece: str, image: str, twins: Mapping[str, str]) -> Seam:
    """A seam of which the parts that lay on the mirrored half lie on the image."""

    def part(one: RunPart) -> RunPart:
        if one.piece != piece or not one.mirrored:
            return one
        return _of_image(one, image, twins)

    return replace(seam, a=tuple(map(part, seam.a)), b=tuple(map(part, seam.b)))


def _of_image(one: RunPart, image: str, twins: Mapping[str, str]) -> RunPart:
    """A part on the mirrored half as one of the image, whose edges run the other way."""
    ends = [None if at is None else _turned(at) for at in (one.end, one.start)]
    return replace(one, piece=image, of=twins[one.of], start=ends[0], end=ends[1], mirrored=False)


def _mirrored(seam: Seam, image: str, twins: Mapping[str, str], uid: str) -> Seam:
    """The same seam on the other half of all that it sews."""

    def run(parts: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
        toggled = [replace(one, mirrored=not one.mirrored) for one in reversed(parts)]
        return tuple(_of_image(one, image, twins) if one.of in twins else one for one in toggled)

    return replace(seam, uid=uid, a=run(seam.a), b=run(seam.b))


def _for_both(pattern: Pattern, seam: Seam, piece: str) -> bool:
    """Whether a seam stands for one on either half: none of it names a mirrored half, and all it sews has two."""
    parts = (*seam.a, *seam.b)
    if all(one.piece != piece for one in parts) or any(one.mirrored for one in parts):
        return False
    return all(pattern.piece_of(one.piece).cut_as in HALVES for one in parts)


def turned_over(piece: Piece) -> Piece:
    """The piece with its outline walked the other way round; nothing is moved."""
    edges = []
    for k, edge in enumerate(piece.edges):
        total = drawn_length(edge)
        takeups = [replace(t, start=total - t.end, end=total - t.start) for t in edge.takeups]
        edges.append(
            replace(
                edge,
                parts=tuple(reverse(part) for part in edge.parts[::-1]),
                takeups=tuple(sorted(takeups, key=lambda t: t.start)),
                allowance=None if edge.allowance is None else _allowance(edge.allowance),
                corner=piece.edges[k - 1].corner,
            )
        )
    return replace(
        piece.with_marks(_mark), edges=tuple(edges[::-1]), darts=tuple(_dart(piece, dart) for dart in piece.darts)
    )


def _turned(at: Position) -> Position:
    if at.mode == "fraction":
        return Position(mode="fraction", value=1.0 - at.value)
    return Position(mode="end" if at.mode == "start" else "start", value=at.value)


def _allowance(own: Allowance) -> Allowance:
    width, end = (own.width, None) if own.end_width is None else (own.end_width, own.width)
    stretches = tuple(
        replace(
            one,
            start=_turned(one.end),
            end=_turned(one.start),
            width=one.width if one.end_width is None else one.end_width,
            end_width=None if one.end_width is None else one.width,
        )
        for one in own.stretches
    )
    return Allowance(width=width, end_width=end, stretches=stretches)


def _dart(piece: Piece, dart: Dart) -> Dart:
    if dart.double:
        return dart
    legs = reverse(dart.legs[1]), reverse(dart.legs[0])
    if dart.form != "cut":
        return replace(dart, legs=legs)
    host = piece.edge_of(dart.host)
    if dart.after < len(host.parts) - 1:
        return replace(dart, legs=legs, after=len(host.parts) - 2 - dart.after)
    after = piece.after(host)
    return replace(dart, legs=legs, host=after.uid, after=len(after.parts) - 1)


def _mark(mark: Mark) -> Mark:
    stood = mark.stands_on()
    return mark if stood is None else mark.put_on(stood.edge, _turned(stood.at))

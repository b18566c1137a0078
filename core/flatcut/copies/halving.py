"""A pair as two pieces, left and right as they are worn, which may differ from then on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from flatcut.copies.deriving import put_in
from flatcut.errors import Option, UsageError
from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, unit
from flatcut.geometry.curves import chain, flatten
from flatcut.pattern.moving import moved
from flatcut.pattern.renewing import renewed
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Edge, Pattern, Piece, RunPart, Seam, outline
from flatcut.pattern.walking import points_at

SIDES = ("left", "right")
LOOKS = np.linspace(0.0, 1.0, 9)


def worn(piece: Piece) -> str:
    """Which half of the body the drawn one of a pair covers, as worn: 'left', 'right', '' where nothing tells.

    It is seen from outside, with the hem below: a back that lies to the right of its centre is the right one, a front
    the left. Of a lining the inside is seen.
    """
    centre = next((edge for edge in piece.edges if edge.middle or edge.words in ("CB", "CF")), None)
    words = {edge.words for edge in piece.edges} & {"CB", "CF"}
    if centre is None or len(words) != 1:
        return ""
    ring = flatten(chain(outline(piece), within=1e-6), tolerance=0.5)
    middle = ring.mean(axis=0)
    hems = [edge for edge in piece.edges if edge.use == "hem"]
    up = np.array([0.0, -1.0])
    if hems:
        up = unit(middle - np.concatenate([_looks(edge) for edge in hems]).mean(axis=0))
    across = np.array([-up[1], up[0]])
    beyond = float((middle - _looks(centre).mean(axis=0)) @ across) > 0
    return "right" if beyond == (words == {"CB"}) else "left"


def _looks(edge: Edge) -> Array:
    total = sum(float(np.hypot(*np.diff(flatten(part, tolerance=0.5), axis=0).T).sum()) for part in edge.parts)
    return points_at(edge, LOOKS * total * 0.999)


def halved(pattern: Pattern, piece: Piece, names: Sequence[str], drawn: str = "") -> tuple[Pattern, list[str]]:
    """The pattern with two single pieces in place of a pair, the left one first, and what it says.

    drawn: 'left' or 'right', where the piece does not tell. The drawn half keeps identity, place and seams; the other
    one is its mirror image. Errors: UsageError.
    """
    if piece.cut_as != "pair":
        how = (
            "on the fold; lay it open with join first"
            if piece.cut_as == "fold"
            else "for one side already; name a pair"
        )
        raise UsageError(f"{piece.name} is cut {how}")
    if piece.quantity != 2:
        raise UsageError(f"{piece.name} is cut {piece.quantity} times; only one pair can be made left and right")
    side = drawn or worn(piece)
    if not side:
        raise UsageError(
            f"nothing on {piece.name} tells whether it is drawn for the left or the right; say so with ",
            Option("drawn"),
        )
    uids = Uids(pattern.uids())
    called = dict(zip(SIDES, names, strict=True))
    other = SIDES[1 - SIDES.index(side)]
    image = renewed(piece, uids, name=called[other])
    to = {a.uid: b.uid for a, b in zip(piece.things(), image.things(), strict=True)}
    image = moved(image, Affine.scaling(-1, 1))
    image = replace(image, cut_as="single", quantity=1, side=other, caption=replace(image.caption, at=None))
    own = replace(piece, name=called[side], cut_as="single", quantity=1, side=side)

    def here(part: RunPart) -> RunPart:
        """A part of a run with the two halves as pieces of their own."""
        if part.piece != piece.uid or not part.mirrored:
            return part
        # the mirror image of an edge is walked against it
        return replace(part, piece=image.uid, of=to[part.of], mirrored=False, backwards=not part.backwards)

    seams: list[Seam] = []
    said: list[str] = []
    for seam in pattern.seams:
        parts = (*seam.a, *seam.b)
        mine = [part.mirrored for part in parts if part.piece == piece.uid]
        seams.append(replace(seam, a=tuple(map(here, seam.a)), b=tuple(map(here, seam.b))) if mine else seam)
        if not mine or len(set(mine)) == 2:
            continue
        others = [pattern.piece_of(part.piece) for part in parts if part.piece != piece.uid]
        alone = [p.name for p in others if p.one_sided]
        if alone:
            said.append(f"{alone[0]} is sewn to the {side} half; state what the {other} one is sewn to with seam")
            continue
        # the whole seam once more, on the other side of the body
        a, b = (tuple(here(replace(p, mirrored=not p.mirrored)) for p in run) for run in (seam.a, seam.b))
        again = replace(seam, uid=uids.fresh("halves", seam.uid), a=a, b=b)
        seams.append(again)
    pattern = replace(pattern.with_piece(own), seams=tuple(seams))
    pattern, _ = put_in(pattern, [(image, None)], [])
    order = [p for p in pattern.pieces if p.uid != image.uid]
    at = next(k for k, p in enumerate(order) if p.uid == own.uid)
    laid = pattern.piece_of(image.uid)
    order.insert(at if other == "left" else at + 1, laid)
    return replace(pattern, pieces=tuple(order)), said

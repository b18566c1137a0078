"""Which pieces of a pattern are worn, and why others are not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flatcut.errors import InputError, UsageError
from flatcut.pattern.values import Pattern, Piece
from flatcut.worn.outer import hangs, unfit_strip
from flatcut.worn.placing import limb_of, side_of
from flatcut.worn.sewn import alone, centre_of, seams_of

INSIDE = {
    "under-collar": "an under collar",
    "facing": "a facing",
    "lining": "a lining",
    "fusing": "a fusing",
    "copy": "a copy",
}
"""Kinds of derived pieces that lie inside another."""
ON_TOP = {
    "under-pocket": "a pocket, which lies inside",
    "pocket": "a pocket, and cloth upon cloth is not computed",
    "placket": "a placket, and cloth upon cloth is not computed",
}


def chosen(pattern: Pattern, names: Sequence[str], places: Mapping[str, str]) -> tuple[list[Piece], dict[str, str]]:
    """The pieces that are worn, in their order, and for each other one why it is left out.

    names: only these; all that can be worn where there are none. Errors: InputError, UsageError where nothing is left.
    """
    left: dict[str, str] = {}
    able: dict[str, Piece] = {}
    for piece in pattern.pieces:
        why = "" if piece.name in names else _unfit(piece)
        if names and piece.name not in names:
            why = "not asked for"
        if why:
            left[piece.name] = why
        else:
            able[piece.uid] = piece
    for name in (*names, *places):
        pattern.piece(name)
    starts = [
        p.uid for p in able.values() if side_of(p, places) == "front" and centre_of(p) is not None and not hangs(p)
    ]
    if not starts:
        if not able:
            raise InputError("there is no piece that can be worn; " + _said(left))
        raise UsageError(
            "it cannot be told where the front is: no piece with a centre edge has 'front' in its name; say which it "
            "is with --place=PIECE:front" + (f" ({_said(left)})" if left else "")
        )
    near: dict[str, set[str]] = {uid: set() for uid in able}
    for seam in seams_of(pattern, able):
        together = {part.piece for part in (*seam.a, *seam.b)}
        for uid in together:
            near[uid] |= together
    reached: set[str] = set()
    for hanging in (False, True):  # a strip or collar goes where it is sewn to, and holds nothing else in its place
        queue = list(starts) if not hanging else [uid for found in reached for uid in near[found]]
        while queue:
            uid = queue.pop()
            if uid not in reached and hangs(able[uid]) == hanging:
                reached.add(uid)
                queue += near[uid]
    for uid, piece in able.items():
        if uid not in reached:
            left[piece.name] = "it is sewn to no piece that is worn"
    return [piece for uid, piece in able.items() if uid in reached], left


def with_guessed(pattern: Pattern, places: Mapping[str, str]) -> dict[str, str]:
    """Where pieces belong, as far as it is said or follows: where no piece with a centre is called front and others are
    called back, those that are called neither are the front, and the other way round."""
    found = dict(places)
    centres = [p for p in pattern.pieces if _has_centre(p) and not limb_of(p, found)]
    known = {p.uid: side_of(p, found) for p in centres}
    for side, other in (("front", "back"), ("back", "front")):
        if side not in known.values() and other in known.values():
            found.update({p.name: side for p in centres if not known[p.uid]})
    return found


def _has_centre(piece: Piece) -> bool:
    return centre_of(piece) is not None and not _unfit(piece) and not hangs(piece)


def lies_inside(piece: Piece) -> str:
    """Why a piece is not seen when worn, '' where it is."""
    kind = piece.source.kind if piece.source is not None else ""
    if kind == "copy" and piece.side:
        kind = ""  # the other side of a garment that is not the same on both
    words = piece.name.lower().split("-")
    if kind in INSIDE or "lining" in words or "facing" in words or piece.material in ("lining", "fusing"):
        return f"{INSIDE.get(kind, 'a lining or facing')}, which lies inside"
    if kind in ON_TOP:
        return ON_TOP[kind]
    return ""


def _unfit(piece: Piece) -> str:
    if why := lies_inside(piece):
        return why
    if alone(piece) and piece.quantity > 1:
        return f"it is cut {piece.quantity} times, and more than a piece and its mirror image are not computed"
    return unfit_strip(piece)


def _said(left: Mapping[str, str]) -> str:
    return "; ".join(f"{name}: {why}" for name, why in list(left.items())[:3]) or "make the outlines pieces first"


def limbs_of(pieces: Sequence[Piece], places: Mapping[str, str]) -> set[str]:
    """The limbs that a form needs for pieces: 'arm' where sleeves are worn, 'leg' for trousers."""
    return {limb for piece in pieces if (limb := limb_of(piece, places))}

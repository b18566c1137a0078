"""Which pieces of a pattern are worn, and why others are not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flatcut.errors import InputError, UsageError
from flatcut.pattern.values import Pattern, Piece
from flatcut.worn.placing import side_of
from flatcut.worn.sewn import seams_of

INSIDE = {"facing": "a facing", "lining": "a lining", "fusing": "a fusing", "copy": "a copy"}
"""Kinds of derived pieces that lie inside another."""
ON_TOP = {
    "collar": "a collar, and cloth upon cloth is not computed",
    "pocket": "a pocket, and cloth upon cloth is not computed",
    "placket": "a placket, and cloth upon cloth is not computed",
    "strip": "a strip, which is turned over the edge that it is sewn to",
}
WITHOUT_ARMS = "the form has no arms"
WITHOUT_LEGS = "the form has no legs"


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
    starts = [p.uid for p in able.values() if side_of(p, places) == "front" and any(e.middle for e in p.edges)]
    if not starts:
        if not able:
            raise InputError("there is no piece that can be worn; " + _said(left))
        inside = [p.name for p in able.values() if any(line.name == "centre" for line in p.lines)]
        if inside:
            raise InputError(
                f"{inside[0]} cannot be worn: its centre is a line inside, and fronts that lap are not computed; try "
                "its pieces before the button stand is added"
            )
        raise UsageError(
            "it cannot be told where the front is: no piece with a centre edge has 'front' in its name; say which it "
            "is with --place=PIECE:front"
        )
    near: dict[str, set[str]] = {uid: set() for uid in able}
    for seam in seams_of(pattern, able):
        together = {part.piece for part in (*seam.a, *seam.b)}
        for uid in together:
            near[uid] |= together
    reached: set[str] = set()
    queue = list(starts)
    while queue:
        uid = queue.pop()
        if uid not in reached:
            reached.add(uid)
            queue += near[uid]
    for uid, piece in able.items():
        if uid not in reached:
            left[piece.name] = "it is sewn to no piece that is worn"
    return [piece for uid, piece in able.items() if uid in reached], left


def _unfit(piece: Piece) -> str:
    kind = piece.source.kind if piece.source is not None else ""
    words = piece.name.lower().split("-")
    if kind in INSIDE or "lining" in words or "facing" in words or piece.material in ("lining", "fusing"):
        return f"{INSIDE.get(kind, 'a lining or facing')}, which lies inside"
    if kind in ON_TOP:
        return ON_TOP[kind]
    names = {edge.name for edge in piece.edges}
    if "cap" in names or "sleeve" in words or "cuff" in words:
        return WITHOUT_ARMS
    if names & {"inseam", "crotch", "inside-leg"}:
        return WITHOUT_LEGS
    return ""


def _said(left: Mapping[str, str]) -> str:
    return "; ".join(f"{name}: {why}" for name, why in list(left.items())[:3]) or "make the outlines pieces first"

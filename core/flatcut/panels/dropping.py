"""Pieces taken out of a pattern, with the seams that they were sewn by."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from flatcut.pattern.remaining import remaining
from flatcut.pattern.runs import written
from flatcut.pattern.sourcing import with_sources
from flatcut.pattern.values import Pattern


def without_pieces(pattern: Pattern, gone: Collection[str]) -> tuple[Pattern, tuple[str, ...]]:
    """The pattern without the pieces of these uids, and sentences on what that takes from the others.

    >>> without_pieces(Pattern(), ["a"])[1]
    ()
    """
    kept = tuple(piece for piece in pattern.pieces if piece.uid not in gone)
    warnings = []
    seams = []
    for seam in pattern.seams:
        met = {part.piece for part in (*seam.a, *seam.b)}
        if not met & set(gone):
            seams.append(seam)
        elif met - set(gone):
            left = remaining(pattern, seam, lambda part: part.piece in gone)
            what = f"the seam {written(pattern, seam.a)} = {written(pattern, seam.b)}"
            now = [f"{written(pattern, one.a)} = {written(pattern, one.b)}" for one in left]
            warnings.append(f"{what} is gone" if not left else f"{what} is {' and '.join(now)} now")
            seams += left
    dropped = {piece.uid: piece.name for piece in pattern.pieces if piece.uid in gone}
    for piece in kept:
        of = [dropped[uid] for uid in (piece.source.of if piece.source else ()) if uid in dropped]
        if of:
            warnings.append(f"{piece.name} was made of {' and '.join(of)}, which is gone; it stays as it is")
    kept = with_sources(kept, dict.fromkeys(dropped, ()))
    return replace(pattern, pieces=kept, seams=tuple(seams)), tuple(warnings)

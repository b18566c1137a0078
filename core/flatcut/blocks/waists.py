"""Whether blocks that are meant for one waist have one: a bodice and the skirt below it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from flatcut.pattern.values import Piece, Seam
from flatcut.pattern.walking import sewn_length
from flatcut.units import show

ALIKE = 1.0
"""mm by which two half waists may differ and still be sewn to each other."""
WAIST, SIDE = "waist", "side"


def half_waists(pieces: Iterable[Piece], seams: Iterable[Seam]) -> list[tuple[str, float]]:
    """Every back and front sewn at the side with a waist to be sewn: their names, and the half waist, mm."""
    edges = {edge.uid: (piece, edge.name) for piece in pieces for edge in piece.edges}
    found = []
    for seam in seams:
        ends = [edges.get(run[0].of) for run in (seam.a, seam.b)]
        known = [end for end in ends if end is not None and end[1] == SIDE]
        if len(known) == 2:
            waists = [e for piece, _ in known for e in piece.edges if e.name == WAIST and e.use == "seam"]
            if len(waists) == 2:
                names = " and ".join(piece.name for piece, _ in known)
                found.append((names, sum(sewn_length(edge) for edge in waists)))
    return found


def waist_warnings(there: Sequence[tuple[str, float]], drafted: Sequence[tuple[str, float]]) -> tuple[str, ...]:
    """A sentence for each waist that is there and not as long as the drafted one.

    >>> waist_warnings([("front and back", 390.0)], [("skirt-front and skirt-back", 365.0)])[0][:80]
    'half the waist of skirt-front and skirt-back is 36.5 cm, that of front and back '
    """
    return tuple(
        f"half the waist of {name} is {show(mm, 'cm')}, that of {other} {show(known, 'cm')}; if they are meant for one"
        " seam, draft both with one --waist-ease"
        for name, mm in drafted
        for other, known in there
        if abs(mm - known) > ALIKE
    )

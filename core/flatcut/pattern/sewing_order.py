"""Which of the two edges at a corner is sewn and pressed open before the other, told from uses and seams.

At the end of a seam two pieces have a corner each, and the line that the seam runs into goes on from piece to piece:
the seam is sewn first, and the allowances there end squared. Where two seams cross, the one whose runs are single edges
goes before one that runs over several pieces, then the one that was stated first; all corners about the point agree.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from flatcut.errors import UsageError
from flatcut.pattern.defaults import CORNERS
from flatcut.pattern.values import Edge, Pattern, Piece, RunPart, Seam

if TYPE_CHECKING:
    from flatcut.pattern.seam_ends import SeamEnd

CROSSED = ("seam", "finished")
"""Uses of edges that are sewn on or finished after the seams that run into them."""
LATER = 1_000_000
"""What a seam over several pieces comes later than any seam of single edges."""

_Key = tuple[str, str]


class _End(NamedTuple):
    """A seam's end at a corner, the corner on its other side, and when it is sewn."""

    mine: SeamEnd
    mate: SeamEnd
    when: int


def with_sewing_order(pattern: Pattern) -> Pattern:
    """The pattern with each corner of which nothing was said squared through the seam that is sewn first there.

    Such a corner keeps its kind '' and names the seam's edge in `through`; '' where none is told. It is told when a
    drawing is read and after each step that leaves anything but `sewn_like`. The very same pattern where all is told.
    """
    ends: dict[_Key, list[_End]] = defaultdict(list)
    there_is = {(piece.uid, edge.uid) for piece in pattern.pieces for edge in piece.edges}
    there_is |= {(piece.uid, line.uid) for piece in pattern.pieces for line in piece.lines}
    for number, seam in enumerate(pattern.seams):
        # a seam whose mate is missing is open: the check names it, and nothing follows from it
        if seam.suggested or any((part.piece, part.of) not in there_is for part in (*seam.a, *seam.b)):
            continue
        # many drawings have no seams yet, and walk none
        from flatcut.pattern.mating import sides
        from flatcut.pattern.seam_ends import seam_end

        when = number + LATER * over_several(pattern, seam)
        try:
            here, there = sides(pattern, seam)[0]
        except UsageError:
            continue  # a stretch that its edge has no room for any more: likewise
        for first in (True, False):
            one, two = seam_end(here, first=first), seam_end(there, first=first)
            if one is not None and two is not None:
                ends[one.key].append(_End(one, two, when))
                if two.key != one.key:
                    ends[two.key].append(_End(two, one, when))
    pieces = []
    for piece in pattern.pieces:
        following = (*piece.edges[1:], *piece.edges[:1])
        edges = tuple(_told(piece, *both, ends) for both in zip(piece.edges, following, strict=True))
        same = all(a is b for a, b in zip(edges, piece.edges, strict=True))
        pieces.append(piece if same else replace(piece, edges=edges))
    if all(a is b for a, b in zip(pieces, pattern.pieces, strict=True)):
        return pattern
    return replace(pattern, pieces=tuple(pieces))


def over_several(pattern: Pattern, seam: Seam) -> bool:
    """Whether a side of a seam goes over several edges; a centre seam that has its zip in one stretch does not."""
    return any(len(run) > 1 and sum(_use(pattern, part) != "opening" for part in run) > 1 for run in (seam.a, seam.b))


def _use(pattern: Pattern, part: RunPart) -> str:
    edges = pattern.piece_of(part.piece).edges
    return next((edge.use for edge in edges if edge.uid == part.of), "")


def _told(piece: Piece, edge: Edge, after: Edge, ends: Mapping[_Key, list[_End]]) -> Edge:
    if edge.corner.kind:
        return edge
    through = _first_sewn(piece, edge, after, ends)
    return edge if through == edge.corner.through else replace(edge, corner=replace(edge.corner, through=through))


def _first_sewn(piece: Piece, edge: Edge, after: Edge, ends: Mapping[_Key, list[_End]]) -> str:
    """uid of the edge that is sewn first at the corner of an edge and the one after it, '' where none is."""
    both = edge, after
    if any(e.use in CORNERS for e in both) or piece.cut_in(edge, len(edge.parts) - 1) is not None:
        return ""
    found = [end for end in ends.get((piece.uid, edge.uid), ()) if _runs_on(end)]
    if len({end.mine.edge.uid for end in found}) < 2:
        return found[0].mine.edge.uid if found else ""
    first = {e.uid: min(end.when for end in found if end.mine.edge.uid == e.uid) for e in both}
    for end in found:
        # the seam goes on beyond the crossing: what is sewn there counts for this side of it
        other = next(e.uid for e in both if e.uid != end.mine.edge.uid)
        beyond = [e.when for e in ends.get(end.mate.key, ()) if e.mine.edge.uid == end.mate.across.uid and _runs_on(e)]
        first[other] = min(first[other], *beyond) if beyond else first[other]
    return min(both, key=lambda e: first[e.uid]).uid


def _runs_on(end: _End) -> bool:
    """Whether the line that a seam runs into goes on over it, from one piece to the other."""
    across = end.mine.across.use, end.mate.across.use
    return end.mine.edge.use == "seam" and across[0] == across[1] and across[0] in CROSSED

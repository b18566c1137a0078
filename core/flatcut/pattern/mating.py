"""The place on the other side of a seam that a place is sewn to."""

from __future__ import annotations

from typing import NamedTuple

from flatcut.pattern.runs import Walked, walk
from flatcut.pattern.values import Edge, Pattern, Piece, Seam
from flatcut.pattern.walking import sewn_length

ON = 0.01
"""mm: a place this near to a stretch lies on it."""


class Mate(NamedTuple):
    """A place on an edge, in sewn mm from its start; nearer_end: it is counted from the edge's end."""

    piece: Piece
    edge: Edge
    sewn: float
    nearer_end: bool


def mates(pattern: Pattern, edge: str, sewn: float) -> list[Mate]:
    """What a place (uid of its edge, sewn mm) is sewn to, by every seam that it is on.

    Counted from the nearer end of the seam, so that what the two sides differ by stays in the middle; ease that is
    recorded on a stretch takes up its own share there.
    """
    found: list[Mate] = []
    for seam in pattern.seams:
        for here, there in sides(pattern, seam):
            for at in along(here, edge, sewn):
                mate = _placed(there, _across(at, _total(here), _total(there)))
                same = mate is None or any(m.edge.uid == mate.edge.uid and abs(m.sewn - mate.sewn) <= ON for m in found)
                if mate is not None and not same and (mate.edge.uid != edge or abs(mate.sewn - sewn) > ON):
                    found.append(mate)
    return found


def sides(pattern: Pattern, seam: Seam) -> list[tuple[list[Walked], list[Walked]]]:
    """The two runs of a seam made ready to walk together: first against second, and second against first."""
    a, b = walk(pattern, seam.a), walk(pattern, seam.b, reversed=seam.reversed)
    return [(a, b), (b, a)]


def along(run: list[Walked], edge: str, sewn: float) -> list[float]:
    """How far along a run a place of an edge lies; empty when it is not on it, twice when the run passes it twice."""
    found, walked = [], 0.0
    for step in run:
        if step.edge.uid == edge and step.start - ON <= sewn <= step.end + ON:
            found.append(walked + (sewn - step.start if step.forward else step.end - sewn))
        walked += step.sewn
    return found


def notches_want_other_way(pattern: Pattern, seam: Seam, *, within: float) -> bool:
    """Whether no notch of the two runs meets its mate, and all would with the second run walked from its other end.

    within: mm that mates may lie apart. A piece that is drawn as its mirror image is walked the wrong way; its notches
    tell.
    """
    first = walk(pattern, seam.a)
    meeting = []
    for turned in (False, True):
        second = walk(pattern, seam.b, reversed=seam.reversed != turned)
        rows = [(_notches(run), _total(run)) for run in (first, second)]
        (few, here), (many, there) = sorted(rows, key=lambda row: len(row[0]))
        wanted = [_across(at, here, there) for at in few]
        meeting.append([any(abs(at - place) <= within for at in many) for place in wanted])
    return bool(meeting[1]) and not any(meeting[0]) and all(meeting[1])


def _notches(run: list[Walked]) -> list[float]:
    """How far along a run its notches lie, in mm, each once."""
    found: set[float] = set()
    for piece, edge in {(step.piece.uid, step.edge.uid): (step.piece, step.edge) for step in run}.values():
        places = [notch.at.along(sewn_length(edge)) for notch in piece.notches if notch.edge == edge.uid]
        found.update(round(at, 3) for place in places for at in along(run, edge.uid, place))
    return sorted(found)


def _total(run: list[Walked]) -> float:
    return sum(step.sewn for step in run)


def _across(at: float, here: float, there: float) -> float:
    """A distance on one run as a distance on the other, from the nearer end.

    >>> _across(20.0, 100.0, 110.0), _across(80.0, 100.0, 110.0)
    (20.0, 90.0)
    """
    return at if at <= here / 2 else there - (here - at)


def _placed(run: list[Walked], at: float) -> Mate | None:
    """The place on a run; None beyond its ends or on an internal line."""
    total, walked = _total(run), 0.0
    for k, step in enumerate(run):
        if at - walked >= -ON and (at <= walked + step.sewn + ON or (k == len(run) - 1 and at <= total + ON)):
            inside = min(max(at - walked, 0.0), step.sewn)
            sewn = step.start + inside if step.forward else step.end - inside
            edge = next((e for e in step.piece.edges if e.uid == step.edge.uid), None)
            if edge is None:
                return None
            return Mate(step.piece, edge, sewn, (at > total / 2) == step.forward)
        walked += step.sewn
    return None

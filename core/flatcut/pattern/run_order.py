"""The parts of a run brought into the order in which they follow one another along the garment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, permutations, product
from typing import NamedTuple

from flatcut.errors import UsageError
from flatcut.pattern.mating import sides
from flatcut.pattern.runs import owner, walk
from flatcut.pattern.seam_ends import seam_end
from flatcut.pattern.values import Pattern, RunPart

MOST = 6
"""Parts of a run of which every order is tried; more are taken as they are written."""

_Corner = tuple[str, str]


class Ordered(NamedTuple):
    """A run whose parts follow one another; known: whether the seams tell that, or it is only as it was written."""

    run: tuple[RunPart, ...]
    known: bool


def in_order(pattern: Pattern, run: Sequence[RunPart]) -> Ordered:
    """The run with its parts turned, and if need be put into another order, so that one goes on where the last ended.

    Where two parts meet is told by the seams: the end of a back neck and the start of a front neck are the two corners
    at one end of the shoulder seam. The order and directions written are kept where they go on; parts are turned before
    they change places. Nothing is changed where no order goes on throughout.
    """
    written = tuple(run)
    if len(written) == 1 or len(written) > MOST:
        return Ordered(written, len(written) == 1)
    met = _sewn_corners(pattern)
    for order in permutations(range(len(written))):
        for turned in product((False, True), repeat=len(written)):
            tried = tuple(_turned(written[k]) if turned[k] else written[k] for k in order)
            if all(_meet(pattern, one, two, met) for one, two in pairwise(tried)):
                return Ordered(tried, True)
    return Ordered(written, False)


def unjoined(pattern: Pattern, run: Sequence[RunPart]) -> list[str]:
    """A sentence for each two parts of a run of which the second does not go on where the first ends."""
    met = _sewn_corners(pattern)
    said = []
    for one, two in pairwise(run):
        if not _meet(pattern, one, two, met):
            names = [".".join((piece.name, thing.name)) for piece, thing in (owner(pattern, one), owner(pattern, two))]
            said.append(
                f"{names[1]} does not go on where {names[0]} ends, as far as the seams tell; state the seam between "
                "them, or draft a piece for each"
            )
    return said


def both_halves(run: Sequence[RunPart]) -> tuple[RunPart, ...]:
    """A run and then its mirror image, from its end back to its start."""
    return (*run, *(replace(part, mirrored=not part.mirrored) for part in reversed(run)))


def turned_round(run: Sequence[RunPart]) -> tuple[RunPart, ...]:
    """The same run walked from its end."""
    return tuple(_turned(part) for part in reversed(run))


def joints(pattern: Pattern, run: Sequence[RunPart]) -> list[float]:
    """Sewn mm along a run at which one part ends and the next begins."""
    found, walked = [], 0.0
    for step in walk(pattern, tuple(run))[:-1]:
        walked += step.sewn
        found.append(walked)
    return found


def refuse_double(run: Sequence[RunPart], what: str) -> None:
    """UsageError where an edge is there twice in one run."""
    keys = [(part.of, part.mirrored, part.start, part.end) for part in run]
    if len(set(keys)) < len(keys):
        raise UsageError(f"{what} names an edge twice; name each once")


def _turned(part: RunPart) -> RunPart:
    return replace(part, backwards=not part.backwards)


def _corner(pattern: Pattern, part: RunPart, *, first: bool) -> _Corner | None:
    end = seam_end(walk(pattern, (part,)), first=first)
    return None if end is None else end.key


def _meet(pattern: Pattern, one: RunPart, two: RunPart, met: set[frozenset[_Corner]]) -> bool:
    """Whether the second part begins where the first ends."""
    ends = _corner(pattern, one, first=False), _corner(pattern, two, first=True)
    if ends[0] is None or ends[1] is None:
        return False
    if one.mirrored != two.mirrored:
        return ends[0] == ends[1]  # over a fold, or over the seam of a piece with its own mirror image
    return ends[0] != ends[1] and frozenset(ends) in met


def _sewn_corners(pattern: Pattern) -> set[frozenset[_Corner]]:
    return {frozenset(pair) for pair in _pairs(pattern)}


def _pairs(pattern: Pattern) -> Iterator[tuple[_Corner, _Corner]]:
    """Corners that lie side by side at the ends of seams."""
    for seam in pattern.seams:
        if seam.suggested:
            continue
        try:
            here, there = sides(pattern, seam)[0]
        except (KeyError, UsageError):
            continue  # a seam whose mate is gone, or a stretch that its edge has no room for any more
        for first in (True, False):
            one, two = seam_end(here, first=first), seam_end(there, first=first)
            if one is not None and two is not None:
                yield one.key, two.key

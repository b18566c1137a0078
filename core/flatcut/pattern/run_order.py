"""The parts of a run brought into the order in which they follow one another along the garment."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, permutations, product
from typing import NamedTuple

from flatcut.errors import Option, UsageError
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
            names = [_named(pattern, part) for part in (one, two)]
            said.append(
                f"{names[1]} does not go on where {names[0]} ends, as far as the seams tell; state the seam between "
                "them, or draft a piece for each"
            )
    return said


def halves_apart(pattern: Pattern, run: Sequence[RunPart]) -> list[str]:
    """Names of the edges of a run at which a half goes over into its mirror image, and the cloth does not.

    Over a fold it does, and over a seam of a piece with its own mirror image.
    """
    turns = [one for one, two in pairwise(run) if one.of == two.of and one.mirrored != two.mirrored]
    met = _sewn_corners(pattern) if turns else set()
    return [_named(pattern, one) for one in turns if _over(pattern, one, met) is None]


def both_halves(pattern: Pattern, run: Sequence[RunPart]) -> tuple[RunPart, ...]:
    """A run and then its mirror image, from its end back to its start, so that the two meet.

    It is walked toward the end where its cloth goes on into the mirror image: over a fold before a seam, which is where
    a garment can open, and where both ends are alike, as it was written. Errors: UsageError where it does at neither
    end, such as round an armhole.
    """
    met = _sewn_corners(pattern)
    ways = [tuple(run), turned_round(run)]
    ranks = [_over(pattern, way[-1], met) for way in ways]
    known = [rank for rank in ranks if rank is not None]
    if not known:
        first, last = _named(pattern, run[0]), _named(pattern, run[-1])
        raise UsageError(
            f"the two halves do not meet: neither {first} nor {last} ends at a fold or at a seam with the mirror image "
            f"of its piece; state the seam first, such as seam {_own(pattern, run[-1])}, or leave ",
            Option("both"),
            " out",
        )
    way = ways[ranks.index(min(known))]
    return (*way, *(replace(part, mirrored=not part.mirrored) for part in reversed(way)))


def _over(pattern: Pattern, part: RunPart, met: set[frozenset[_Corner]]) -> int | None:
    """How a part's end goes on into its mirror image: 0 over a fold, 1 over a seam; None where it does not."""
    end = seam_end(walk(pattern, (part,)), first=False)
    if end is None:
        return None
    if end.across.use == "fold":
        return 0
    return 1 if frozenset((end.key,)) in met else None


def _own(pattern: Pattern, part: RunPart) -> str:
    """The two sides of the seam that would join the end of a part to its mirror image, as they are written."""
    end = seam_end(walk(pattern, (part,)), first=False)
    name = f"{end.piece.name}.{end.across.name}" if end is not None else "front.centre"
    return f"{name} ~{name}"


def _named(pattern: Pattern, part: RunPart) -> str:
    return ".".join(thing.name for thing in owner(pattern, part))


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
    if one.mirrored != two.mirrored and one.of == two.of:
        return ends[0] == ends[1] and _over(pattern, one, met) is not None
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

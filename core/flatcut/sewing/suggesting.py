"""Which edges are likely sewn together, best first, each edge in one suggestion at most.

First those whose notches agree; they say which pieces belong together, which edges run on from one piece to the next,
and so cannot be sewn to each other. Then what is left: single edges, and runs over seams that were found before, as a
sleeve's cap is sewn to front and back together.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from flatcut.pattern.seaming import MISMATCH
from flatcut.pattern.values import Pattern, Seam
from flatcut.sewing.fitting_runs import Fit, as_drawn, fit, rough_costs
from flatcut.sewing.sewable import Sewable, Stitch, joined, sewables

LEAST = 15.0
"""mm: shorter edges are too many alike."""
SHARE = 0.1
"""Part of its length that one side may be longer: a sleeve's cap is eased in by up to that (common practice)."""
CLEAR, TOLD = 0.5, 5.5
"""The most that a seam may cost whose notches speak for it: to be taken before, and after it is known what belongs
together."""
UNTOLD = 2.2
"""The most that one may cost whose notches say nothing."""
TOGETHER, APART = -0.5, 1.0
"""For pieces that are joined by other seams already, and for pieces that are joined to others only."""
EACH = 0.15
"""For each edge that a run has more."""
BOTH_RUNS = 1.0
"""For two runs of several edges each whose notches agree: so do the edges one by one, which says more."""
TURNED = 0.3
"""For the mirror image where both pieces are cut on the fold or as a pair; BOTH_SINGLE where none is."""
BOTH_SINGLE = 1.5
OTHER_HAND = 1.5
"""For the mirror image of what other seams say."""
OTHER_CLOTH = 2.0
"""For pieces of different material."""
RUNS_ON = 25.0
"""Degrees by which two angles may miss 180 where an edge runs on over a seam."""
ROUGHLY = 6.5
"""The most that length and end angles alone may cost."""
LOTS = 1_000_000
"""As many as there are."""
AS_GOOD = 0.5
"""A second seam that costs only so much more is told."""
UNSURE = 0.5
"""For a seam of which the mirror image is AS_GOOD: it waits until others say which hand the pieces are drawn for."""
FUSED = frozenset({"fusing", "interfacing"})
"""Materials that are sewn to nothing: they are pressed on."""


@dataclass(frozen=True, kw_only=True)
class Suggestion:
    """Two runs that fit, `b` walked from its end; also: other seams of one of them that fit about as well."""

    a: Sewable
    b: Sewable
    fit: Fit
    cost: float
    also: tuple[str, ...] = ()


@dataclass
class _Found:
    """What was found so far.

    used: edges; links: what each edge, or mirror image, runs on into; pieces: of pieces that are joined, each with
    another one of its group, and whether it is joined as its mirror image; rows: the same of edges that run on.
    """

    used: set[str]
    links: dict[tuple[str, bool], Stitch] = field(default_factory=dict)
    pieces: dict[str, tuple[str, bool]] = field(default_factory=dict)
    rows: dict[str, tuple[str, bool]] = field(default_factory=dict)

    def take(self, a: Sewable, b: Sewable) -> None:
        """Note a seam: `b` is walked from its end along `a`."""
        self.used |= a.keys | b.keys
        one = a.stitches[0]
        for stitch in (*a.stitches, *b.stitches):
            _put_together(self.pieces, stitch.piece.uid, one.piece.uid, stitch.mirrored != one.mirrored)
        for first, second in ((a, b), (b, a)):
            ends, starts = second.stitches[0].earlier(), first.stitches[-1].after()
            if ends.key != starts.key:
                _put_together(self.rows, ends.key, starts.key, False)
                self.links[ends.key, ends.mirrored] = starts
                self.links[starts.key, not starts.mirrored] = ends.turned_over()

    def together(self, a: Sewable, b: Sewable) -> bool:
        """Whether seams join the pieces of two runs already, over others maybe."""
        return _group(self.pieces, a.stitches[0].piece.uid)[0] == _group(self.pieces, b.stitches[0].piece.uid)[0]

    def apart(self, a: Sewable, b: Sewable) -> bool:
        """Whether both pieces are joined to others, and not to each other."""
        lonely = any(run.stitches[0].piece.uid not in self.pieces for run in (a, b))
        return not lonely and not self.together(a, b)

    def same_hand(self, a: Sewable, b: Sewable) -> bool:
        """Whether two runs whose pieces are joined lie as these are joined, or one is turned over."""
        hands = [_group(self.pieces, run.stitches[0].piece.uid)[1] != run.stitches[0].mirrored for run in (a, b)]
        return hands[0] == hands[1]

    def side_by_side(self, a: Sewable, b: Sewable) -> bool:
        """Whether an edge of the one runs on into an edge of the other, over others maybe."""
        mine = {_group(self.rows, key)[0] for key in a.keys if key in self.rows}
        return any(key in self.rows and _group(self.rows, key)[0] in mine for key in b.keys)


_Groups = dict[str, tuple[str, bool]]


def _group(groups: _Groups, uid: str) -> tuple[str, bool]:
    """What stands for the group of a thing, and whether the thing is joined to that as its mirror image."""
    turned = False
    while groups.get(uid, (uid, False))[0] != uid:
        uid, over = groups[uid]
        turned = turned != over
    return uid, turned


def _put_together(groups: _Groups, one: str, two: str, turned: bool) -> None:
    (first, over_one), (second, over_two) = _group(groups, one), _group(groups, two)
    groups.setdefault(second, (second, False))
    if first != second:
        groups[first] = (second, (over_one != over_two) != turned)


def suggested(pattern: Pattern, *, pieces: Iterable[str] = (), most: float) -> list[Suggestion]:
    """Likely seams of edges that are in no confirmed seam, best first.

    pieces: uids of the pieces to look among, none for all; most: mm that the two sides may differ.
    """
    among = set(pieces) or {piece.uid for piece in pattern.pieces}
    whole = {run.stitches[0].key: run for run in sewables(pattern, ("seam",))}
    found = _Found({part.of for seam in pattern.seams if not seam.suggested for part in (*seam.a, *seam.b)})
    for seam in pattern.seams:
        _note(found, seam, whole)
    every = {key: run for key, run in whole.items() if _may(run, among)}
    singles = _singles(list(every.values()), most)
    chosen = _taken([c for c in singles if c.told and c.cost <= CLEAR], found)
    told = [c for c in singles if c.told]
    known: _Known = {}
    while True:
        wider = _wider(_runs(every, found), most, known)
        near = told + [c for c in wider if c.told or not found.apart(c.a, c.b)]
        one = _taken(near, found, count=1) or _taken(wider, found, count=1)
        if not one:
            return sorted(chosen, key=lambda s: (s.cost, s.a.text, s.b.text))
        chosen += one


def _may(run: Sewable, among: set[str]) -> bool:
    piece = run.stitches[0].piece
    return piece.uid in among and run.sewn >= LEAST and piece.material.lower() not in FUSED


def _note(found: _Found, seam: Seam, every: dict[str, Sewable]) -> None:
    """A seam that is stated joins pieces, and edges run on over it where it is of whole edges."""
    whole = all(part.start is None and part.end is None for part in (*seam.a, *seam.b))
    if seam.suggested or not whole or len(seam.a) > 1 or len(seam.b) > 1:
        return
    a, b = every.get(seam.a[0].of), every.get(seam.b[0].of)
    if a is not None and b is not None:
        turned = seam.a[0].mirrored != seam.b[0].mirrored
        found.take(a, b.turned_over() if turned else b)


@dataclass(frozen=True, kw_only=True)
class _Candidate:
    """Two runs, how they fit, and what they cost as far as it does not depend on other seams."""

    a: Sewable
    b: Sewable
    fit: Fit
    cost: float

    @property
    def told(self) -> bool:
        """Whether notches speak for it."""
        return self.fit.agreed > 0

    def total(self, found: _Found) -> float:
        """What it costs among the seams that were found."""
        if found.together(self.a, self.b):
            return self.cost + TOGETHER + (0.0 if found.same_hand(self.a, self.b) else OTHER_HAND)
        return self.cost + (APART if found.apart(self.a, self.b) else 0.0)


def _singles(runs: Sequence[Sewable], most: float) -> list[_Candidate]:
    """Every two edges that may be sewn together; those that cannot be are told apart all at once."""
    if len(runs) < 2:
        return []
    plain, turned = rough_costs(runs)
    sewn = np.array([run.sewn for run in runs])
    near = np.abs(sewn[:, None] - sewn) <= np.minimum(most, SHARE * np.minimum(sewn[:, None], sewn))
    found = []
    for over, costs in ((False, plain), (True, turned)):
        first, second = np.nonzero(np.triu(near & (costs <= ROUGHLY), k=1))
        for i, k in zip(first.tolist(), second.tolist(), strict=True):
            candidate = _candidate(runs[i], runs[k].turned_over() if over else runs[k])
            found += [candidate] if candidate is not None else []
    return found


def _candidate(a: Sewable, b: Sewable) -> _Candidate | None:
    if a.keys & b.keys:
        return None
    found = fit(a, b)
    one, two = a.stitches[0].piece, b.stitches[0].piece
    cost = found.cost + EACH * (len(a.stitches) + len(b.stitches) - 2)
    cost += BOTH_RUNS if found.agreed and min(len(a.stitches), len(b.stitches)) > 1 else 0.0
    if a.stitches[0].mirrored != b.stitches[0].mirrored:
        cost += TURNED if {one.cut_as, two.cut_as} - {"single"} else BOTH_SINGLE
    cost += 0.0 if found.agreed else as_drawn(a, b)
    cost += OTHER_CLOTH if one.material != two.material else 0.0
    most = TOLD if found.agreed else UNTOLD
    return _Candidate(a=a, b=b, fit=found, cost=cost) if cost + TOGETHER <= most else None


def _taken(candidates: Sequence[_Candidate], found: _Found, *, count: int = LOTS) -> list[Suggestion]:
    """The best, and again the best of what that leaves; those that fit about as well are named."""
    left = list(candidates)
    chosen: list[Suggestion] = []
    while len(chosen) < count:
        left = [c for c in left if not (c.a.keys | c.b.keys) & found.used and not found.side_by_side(c.a, c.b)]
        costs = [c.total(found) for c in left]
        fitting = [k for k, c in enumerate(left) if costs[k] <= (TOLD if c.told else UNTOLD)]
        if not fitting:
            break
        doubt = _doubt(left, costs)
        best = min(fitting, key=lambda k: (costs[k] + doubt[k], left[k].a.text, left[k].b.text))
        one = left[best]
        also = [_other(left[k], one) for k in fitting if k != best and costs[k] <= costs[best] + AS_GOOD]
        found.take(one.a, one.b)
        also = list(dict.fromkeys(filter(None, also)))
        a, b, how = _longer_last(one)
        chosen.append(Suggestion(a=a, b=b, fit=how, cost=costs[best], also=tuple(also)))
    return chosen


def _doubt(candidates: Sequence[_Candidate], costs: Sequence[float]) -> list[float]:
    """UNSURE for each candidate of which the mirror image fits about as well: other seams tell the hand first."""
    known: dict[frozenset[frozenset[str]], list[float]] = {}
    keys = [frozenset({c.a.keys, c.b.keys}) for c in candidates]
    for key, cost in zip(keys, costs, strict=True):
        known.setdefault(key, []).append(cost)
    return [
        UNSURE if sum(cost <= own + AS_GOOD for cost in known[key]) > 1 else 0.0
        for key, own in zip(keys, costs, strict=True)
    ]


def _longer_last(candidate: _Candidate) -> tuple[Sewable, Sewable, Fit]:
    """The runs of a candidate so that what is longer on purpose is the second, and the first is not turned over."""
    a, b, how = candidate.a, candidate.b, candidate.fit
    if how.difference < -MISMATCH:
        a, b, how = b, a, replace(how, difference=-how.difference)
    return (a.turned_over(), b.turned_over(), how) if a.stitches[0].mirrored else (a, b, how)


def _other(candidate: _Candidate, chosen: _Candidate) -> str:
    """Another seam of one of the same runs, '' when it is of others."""
    same = {candidate.a.keys, candidate.b.keys} & {chosen.a.keys, chosen.b.keys}
    return f"{candidate.a.text} with {candidate.b.text}" if len(same) == 1 else ""


_Way = tuple[tuple[str, bool], ...]
_Known = dict[tuple[_Way, _Way], list[_Candidate]]
"""What was found of two runs, by their ways."""


def _wider(runs: Sequence[Sewable], most: float, known: _Known) -> list[_Candidate]:
    """Every two runs that may be sewn together, either way; what was looked at before is taken from `known`."""
    order = sorted(range(len(runs)), key=lambda k: runs[k].sewn)
    found = []
    for at, i in enumerate(order):
        for k in order[at + 1 :]:
            off = runs[k].sewn - runs[i].sewn
            if off > SHARE * runs[i].sewn:
                break
            a, b = runs[min(i, k)], runs[max(i, k)]
            if off > most * max(len(a.stitches), len(b.stitches)) or a.keys & b.keys:
                continue
            both = a.way, b.way
            if both not in known:
                known[both] = [c for c in (_candidate(a, b), _candidate(a, b.turned_over())) if c is not None]
            found += known[both]
    return found


def _runs(every: dict[str, Sewable], found: _Found) -> list[Sewable]:
    """What is free, as long as it runs on over seams: a part of that would leave the rest to nothing."""

    def onward(run: Sewable) -> Sewable | None:
        last = run.stitches[-1]
        stitch = found.links.get((last.key, last.mirrored))
        if stitch is None or stitch.key in found.used or stitch.key not in every:
            return None
        following = every[stitch.key]
        following = following.turned_over() if stitch.mirrored else following
        return following if abs(run.angles[1] + following.angles[0] - 180.0) <= RUNS_ON else None

    runs: dict[frozenset[str], list[Sewable]] = {}
    for key, run in every.items():
        if key in found.used:
            continue
        parts = [run]
        following = onward(run)
        while following is not None and not following.keys & {k for part in parts for k in part.keys}:
            parts.append(following)
            following = onward(following)
        keys = frozenset(k for part in parts for k in part.keys)
        if following is not None and following.keys == run.keys:
            # a ring may begin at each of its seams
            runs.setdefault(keys, [joined([*parts[k:], *parts[:k]]) for k in range(len(parts))])
        elif onward(run.turned_over()) is None:
            runs.setdefault(keys, [joined(parts)])
    return [run for same in runs.values() for run in same]

"""The allowance of an edge that another edge, or several, became: every place keeps its width."""

from __future__ import annotations

from dataclasses import replace

from flatcut.pattern.values import Allowance, Edge, Position, Stretch
from flatcut.pattern.walking import to_drawn
from flatcut.pattern.widths import LEAST, Band, bands, reach
from flatcut.reshape.tracks import START, Tracks
from flatcut.reshape.ways import Way, grouped


def carried_allowance(tracks: Tracks, edge: Edge) -> Allowance | None:
    """The allowance of an edge as it is now, from those of the edges that ways bring there.

    One that tapers along the whole of an edge tapers along the whole of it still, whatever was put in or taken out.
    """
    sources = [
        (uid, group)
        for uid, ways in tracks.ways.items()
        for group in grouped([way for way in ways if way.to == edge.uid])
    ]
    sources.sort(key=lambda source: min(source[1][0].at, source[1][0].till))
    olds = [tracks.old[uid][1] for uid, _ in sources]
    if not any(old.allowance for old in olds) and all(old.use == edge.use for old in olds):
        return None
    bases = [_base(tracks, edge, uid, group) for uid, group in sources]
    stretches: list[Stretch] = []
    alike = len(bases) == 1 or (len({b.width for b in bases}) == 1 and all(b.end_width is None for b in bases))
    for base, (uid, group) in zip(bases, sources, strict=True):
        if not alike and (base is not bases[0] or base.end_width is not None):
            start, end = sorted(tracks.sewn_now(uid, at, group)[1] for at in tracks.reach(uid, group))
            stretches.append(
                Stretch(start=_from_start(start), end=_from_start(end), width=base.width, end_width=base.end_width)
            )
        stretches += _stretches(tracks, uid, group)
    taper = bases[0].end_width if len(bases) == 1 else None
    return Allowance(width=bases[0].width, end_width=taper, stretches=tuple(stretches))


def _base(tracks: Tracks, edge: Edge, uid: str, group: list[Way]) -> Allowance:
    """The width, or the taper, of some ways of an edge without the stretches on it."""
    old = tracks.old[uid][1]
    if old.allowance is None:
        return Allowance(width=0.0)  # none was stated
    base = replace(old.allowance, stretches=())
    if base.end_width is None:
        return base
    ends = [base.width, base.end_width]
    whole = bands(replace(old, allowance=base))[0]
    if group[0] != tracks.ways[uid][0]:
        ends[0] = whole.at(_drawn(tracks, old, group[0].start))
    if group[-1] != tracks.ways[uid][-1]:
        ends[1] = whole.at(_drawn(tracks, old, group[-1].end))
    if group[0].at > group[0].till:
        ends.reverse()
    return Allowance(width=ends[0], end_width=ends[1])


def _drawn(tracks: Tracks, old: Edge, at: float) -> float:
    return to_drawn(old, at) if tracks.sewn else at


def _stretches(tracks: Tracks, uid: str, group: list[Way]) -> list[Stretch]:
    """The stretches of an edge as far as some of its ways go."""
    old = tracks.old[uid][1]
    first, last = tracks.reach(uid, group)
    found = []
    for stretch in old.allowance.stretches if old.allowance else ():
        start, end = reach(old, stretch)
        low, high = max(start, first), min(end, last)
        if high - low < LEAST:
            continue
        ends = [
            tracks.position(uid, at if whole else _from_start(to), group)[1]
            for at, whole, to in ((stretch.start, low == start, low), (stretch.end, high == end, high))
        ]
        widths = [stretch.width, stretch.end_width]
        if stretch.end_width is not None and (low, high) != (start, end):
            whole_band = Band(to_drawn(old, start), to_drawn(old, end), stretch.width, stretch.end_width)
            widths = [whole_band.at(to_drawn(old, at)) for at in (low, high)]
        if group[0].at > group[0].till:
            ends.reverse()
            widths = widths if widths[1] is None else widths[::-1]
        width, end_width = widths
        assert width is not None
        found.append(Stretch(start=ends[0], end=ends[1], width=width, end_width=end_width))
    return found


def _from_start(value: float) -> Position:
    return Position(mode=START, value=value)

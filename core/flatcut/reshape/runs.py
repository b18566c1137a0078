"""Runs of seams carried over a change, and stretches that follow one another written as one."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from flatcut.pattern.remaining import remaining
from flatcut.pattern.values import Edge, Pattern, Position, RunPart, Seam
from flatcut.pattern.walking import HAIR, SLACK, sewn_length
from flatcut.reshape.tracks import START, Tracks
from flatcut.reshape.ways import grouped


def carried_seams(tracks: Tracks, pattern: Pattern) -> tuple[tuple[Seam, ...], list[str]]:
    """The seams of a pattern after a change, and those of which nothing is left though some of their edges are.

    A seam of which every edge is gone went with them, and nothing is said.
    """
    kept, said = [], []
    lost = {uid for uid, ways in tracks.ways.items() if not ways}
    for seam in pattern.seams:
        met = {part.of for part in (*seam.a, *seam.b)}
        left = [seam]
        if met & lost:
            left = remaining(pattern, seam, lambda part: part.of in lost)
            if met != lost & met and not left:
                said.append(f"a seam of {_names(tracks, met & lost)} with other edges is gone")
        for one in left:
            touched = {part.of for part in (*one.a, *one.b)} & tracks.told
            kept.append(replace(one, a=_run(tracks, one.a), b=_run(tracks, one.b)) if touched else one)
    landed: dict[str, set[str]] = {}
    for uid, ways in tracks.ways.items():
        for way in ways:
            landed.setdefault(way.to, set()).add(uid)
    merged = {to for to, uids in landed.items() if len(uids) > 1}
    edges = {edge.uid: edge for piece in pattern.pieces for edge in piece.edges}
    edges |= {uid: edge for uid, (_, edge) in tracks.new.items()}
    return with_whole_runs(kept, edges, merged), said


def _names(tracks: Tracks, uids: Iterable[str]) -> str:
    found = (tracks.old[uid] for uid in tracks.old if uid in uids)
    return " and ".join(f"{piece.name}.{edge.name}" for piece, edge in found)


def _run(tracks: Tracks, run: tuple[RunPart, ...]) -> tuple[RunPart, ...]:
    return tuple(new for part in run for new in _over(tracks, part))


def _over(tracks: Tracks, part: RunPart) -> list[RunPart]:
    """A part of a run over what its edge became, in walking order."""
    if part.of not in tracks.told:
        return [part]
    total = sewn_length(tracks.old[part.of][1])
    start = 0.0 if part.start is None else tracks.along(part.of, part.start)
    end = total if part.end is None else tracks.along(part.of, part.end)
    found = []
    for group in grouped(tracks.ways[part.of]):
        first, last = tracks.reach(part.of, group)
        first = 0.0 if group[0] == tracks.ways[part.of][0] else first
        last = total if group[-1] == tracks.ways[part.of][-1] else last
        low, high = max(start, first), min(end, last)
        if high - low <= SLACK and end - start > SLACK:
            continue
        ends = []
        for at, given, here in ((part.start, start, low), (part.end, end, high)):
            kept = at if at is not None and given == here else Position(mode=START, value=here)
            ends.append(tracks.position(part.of, kept, group)[1])
        turned = group[0].at > group[0].till
        if turned:
            ends.reverse()
        to = group[0].to
        own = replace(
            part,
            piece=tracks.new[to][0].uid,
            of=to,
            start=ends[0],
            end=ends[1],
            backwards=part.backwards != turned,
        )
        edges = {to: tracks.new[to][1]}
        found.append(_without_ends(own, edges))
        if end - start <= SLACK:
            break
    return found if part.backwards == part.mirrored else found[::-1]


def with_whole_runs(seams: Iterable[Seam], edges: Mapping[str, Edge], new: Collection[str]) -> tuple[Seam, ...]:
    """Seams of the `new` edges with stretches that follow one another written as one, and so two such seams.

    edges: all of the pattern by uid.
    """
    kept = [seam for seam in seams if not any(part.of in new for part in (*seam.a, *seam.b))]
    found: list[Seam] = []
    for seam in (seam for seam in seams if seam not in kept):
        one = replace(seam, a=_whole(seam.a, edges), b=_whole(seam.b, edges))
        # it may go on from one that stands already, come before one, or both
        for other in list(found):
            whole = _one(other, one, edges) or _one(one, other, edges)
            if whole is not None:
                one = whole
                found.remove(other)
        found.append(one)
    return (*kept, *found)


def _one(seam: Seam, then: Seam, edges: Mapping[str, Edge]) -> Seam | None:
    """Two seams as one where the second goes on from the first on both sides."""
    if seam.reversed != then.reversed:
        return None
    b = (*then.b, *seam.b) if seam.reversed else (*seam.b, *then.b)
    whole_a, whole_b = _whole((*seam.a, *then.a), edges), _whole(b, edges)
    if len(whole_a) != len(seam.a) or len(whole_b) != len(seam.b):
        return None
    return replace(seam, a=whole_a, b=whole_b, ease=seam.ease + then.ease, suggested=seam.suggested and then.suggested)


def _whole(run: tuple[RunPart, ...], edges: Mapping[str, Edge]) -> tuple[RunPart, ...]:
    found = [run[0]]
    for part in run[1:]:
        one = _together(found[-1], part, edges)
        found[-1:] = [found[-1], part] if one is None else [one]
    return tuple(_without_ends(part, edges) for part in found)


def _together(a: RunPart, b: RunPart, edges: Mapping[str, Edge]) -> RunPart | None:
    if a.of not in edges or replace(a, start=None, end=None) != replace(b, start=None, end=None):
        return None
    total = sewn_length(edges[a.of])
    low, high = (a, b) if a.backwards == a.mirrored else (b, a)
    reached = total if low.end is None else low.end.along(total)
    begins = 0.0 if high.start is None else high.start.along(total)
    return replace(a, start=low.start, end=high.end) if abs(reached - begins) < SLACK else None


def _without_ends(part: RunPart, edges: Mapping[str, Edge]) -> RunPart:
    """A stretch that begins or ends where its edge does says nothing of it."""
    if part.of not in edges:
        return part
    total = sewn_length(edges[part.of])
    start = None if part.start is None or part.start.along(total) < HAIR else part.start
    end = None if part.end is None or part.end.along(total) > total - HAIR else part.end
    return replace(part, start=start, end=end)

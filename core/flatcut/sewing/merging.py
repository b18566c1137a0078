"""Two edges that follow one another made into one: the inverse of splitting."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, line
from flatcut.pattern.values import Edge, Notch, Position, RunPart, Seam
from flatcut.pattern.walking import SLACK, drawn_length, sewn_length
from flatcut.pattern.widths import joined_allowance

STRAIGHT = 1e-6
"""Sine of the angle up to which two straight spans are one."""


@dataclass(frozen=True, kw_only=True)
class Merged:
    """The one edge; where each of the two, by uid, starts on it, mm of the sewn line; darts' parts shift likewise."""

    edge: Edge
    first: Edge
    second: Edge

    @property
    def uids(self) -> tuple[str, str]:
        """The two that were."""
        return self.first.uid, self.second.uid

    def position(self, uid: str, at: Position) -> Position:
        """Where on the one edge a place of one of the two lies."""
        if uid == self.first.uid:
            return at if at.mode == "start" else _from_start(at.along(sewn_length(self.first)))
        if at.mode == "end":
            return at
        return _from_start(sewn_length(self.first) + at.along(sewn_length(self.second)))

    def part(self, uid: str, part: int) -> int:
        """The number on the one edge of a part of one of the two."""
        return part if uid == self.first.uid else part + len(self.first.parts) - 1

    def notch(self, notch: Notch) -> Notch:
        """A notch of either edge on the one."""
        if notch.edge not in self.uids:
            return notch
        return replace(notch, edge=self.edge.uid, at=self.position(notch.edge, notch.at))

    def run(self, part: RunPart, piece: str) -> RunPart:
        """A part of a run on either edge as a stretch of the one."""
        if part.of not in self.uids:
            return part
        start = None if part.start is None else self.position(part.of, part.start)
        end = None if part.end is None else self.position(part.of, part.end)
        if part.of == self.second.uid:
            start = start or _from_start(sewn_length(self.first))
        else:
            end = end or _from_start(sewn_length(self.first))
        return replace(part, piece=piece, of=self.edge.uid, start=start, end=end)


def merged(first: Edge, second: Edge, *, uid: str) -> Merged:
    """Both as one edge under `uid`, which keeps the name and use of the first; they must touch.

    >>> first = Edge(uid="a", name="side", parts=(line((0, 0), (0, 40)),))
    >>> one = merged(first, Edge(uid="b", name="side", parts=(line((0, 40), (0, 100)),)), uid="a")
    >>> len(one.edge.parts[0]), one.position("b", Position(mode="start", value=5.0))
    (1, Position(mode='start', value=45.0))
    """
    joint = _fused(chain([first.parts[-1], second.parts[0]], within=1e-6), len(first.parts[-1]))
    shift = drawn_length(first)
    edge = Edge(
        uid=uid,
        name=first.name,
        parts=(*first.parts[:-1], joint, *second.parts[1:]),
        use=first.use,
        takeups=(
            *first.takeups,
            *(replace(t, start=t.start + shift, end=t.end + shift) for t in second.takeups),
        ),
        allowance=joined_allowance(first, second),
        corner=second.corner,
    )
    return Merged(edge=edge, first=first, second=second)


def _fused(curve: Curve, joint: int) -> Curve:
    """The curve with the two spans at a joint made one, where both are straight and run on."""
    before, after = joint - 1, joint
    if not (curve.straight[before] and curve.straight[after]):
        return curve
    a, b, c = curve.controls[before, 0], curve.controls[after, 0], curve.controls[after, 3]
    if abs(float(cross(unit(b - a), unit(c - b)))) > STRAIGHT or float((b - a) @ (c - b)) < 0:
        return curve
    whole = line(a, c)
    return Curve(
        np.concatenate([curve.controls[:before], whole.controls, curve.controls[after + 1 :]]),
        np.concatenate([curve.straight[:before], whole.straight, curve.straight[after + 1 :]]),
    )


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
    start = None if part.start is None or part.start.along(total) < SLACK else part.start
    end = None if part.end is None or part.end.along(total) > total - SLACK else part.end
    return replace(part, start=start, end=end)


def ended(curve: Curve, *, start: Array | None = None, end: Array | None = None) -> Curve:
    """The curve with its first or last node moved a hair, the handle there with it.

    >>> ended(line((0, 0), (9, 0)), end=np.array([9.0, 0.3])).controls[0, 2].round(3)
    array([6. , 0.2])
    """
    controls = curve.controls.copy()
    for node, handle, at in ((0, 1, start), (3, 2, end)):
        if at is not None:
            row = 0 if node == 0 else -1
            controls[row, handle] += at - controls[row, node]
            controls[row, node] = at
    for row in (0, -1):
        if curve.straight[row]:
            controls[row] = line(controls[row, 0], controls[row, 3]).controls[0]
    return Curve(controls, curve.straight)


def _from_start(value: float) -> Position:
    return Position(mode="start", value=value)

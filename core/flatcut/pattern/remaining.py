"""What is left of a seam when some of its edges are gone: the stretches of which both sides are still there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from flatcut.pattern.runs import Walked, walk
from flatcut.pattern.uids import Uids
from flatcut.pattern.values import Pattern, Position, RunPart, Seam
from flatcut.pattern.walking import HAIR, SLACK, sewn_length

LEAST = 0.5
"""mm: a shorter stretch is not sewn on its own."""


def remaining(pattern: Pattern, seam: Seam, gone: Callable[[RunPart], bool]) -> list[Seam]:
    """The seams that are left of one when parts of its runs are gone; none where nothing is.

    What was sewn to a part that is gone goes with it; places are opposite at equal shares of both runs.
    """
    a, b = walk(pattern, seam.a), walk(pattern, seam.b, reversed=seam.reversed)
    total_a, total_b = (sum(step.sewn for step in run) for run in (a, b))
    if min(total_a, total_b) <= SLACK:
        return []
    lost = [(lo / total_a, hi / total_a) for lo, hi, part in _stretches(a, seam.a, reverse=False) if gone(part)]
    lost += [
        (lo / total_b, hi / total_b) for lo, hi, part in _stretches(b, seam.b, reverse=seam.reversed) if gone(part)
    ]
    left, at = [], 0.0
    for low, high in sorted(lost):
        if (low - at) * total_a > LEAST:
            left.append((at, low))
        at = max(at, high)
    if (1 - at) * total_a > LEAST:
        left.append((at, 1.0))
    found = []
    uids = Uids(pattern.uids())
    for k, (low, high) in enumerate(left):
        one = _cut_out(a, seam.a, low * total_a, high * total_a, reverse=False)
        other = _cut_out(b, seam.b, low * total_b, high * total_b, reverse=seam.reversed)
        ease = seam.ease * (high - low)
        uid = seam.uid if k == 0 else uids.fresh("seam", seam.uid, str(k))
        found.append(replace(seam, uid=uid, a=one, b=other, ease=ease if abs(ease) > 1e-9 else 0.0))
    return found


def _stretches(walked: list[Walked], run: tuple[RunPart, ...], *, reverse: bool) -> list[tuple[float, float, RunPart]]:
    found, at = [], 0.0
    for step, part in zip(walked, run[::-1] if reverse else run, strict=True):
        found.append((at, at + step.sewn, part))
        at += step.sewn
    return found


def _cut_out(
    walked: list[Walked], run: tuple[RunPart, ...], low: float, high: float, *, reverse: bool
) -> tuple[RunPart, ...]:
    """The stretch of a run between two places, mm as it is walked."""
    parts, at = [], 0.0
    for step, part in zip(walked, run[::-1] if reverse else run, strict=True):
        first, last = max(low - at, 0.0), min(high - at, step.sewn)
        at += step.sewn
        if last - first <= SLACK:
            continue
        ends = (step.start + first, step.start + last) if step.forward else (step.end - last, step.end - first)
        total = sewn_length(step.edge)
        start = part.start if ends[0] <= step.start + SLACK else Position(mode="start", value=ends[0])
        end = part.end if ends[1] >= step.end - SLACK else Position(mode="start", value=ends[1])
        if start is not None and start.along(total) <= HAIR:
            start = None
        if end is not None and end.along(total) >= total - HAIR:
            end = None
        parts.append(replace(part, start=start, end=end))
    return tuple(parts[::-1] if reverse else parts)

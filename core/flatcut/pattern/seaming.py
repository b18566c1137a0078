"""Questions about seams."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from flatcut.pattern.runs import owner, run_sewn
from flatcut.pattern.values import Pattern, RunPart, Seam, area

MISMATCH = 1.0
"""mm that the runs of a plain seam may differ beyond the wanted ease (common practice, no source)."""

Verdict: TypeAlias = Callable[[float], str]
"""From mm that a seam is off to how that stands: 'aim', 'pass', 'warning' or 'fault'."""


def _turns_right(pattern: Pattern, part: RunPart) -> bool:
    """Whether the piece lies to the right of someone walking the part: true for a clockwise outline."""
    piece, _ = owner(pattern, part)
    clockwise = area(piece) > 0
    # a mirrored half is the image of the piece and is walked the other way: both turn the side, and cancel
    return clockwise != part.backwards


def runs_meet_head_to_tail(pattern: Pattern, a: tuple[RunPart, ...], b: tuple[RunPart, ...]) -> bool:
    """Whether the second run has to be walked from its end: the pieces lie on opposite sides of a seam."""
    return _turns_right(pattern, a[0]) == _turns_right(pattern, b[0])


def seams_of(pattern: Pattern, uid: str) -> list[Seam]:
    """The seams that an edge is part of."""
    return [seam for seam in pattern.seams if any(part.of == uid for part in (*seam.a, *seam.b))]


def walked(pattern: Pattern, seam: Seam) -> tuple[float, float, float]:
    """Sewn mm of both sides of a seam, and by how much the second is longer than wanted."""
    one, two = run_sewn(pattern, seam.a), run_sewn(pattern, seam.b)
    return one, two, two - one - seam.ease

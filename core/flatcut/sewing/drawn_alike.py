"""Whether a seam brings ends together that are not meant for each other, as places and names of edges tell."""

from __future__ import annotations

import math
from collections.abc import Sequence

from flatcut.pattern.runs import Walked, walk
from flatcut.pattern.seam_ends import SeamEnd, seam_end
from flatcut.pattern.values import Pattern, Seam

STEEP = 0.7
"""Sine of how steep an edge is that has an upper end (45°)."""


def upside_down(pattern: Pattern, seam: Seam) -> bool:
    """Whether the two edges of a seam are steep and its walk goes down one and up the other.

    So it is where two pieces are drawn alike, not as they lie when they are sewn. Runs of several edges say nothing.
    """
    one = _down(walk(pattern, seam.a))
    other = _down(walk(pattern, seam.b, reversed=seam.reversed))
    return min(abs(one), abs(other)) > STEEP and one * other < 0


def names_crossed(pattern: Pattern, seam: Seam) -> tuple[str, str] | None:
    """Two edges that run on into each other at an end of a seam, where names fit only with its second run turned.

    So it is where a neck would run on into a wrist, and would meet the other neck with the run turned. Names that only
    count, such as e1, say nothing, and side-2 is a side. None where nothing speaks against the seam.
    """
    one, two = walk(pattern, seam.a), walk(pattern, seam.b, reversed=seam.reversed)
    corners = [seam_end(run, first=first) for run in (one, two) for first in (True, False)]
    names = ["" if c is None or _counted(c.across.name) else _uncounted(c.across.name) for c in corners]
    a, b, c, d = names
    as_it_is, turned = (a == c != "") + (b == d != ""), (a == d != "") + (b == c != "")
    if turned <= as_it_is:
        return None
    # the end whose mate is known by its name is the one to tell of
    end = 0 if a == d != "" else 1
    here, there = corners[end], corners[2 + end]
    return None if here is None or there is None else (_across(here), _across(there))


def _across(corner: SeamEnd) -> str:
    return f"{corner.piece.name}.{corner.across.name}"


def _counted(name: str) -> bool:
    return name[0] == "e" and name[1:].isdigit()


def _uncounted(name: str) -> str:
    base, dash, number = name.rpartition("-")
    return base if dash and number.isdigit() else name


def _down(run: Sequence[Walked]) -> float:
    """How steeply a run goes down, from -1 (up) to 1; 0 for several edges."""
    if len(run) > 1:
        return 0.0
    (step,) = run
    x, y = (float(v) for v in step.edge.parts[-1].end - step.edge.parts[0].start)
    return (y if step.forward else -y) / (math.hypot(x, y) or 1.0)

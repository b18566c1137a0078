"""An edge that was opened into a row of short straights and kinks, drawn as one fair line again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flatcut.geometry.affine import Affine
from flatcut.geometry.arrays import Array, cross, unit
from flatcut.geometry.curves import Curve, chain, flatten, section, tangent, transform
from flatcut.geometry.fair import Fairer, UnfairError
from flatcut.geometry.length import length, lengths_to
from flatcut.geometry.nearest import nearest

KINK = 1.0
"""Degrees: a sharper turn of an edge that no line has opened there was drawn, and stays."""
SMOOTH = 0.02
"""Degrees: a turn that is flatter needs no blending."""
ON_NODE = 0.02
"""mm: a node this near to an end of an opening is that end."""
HELD = 0.005
"""mm: a length that is held is met this closely; the least that anyone can draw is twenty times as much."""
SWAYING = 5.0
"""Degrees to and fro that nobody sees in a line: a wave 100 mm long and a third of a millimetre high has as many."""
TURNS = 60
"""Places on each span at which its direction is looked at."""
MOST = 0.5
"""A curve is made no more than by this part fuller, or its handles longer, to get its length."""
ROUNDS = 12


@dataclass(frozen=True, kw_only=True)
class Blended:
    """An edge's part redrawn.

    places, become: drawn mm before and after, at the ends of what was redrawn; deviation: largest move, mm; change:
    of length, mm; wavy: it bends to and fro more than the edge did before it was opened; refused: why a stretch was
    left as it opened, '' when none was.
    """

    curve: Curve
    places: Array
    become: Array
    deviation: float = 0.0
    change: float = 0.0
    wavy: bool = False
    refused: str = ""


def blended(
    part: Curve, openings: Sequence[tuple[float, float]], folds: Sequence[float], *, within: float, sway: float = 0.0
) -> Blended:
    """A part of an edge made fair where it was opened, with its ends and their directions kept.

    openings: from where to where, mm along the part; folds: places that stay corners; within: mm that the line may
    move; sway: degrees that the edge turned to and fro before it was opened. The length is kept, but where cloth was
    added and the line would be wavy for it. A stretch that no fair curve follows so closely stays as it is.
    """
    nodes = lengths_to(part, np.arange(len(part) + 1))
    inner = np.arange(1, len(part))
    into, out = tangent(part, inner, before=True), tangent(part, inner)
    turns = np.degrees(np.arctan2(np.abs(cross(into, out)), (into * out).sum(axis=-1)))
    ends = np.array([at for opening in openings for at in opening])
    opened = {int(k) for k in inner if np.abs(ends - nodes[k]).min(initial=np.inf) <= ON_NODE}
    kept = {int(k) for k in inner if np.abs(np.array(folds) - nodes[k]).min(initial=np.inf) <= ON_NODE}
    corners = {int(k) for k, turn in zip(inner, turns, strict=True) if turn > KINK and k not in opened} | kept
    curves: list[Curve] = []
    places, become = [0.0], [0.0]
    deviation = change = 0.0
    refused, wavy = "", False
    for a, b in pairwise([0, *sorted(corners), len(part)]):
        old = section(part, a, b)
        new, moved, failed = old, 0.0, ""
        if any(a < k < b and turns[k - 1] > SMOOTH for k in opened):
            grown = any(end - start > ON_NODE and nodes[a] <= start <= nodes[b] for start, end in openings)
            new, moved, failed = _faired(old, within, sway + SWAYING if grown else None)
            wavy = wavy or (not failed and to_and_fro(new) > sway + SWAYING)
        curves.append(new)
        refused = refused or failed
        deviation, change = max(deviation, moved), change + (length(new) - length(old))
        places.append(float(nodes[b]))
        become.append(become[-1] + length(new))
    return Blended(
        curve=chain(curves),
        places=np.array(places),
        become=np.array(become),
        deviation=deviation,
        change=change,
        wavy=wavy,
        refused=refused,
    )


def to_and_fro(curve: Curve) -> float:
    """Degrees that a curve turns to one side and back again: nothing for an arc, much for a wavy line.

    >>> from flatcut.geometry.curves import cubic
    >>> bow, wave = cubic((0, 0), (30, 30), (60, 30), (90, 0)), cubic((0, 0), (30, 30), (60, -30), (90, 0))
    >>> round(to_and_fro(bow)), round(to_and_fro(wave))
    (0, 143)
    """
    ways = tangent(curve, np.linspace(0.0, len(curve), TURNS * len(curve) + 1))
    turns = np.degrees(np.arctan2(cross(ways[:-1], ways[1:]), (ways[:-1] * ways[1:]).sum(axis=-1)))
    return float(np.abs(turns).sum() - abs(turns.sum()))


def _faired(old: Curve, within: float, sway: float | None) -> tuple[Curve, float, str]:
    """A fair curve in place of one with kinks, its largest move, and why there is none.

    sway: a line that turns to and fro by more degrees is better without its length held; None: it is always held.
    """
    fairer = Fairer([old])
    try:
        held_fair = fairer.within(within, hold_length=True)
        if sway is not None and to_and_fro(held_fair.curve) > sway:
            free = fairer.within(within)
            if to_and_fro(free.curve) < to_and_fro(held_fair.curve):
                return free.curve, free.deviation, ""
    except UnfairError as error:
        return old, 0.0, f"the nearest fair curve leaves it by {error.least:.2f} mm"
    new = held_fair.curve
    for change in (_fuller, _longer_handles):
        held = _of_length(new, length(old), change)
        moved = _apart(old, held)
        if moved <= within and abs(length(held) - length(old)) <= HELD:
            return held, moved, ""
    return new, _apart(old, new), ""


def _fuller(curve: Curve, by: float) -> Curve:
    """The curve drawn a part fuller about its chord; the directions of its ends turn by a hair."""
    along = unit(curve.end - curve.start)
    if not along.any():
        return curve  # a closed line has no chord
    frame = Affine(along[0], along[1], -along[1], along[0], curve.start[0], curve.start[1])
    found = transform(curve, frame @ Affine.scaling(1.0, 1.0 + by) @ frame.inverse())
    controls = np.array(found.controls)
    controls[0, 0], controls[-1, 3] = curve.start, curve.end
    return Curve(controls, curve.straight)


def _longer_handles(curve: Curve, by: float) -> Curve:
    """The curve with the handles at both its ends a part longer."""
    controls = np.array(curve.controls)
    controls[0, 1] += by * (controls[0, 1] - controls[0, 0])
    controls[-1, 2] += by * (controls[-1, 2] - controls[-1, 3])
    return Curve(controls, np.zeros(len(curve), dtype=np.bool_))


def _of_length(curve: Curve, wanted: float, change: Callable[[Curve, float], Curve]) -> Curve:
    """The curve changed by as much as gives it a length; as near to that as it comes within `MOST`."""
    by, off = 0.0, length(curve) - wanted
    other, there = MOST / 100, length(change(curve, MOST / 100)) - wanted
    for _ in range(ROUNDS):
        if abs(off) <= HELD / 10 or abs(there - off) < 1e-12:
            break
        following = float(np.clip(by - off * (other - by) / (there - off), -MOST, MOST))
        other, there = by, off
        by, off = following, length(change(curve, following)) - wanted
    return change(curve, by) if by else curve


def _apart(a: Curve, b: Curve) -> float:
    """The largest distance of points of either curve from the other, mm."""
    return max(float(nearest(q, flatten(p, tolerance=1e-3))[1].max()) for p, q in ((a, b), (b, a)))

"""Lines that were likely meant as the outline of a piece, and are none since they are open or drawn one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from flatcut.geometry.curves import Curve, bounds
from flatcut.geometry.length import length
from flatcut.outlines.joining import joined
from flatcut.pattern.values import DrawnPath

NEAR = 5.0
"""mm: an open path whose ends lie this near each other was meant to be closed."""
NEAR_SHARE = 0.02
"""So too one whose ends lie this near each other, as a part of its length: a gap in a large outline may be larger."""
SIDE_SHARE = 0.5
"""Of a path in no piece so much may be missing: of a square one side of four is a third of the others, of a narrow
strip one of its long sides nearly as much as the others together."""
SMALLEST = 20.0
"""mm: what is smaller over its longer side is no piece (common practice, no source)."""


def gap(curve: Curve) -> float:
    """mm from the end of a line to its start."""
    return float(np.hypot(*(curve.end - curve.start)))


def forgotten(paths: Sequence[DrawnPath], outside: Sequence[DrawnPath]) -> Iterator[str]:
    """Sentences about the open ones of some paths; outside: those of them that lie in no piece.

    >>> from flatcut.geometry.curves import chain, line
    >>> corners = [(0, 0), (90, 0), (90, 90), (0, 90)]
    >>> sides = [line(a, b) for a, b in zip(corners, corners[1:] + corners[:1])]
    >>> three = [DrawnPath(id="pocket", curves=(chain(sides[:3]),), closed=(False,))]
    >>> list(forgotten(three, three)), list(forgotten(three, []))
    (["'pocket' is open by 90.00 mm and no piece; close it"], [])
    >>> alone = [DrawnPath(id=f"s{k}", curves=(side,), closed=(False,)) for k, side in enumerate(sides)]
    >>> list(forgotten(alone, alone))
    ["'s0', 's1', 's2' and 1 more are an outline together and no piece; join them to one path"]
    """
    rest = {path.id for path in outside}
    in_rings: set[str] = set()
    alone = [path for path in outside if _open(path)]
    for ring in joined([path.curves[0] for path in alone]):
        parts = [path.id for path in alone if _part_of(path.curves[0], ring.curve)] if ring.closed else []
        if len(parts) > 1 and _large(ring.curve):
            in_rings |= set(parts)
            more = f" and {len(parts) - 3} more" if len(parts) > 3 else ""
            shown = ", ".join(f"'{name}'" for name in parts[:3])
            yield f"{shown}{more} are an outline together and no piece; join them to one path"
    for path in paths:
        if not _open(path) or path.id in in_rings or not _large(path.curves[0]):
            continue
        (curve,) = path.curves
        if gap(curve) <= max(NEAR, (SIDE_SHARE if path.id in rest else NEAR_SHARE) * length(curve)):
            yield f"'{path.id}' is open by {gap(curve):.2f} mm and no piece; close it"


def _open(path: DrawnPath) -> bool:
    return len(path.curves) == 1 and not path.closed[0]


def _large(curve: Curve) -> bool:
    x0, y0, x1, y1 = bounds(curve)
    return bool(max(x1 - x0, y1 - y0) >= SMALLEST)


def _part_of(side: Curve, ring: Curve) -> bool:
    """Whether a line put together holds this one: both its ends are joints there."""
    joints = np.concatenate([ring.controls[:, 0], ring.controls[-1:, 3]])
    return all(np.hypot(*(joints - end).T).min() < NEAR for end in (side.start, side.end))
